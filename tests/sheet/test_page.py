"""The page in a real Chromium: on a phone, without script, for people who use no mouse, in print.

`SHEET_PICTURES=DIR` keeps the screenshots and PDFs, for somebody to look at.
"""

from __future__ import annotations

import io
import os
import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.lines.process import ROOT
from tests.sheet.browser import PAPER, Browser, chromium
from tests.sheet.crew import read, sheet, weeks_on_file
from tests.sheet.test_log import log, rows
from tests.sheet.test_sheet import hostile_sheet

AXE = ROOT / "node_modules" / "axe-core" / "axe.min.js"
PHONE = {"width": 360, "height": 740}
pytestmark = pytest.mark.skipif(
    chromium() is None, reason="no Chromium here: apt-get install chromium"
)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = tmp_path_factory.mktemp("ada")
    weeks_on_file(data, days_ago=(9, 6, 3))
    return sheet(data)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with Browser(tmp_path_factory.mktemp("profile")) as opened:
        yield opened


def keep(name: str, content: bytes) -> None:
    """Leave a picture for somebody to look at, if they asked for it."""
    if folder := os.environ.get("SHEET_PICTURES"):
        Path(folder).mkdir(parents=True, exist_ok=True)
        Path(folder, name).write_bytes(content)


def typed(browser: Browser, number: int, text: str) -> None:
    """Type a line on the sheet's first page."""
    browser.ask(f"document.querySelectorAll('.page .exercise input')[{number}].focus()")
    browser.type(text)


def test_on_a_phone_each_exercise_has_one_line_to_type(browser: Browser, file: Path) -> None:
    browser.open(file.as_uri(), **PHONE)
    assert browser.trouble == []
    for where in (".page", ".exercise", ".send"):
        browser.ask(f"document.querySelector('{where}').scrollIntoView()")
        keep(f"phone{where}.png", browser.picture(whole=False))
    assert browser.ask("document.documentElement.scrollWidth") == 360
    fields, exercises, visible = browser.ask(
        "[document.querySelectorAll('.exercise input').length,"
        " document.querySelectorAll('.exercise').length,"
        " [...document.querySelectorAll('.exercise input')].filter(e => e.offsetParent).length]"
    )
    assert fields == exercises == visible > 20
    assert browser.ask("document.querySelectorAll('input[type=checkbox]').length") == 0
    buttons = browser.ask("[...document.querySelectorAll('.page')].map(p => "
                          "p.querySelectorAll('button').length)")  # fmt: skip
    assert set(buttons) == {1}
    sizes = browser.ask(
        "[...document.querySelectorAll('input, button, textarea')].filter(e => e.offsetParent)"
        ".map(e => [e.getBoundingClientRect().height, parseFloat(getComputedStyle(e).fontSize)])"
    )
    # 44 CSS pixels: WCAG 2.2, 2.5.5. A field of less than 16 px makes a phone zoom in: practice.
    assert all(height >= 44 and font >= 16 for height, font in sizes)
    lines = browser.ask(
        "[...document.querySelectorAll('.dates')].filter(e => e.offsetParent).length"
    )
    assert lines == 0


def test_what_is_typed_survives_closing_and_is_copied_as_a_text(file: Path, tmp_path: Path) -> None:
    page = read(file).all(".page")[0]
    squat, pull, push = page.all(".exercise")[:3]
    with Browser(tmp_path) as browser:
        browser.open(file.as_uri(), **PHONE)
        typed(browser, 0, "12 11/2 9")
        typed(browser, 1, " pain left shoulder")
        typed(browser, 2, "knees 12 11; hands-60 9 ;  note <b>windy</b>")
        typed(browser, 3, "   ")
    with Browser(tmp_path) as browser:  # another day, another process
        browser.open(file.as_uri(), **PHONE)
        assert browser.ask("document.querySelector('.exercise input').value") == "12 11/2 9"
        day = browser.ask("document.querySelector('.on').value")
        browser.click(".page button")
        text = browser.ask("document.querySelector('.page textarea').value")
        said = browser.ask("document.querySelector('.page .said').textContent")
        browser.send("Browser.grantPermissions", permissions=["clipboardReadWrite"])
        pasted = browser.ask("navigator.clipboard.readText()")
        browser.ask("document.querySelector('.on').value = '2026-11-20'")
        browser.ask("document.querySelector('.on').dispatchEvent(new Event('change'))")
        other = browser.ask("document.querySelector('.exercise input').value")
        assert browser.trouble == []
    assert text.splitlines() == [
        f"sheet {page.attributes['data-sheet']}",
        "plan Kestrel Hut, winter",
        "session A",
        f"on {day}",
        f"{squat.attributes['data-key']}={squat.attributes['data-level']} 12 11/2 9",
        f"{pull.attributes['data-key']}=; pain left shoulder",
        f"{push.attributes['data-key']}=knees 12 11; hands-60 9 ; note <b>windy</b>",
    ]
    assert re.fullmatch(r"2\d\d\d-\d\d-\d\d", day)
    assert (
        log(file.parent, "--sheet", page.attributes["data-sheet"], "--from", "-", lines=text) == 0
    )
    found = [(row["exercise"], row["version"], row["reps"], row["pain_where"], row["note"])
             for row in rows(file.parent, datetime.fromisoformat(day))]  # fmt: skip
    assert found == [
        ("pull-down", "mark-1", "", "left shoulder", "pain: left shoulder"),
        ("squat", "rucksack", "12", "", ""),
        ("squat", "rucksack", "11", "", ""),
        ("squat", "rucksack", "9", "", ""),
        ("push-up", "knees", "12", "", ""),
        ("push-up", "knees", "11", "", ""),
        ("push-up", "hands-60", "9", "", "<b>windy</b>"),
    ]
    assert pasted == text
    assert said.startswith("Copied.")
    assert other == ""  # each date has lines of its own


