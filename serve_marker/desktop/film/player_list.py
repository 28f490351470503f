"""The players in a small list that is searched by typing a number or a name."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QPoint, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLineEdit, QListWidget, QWidget

from serve_marker.desktop.session.player_text import players_like
from serve_marker.desktop.session.serving_order import next_server_words
from serve_marker.desktop.widgets.plain_text import ElidedLabel, PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.logbook.records import Player

SIZE = (260, 300)
PAGE = 8
STEPS = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_PageUp: -PAGE, Qt.Key.Key_PageDown: PAGE}


class PlayerList(QFrame):
    """Has the keys until a player is chosen by Enter or a click, or it is left by Esc."""

    chosen = Signal(str)

    def __init__(self, title: str, players: Sequence[Player], parent: QWidget) -> None:
        super().__init__(parent, Qt.WindowType.Popup)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setObjectName("players")
        self._roster, self._listed = players, list(players)
        self.search = _SearchField()
        self.search.setAccessibleName(f"{title}: number or name")
        self.search.setPlaceholderText("number or name")
        self.search.textChanged.connect(self._show_like)
        self.players = QListWidget()
        self.players.setAccessibleName(title)
        self.players.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.players.itemClicked.connect(lambda _item: self._choose())
        self.nobody = PlainLabel("Nobody on the roster fits that.")
        self.nobody.setProperty("role", "muted")
        self.nobody.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._show_like("")
        layout = QGridLayout(self)
        layout.setContentsMargins(10, 8, 10, 10)
        layout.setVerticalSpacing(8)
        layout.addWidget(ElidedLabel(title), 0, 0)
        layout.addWidget(self.search, 1, 0)
        layout.addWidget(self.players, 2, 0)
        layout.addWidget(self.nobody, 2, 0)
        self.setFixedSize(*map(pixels, SIZE))

    def open_at(self, at: QPoint, within: QWidget) -> None:
        """Open beside a point of the screen, inside a window."""
        room = within.rect().translated(within.mapToGlobal(QPoint(0, 0)))
        left = max(min(at.x(), room.right() - self.width()), room.left())
        top = max(min(at.y(), room.bottom() - self.height()), room.top())
        self.setGeometry(left, top, self.width(), self.height())
        self.show()
        self.search.setFocus(Qt.FocusReason.PopupFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        if key in STEPS:
            last = self.players.count() - 1
            self.players.setCurrentRow(max(min(self.players.currentRow() + STEPS[key], last), 0))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._listed:
            self._choose()
        elif key == Qt.Key.Key_Escape:
            self.close()

    def _show_like(self, text: str) -> None:
        self._listed = players_like(text, self._roster)
        self.players.clear()
        self.players.addItems([next_server_words(player) for player in self._listed])
        self.players.setCurrentRow(0)
        self.nobody.setVisible(self.players.count() == 0)

    def _choose(self) -> None:
        chosen = self._listed[self.players.currentRow()]
        self.close()
        self.chosen.emit(chosen.id)


class _SearchField(QLineEdit):
    """Takes the keys that would act in the window behind it."""

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
            return True
        return super().event(event)
