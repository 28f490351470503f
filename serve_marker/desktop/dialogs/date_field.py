"""A date, typed as people write it or picked from a calendar."""

from __future__ import annotations

import re

from PySide6.QtCore import SIGNAL, QDate, QPoint, Qt, Signal
from PySide6.QtGui import QFocusEvent, QIcon, QKeyEvent, QMouseEvent, QTextCharFormat
from PySide6.QtWidgets import QCalendarWidget, QHBoxLayout, QLineEdit, QPushButton, QToolButton, QVBoxLayout, QWidget

from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.study.sentences import MONTHS, date_words

NOT_UNDERSTOOD = "Write the date as 2026-11-03, or pick it in the calendar."
WAYS_TO_WRITE = (
    r"(?P<year>\d{4})[-/. ](?P<month>\d\d?)[-/. ](?P<day>\d\d?)",
    r"(?P<year>\d{4})(?P<month>\d\d)(?P<day>\d\d)",
    r"(?P<day>\d\d?)\. ?(?P<month>\d\d?)\. ?(?P<year>\d{4})?",
    r"(?:[a-z]{3} )?(?P<day>\d\d?)\.? (?P<month>[a-z]{3})[a-z]*\.?(?: (?P<year>\d{4}))?",
)


class DateField(QWidget):
    """A line to type into, what is understood by it, and a button with a calendar.

    All of the date is chosen whichever way the line is reached, so that what is typed takes its place.

    Signals
    -------
    chosen : another date was typed to its end, or picked. Where that is listened to, Enter in the line does no more.
    """

    chosen = Signal()

    def __init__(self, date: QDate, name: str) -> None:
        super().__init__()
        self.line = _DateLine()
        self.line.editingFinished.connect(self.settle)
        self.line.setAccessibleName(name)
        self.line.textEdited.connect(self._read)
        self.button = QPushButton("Calendar", autoDefault=False)
        self.button.setAccessibleName(f"{name}, calendar")
        self.button.clicked.connect(self._open_calendar)
        self.calendar = _Calendar(self)
        self.calendar.clicked.connect(self._pick)
        self.calendar.activated.connect(self._pick)
        self.words = PlainLabel()
        self.words.setProperty("role", "muted")
        self.setFocusProxy(self.line)
        row = QHBoxLayout()
        row.addWidget(self.line, 1)
        row.addWidget(self.button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        layout.addLayout(row)
        layout.addWidget(self.words)
        self.set_date(date)

    def date(self) -> QDate:
        """Return the date, the last one understood."""
        return self._date

    def set_date(self, date: QDate) -> None:
        """Show a date."""
        self._date = self._told = date
        self.line.setText(date.toString(Qt.DateFormat.ISODate))
        self.words.setText(_words(date))

    def is_understood(self) -> bool:
        """Whether what is typed is a date; where it is none, say so and choose it to be typed again."""
        if date_from_text(self.line.text(), self._date.year()) is not None:
            return True
        self.words.setText(NOT_UNDERSTOOD)
        self.line.setFocus(Qt.FocusReason.OtherFocusReason)
        self.line.selectAll()
        return False

    def _read(self, text: str) -> None:
        found = date_from_text(text, self._date.year())
        self._date = found or self._date
        self.words.setText(_words(found) if found else " ")

    def _open_calendar(self) -> None:
        self.calendar.setSelectedDate(self._date)
        room, size = self.screen().availableGeometry(), self.calendar.minimumSize()
        below = self.line.mapToGlobal(QPoint(0, self.line.height()))
        self.calendar.move(min(below.x(), room.right() - size.width()), min(below.y(), room.bottom() - size.height()))
        self.calendar.show()
        self.calendar.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        listened_to = self.receivers(SIGNAL("chosen()")) > 0
        if not (listened_to and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)):
            super().keyPressEvent(event)

    def _pick(self, date: QDate) -> None:
        self._date = date
        self.line.setText(date.toString(Qt.DateFormat.ISODate))
        self.words.setText(_words(date))
        self.calendar.hide()
        self.line.setFocus(Qt.FocusReason.OtherFocusReason)
        self.settle()

    def settle(self) -> None:
        """Tell a date that was typed and not told yet."""
        if self._date != self._told:
            self._told = self._date
            self.chosen.emit()


class _Calendar(QCalendarWidget):
    """A month that opens over the dialog, in the colours of the window."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowFlags(Qt.WindowType.Popup)
        self.setVerticalHeaderFormat(QCalendarWidget.VerticalHeaderFormat.NoVerticalHeader)
        self.setFirstDayOfWeek(Qt.DayOfWeek.Monday)
        self.setMinimumSize(320, 240)
        for day in (Qt.DayOfWeek.Saturday, Qt.DayOfWeek.Sunday):
            self.setWeekdayTextFormat(day, QTextCharFormat())
        arrows = {"qt_calendar_prevmonth": "<", "qt_calendar_nextmonth": ">"}
        for button in self.findChildren(QToolButton):
            if button.objectName() in arrows:
                button.setIcon(QIcon())
                button.setText(arrows[button.objectName()])


class _DateLine(QLineEdit):
    """All of its text is chosen when it is reached, also by a click."""

    def __init__(self) -> None:
        super().__init__()
        self._clicked_into = False

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self._clicked_into = event.reason() == Qt.FocusReason.MouseFocusReason
        self.selectAll()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        super().mouseReleaseEvent(event)
        if self._clicked_into and not self.hasSelectedText():
            self.selectAll()
        self._clicked_into = False


def date_from_text(text: str, year: int) -> QDate | None:
    """Return the date of a text, None where it is none; one without a year is of ``year``.

    Examples
    --------
    >>> texts = "2026-11-03", "20261103", "3.11.", "Tue 3 November 2026", "3/11/2026", "31.11.2026"
    >>> [date.toString("yyyyMMdd") if (date := date_from_text(text, 2026)) else None for text in texts]
    ['20261103', '20261103', '20261103', '20261103', None, None]
    """
    for way in WAYS_TO_WRITE:
        parts = re.fullmatch(way, text.strip().casefold())
        if parts is not None:
            month = _month(parts["month"])
            date = QDate(int(parts["year"] or year), month, int(parts["day"]))
            return date if date.isValid() else None
    return None


def _month(text: str) -> int:
    """The number of a month, 0 for none."""
    names = [month.casefold() for month in MONTHS]
    return int(text) if text.isdecimal() else names.index(text) + 1 if text in names else 0


def _words(date: QDate) -> str:
    return date_words(date.toString(Qt.DateFormat.ISODate))
