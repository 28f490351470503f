"""The style sheet both looks share."""

from __future__ import annotations

from typing import Protocol

from serve_marker.desktop.widgets.text_sizes import FIGURE_PT, LARGE_PT, SMALL_PT, TITLE_PT, pixels, points


class ThemeColours(Protocol):
    """The colours the style sheet asks for, as hex strings."""

    @property
    def window(self) -> str: ...
    @property
    def panel(self) -> str: ...
    @property
    def raised(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def muted(self) -> str: ...
    @property
    def line(self) -> str: ...
    @property
    def accent(self) -> str: ...
    @property
    def on_accent(self) -> str: ...


def style_sheet(look: ThemeColours) -> str:
    """The application's style sheet in the colours of one look."""
    return f"""
QWidget {{ color: {look.text}; }}
QMainWindow, QDialog {{ background: {look.window}; }}
QToolTip {{ background: {look.raised}; color: {look.text}; border: 1px solid {look.line}; padding: 5px 7px; }}
QLabel[role="figure"] {{ font-size: {points(FIGURE_PT)}pt; font-weight: 600; }}
QLabel[role="title"] {{ font-size: {points(TITLE_PT)}pt; font-weight: 600; }}
QLabel[role="large"] {{ font-size: {points(LARGE_PT)}pt; font-weight: 600; }}
QLabel[role="muted"] {{ color: {look.muted}; }}
QLabel[role="key"] {{
    font-size: {points(SMALL_PT)}pt; padding: 0 5px; border: 1px solid {look.muted}; border-bottom-width: 2px;
    border-radius: 4px; background: {look.panel};
}}

QPushButton, QToolButton, QLineEdit {{
    min-height: {pixels(22)}px; padding: 4px 10px; border: 1px solid {look.line}; border-radius: 7px;
    background: {look.panel};
}}
QToolButton[role="small"], QPushButton[role="small"], QLineEdit[role="small"], QComboBox[role="small"] {{
    min-height: {pixels(18)}px; padding-top: 3px; padding-bottom: 3px;
}}
QPushButton {{ padding: 4px 14px; background: {look.raised}; }}
QPushButton:hover, QToolButton:hover {{ border-color: {look.accent}; }}
QPushButton:pressed, QToolButton:pressed {{ background: {look.line}; }}
QPushButton[checkable="false"]:default, QPushButton:checked, QToolButton:checked {{
    background: {look.accent}; color: {look.on_accent}; border-color: {look.accent};
}}
QPushButton:disabled, QToolButton:disabled, QLineEdit:disabled {{
    color: {look.muted}; background: {look.window};
}}
QPushButton:focus, QToolButton:focus, QLineEdit:focus, QListView:focus, QTableView:focus,
QTreeView:focus, QPlainTextEdit:focus {{
    border: 2px solid {look.accent};
}}
QPushButton:checked:focus, QPushButton[checkable="false"]:default:focus, QToolButton:checked:focus {{
    border: 2px solid {look.text};
}}
QComboBox QAbstractItemView {{
    background: {look.panel}; border: 1px solid {look.line}; selection-background-color: {look.accent};
    selection-color: {look.on_accent};
}}
QSpinBox, QDoubleSpinBox {{ min-height: {pixels(26)}px; }}
QCalendarWidget {{ background: {look.panel}; border: 1px solid {look.line}; }}
#qt_calendar_navigationbar {{ background: {look.panel}; }}
QComboBox {{
    min-height: {pixels(24)}px; padding: 3px 4px 3px 10px; border: 1px solid {look.line}; border-radius: 7px;
    background: {look.panel};
}}
QComboBox::drop-down {{ border: none; width: 20px; }}
QComboBox::down-arrow {{ image: none; }}
QComboBox:hover {{ border-color: {look.accent}; }}
QComboBox:focus {{ border: 2px solid {look.accent}; }}
QComboBox:disabled {{ color: {look.muted}; background: {look.window}; }}
QComboBox[role="chip"] {{
    min-height: {pixels(22)}px; padding: 2px 0 2px 12px; border-radius: 14px; background: {look.raised};
}}
QComboBox[role="chip"][chosen="true"] {{
    background: {look.accent}; color: {look.on_accent}; border-color: {look.accent}; font-weight: 600;
}}
QComboBox[role="chip"][chosen="true"]:focus {{ border: 2px solid {look.text}; }}
#dropPlace {{ border: 2px dashed {look.muted}; border-radius: 16px; background: {look.panel}; }}
#missingFilm, #question, #review {{ background: {look.panel}; border: 2px solid {look.accent}; border-radius: 8px; }}
#error {{ background: {look.panel}; border: 1px solid {look.line}; border-radius: 8px; }}
#message {{
    background: {look.panel}; color: {look.text}; border: 1px solid {look.line}; border-radius: 8px; padding: 7px 12px;
}}
#players {{ background: {look.window}; border: 1px solid {look.line}; }}
#card {{ border: 2px solid {look.line}; border-radius: 8px; }}
#card[chosen="true"] {{ border-color: {look.accent}; }}
QCheckBox:focus, QRadioButton:focus {{ color: {look.accent}; }}

QListView, QTableView, QTreeView, QPlainTextEdit, QTextBrowser {{
    background: {look.panel}; alternate-background-color: {look.window}; border: 1px solid {look.line};
    border-radius: 7px; gridline-color: {look.line};
    selection-background-color: {look.accent}; selection-color: {look.on_accent};
}}
QComboBox QLineEdit, QTableView QLineEdit, QTableView QComboBox {{ border-radius: 0; padding: 0 4px; min-height: 0; }}
QComboBox QLineEdit, QComboBox QLineEdit:focus {{ border: none; background: transparent; padding: 0; }}
#serveList, #serveList QHeaderView {{ font-size: {points(SMALL_PT)}pt; }}
QHeaderView {{ background: transparent; }}
QHeaderView::section {{
    background: {look.panel}; color: {look.muted}; border: none; border-bottom: 1px solid {look.line};
    padding: 6px 4px; font-weight: 600;
}}
QMenuBar {{ background: {look.window}; }}
QMenuBar::item {{ padding: 5px 7px; background: transparent; border-radius: 5px; }}
QMenuBar::item:selected {{ background: {look.raised}; }}
#qt_menubar_ext_button {{ padding: 0; border: none; background: {look.raised}; }}
QMenu {{ background: {look.panel}; border: 1px solid {look.line}; padding: 5px; }}
QMenu::item {{ padding: 6px 26px 6px 22px; border-radius: 5px; }}
QMenu::item:selected {{ background: {look.accent}; color: {look.on_accent}; }}
QMenu::item:disabled {{ color: {look.muted}; }}
QMenu::separator {{ height: 1px; background: {look.line}; margin: 5px 8px; }}

QScrollBar {{ background: transparent; border: none; margin: 0; }}
QScrollBar:vertical {{ width: 12px; }}
QScrollBar:horizontal {{ height: 12px; }}
QScrollBar::handle {{ background: {look.line}; border-radius: 4px; margin: 2px; min-height: 30px; min-width: 30px; }}
QScrollBar::handle:hover {{ background: {look.muted}; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QProgressBar {{
    border: 1px solid {look.line}; border-radius: 7px; background: {look.panel}; text-align: center; min-height: 20px;
}}
QProgressBar::chunk {{ background: {look.accent}; border-radius: 6px; }}
QSplitter::handle {{ background: transparent; }}
QStatusBar {{ color: {look.muted}; }}
QStatusBar::item {{ border: none; }}
"""
