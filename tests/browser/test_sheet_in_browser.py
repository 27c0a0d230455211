"""The build sheet in a real Chromium with the network cut: no fault, no request, ticks that last, A4, accessibility."""

import io
import json
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from chromium import Axe, Opener, needed, opened_browser, pypdf, watched
from sheets import BUILDS, kit_record, record_of

from optimise.report.record import Record, to_json
from optimise.report.sheet.page import sheet_page
from optimise.report.sheet.paper import printer

needed("weasyprint")
pytestmark = pytest.mark.browser
browser = pytest.fixture(scope="module")(opened_browser)

A4 = 688
"""CSS pixels of the width of A4 between its margins: 182 mm at 96 to the inch."""


NAMES = [*sorted(BUILDS), "kit"]
HOSTILE = "<script>document.title='caught'</script><img src=x onerror=\"document.title='caught'\">\u202e"


POINTS = """
[[point]]
name = "on a contour line"
across = "0.62 m"

[[point]]
name = "below"
up = "-0.7 m"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a page of every build, of a kit, and of names that mean harm."""
    made = tmp_path_factory.mktemp("pages")
    for place, name in enumerate(NAMES):
        record = kit_record() if name == "kit" else record_of(name)
        (made / f"{name}.html").write_text(sheet_page(record, f"{place:064d}", "r.json"), encoding="utf-8")
    long = "w" * 10_000
    text = to_json(record_of("battery"))
    for code, name in (("LED-BAR9-5692", HOSTILE), ("larkmoor", long), ("PAN-FOAM-50x50", long)):
        text = text.replace(code, json.dumps(name)[1:-1])
    tree = json.loads(text) | {"title": f"{HOSTILE} {long}", "notes": [HOSTILE, long]}
    tree["inputs"]["job"] = json.loads(to_json(record_of("battery")))["inputs"]["job"]
    record = record_of("battery")
    inputs = record.inputs.model_copy(update={"job": record.inputs.job + POINTS})
    page = sheet_page(record.model_copy(update={"inputs": inputs}), "e" * 64, "r.json")
    (made / "points.html").write_text(page, encoding="utf-8")
    page = sheet_page(Record.model_validate(tree), "f" * 64, "r.json")
    (made / "hostile.html").write_text(page, encoding="utf-8")
    return made


@pytest.fixture
def opened(browser: Any, folder: Path) -> Iterator[Opener]:
    with watched(browser, folder) as opener:
        yield opener


@pytest.mark.parametrize("name", ["battery", "mains", "pack", "kit", "hostile"])
@pytest.mark.parametrize(("width", "dark"), [(360, False), (768, True), (1280, False)])
def test_the_page_loads_fits_and_can_be_read_by_everyone(opened: Opener, name: str, width: int, dark: bool) -> None:
    page = opened(name, width, dark=dark)
    assert page.title().startswith("Build sheet")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # Every drawing is there, has a size, and keeps within the page or within what scrolls.
    boxes = page.evaluate("[...document.querySelectorAll('svg')].map(s => s.getBoundingClientRect().width)")
    assert len(boxes) > 8
    assert min(boxes) > 20
    background = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert (sum(map(int, background.removeprefix("rgb(").removesuffix(")").split(","))) < 200) == dark
    if width == 1280:
        return  # wider than a tablet, nothing is laid out otherwise
    found = Axe().run(page).response["violations"]
    assert [(fault["id"], fault["impact"], fault["nodes"][0]["html"][:200]) for fault in found] == []


@pytest.mark.parametrize("name", [*NAMES, "points"])
def test_no_lettering_of_a_drawing_is_cut_off_or_lies_on_other_lettering(opened: Opener, name: str) -> None:
    page = opened(name, 1280)
    faults = page.evaluate(
        """[...document.querySelectorAll('svg.drawing')].flatMap(svg => {
            const edge = svg.getBoundingClientRect(), texts = [...svg.querySelectorAll('text')];
            const boxes = texts.map(t => [t.textContent, t.getBoundingClientRect()]);
            const cut = boxes.filter(([, b]) => b.left < edge.left - 1 || b.right > edge.right + 1
                || b.top < edge.top - 1 || b.bottom > edge.bottom + 1).map(([t]) => 'cut off: ' + t);
            const over = boxes.flatMap(([t, a], i) => boxes.slice(i + 1).filter(([, b]) =>
                Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2
                && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 6).map(([u]) => t + ' on ' + u));
            return cut.concat(over).map(fault => svg.querySelector('title').textContent + ': ' + fault);
        })"""
    )
    assert faults == []


