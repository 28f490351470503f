"""Measures a coach looks at and leaves alone stay what they were."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QDialog

from serve_marker.court.areas import AreaScheme, default_scheme
from serve_marker.court.dimensions import COURTS
from serve_marker.desktop.dialogs.court_measures import AreaBordersDialog, CourtMeasuresDialog


@pytest.mark.parametrize("court", COURTS.values(), ids=COURTS)
def test_keeping_measures_unedited_changes_nothing(qapp, court):
    own = AreaScheme((1.23456, 3.00049), (1.50049, 2.9), (1.33333, 2.9), 0.87654)
    measures = CourtMeasuresDialog(court, 2.43210)

    assert (measures.court(), measures.net_height_m()) == (court, 2.43210)
    assert AreaBordersDialog(court, default_scheme(court)).scheme() is None
    assert AreaBordersDialog(court, own).scheme() == own


def test_one_edited_field_leaves_the_others(qapp):
    court = COURTS["high-school"]
    measures = CourtMeasuresDialog(court, 2.24)
    measures.length_field.setValue(16.0)
    borders = AreaBordersDialog(court, default_scheme(court))
    borders.fields["deep"].setValue(7.0)

    assert (measures.court().length_m, measures.court().width_m) == (16.0, court.width_m)
    assert measures.court().title.startswith("Own court")
    assert borders.scheme().depth_borders_m == (default_scheme(court).depth_borders_m[0], 7.0)
    assert borders.scheme().row_borders_m == default_scheme(court).row_borders_m


def test_equal_borders_are_refused_with_a_sentence(qapp):
    borders = AreaBordersDialog(COURTS["indoor"], default_scheme(COURTS["indoor"]))
    borders.fields["front row"].setValue(6.0)
    borders.accept()

    assert borders.trouble.text().startswith("Two borders lie at 6 m")
    assert borders.result() != QDialog.DialogCode.Accepted