def test_without_script_it_is_a_form_of_paper(browser: Browser, file: Path) -> None:
    for window in (PHONE, {"width": 1200, "height": 900}):
        browser.open(file.as_uri(), **window, script=False)
        keep(f"no-script-{window['width']}.png", browser.picture(whole=False))
        browser.send("Emulation.setScriptExecutionDisabled", value=False)  # to ask it something
        shown = browser.ask(
            "['input', 'button', '.dates', '.lines'].map(s => "
            "[...document.querySelectorAll(s)].filter(e => e.offsetParent).length)"
        )
        assert shown[:2] == [0, 0]
        assert shown[2] > 20
        assert shown[3] == 3
        assert browser.ask("document.documentElement.scrollWidth") == window["width"]


@pytest.mark.parametrize("paper", PAPER)
def test_in_print_no_exercise_is_cut_and_each_session_begins_a_page(
    browser: Browser, file: Path, paper: str
) -> None:
    browser.open(file.as_uri(), width=1200, height=900)
    content = browser.pdf(paper)
    keep(f"{paper}.pdf", content)
    pdf = PdfReader(io.BytesIO(content))
    texts = [squeezed(page.extract_text() or "") for page in pdf.pages]
    width, height = (inches * 72 for inches in PAPER[paper])
    for page in pdf.pages:
        assert abs(float(page.mediabox.width) - width) < 1
        assert abs(float(page.mediabox.height) - height) < 1
    starts = [n for n, text in enumerate(texts) if squeezed("Read before you start") in text]
    assert len(starts) == 3
    assert starts[0] == 0
    for number, page in enumerate(read(file).all(".page")):
        of_it = texts[starts[number] : (*starts, len(texts))[number + 1]]
        assert len(of_it) == 2  # a sheet of paper, both sides
        for one in page.all(".exercise"):
            rows = [squeezed(row.text) for row in one.one("dl").all("div")]
            head = squeezed(one.one("h3").text)
            (at,) = [n for n, text in enumerate(of_it) if head in text]
            begin = of_it[at].index(head)
            place = begin
            for row in rows:  # all of it behind its head, and its lines to write on, on that page
                place = of_it[at].index(row, place)
            assert of_it[at][place:].count("level") >= 6
    assert squeezed("Copy the text") not in "".join(texts)


def squeezed(text: str) -> str:
    """A text without spaces: a line of print ends where it will."""
    return "".join(text.split())


@pytest.mark.parametrize("window", [PHONE, {"width": 1200, "height": 900}], ids=["phone", "wide"])
def test_the_rules_of_axe_find_nothing(
    browser: Browser, file: Path, window: dict[str, int]
) -> None:
    """axe-core 4 of the npm registry: WCAG 2.2 A and AA, contrast of AAA, best practices."""
    if not AXE.exists():
        pytest.skip("no axe-core here: npm install --no-save axe-core@4")
    browser.open(file.as_uri(), **window)
    browser.ask(AXE.read_text(encoding="utf-8") + "; 0")
    found: dict[str, Any] = browser.ask(
        "axe.run(document, {rules: {'color-contrast-enhanced': {enabled: true}}})"
        ".then(r => ({violations: r.violations.map(v => [v.id, v.help, v.nodes.map(n => n.html)]),"
        " passes: r.passes.length, incomplete: r.incomplete.map(v => v.id)}))"
    )
    assert found["violations"] == []
    assert found["passes"] > 20


def test_a_field_has_a_name_a_page_a_head_and_grey_is_dark_enough(
    browser: Browser, file: Path
) -> None:
    """The same without axe: labels (WCAG 3.3.2), language (3.1.1), headings, contrast of 7:1."""
    browser.open(file.as_uri(), **PHONE)
    nameless = browser.ask(
        "[...document.querySelectorAll('input, textarea')].filter(e => !e.labels.length).length"
    )
    assert nameless == 0
    assert browser.ask("document.documentElement.lang") == "en"
    ids = browser.ask("[...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(set(ids)) == len(ids)
    colours = browser.ask(
        "[...new Set([...document.querySelectorAll('body, body *')].map(e => "
        "[getComputedStyle(e).color, getComputedStyle(e, '::placeholder').color]).flat())]"
    )
    for colour in colours:
        red, green, blue = map(int, re.findall(r"\d+", colour)[:3])
        assert red == green == blue  # nothing but greys
        assert contrast(red) >= 7 or red == 255  # white stands on the black button


def contrast(grey: int) -> float:
    """Of a grey on white, by the formula of WCAG 2.2 (relative luminance)."""
    part = grey / 255
    luminance = part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
    return 1.05 / (luminance + 0.05)


def test_the_formula_gives_the_published_values() -> None:
    # The check values of the project's notes on WCAG: #767676 4.5422, #595959 7.0047.
    assert [round(contrast(grey), 4) for grey in (0, 0x59, 0x76)] == [21.0, 7.0047, 4.5422]


def test_hostile_texts_do_nothing(tmp_path: Path, browser: Browser) -> None:
    browser.open(hostile_sheet(tmp_path).as_uri(), **PHONE)
    assert browser.trouble == []
    assert browser.ask("window.hacked === undefined && document.scripts.length") == 1
