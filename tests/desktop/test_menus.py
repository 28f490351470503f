"""The menus: what undo and redo would do, and long menus in groups."""

from __future__ import annotations

import runpy
from itertools import groupby
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMenu, QMenuBar

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, seen_at = (coach_at_work[name] for name in ("CTRL", "seen_at"))
MOST_TOGETHER = 9

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def menus(coach):
    bar = coach.window.findChild(QMenuBar)
    return {menu.title().replace("&", ""): menu for menu in bar.findChildren(QMenu)}


def edit_entries(coach):
    return [action.text() for action in menus(coach)["Edit"].actions()]


def test_the_edit_menu_names_what_undo_and_redo_would_do(coach_at_mark):
    coach = coach_at_mark
    coach.step_to(20)
    coach.key(Qt.Key.Key_N)
    assert edit_entries(coach) == ["Undo: No server, into the net", "Redo"]
    bar, menu = coach.window.findChild(QMenuBar), menus(coach)["Edit"]
    coach.click(bar, bar.actionGeometry(menu.menuAction()).center())
    coach.click(menu, menu.actionGeometry(menu.actions()[0]).center())
    assert coach.stored_serves() == []
    assert edit_entries(coach)[1] == "Redo: No server, into the net"


def test_long_menus_have_groups_with_headings(coach):
    for title, menu in menus(coach).items():
        runs = [list(run) for split, run in groupby(menu.actions(), lambda action: action.isSeparator()) if not split]
        assert max(map(len, runs)) <= MOST_TOGETHER, title
        if len(runs) > 1:
            assert all(run[0].text() and not run[0].isEnabled() for run in runs), title
