"""Drawn widgets for screen readers: each thing drawn is an item of its own, with its words and its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol, cast

from PySide6.QtCore import QObject, QRect
from PySide6.QtGui import QAccessible, QAccessibleEvent, QAccessibleInterface
from PySide6.QtWidgets import QAccessibleWidget, QWidget

Role, Text = QAccessible.Role, QAccessible.Text
_installed: list[object] = []


@dataclass(frozen=True)
class DrawnItem:
    """What a reader is told of something drawn: its words, and its box in the widget."""

    words: str
    box: QRect
    chosen: bool = False


class ItemsDrawn(Protocol):
    """A widget whose items a reader may walk through; ``items_role`` says what all of them are."""

    items_role: QAccessible.Role

    def item_count(self) -> int: ...
    def drawn_item(self, number: int) -> DrawnItem: ...


def tell_items() -> None:
    """Let readers find the items of every widget that has some; a second call changes nothing."""
    if not _installed:
        _installed.append(_interface_of)
        QAccessible.installFactory(_interface_of)


def tell_current(widget: QWidget, number: int) -> None:
    """Tell readers which item the keys are on now."""
    event = QAccessibleEvent(widget, QAccessible.Event.Focus)
    event.setChild(number)
    QAccessible.updateAccessibility(event)


def _interface_of(_class_name: str, owner: QObject) -> QAccessibleInterface | None:
    if not isinstance(owner, QWidget) or not hasattr(owner, "drawn_item"):
        return None
    kept = _Items(owner)
    cast(Any, owner).accessible_items = kept  # as long as the widget lives, so does what speaks for it
    return kept


class _Items(QAccessibleWidget):
    def __init__(self, owner: QWidget) -> None:
        drawn = cast(ItemsDrawn, owner)
        super().__init__(owner, drawn.items_role)
        self._owner, self._drawn = owner, drawn
        self._children: dict[int, _Item] = {}

    def childCount(self) -> int:
        return self._drawn.item_count()

    def child(self, number: int) -> QAccessibleInterface | None:  # type: ignore[override]
        if not 0 <= number < self._drawn.item_count():
            return None
        if number not in self._children:
            self._children[number] = _Item(self._owner, number)
            QAccessible.registerAccessibleInterface(self._children[number])
        return self._children[number]

    def childAt(self, x: int, y: int) -> QAccessibleInterface | None:  # type: ignore[override]
        at = self._owner.mapFromGlobal(QRect(x, y, 1, 1).topLeft())
        found = (n for n in range(self.childCount()) if self._drawn.drawn_item(n).box.contains(at))
        return self.child(next(found, -1))

    def indexOfChild(self, child: QAccessibleInterface) -> int:
        return child.number if isinstance(child, _Item) else -1


class _Item(QAccessibleInterface):
    def __init__(self, owner: QWidget, number: int) -> None:
        super().__init__()
        self._owner, self.number = owner, number

    @property
    def _drawn(self) -> ItemsDrawn:
        return cast(ItemsDrawn, self._owner)

    def isValid(self) -> bool:
        return self.number < self._drawn.item_count()

    def object(self) -> QObject | None:  # type: ignore[override]
        return None

    def parent(self) -> QAccessibleInterface:
        return QAccessible.queryAccessibleInterface(self._owner)

    def child(self, _number: int) -> None:  # type: ignore[override]
        return None

    def childAt(self, _x: int, _y: int) -> None:  # type: ignore[override]
        return None

    def childCount(self) -> int:
        return 0

    def indexOfChild(self, _child: QAccessibleInterface) -> int:
        return -1

    def rect(self) -> QRect:
        box = self._drawn.drawn_item(self.number).box if self.isValid() else QRect()
        return QRect(self._owner.mapToGlobal(box.topLeft()), box.size())

    def role(self) -> QAccessible.Role:
        return Role.ListItem

    def state(self) -> QAccessible.State:
        state = QAccessible.State()
        state.selectable = state.focusable = 1
        state.selected = state.focused = int(self.isValid() and self._drawn.drawn_item(self.number).chosen)
        return state

    def text(self, kind: QAccessible.Text) -> str:
        return self._drawn.drawn_item(self.number).words if kind == Text.Name and self.isValid() else ""

    def setText(self, kind: QAccessible.Text, words: str) -> None:
        """A reader changes nothing here."""
