"""Pages for phones as files: with her own stills in them, for those who agreed, and whole."""

from __future__ import annotations

import base64
import re

import cv2
import numpy as np
import pytest

from serve_marker.desktop.share.exports import KINDS, Order, make
from serve_marker.desktop.share.phone_pages import write_phone_pages
from serve_marker.errors import UserError
from serve_marker.logbook.consents import Consent
from tests.desktop.test_stills import film_path, logbook

__all__ = ["film_path", "logbook"]

pytestmark = pytest.mark.usefixtures("dressed")


def stills_in(path):
    found = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', path.read_text(encoding="utf-8"))
    read = [cv2.imdecode(np.frombuffer(base64.b64decode(text), np.uint8), cv2.IMREAD_COLOR) for text in found]
    assert all(still is not None for still in read)
    return read


def test_each_server_has_a_page_with_her_own_landings(logbook, tmp_path):
    told: list[tuple[int, int]] = []
    paths = write_phone_pages(logbook, tmp_path / "pages", progress=lambda done, of: told.append((done, of)))
    assert sorted(path.name for path in paths) == ["1-1-b.html", "7-Marit.html"]
    assert told == [(1, 2), (2, 2)]
    for path in paths:
        (still,) = stills_in(path)
        assert still.shape == (900, 1080, 3)
        assert still.std() > 5, "something is drawn on the grey film"


def test_without_film_there_are_pages_without_stills(logbook, film_path, tmp_path):
    film_path.unlink()
    said: list[str] = []
    paths = write_phone_pages(logbook, tmp_path / "pages", player_ids=["p1"], tell=said.append)
    assert [path.name for path in paths] == ["7-Marit.html"]
    assert stills_in(paths[0]) == []
    assert said == ["evening.mp4 is not where it was. Put it beside the logbook."]


def test_whoever_did_not_agree_has_no_page(run, logbook, tmp_path):
    logbook.put(Consent(id="p1", filmed_from="2026-01-01", team_from="2026-01-01"))
    logbook.close()
    answer = run("pages", logbook.path, "-o", tmp_path / "pages", "--practice", "a/b")
    assert answer.code == 0, answer.err
    assert [path.name for path in (tmp_path / "pages").iterdir()] == ["7-Marit.html"]
    assert "&lt;b&gt;" not in (tmp_path / "pages" / "7-Marit.html").read_text(encoding="utf-8")


def test_share_makes_the_page_of_one_server_and_cancel_leaves_whole_files(logbook, tmp_path):
    kind = next(kind for kind in KINDS if kind.key == "phone pages")
    order = Order(player_id="p2")
    paths, said = make(logbook, kind, order, tmp_path, lambda *_: None, lambda: False)
    assert (paths, said) == ([tmp_path / "phone pages" / "1-1-b.html"], [])
    assert make(logbook, kind, Order(), tmp_path / "b", lambda *_: None, lambda: True) == ([], [])
    with pytest.raises(UserError, match="Nobody served in this choice"):
        write_phone_pages(logbook, tmp_path, player_ids=["nobody"])
