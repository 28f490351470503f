"""A player's page: the numbers of her sheet, nothing from outside, names as text; read by a browser where one is."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from serve_marker.report.headline_figures import serve_figures
from serve_marker.report.phone_page import NO_SERVES, PageStill, phone_page
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import read_report_data
from serve_marker.study.rates import landed_mask
from serve_marker.study.serve_shape import shapes_of
from tests.every_sentence import texts_drawn, too_long

PIXEL = bytes.fromhex("ffd8ffd9")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


class Page(HTMLParser):
    """What a page is made of: its elements with attributes, and the texts in each kind of them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, list[str]] = {}
        self._open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attributes)))
        if tag not in ("meta", "img", "path", "rect", "polygon"):
            self._open.append(tag)
            self.texts.setdefault(tag, []).append("")

    def handle_endtag(self, tag: str) -> None:
        if self._open and self._open[-1] == tag:
            self._open.pop()

    def handle_data(self, data: str) -> None:
        for tag in self._open:
            self.texts[tag][-1] += data


def test_figures_and_sentence_are_those_of_her_sheet(logbook):
    data = read_report_data(logbook)
    for practice_id in ("practice-0", None):
        page = Page(phone_page(data, "player-1", practice_id))
        sheet = server_pages(data, "player-1", practice_id)[0]
        on_paper = texts_drawn(sheet)
        rows = data.of_practice(practice_id)
        figures = serve_figures(rows[rows["player_id"] == "player-1"])
        assert len(figures) >= 2
        assert page.texts["b"] == [figure.number for figure in figures]
        assert page.texts["dt"] == [figure.name for figure in figures]
        for shown in (*page.texts["b"], *page.texts["dt"], *page.texts.get("small", ())):
            assert any(shown in text for text in on_paper), shown
        (advice,) = page.texts["p"][1:2]
        assert advice in " ".join(on_paper)
        assert page.texts["h1"] == ["4 Marit"]
        counted = [found.group() for text in page.texts["li"] if (found := re.search(r"\d+ of \d+", text))]
        assert len(counted) == len(page.texts["strong"]) > 0
        assert set(counted) <= {text.get_text() for axes in sheet.figure.axes for text in axes.texts}


def test_the_court_has_every_landing_and_the_list_every_serve(logbook):
    data = read_report_data(logbook)
    rows = data.table[data.table["player_id"] == "player-0"]
    page = Page(phone_page(data, "player-0"))
    titles = page.texts["title"][1:]
    assert len(titles) == int(landed_mask(rows).sum()) > 5
    assert len([tag for tag, _ in page.elements if tag == "ol"]) == 1
    numbers = [int(found.group()) for text in page.texts["li"] if (found := re.match(r"\d+", text))]
    assert numbers == list(range(1, len(shapes_of(rows)) + 1))
    (svg,) = [found for tag, found in page.elements if tag == "svg" and found.get("role") == "img"]
    left, top, width, height = map(float, str(svg["viewbox"]).split())
    assert (left, width) == (-1.0, 11.0)
    assert top <= -9.0
    assert height >= 9.5


HARD_NAMES = ['<script>alert("1")</script>', "</style><b>x", '" onload="x', "&lt;i&gt;", "Zofia 🏐\u202e"]


@pytest.mark.parametrize("name", HARD_NAMES)
def test_names_are_text_wherever_they_stand(logbook, name):
    player = next(one for one in logbook.players() if one.id == "player-0")
    logbook.put(replace(player, name=name, number=None))
    still = PageStill(PIXEL, f"{name}, on target")
    text = phone_page(read_report_data(logbook), "player-0", None, [still])
    page = Page(text)
    assert page.texts["h1"] == [name]
    assert page.texts["title"][0] == name
    assert page.texts["figcaption"] == [f"{name}, on target"]
    known = {
        "html",
        "head",
        "meta",
        "title",
        "style",
        "body",
        "main",
        "header",
        "h1",
        "p",
        "dl",
        "div",
        "dt",
        "dd",
        "b",
    }
    known |= {
        "small",
        "section",
        "h2",
        "svg",
        "rect",
        "path",
        "polygon",
        "g",
        "text",
        "ul",
        "ol",
        "li",
        "span",
        "strong",
    }
    assert {tag for tag, _ in page.elements} <= known | {"figure", "img", "figcaption", "footer"}
    assert not any(attribute.startswith("on") for _, found in page.elements for attribute in found)


