"""The bar over the picture while serves are found and reviewed: what is proposed, and a button for each key."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QWidget

from serve_marker.desktop.dialogs.shortcut_card import key_words
from serve_marker.desktop.mark.proposal_review import ProposalReview
from serve_marker.desktop.mark.proposal_words import review_of_words, search_words
from serve_marker.desktop.session.serve_finder import ServeFinder
from serve_marker.desktop.widgets.plain_text import PlainLabel, tooltip
from serve_marker.desktop.widgets.text_sizes import pixels

ANSWER_BUTTONS = {
    "accept_proposal": "Keep",
    "reject_proposal": "Not a serve",
    "later_proposal": "Later",
    "missed_serve": "One was missed",
}
SEARCH_BUTTONS = {"find_serves": "Review", "stop_finding": "Cancel"}
WIDEST, WIDEST_SEARCH, MARGIN, TOP = 860, 620, 16, 66
"""Below the line in which the window says things."""


class ReviewBar(QFrame):
    """Follows the review and the finder; its buttons do what their keys do and take no focus from the picture."""

    def __init__(self, stage: QWidget, review: ProposalReview, finder: ServeFinder) -> None:
        super().__init__(stage)
        self._stage = stage
        self._review = review
        self._finder = finder
        self._in_step = False
        self.setObjectName("review")
        self.setAccessibleName("Found serves")
        self.words = PlainLabel()
        self.words.setWordWrap(True)
        self.buttons = {action_id: QPushButton() for action_id in (*ANSWER_BUTTONS, *SEARCH_BUTTONS)}
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(14, 6, 8, 6)
        self._row.setSpacing(8)
        self._row.addWidget(self.words, 1)
        for button in self.buttons.values():
            button.setProperty("role", "small")
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            self._row.addWidget(button)
        self.hide()
        review.changed.connect(self.refresh)

    def set_actions(self, actions: Mapping[str, QAction]) -> None:
        """Let each button stand for the action of that id."""
        for action_id, button in self.buttons.items():
            action = actions[action_id]
            word, key = (ANSWER_BUTTONS | SEARCH_BUTTONS)[action_id], key_words(action.shortcut().toString())
            button.setText(f"{word}  {key}")
            button.setAccessibleName(word)
            button.setToolTip(tooltip(f"{action.text()} ({key})"))
            button.clicked.connect(action.trigger)

    def show_in(self, step: str) -> None:
        """Be seen in the Mark step alone."""
        self._in_step = step == "mark"
        self.refresh()

    def refresh(self) -> None:
        """Show what is proposed, else how far the search is; nothing while there is neither."""
        shown, busy = self._review.shown, self._finder.busy
        self.setVisible(self._in_step and (shown is not None or busy))
        if self.isHidden():
            return
        waiting = len(self._review.waiting())
        percent = self._finder.percent
        self.words.setText(search_words(percent, waiting) if shown is None else review_of_words(shown, waiting - 1))
        for action_id, button in self.buttons.items():
            is_answer = action_id in ANSWER_BUTTONS
            offered = shown is not None if is_answer else busy if action_id == "stop_finding" else waiting > 0
            button.setVisible(offered and (is_answer or shown is None))
        self.place()
        self.raise_()

    def place(self) -> None:
        """Stand at the stage's upper edge, as wide as there is room."""
        widest = WIDEST_SEARCH if self._review.shown is None else WIDEST
        width = min(self._stage.width() - 2 * MARGIN, pixels(widest))
        self.setFixedWidth(width)
        self.setFixedHeight(self._row.totalHeightForWidth(width))
        self.move((self._stage.width() - width) // 2, TOP)
