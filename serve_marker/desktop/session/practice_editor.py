"""Changes to the open practice: its details, orders, passers, targets, wind, area borders."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from serve_marker.court.areas import AreaScheme, setting_with_scheme
from serve_marker.court.formations import Formation
from serve_marker.desktop.session.edits import ChangeRecords, RecordPair
from serve_marker.desktop.session.serving_order import END_WORDS
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import TARGET_WORDS, Half, Practice, new_id
from serve_marker.study.stored_formations import formation_record, formations_of


class PracticeEditor:
    """Changes to the open practice, each one step of undo."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace

    def put_practice(self, practice: Practice) -> None:
        """Write the details of the practice that is open."""
        before = self._workspace.practice
        if before is not None and before != practice:
            self._workspace.do(ChangeRecords(f"Practice {practice.name}", [(before, practice)]))

    def set_order(self, end: Half, player_ids: Iterable[str]) -> None:
        """Write the serving order of one end."""
        before = self._practice("A serving order belongs")
        order = tuple(player_ids)
        after = replace(before, order_a=order) if end == "a" else replace(before, order_b=order)
        if after != before:
            self._workspace.do(ChangeRecords(f"Serving order, {END_WORDS[end]}", [(before, after)]))
        self._workspace.set_order(end, order)

    def practice_for_passers(self) -> Practice:
        """Return the open practice, or say that one is needed."""
        return self._practice("Passers belong")

    def set_formation(self, formation: Formation | None) -> None:
        """Change where the passers stand for the next serves of this practice; one set before is used again."""
        practice = self.practice_for_passers()
        known = {kept: key for key, kept in formations_of(self._workspace.book()).items()}
        formation_id = known.get(formation) or new_id() if formation else None
        if formation_id == practice.formation_id:
            return
        pairs: list[RecordPair] = [(practice, replace(practice, formation_id=formation_id))]
        if formation is not None and formation_id is not None and formation not in known:
            pairs.append((None, formation_record(formation_id, formation)))
        self._workspace.do(ChangeRecords(f"Passers: {formation.name if formation else 'no passers'}", pairs))

    def set_target_kind(self, kind: str) -> None:
        """Change what the next serves of this practice are hit at: mats, upright targets, people or nothing."""
        before = self._practice("Targets belong")
        if kind != before.target_kind:
            after = replace(before, target_kind=kind)
            self._workspace.do(ChangeRecords(f"Targets: {TARGET_WORDS[kind]}", [(before, after)]))

    def set_wind_end(self, end: Half | None) -> None:
        """Change which end has the wind at its back for the next serves of this practice; None: no wind."""
        before = self._workspace.practice
        if before is not None and end != before.wind_end:
            words = f"{END_WORDS[end]} has the wind" if end else "no wind"
            self._workspace.do(ChangeRecords(f"Wind: {words}", [(before, replace(before, wind_end=end))]))

    def set_scheme(self, scheme: AreaScheme | None) -> None:
        """Write the area borders of this court; None goes back to the court's own."""
        before = self._workspace.book().get_setting("scheme")
        after = setting_with_scheme(before, self._workspace.court, scheme)
        if after != before:
            self._workspace.do(ChangeRecords("Area borders", settings={"scheme": (before, after)}))

    def _practice(self, what_belongs: str) -> Practice:
        if self._workspace.practice is None:
            raise UserError(f"{what_belongs} to a practice; drop a clip on the window first.")
        return self._workspace.practice
