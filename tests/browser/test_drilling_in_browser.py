"""The drilling template in a real Chromium: true to size on the screen and on A4, one sheet for each tile."""

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from chromium import Axe, Opener, opened_browser, pypdf, watched
from test_drilling import lying_plan, plan_for

from optimise.report.sheet.full_size import full_size
from optimise.report.sheet.tiles import LYING, tiles_page, tiling_of

pytestmark = pytest.mark.browser
browser = pytest.fixture(scope="module")(opened_browser)

MM = 96.0 / 25.4
"""CSS pixels of a mm (CSS Values and Units 3, 6.2)."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("boards")
    for name in ("battery", "pack"):
        (made / f"{name}.html").write_text(tiles_page(plan_for(name), "A <b> board", "key"), encoding="utf-8")
        (made / f"{name}-whole.html").write_text(
            full_size(plan_for(name)).split("?>\n")[1].replace("<svg", "<!DOCTYPE html><title>x</title><svg", 1),
            encoding="utf-8",
        )
    (made / "lying.html").write_text(tiles_page(lying_plan(), "A <b> board", "key"), encoding="utf-8")
    return made


@pytest.fixture
def opened(browser: Any, folder: Path) -> Iterator[Opener]:
    with watched(browser, folder) as opener:
        yield opener


@pytest.mark.parametrize("name", ["battery", "pack", "lying"])
def test_rulers_and_pieces_are_true_to_size_and_each_sheet_is_one_of_a4(opened: Opener, name: str) -> None:
    page, plan = opened(name, 900), lying_plan() if name == "lying" else plan_for(name)
    tiles, lies = len(tiling_of(plan).tiles), tiling_of(plan).face == LYING
    assert lies == (name == "lying")
    for media in ("screen", "print"):
        page.emulate_media(media=media)
        sizes = page.evaluate(
            "[...document.querySelectorAll('path.ruler')].map(p => p.getBoundingClientRect())"
            ".map(b => Math.max(b.width, b.height))"
        )
        assert len(sizes) == tiles + 2
        assert sizes == pytest.approx([100.0 * MM] * len(sizes), abs=1.5)
        wide = page.evaluate("document.querySelector('.emitters rect').getBoundingClientRect().width")
        assert wide == pytest.approx(plan.piece[0] * MM, abs=1.5)
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)))
    assert len(printed.pages) == tiles + 1
    for place, sheet in enumerate(printed.pages):
        sides = [float(side) / 72.0 * 25.4 for side in (sheet.mediabox.width, sheet.mediabox.height)]
        assert sides == pytest.approx([297.0, 210.0] if lies else [210.0, 297.0], abs=0.5)
        text = sheet.extract_text() or ""
        assert "100 mm" in text
        assert place == 0 or f"Row {(place - 1) // tiling_of(plan).columns + 1} of" in text


@pytest.mark.parametrize(("width", "dark"), [(360, False), (1280, True)])
def test_everyone_can_read_it(opened: Opener, width: int, dark: bool) -> None:
    page = opened("battery", width, dark=dark)
    found = Axe().run(page).response["violations"]
    assert [(fault["id"], fault["impact"], fault["nodes"][0]["html"][:200]) for fault in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_whole_board_is_true_to_size(opened: Opener) -> None:
    page, plan = opened("pack-whole", 1280), plan_for("pack")
    box = page.locator(".outline rect").bounding_box()
    assert box["width"] == pytest.approx(plan.width * MM, abs=2.0)
    assert box["height"] == pytest.approx(plan.height * MM, abs=2.0)
