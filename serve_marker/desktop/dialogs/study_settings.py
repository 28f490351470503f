"""The settings of a team's numbers: unit of pace, topspin gate, how passers move, what a pass rating means."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QComboBox, QDialog, QDoubleSpinBox, QFormLayout, QSpinBox, QVBoxLayout, QWidget

from serve_marker.court.passer_movement import Movement
from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.scrolled import Scrolled
from serve_marker.desktop.widgets.text_sizes import resize_with_letters
from serve_marker.study.settings import PASS_SCALES, PER_MPS, StudySettings

FEWEST_CHECKED = 20
"""Below this the landings checked say too little: of 20 all right, still 1 in 7 may be off (rule of three)."""
PASSERS_NOTE = (
    "Reaction, speed and reach are guesses to start from, not measured. "
    "Forearms meet the ball at 0.3 to 1.2 m, overhand up to 2 m."
)


class StudySettingsDialog(QDialog):
    """Edit the settings; ``settings()`` is what was set, but for the value of ``frames_off``.

    ``checked`` are landings checked on film, and how many of them were clicked on the nearest frame.
    """

    def __init__(
        self, settings: StudySettings, frames_off: int, checked: tuple[int, int], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Units and settings")
        self._before = settings
        self.unit = _choice("Unit of pace", list(PER_MPS), settings.pace_unit)
        per_mps = PER_MPS[settings.pace_unit]
        self.gate = _number("Least pace of a jump topspin, 0 for none", settings.topspin_gate_mps * per_mps, 200.0, 1)
        self.gate.setSuffix(f" {settings.pace_unit}")
        self.most_errors = _number("Most errors in percent", 100 * settings.most_errors, 100.0, 0)
        self.frames_off = QSpinBox()
        self.frames_off.setRange(0, 3)
        self.frames_off.setValue(frames_off)
        self.frames_off.setAccessibleName("Frames that a mark may be off")
        self.seam = _number("Width of a seam in metres", settings.seam_width_m, 3.0, 2)
        self.reaction = _number("Reaction time of a passer in seconds", settings.movement.reaction_s, 1.0, 2)
        self.speed = _number("Speed of a passer in metres per second", settings.movement.speed_mps, 8.0, 1)
        self.reach = _number("Reach of a passer in metres", settings.movement.reach_m, 2.0, 2)
        highest_m = settings.movement.highest_m
        self.played_up_to = _number("Height up to which passers play a ball in metres", highest_m, 3.0, 1)
        self.received_at = _number("Height at which balls are received in metres", settings.reception_height_m, 3.0, 2)
        self.scale = _choice("What a pass rating means", list(PASS_SCALES), settings.pass_scale)
        form = QFormLayout()
        for words, field in (
            ("Pace in", self.unit),
            ("Jump topspin at least", self.gate),
            ("Most errors (%)", self.most_errors),
            ("Marks may be off by (frames)", self.frames_off),
            ("Seam width (m)", self.seam),
            ("Reaction time (s)", self.reaction),
            ("Passers move at (m/s)", self.speed),
            ("Passers reach (m)", self.reach),
            ("Passers play balls up to (m)", self.played_up_to),
            ("Balls are received at (m)", self.received_at),
            ("Pass ratings", self.scale),
        ):
            form.addRow(words, field)
        source = PlainLabel(f"{_marks_note(*checked)}\n\n{PASSERS_NOTE}")
        self.meaning = PlainLabel()
        self.scale.currentTextChanged.connect(self._tell_scale)
        self._tell_scale(self.scale.currentText())
        for label in (self.meaning, source):
            label.setWordWrap(True)
            label.setProperty("role", "muted")
        fields = QWidget()
        inside = QVBoxLayout(fields)
        inside.setContentsMargins(0, 0, 12, 0)
        inside.addLayout(form)
        inside.addWidget(self.meaning)
        inside.addWidget(source)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addWidget(Scrolled(fields), 1)
        layout.addWidget(accept_reject_buttons(self))
        resize_with_letters(self, 540, 680)

    def _tell_scale(self, scale: str) -> None:
        meanings = "; ".join(f"{number} {words}" for number, words in enumerate(PASS_SCALES[scale]))
        self.meaning.setText(f"Ratings: {meanings}. Another scale changes no rating given before.")

    def settings(self) -> StudySettings:
        """Return the settings as edited; the gate is in the unit it was shown in."""
        return replace(
            self._before,
            pace_unit=self.unit.currentText(),
            topspin_gate_mps=self.gate.value() / PER_MPS[self._before.pace_unit],
            seam_width_m=self.seam.value() or self._before.seam_width_m,
            movement=self._movement(),
            pass_scale=self.scale.currentText(),
            reception_height_m=self.received_at.value(),
            most_errors=self.most_errors.value() / 100,
        )

    def _movement(self) -> Movement:
        """As edited; a height below the lowest play is none, and leaves it as it was."""
        before = self._before.movement
        highest_m = self.played_up_to.value()
        return Movement(
            *(self.reaction.value(), self.speed.value(), self.reach.value(), before.lowest_m),
            highest_m if highest_m > before.lowest_m else before.highest_m,
        )


def _marks_note(checked: int, nearest: int) -> str:
    """What is known of the coach's frames, and when marks need no allowance."""
    if checked < FEWEST_CHECKED:
        return (
            f"Are your clicks always on the right frame? Mark {FEWEST_CHECKED} serves a second time. All on the same "
            "frames: set 0. Landings and paces that the film cannot check then get smaller errors."
        )
    told = f"{nearest} of {checked} landings checked on film were clicked on the nearest frame."
    return told + (" Set 0 if you trust the others as much." if nearest == checked else " Leave it at 1 or more.")


def _choice(name: str, words: list[str], chosen: str) -> QComboBox:
    box = ComboBox()
    box.setAccessibleName(name)
    box.addItems(words)
    box.setCurrentText(chosen)
    return box


def _number(name: str, value: float, most: float, decimals: int) -> QDoubleSpinBox:
    field = QDoubleSpinBox()
    field.setAccessibleName(name)
    field.setDecimals(decimals)
    field.setRange(0.0, most)
    field.setSingleStep(10.0 ** (-decimals + 1) / 2)
    field.setValue(value)
    return field
