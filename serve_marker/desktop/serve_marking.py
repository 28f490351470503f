"""What a click or a key on the current frame does to the serves of the clip."""

from __future__ import annotations

from dataclasses import replace

from serve_marker.court.aims import parse_aim
from serve_marker.desktop.commands import ChangeServes, ServePair
from serve_marker.desktop.serving_order import Turns, number_name, other_end, server_words
from serve_marker.desktop.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import OUTCOMES, SERVE_TYPES, Half, Mark, Player, Serve, new_id
from serve_marker.marking import place_all
from serve_marker.video.clip import Clip

Pixel = tuple[float, float]

BALL_MARK_REACH_S = 0.5
NEAR_NET_M = 0.5
RECEPTION_HEIGHT_M = 0.8
"""Where forearms meet a serve (common practice, no source)."""
LONGEST_FLIGHT_S = 4.0
OUTCOME_WORDS = {
    "floor": "on the floor",
    "net": "into the net",
    "received": "received",
    "target": "struck the target",
    "out": "out, landing not seen",
    "fault": "fault",
}


class ServeMarking:
    """Turns marks on the current frame into serves, each change one step of undo."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace

    def landing(self, pixel: Pixel) -> None:
        """The ball touched the floor here, on this frame: one serve of whoever's turn it is."""
        mark = self._mark(pixel)
        served_to = self._served_to(mark)
        self._finish(replace(self._open_or_new(other_end(served_to)), landing=mark, outcome="floor"), served_to)

    def outcome(self, outcome: str) -> None:
        """The serve ended otherwise than on the floor, on this frame."""
        served_to = other_end(self._workspace.turns.end)
        serve = replace(self._open_or_new(self._workspace.turns.end), landing=self._mark(None), outcome=outcome)
        self._finish(serve, served_to)

    def contact(self) -> None:
        """The server hits the ball on this frame; the serve stays open until its end is marked."""
        turns = self._workspace.turns
        open_serve = self._open(turns.end)
        if open_serve is not None:
            self._change("Contact moved", [(open_serve, replace(open_serve, contact=self._mark(None)))])
            return
        serve = replace(self._new(turns.end), contact=self._mark(None), player_id=self._server(turns.end))
        self._change("Contact", [(None, self._placed(serve))])

    def received_here(self, pixel: Pixel) -> None:
        """A passer played the ball here, on this frame, at the height receptions usually have."""
        served_to = other_end(self._workspace.turns.end)
        ball = replace(self._mark(pixel), on_ball=True)
        serve = replace(self._open_or_new(self._workspace.turns.end), landing=ball, outcome="received")
        self._finish(replace(serve, landing_height_m=RECEPTION_HEIGHT_M), served_to)

    def feet(self, pixel: Pixel, on_ball: bool = False) -> None:
        """The floor point under the ball at contact, on this frame; ``on_ball``: the ball itself."""
        mark = replace(self._mark(pixel), on_ball=on_ball)
        turns = self._workspace.turns
        serve = self._open(turns.end) or self._open(other_end(turns.end)) or self._single_selected()
        if serve is not None and (serve.landing is None or mark.time_s < serve.landing.time_s):
            self._change("Server's place", [(serve, self._placed(replace(serve, contact=mark)))])
            return
        new = replace(self._new(turns.end), contact=mark, player_id=self._server(turns.end))
        self._change("Contact with the server's place", [(None, self._placed(new))])

    def ball(self, pixel: Pixel) -> None:
        """The ball's underside on a frame next to the landing, which sharpens the landing."""
        mark = self._mark(pixel)
        serve = self._single_selected() or self._last_landed()
        if serve is None or serve.landing is None or serve.landing.pixel is None:
            raise UserError("Mark the landing first, then the ball on the frame before or after it.")
        if mark.time_s == serve.landing.time_s:
            raise UserError("This is the landing's own frame; step to the one before or after it to mark the ball.")
        if abs(mark.time_s - serve.landing.time_s) > BALL_MARK_REACH_S:
            raise UserError("This frame is too far from the landing; mark the ball within half a second of it.")
        others = [other for other in serve.ball_marks if other.time_s != mark.time_s]
        ball_marks = tuple(sorted([*others, mark], key=lambda other: other.time_s))
        self._change("Ball mark", [(serve, self._placed(replace(serve, ball_marks=ball_marks)))])

    def move_landing(self, pixel: Pixel) -> None:
        """The chosen serve's landing is here, on this frame, instead."""
        serve = self._single_selected()
        if serve is None:
            raise UserError("Choose one serve first; then its landing can be moved.")
        mark = self._mark(pixel)
        keeps = serve.ball_marks if serve.landing is not None and serve.landing.time_s == mark.time_s else ()
        moved = replace(serve, landing=mark, outcome="floor", ball_marks=keeps, served_to=self._served_to(mark))
        self._change("Landing moved", [(serve, self._placed(moved))])

    def delete(self) -> None:
        """Take the chosen serves out."""
        chosen = self._workspace.selected_serves()
        if not chosen:
            raise UserError("Choose the serves to delete first.")
        self._change(f"{_count(chosen)} deleted", [(serve, None) for serve in chosen])

    def give_to(self, player: Player) -> None:
        """Give the chosen serves to another server."""
        chosen = self._workspace.selected_serves()
        if not chosen:
            raise UserError("Choose the serves to give to another server first.")
        pairs: list[ServePair] = [(serve, replace(serve, player_id=player.id)) for serve in chosen]
        self._change(f"{_count(chosen)} given to {player.name}", pairs)

    def rate_pass(self, rating: int) -> None:
        """Rate the pass of the chosen or last serve, 0 to 3."""
        serves = self._workspace.serves
        serve = self._single_selected() or (serves[-1] if serves else None)
        if serve is None:
            raise UserError("Mark a serve first; then its pass can be rated.")
        self._change(f"Pass rated {rating}", [(serve, replace(serve, pass_rating=rating))])

    def edit(self, serve_id: str, column: str, value: str) -> None:
        """Change one cell of the serve list."""
        serve = next(serve for serve in self._workspace.serves if serve.id == serve_id)
        changed = self._edited(serve, column, str(value).strip())
        if changed != serve:
            self._change(f"{column.replace('_', ' ')} changed", [(serve, self._placed(changed))])

    def _edited(self, serve: Serve, column: str, text: str) -> Serve:
        workspace = self._workspace
        if column == "server":
            return replace(serve, player_id=self.player_written(text).id if text else None)
        if column == "serve_type":
            return replace(serve, serve_type=_one_of(text, ("", *SERVE_TYPES), "serve type"))
        if column == "aim":
            parse_aim(text, workspace.court, workspace.scheme)
            return replace(serve, aim=text)
        if column == "outcome":
            return replace(serve, outcome=_one_of(text, OUTCOMES, "outcome"))
        if column == "pass_rating":
            rating = None if text in ("", "-") else int(_one_of(text, ("0", "1", "2", "3"), "pass rating"))
            return replace(serve, pass_rating=rating)
        if column == "passer":
            return replace(serve, passer=text)
        if column == "note":
            return replace(serve, note=text)
        raise ValueError(f"the serve list has no editable column {column!r}")

    def name_server(self, number: int) -> None:
        """Let the player of a shirt number serve next from this end; an unknown number joins the roster."""
        workspace = self._workspace
        player = self.player_written(str(number))
        workspace.set_turns(workspace.turns.name(workspace.turns.end, player.id))

    def player_written(self, text: str) -> Player:
        """Return the player of that shirt number or name (``7``, ``Marit`` or ``7 Marit``), adding unknown ones."""
        workspace = self._workspace
        players = list(workspace.players.values())
        for player in players:
            if text.casefold() in (server_words(player).casefold(), player.name.casefold(), str(player.number)):
                return player
        number = int(text) if text.isdigit() else None
        player = Player(id=new_id(), name=number_name(number) if number is not None else text, number=number)
        workspace.put_players([player])
        workspace.message.emit(f"{player.name} is new on the roster; Practice > Players gives names.")
        return player

    def _finish(self, serve: Serve, served_to: Half) -> None:
        workspace = self._workspace
        end = other_end(served_to)
        serve = self._placed(replace(serve, served_to=served_to, player_id=self._server(end)))
        before = self._open(end)
        player = workspace.players.get(serve.player_id or "")
        turns = (workspace.turns, workspace.turns.after(end, serve.player_id))
        text = f"{server_words(player)}, {OUTCOME_WORDS[serve.outcome]}"
        self._change(text, [(before, serve)], turns)

    def _server(self, end: Half) -> str | None:
        turns = self._workspace.turns
        return turns.now(end) or turns.now(other_end(end))

    def _open_or_new(self, end: Half) -> Serve:
        return self._open(end) or self._new(end)

    def _new(self, end: Half) -> Serve:
        workspace = self._workspace
        entry = workspace.clip_entry
        if entry is None:
            raise UserError("Drop a clip on the window first.")
        return Serve(
            id=new_id(),
            clip_id=entry.id,
            view_id=entry.view_id,
            served_to=other_end(end),
            serve_type=workspace.serve_type,
            aim=workspace.aim,
            formation_id=workspace.formation_id,
            full_pace=workspace.full_pace,
        )

    def _open(self, end: Half) -> Serve | None:
        for serve in self._workspace.serves:
            if serve.landing is not None or serve.contact is None or serve.outcome != "floor":
                continue
            if serve.served_to == other_end(end) and 0 <= self._now_s() - serve.contact.time_s <= LONGEST_FLIGHT_S:
                return serve
        return None

    def _served_to(self, mark: Mark) -> Half:
        view = self._workspace.view
        if view is not None and mark.pixel is not None:
            point, _ = view.locate([mark.pixel])
            y_m = float(point[0, 1])
            if abs(y_m) > NEAR_NET_M:
                return "b" if y_m > 0 else "a"
        return other_end(self._workspace.turns.end)

    def _single_selected(self) -> Serve | None:
        chosen = self._workspace.selected_serves()
        return chosen[0] if len(chosen) == 1 else None

    def _last_landed(self) -> Serve | None:
        landed = [serve for serve in self._workspace.serves if serve.landing is not None and serve.landing.pixel]
        return landed[-1] if landed else None

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

    def _placed(self, serve: Serve) -> Serve:
        view = self._workspace.view
        return serve if view is None else place_all([serve], view, self._workspace.time_scale)[0]

    def _change(self, text: str, pairs: list[ServePair], turns: tuple[Turns, Turns] | None = None) -> None:
        self._workspace.do(ChangeServes(self._workspace, text, pairs, turns))


def _count(serves: list[Serve]) -> str:
    return "1 serve" if len(serves) == 1 else f"{len(serves)} serves"


def _one_of(text: str, choices: tuple[str, ...], what: str) -> str:
    if text not in choices:
        raise UserError(f"{text} is no {what}; choose one of: {', '.join(filter(None, choices))}.")
    return text
