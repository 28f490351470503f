"""What a click or a key on the current frame does to the serves of the clip."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.aims import aim_words, parse_aim
from serve_marker.desktop.session.cell_edits import (
    PLACING_COLUMNS,
    with_cell,
    with_outcome,
)
from serve_marker.desktop.session.edits import ChangeServes, ServePair
from serve_marker.desktop.session.joined_serves import JoinedServes, ended_near, outcome_once_placed
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.desktop.session.serve_marks import (
    BALL_MARK_REACH_S,
    MARK_WORDS,
    ONE_SERVE_S,
    can_be_hit_at,
    hit_near,
    marks_to_drag,
    place_to_offer,
    refuse_ball_elsewhere,
    refuse_ball_for_floor,
    serve_of,
    too_far_apart_s,
    with_contact_at,
    with_mark_at,
)
from serve_marker.desktop.session.serving_order import ServingOrder, next_server_words, other_end, turns_left
from serve_marker.desktop.session.unlikely_landing import question_about
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.outcomes import OUTCOME_WORDS
from serve_marker.logbook.records import Half, Mark, Serve, new_id
from serve_marker.marking.landing import place_all
from serve_marker.marking.landing import served_to as end_served_to
from serve_marker.report.overlay_items import Pixel
from serve_marker.study.sentences import count_words
from serve_marker.study.settings import StudySettings, settings_of
from serve_marker.video.clip import Clip

NEAR_NET_M = 0.5


class ServeEditor:
    """Turns marks on the current frame into serves, each change one step of undo."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace
        self._joined: JoinedServes | None = None
        self._marked_last = ""

    def landing(self, pixel: Pixel) -> Serve | None:
        """The ball touched the floor here, on this frame: one serve of whoever's turn it is.

        A landing within the bounce of a serve that landed on that half, or ended there by key, places that one instead;
        returns that serve as it was.
        """
        mark = self.landing_mark(pixel)
        waiting, served_to = self._landed(mark)
        near = None if waiting is not None else self._ended_near(mark, served_to)
        if near is None:
            self._finish(waiting, served_to, mark, "floor")
            return None
        if near.landing == mark:
            raise UserError("This landing is marked already.")
        placed = replace(self._with_landing(near, mark), outcome=outcome_once_placed(near.outcome))
        return self._join("Landing moved", JoinedServes(near, placed, mark, "floor"))

    def second_serve(self) -> None:
        """The landing or the key that changed a serve just now was a second serve after all: the turn goes on."""
        workspace, joined = self._workspace, self._joined
        now = next((serve for serve in workspace.serves if joined and joined.is_still_so(serve)), None)
        if joined is None or now is None:
            raise UserError("No landing was moved just now; click the second landing first.")
        served_to = self._served_to(joined.mark)
        second = self._ended(None, served_to, joined.mark, joined.outcome)
        pairs: list[ServePair] = [(now, self.placed(joined.first(now))), (None, self.placed(second))]
        workspace.do(ChangeServes("Second serve", pairs, self.turns_after(second, served_to)))
        workspace.select([second.id], by_hand=False)

    def _join(self, text: str, joined: JoinedServes) -> Serve:
        """Change a serve for what may have been a second one; returns it as it was."""
        self._put(text, joined.before, joined.after)
        self._joined = joined
        return joined.before

    def meant(self, pixel: Pixel) -> Serve:
        """Return the serve that `landing` would make of a click here, with a contact marked before, and make none."""
        mark = self.landing_mark(pixel)
        waiting, served_to = self._landed(mark)
        return self.placed(self._ended(waiting, served_to, mark, "floor"))

    def question_for(self, pixel: Pixel) -> str:
        """Return what to ask about a landing clicked here; "" where a serve can land or no view tells."""
        view = self._workspace.view
        return question_about(self.meant(pixel).landing_point, view.court) if view is not None else ""

    def outcome(self, outcome: str) -> Serve | None:
        """The serve ended otherwise than on the floor: the chosen one, else the one under way on this frame.

        Else one that ended within the bounce on that half; returns that one as it was.
        """
        chosen, all_chosen = self._workspace.chosen, self._workspace.chosen_serves
        if chosen is not None and chosen.landing is None and chosen.contact is not None:
            served_to = chosen.served_to or other_end(self._workspace.turns.end)
            self._finish(chosen, served_to, self._mark(None), outcome)
            return None
        if all_chosen:
            self._edit(all_chosen, "outcome", outcome)
            return None
        end, mark = self._workspace.turns.end, self._mark(None)
        waiting = self._open(end)
        near = None if waiting is not None else self._ended_near(mark, other_end(end))
        if near is None:
            self._finish(waiting, other_end(end), mark, outcome)
            return None
        if near.outcome == outcome:
            raise UserError("This serve is marked so already.")
        changed = with_outcome(near, outcome)
        return self._join(OUTCOME_WORDS[outcome].capitalize(), JoinedServes(near, changed, mark, outcome))

    def contact(self) -> Serve | None:
        """The server hits the ball on this frame; a serve that has not landed stays open until its end is marked.

        Once more on the same frame: from the place that is offered. Near a hit marked before it is the same. Returns
        the serve, chosen, just marked or hit about then, that had landed already.
        """
        workspace, mark, offered = self._workspace, self._mark(None), self.offered_place()
        end, serve = workspace.turns.end, self._landed_from(mark)
        if serve is None or serve != workspace.chosen:
            near = hit_near(workspace.serves, other_end(end), mark.time_s, workspace.time_scale)
            serve = self._open(end) or near or serve
        if serve is None:
            self._put("Contact", None, replace(self.new_serve(end), contact=mark))
            return None
        if serve.landing is None and offered is not None:
            self._put("Server's place", serve, with_contact_at(serve, self._mark(offered)))
        elif serve.contact is not None and serve.contact.time_s == mark.time_s:
            raise UserError("This contact is marked already.")
        else:
            self._put("Contact moved" if serve.contact else "Contact", serve, with_contact_at(serve, mark))
        return serve if serve.landing is not None else None

    def _landed_from(self, hit: Mark) -> Serve | None:
        serve = self._single_selected()
        if serve is None or serve.landing is None or (serve.contact and serve != self._workspace.chosen):
            return None
        return serve if can_be_hit_at(serve, hit.time_s, self._workspace.time_scale) else None

    def offered_place(self) -> Pixel | None:
        """Return what `place_to_offer` does for the serve under way and the frame shown."""
        workspace = self._workspace
        waiting = self._open(workspace.turns.end) if workspace.clip is not None else None
        if waiting is None or workspace.view is None:
            return None
        return place_to_offer(workspace.serves, waiting, workspace.view, self._now_s())

    def received_here(self, pixel: Pixel) -> None:
        """A passer played the ball here, on this frame, at the height the settings say."""
        chosen = self._workspace.chosen
        end = self._workspace.turns.end
        ball = replace(self._mark(pixel), on_ball=True)
        height_m = self._settings().reception_height_m
        if chosen is None:
            self._finish(self._open(end), other_end(end), ball, "received", height_m)
            return
        received = self._with_landing(chosen, ball)
        self._put("Received", chosen, replace(received, outcome="received", landing_height_m=height_m))

    def feet(self, pixel: Pixel, on_ball: bool = False) -> float | None:
        """The floor point under the ball at contact, on this frame; ``on_ball``: the ball itself.

        Returns how long before the chosen landing this is [s], where that is too long and left both apart.
        """
        mark = replace(self._mark(pixel), on_ball=on_ball)
        end = (None if on_ball else self._end_shown(mark)) or self._workspace.turns.end
        serve = self._open(end) or self._open(other_end(end)) or self._single_selected()
        if on_ball and serve is not None:
            refuse_ball_for_floor(serve)
        if serve is None or not can_be_hit_at(serve, mark.time_s, self._workspace.time_scale):
            self._put("Contact with the server's place", None, replace(self.new_serve(end), contact=mark))
            return too_far_apart_s(mark, serve, self._workspace.clip_entry)
        if serve.landing is None:
            moved = replace(serve, contact=mark, served_to=other_end(end), player_id=self._player_from(serve, end))
            self._put("Server's place", serve, moved)
        else:
            self._put("Server's place", serve, replace(serve, contact=mark, contact_film_marks=()))
        return None

    def ball(self, pixel: Pixel) -> None:
        """The ball's underside on a frame next to the landing, or its centre as there, which sharpens the landing."""
        mark = self._mark(pixel)
        serve = self._single_selected() or self._last_landed()
        if serve is None or serve.landing is None or serve.landing.pixel is None:
            raise UserError("Mark the landing first, then the ball on the frame before or after it.")
        refuse_ball_elsewhere(mark, serve.landing)
        mark = replace(mark, on_ball=serve.landing.on_ball)
        others = [other for other in serve.ball_marks if other.time_s != mark.time_s]
        ball_marks = tuple(sorted([*others, mark], key=lambda other: other.time_s))
        self._put("Ball mark", serve, replace(serve, ball_marks=ball_marks))

    def move_landing(self, pixel: Pixel) -> None:
        """The chosen serve's landing is here, on this frame, instead."""
        serve = self._single_selected()
        if serve is None:
            raise UserError("Choose one serve first; then its landing can be moved.")
        self._put("Landing moved", serve, self._with_landing(serve, self.landing_mark(pixel)))

    def _with_landing(self, serve: Serve, mark: Mark) -> Serve:
        near = (ball for ball in serve.ball_marks if 0 < abs(ball.time_s - mark.time_s) <= BALL_MARK_REACH_S)
        return replace(
            serve,
            landing=mark,
            film_marks=(),
            contact_film_marks=(),
            outcome="floor",
            ball_marks=tuple(near),
            served_to=self._half_served(serve, mark),
            view_id=self._workspace.view_id,
        )

    def draggable_marks(self) -> dict[str, Pixel]:
        """Return the marks on the frame shown and those of the chosen serve, by name."""
        workspace = self._workspace
        if workspace.clip is None:
            return {}
        placed_here = [serve for serve in workspace.serves if serve.view_id == workspace.view_id]
        return marks_to_drag(placed_here, workspace.selection, self._now_s())

    def drag(self, name: str, pixel: Pixel) -> None:
        """The mark of that name is here, on its own frame."""
        serve = next((serve for serve in self._workspace.serves if serve.id == serve_of(name)), None)
        if serve is None:
            raise UserError("That serve is gone by now; nothing was moved.")
        moved = with_mark_at(serve, name, pixel)
        part = name.split()[0]
        if part == "landing" and moved.landing is not None:
            moved = replace(moved, served_to=self._half_served(serve, moved.landing))
        self._put(MARK_WORDS[part], serve, moved)

    def delete(self) -> None:
        """Take the chosen serves out."""
        chosen = self._workspace.selected_serves()
        if not chosen:
            raise UserError("Choose the serves to delete first.")
        words = f"{count_words(len(chosen), 'serve')} deleted"
        self._change(words, [(serve, None) for serve in chosen])
        self._workspace.message.emit(f"{words}.")

    def give_to(self, player_id: str) -> None:
        """Give the chosen serves to another server."""
        player = self._workspace.players[player_id]
        chosen = self._workspace.selected_serves()
        if not chosen:
            raise UserError("Choose the serves to give to another server first.")
        pairs: list[ServePair] = [(serve, replace(serve, player_id=player.id)) for serve in chosen]
        words = f"{count_words(len(chosen), 'serve')} given to {player.name}"
        self._change(words, pairs)
        self._workspace.message.emit(f"{words}.")

    def _change(self, words: str, pairs: list[ServePair], selects: bool = True) -> None:
        """Change serves, and whose turn it is where the clip's last ones, or the one marked last, are among them."""
        turns = self._workspace.turns
        in_order = sorted(self._workspace.serves, key=lambda serve: serve.id == self._marked_last)
        left = turns_left(turns, in_order, {before.id: after for before, after in pairs if before})
        self._workspace.do(ChangeServes(words, pairs, (turns, left) if left != turns else None, selects))

    def edit(self, serve_id: str, column: str, value: str) -> None:
        """Change one cell of the serve list."""
        self._edit([serve for serve in self._workspace.serves if serve.id == serve_id], column, value)

    def _edit(self, serves: list[Serve], column: str, value: str) -> None:
        workspace, pairs = self._workspace, list[ServePair]()
        of = (workspace.court, workspace.scheme, self._settings(), RosterEditor(workspace).player_written)
        for serve in serves:
            changed = with_cell(serve, column, str(value).strip(), *of)
            if changed != serve:
                pairs.append((serve, self.placed(changed) if column in PLACING_COLUMNS else changed))
        if pairs:
            words = f"{column.removesuffix('_m').replace('_', ' ')} changed"
            self._change(words, pairs, selects=not workspace.chosen_serves)

    def set_aim(self, text: str) -> None:
        """Change the aim of the chosen serves, else of the next ones."""
        workspace = self._workspace
        if workspace.chosen_serves:
            self._edit(workspace.chosen_serves, "aim", text)
            return
        parse_aim(text, workspace.court, workspace.scheme)
        workspace.set_aim(text)
        self._change_under_way("Aim", aim=text)
        workspace.message.emit(f"The next serves aim at {aim_words(text)}." if text else "The next serves have no aim.")

    def set_serve_type(self, serve_type: str) -> None:
        """Change the type of the chosen serves, else of the next ones."""
        workspace = self._workspace
        if workspace.chosen_serves:
            self._edit(workspace.chosen_serves, "serve_type", serve_type)
            return
        workspace.set_serve_type(serve_type)
        self._change_under_way("Serve type", serve_type=serve_type)
        workspace.message.emit(f"The next serves are of {f'type {serve_type}' if serve_type else 'no set type'}.")

    def name_server(self, number: int) -> None:
        """Let the player of a shirt number be the chosen serves', else serve next, a serve under way included."""
        workspace = self._workspace
        if workspace.chosen_serves:
            self._edit(workspace.chosen_serves, "server", str(number))
            return
        roster = workspace.players
        player = RosterEditor(workspace).player_written(str(number))
        end = workspace.turns.end
        workspace.set_turns(workspace.turns.name(end, player.id))
        hit_it = self._change_under_way(f"Served by {player.name}", player_id=player.id)
        if player.id in roster:
            workspace.message.emit(
                f"{next_server_words(player)} {'hit the serve under way' if hit_it else 'serves next'}."
            )

    def _change_under_way(self, words: str, **changed: Any) -> bool:
        """Whether there is a serve hit and not yet ended, which is changed with what comes next."""
        waiting = self._open(self._workspace.turns.end) if self._workspace.clip is not None else None
        if waiting is not None:
            self._workspace.do(ChangeServes(words, [(waiting, replace(waiting, **changed))], selects=False))
        return waiting is not None

    def _finish(
        self, waiting: Serve | None, served_to: Half, mark: Mark, outcome: str, height_m: float | None = None
    ) -> None:
        workspace = self._workspace
        ended = self._ended(waiting, served_to, mark, outcome, height_m)
        player = workspace.players.get(ended.player_id or "")
        words = f"{next_server_words(player)}, {OUTCOME_WORDS[outcome]}"
        workspace.do(ChangeServes(words, [(waiting, self.placed(ended))], self.turns_after(ended, served_to)))
        self._joined = None
        self._marked_last = ended.id

    def turns_after(self, serve: Serve, served_to: Half) -> tuple[ServingOrder, ServingOrder]:
        """Return whose turn it is now, and once this serve has been entered."""
        turns = self._workspace.turns
        return turns, turns.after(other_end(served_to), serve.player_id)

    def _ended_near(self, mark: Mark, served_to: Half) -> Serve | None:
        """The serve that ended on that half so near in time that it is the same."""

        def half_of(serve: Serve) -> Half | None:
            return (self._end_shown(serve.landing) if serve.landing else None) or end_served_to(serve)

        workspace, half = self._workspace, self._end_shown(mark) or served_to
        return ended_near(workspace.serves, mark, half, half_of, workspace.time_scale)

    def _landed(self, mark: Mark) -> tuple[Serve | None, Half]:
        """The serve that waits for this landing, if one does, and the end served to."""
        served_to = self._served_to(mark)
        waiting = self._open(other_end(served_to)) or self._open(served_to)
        return waiting, served_to if waiting is None else self._half_served(waiting, mark)

    def _ended(
        self, waiting: Serve | None, served_to: Half, mark: Mark, outcome: str, height_m: float | None = None
    ) -> Serve:
        end = other_end(served_to)
        if waiting is None:
            serve = self.new_serve(end)
        else:
            player_id = self._player_from(waiting, end)
            serve = replace(waiting, view_id=self._workspace.view_id, served_to=served_to, player_id=player_id)
        return replace(serve, landing=mark, landing_height_m=height_m, outcome=outcome)

    def _player_from(self, serve: Serve, end: Half) -> str | None:
        """Who serves this one from that end: as chosen, or whose turn it is where the serve only took the turn."""
        took_turn = serve.served_to is not None and serve.player_id == self._server(other_end(serve.served_to))
        return self._server(end) if took_turn or serve.player_id is None else serve.player_id

    def _server(self, end: Half) -> str | None:
        turns = self._workspace.turns
        return turns.now(end) or turns.now(other_end(end))

    def new_serve(self, end: Half) -> Serve:
        """Return a serve without marks as it would be hit from that end now: by whose turn it is, at the aim chosen."""
        workspace = self._workspace
        entry = workspace.clip_entry
        if entry is None:
            raise UserError("Drop a clip on the window first.")
        return Serve(
            id=new_id(),
            clip_id=entry.id,
            view_id=workspace.view_id,
            player_id=self._server(end),
            served_to=other_end(end),
            serve_type=workspace.serve_type,
            aim=workspace.aim,
            formation_id=workspace.formation_id,
            full_pace=workspace.full_pace,
            target_kind=workspace.target_kind,
            wind_end=workspace.wind_end,
        )

    def _open(self, end: Half) -> Serve | None:
        for serve in self._workspace.serves:
            if serve.landing is not None or serve.contact is None or serve.outcome != "floor":
                continue
            flown_s = (self._now_s() - serve.contact.time_s) * self._workspace.time_scale
            if serve.served_to == other_end(end) and 0 <= flown_s <= ONE_SERVE_S:
                return serve
        return None

    def _served_to(self, mark: Mark) -> Half:
        return self._end_shown(mark) or other_end(self._workspace.turns.end)

    def _half_served(self, serve: Serve, mark: Mark) -> Half:
        """The end a serve went to: as its contact tells, else the half on which its landing lies."""
        if serve.contact_point is not None and serve.served_to is not None:
            return serve.served_to
        return self._end_shown(mark) or serve.served_to or other_end(self._workspace.turns.end)

    def _end_shown(self, mark: Mark) -> Half | None:
        view = self._workspace.view
        if view is None or mark.pixel is None:
            return None
        point, _ = view.locate([mark.pixel])
        y_m = float(point[0, 1])
        if abs(y_m) > NEAR_NET_M:
            return "b" if y_m > 0 else "a"
        return None

    def _single_selected(self) -> Serve | None:
        chosen = self._workspace.selected_serves()
        return chosen[0] if len(chosen) == 1 else None

    def _last_landed(self) -> Serve | None:
        landed = [serve for serve in self._workspace.serves if serve.landing is not None and serve.landing.pixel]
        return landed[-1] if landed else None

    def landing_mark(self, pixel: Pixel) -> Mark:
        """Return the mark of a landing click on the frame shown."""
        return replace(self._mark(pixel), on_ball=self._workspace.on_ball)

    def _mark(self, pixel: Pixel | None) -> Mark:
        clip, frame = self._clip(), self._workspace.frame
        before_s, after_s = clip.gaps_s(frame)
        return Mark(float(clip.time_s(frame)), pixel, float(before_s), float(after_s))

    def _now_s(self) -> float:
        return float(self._clip().time_s(self._workspace.frame))

    def _clip(self) -> Clip:
        clip = self._workspace.clip
        if clip is None:
            raise UserError("The clip's file is not open; drop the clip on the window.")
        return clip

    def placed(self, serve: Serve) -> Serve:
        """Return the serve placed by its own view, which is not the clip's where it was brought in with another."""
        workspace = self._workspace
        view = workspace.view
        if serve.view_id != workspace.view_id:
            stored = workspace.stored_views().get(serve.view_id or "")
            view = view_from_text(stored.document) if stored is not None else None
        return serve if view is None else place_all([serve], view, workspace.time_scale)[0]

    def _put(self, text: str, before: Serve | None, after: Serve) -> None:
        """Write a serve where its marks place it, as a new one or in place of another."""
        self._workspace.do(ChangeServes(text, [(before, self.placed(after))]))

    def _settings(self) -> StudySettings:
        return settings_of(self._workspace.book())