def test_ticks_and_readings_last_for_their_record_alone(opened: Opener) -> None:
    page = opened("battery")
    box, reading = page.locator("#buy-1-1"), page.locator("#test-a-1-v")
    assert page.locator("[data-counts=shops]").inner_text() == "0 of 9 ticked"
    box.check()
    reading.fill("0.09")
    assert page.locator("[data-counts=shops]").inner_text() == "1 of 9 ticked"
    page.reload()
    assert box.is_checked()
    assert reading.input_value() == "0.09"
    assert page.locator("[data-counts=shops]").inner_text() == "1 of 9 ticked"
    other = opened("mains", context=page.context)
    assert not other.locator("#buy-1-1").is_checked()
    box.uncheck()
    reading.fill("")
    page.reload()
    assert not box.is_checked()
    assert reading.input_value() == ""


def test_it_works_where_storage_is_refused(opened: Opener) -> None:
    refuse = (
        "Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('no', 'SecurityError'); }});"
    )
    page = opened("battery", script=refuse)
    page.locator("#buy-1-1").check()
    assert page.locator("[data-counts=shops]").inner_text() == "1 of 9 ticked"
    assert page.locator("#buy-1-1").is_checked()


@pytest.mark.parametrize("kept", ["null", "true", "[]", '{"buy-1-1": "x", "test-a-1-v": 7}', "{broken", '"text"', "5"])
def test_what_is_kept_may_be_broken(opened: Opener, kept: str) -> None:
    fill = f"window.localStorage.setItem('rushlight-sheet:{NAMES.index('battery'):064d}', {json.dumps(kept)});"
    page = opened("battery", script=fill)
    assert not page.locator("#buy-1-1").is_checked()
    page.locator("#buy-1-1").check()
    assert page.locator("[data-counts=shops]").inner_text() == "1 of 9 ticked"


def test_it_works_by_keyboard_alone(opened: Opener) -> None:
    page = opened("battery")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the sheet"
    page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "buy-1-1":
            break
    page.keyboard.press("Space")
    assert page.locator("#buy-1-1").is_checked()
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"
    # All that scrolls can be reached, and its name says what it is.
    unreachable = (
        "[...document.querySelectorAll('.wide, .scroll')].filter(e => e.tabIndex !== 0 || !e.ariaLabel).length"
    )
    assert page.evaluate(unreachable) == 0


def test_names_that_mean_harm_do_none(opened: Opener) -> None:
    page = opened("hostile")
    page.wait_for_timeout(100)
    assert page.title().startswith("Build sheet: <script>")
    assert page.evaluate("document.querySelectorAll('script').length") == 1
    assert page.evaluate("document.querySelectorAll('img').length") == 0
    assert HOSTILE in page.locator("h1").text_content()


PAGES = {"battery": 12, "mains": 12, "kit": 20}
"""Sheets of A4; a font of another machine may make one more or less."""


@pytest.mark.parametrize("name", sorted(PAGES))
def test_it_prints_on_so_many_sheets_with_every_row_whole(opened: Opener, name: str) -> None:
    page = opened(name, A4)
    page.emulate_media(media="print")
    # What is wider than the paper would be cut.
    wide = "[...document.querySelectorAll('table, svg, pre, ul, p')].filter(e => e.getBoundingClientRect().right > %d)"
    assert page.evaluate(f"({wide % (A4 + 1)}).map(e => e.outerHTML.slice(0, 200))") == []
    rows = page.evaluate("[...document.querySelectorAll('tbody tr')].map(r => [...r.cells].map(c => c.innerText))")
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)))
    assert len(printed.pages) == pytest.approx(PAGES[name], abs=1)
    for sheet in printed.pages:
        assert float(sheet.mediabox.width) == pytest.approx(210.0 / 25.4 * 72.0, abs=1.0)
        assert float(sheet.mediabox.height) == pytest.approx(297.0 / 25.4 * 72.0, abs=1.0)
    # A PDF has ligatures where the page has letters.
    plain = [unicodedata.normalize("NFKC", sheet.extract_text() or "") for sheet in printed.pages]
    texts = ["".join(text.split()) for text in plain]
    assert all(len(text) > 80 for text in texts)
    assert all(f"{place}/{len(texts)}" in text for place, text in enumerate(texts, 1))
    for row in rows:
        # Cells wrap side by side, so that a row is looked for word by word: all of them on one sheet.
        words = [word for cell in row for word in re.split(r"[\s-]+", cell) if word]
        words = [unicodedata.normalize("NFKC", word) for word in words]
        assert any(all(word in text for word in words) for text in texts), row


def test_the_pdf_of_the_library_is_whole_and_always_the_same(folder: Path) -> None:
    name = "battery"
    text = (folder / f"{name}.html").read_text(encoding="utf-8")
    made = printer()(text)
    assert printer()(text) == made
    printed = pypdf.PdfReader(io.BytesIO(made))
    assert len(printed.pages) == pytest.approx(PAGES[name], abs=2)
    words = "".join(unicodedata.normalize("NFKC", sheet.extract_text() or "") for sheet in printed.pages)
    words = "".join(words.split())
    for heading in ("Beforeyoubegin", "Drill", "Tryoutbeforefirstuse", "Grounds", "−0.25"):
        assert heading in words