def test_nothing_comes_from_outside_and_nothing_runs(logbook):
    text = phone_page(read_report_data(logbook), "player-0", None, [PageStill(PIXEL, "on target")])
    page = Page(text)
    sources = [
        found[name] for _, found in page.elements for name in ("src", "href", "srcset", "poster") if name in found
    ]
    assert [str(source)[:23] for source in sources] == ["data:image/jpeg;base64,"]
    (style,) = page.texts["style"]
    assert not re.search(r"url\(|@import|@font-face|http", style)
    (policy,) = [found["content"] for _, found in page.elements if found.get("http-equiv") == "Content-Security-Policy"]
    assert policy == "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def test_her_page_is_said_in_short_sentences_and_made_without_serves_too(logbook):
    data = read_report_data(logbook)
    page = Page(phone_page(data, "player-2"))
    told = [text for tag in ("p", "h2", "small", "footer", "li") for text in page.texts.get(tag, ())]
    assert [sentence for text in told for sentence in too_long(text)] == []
    none = Page(phone_page(data, "nobody"))
    assert NO_SERVES in none.texts["p"]
    assert "svg" not in none.texts


@contextmanager
def browser(page: Path) -> Iterator[Any]:
    """A function that asks Chromium, with the page open, by its own protocol over pipes (no network)."""
    to_read, to_write, from_read, from_write = *os.pipe(), *os.pipe()

    def wire() -> None:
        copies = os.dup(to_read), os.dup(from_write)
        os.dup2(copies[0], 3)
        os.dup2(copies[1], 4)

    command = [
        str(CHROMIUM),
        "--headless",
        "--no-sandbox",
        "--hide-scrollbars",
        "--remote-debugging-pipe",
        "about:blank",
    ]
    process = subprocess.Popen(
        command, preexec_fn=wire, close_fds=False, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL
    )
    os.close(to_read)
    os.close(from_write)
    asked, session = 0, ""
    with os.fdopen(to_write, "wb") as questions, os.fdopen(from_read, "rb") as answers:

        def ask(method: str, **parameters: object) -> dict[str, Any]:
            nonlocal asked
            asked += 1
            question = {"id": asked, "method": method, "params": parameters} | (
                {"sessionId": session} if session else {}
            )
            questions.write(json.dumps(question).encode() + b"\0")
            questions.flush()
            while True:
                answer = json.loads(b"".join(iter(lambda: answers.read(1), b"\0")))
                if answer.get("id") == asked:
                    assert "error" not in answer, answer
                    return dict(answer["result"])

        targets = ask("Target.getTargets")["targetInfos"]
        target = next(one["targetId"] for one in targets if one["type"] == "page")
        session = ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        ask("Page.enable")
        ask("Page.navigate", url=page.as_uri())
        try:
            yield ask
        finally:
            session = ""
            ask("Browser.close")
            process.wait(timeout=30)


@pytest.mark.skipif(CHROMIUM is None, reason="there is no Chromium here")
def test_a_browser_shows_it_within_a_phone_and_a_screen_light_and_dark_and_reads_it_aloud(logbook, tmp_path):
    data = read_report_data(logbook)
    (tmp_path / "page.html").write_text(phone_page(data, "player-0", None, [PageStill(PIXEL, "on target")]), "utf-8")

    def value(ask: Any, script: str) -> Any:
        return ask("Runtime.evaluate", expression=script, returnByValue=True)["result"].get("value")

    with browser(tmp_path / "page.html") as ask:
        for _ in range(200):
            if value(ask, "document.readyState === 'complete' && !!document.querySelector('footer')"):
                break
        grounds = set()
        for width, height in ((390, 844), (1280, 800)):
            size = {"width": width, "height": height, "deviceScaleFactor": 1}
            ask("Emulation.setDeviceMetricsOverride", **size, mobile=width < 500)
            for look in ("light", "dark"):
                ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": look}])
                assert value(ask, "document.documentElement.scrollWidth") == width
                wide = value(ask, "document.querySelector('.court').getBoundingClientRect().width")
                assert wide > 0.8 * min(width, 480)
                grounds.add((look, value(ask, "getComputedStyle(document.body).backgroundColor")))
        assert grounds == {("light", "rgb(255, 255, 255)"), ("dark", "rgb(22, 25, 29)")}
        nodes = ask("Accessibility.getFullAXTree")["nodes"]
    heard = [(node["role"]["value"], node.get("name", {}).get("value", "")) for node in nodes if not node["ignored"]]
    assert ("heading", "3 Ines") in heard
    assert [name for role, name in heard if role == "heading"][1:] == [
        *("Where they landed", "At each aim", "In the order served", "On film")
    ]
    assert any(role in ("image", "img") and "landings on the court" in name for role, name in heard)
    said = " ".join(name for role, name in heard if role == "StaticText")
    assert "on target" in said
    assert "out" in said
