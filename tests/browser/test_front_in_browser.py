"""The page of a front in a real Chromium with the network cut: by mouse, by keyboard, without scripts, by axe."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from chromium import Axe, Opener, opened_browser, watched
from front_records import COST, LUX, MASS, RUNTIME, front_of
from test_sheet_page import HOSTILE, renamed

from optimise.report.front import FrontRecord
from optimise.report.front_page.page import front_page
from optimise.report.record import to_json

pytestmark = pytest.mark.browser
browser = pytest.fixture(scope="module")(opened_browser)

ACTS = "<script>document.title='caught'</script><img src=x onerror=\"document.title='caught'\">\u202e"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the pages of fronts of two and of three figures, and of names that mean harm."""
    made = tmp_path_factory.mktemp("fronts")
    two, three = front_of(MASS, RUNTIME), front_of(COST, MASS, LUX)
    for name, front in (("two", two), ("three", three)):
        (made / f"{name}.html").write_text(front_page(front), encoding="utf-8")
    tree = json.loads(to_json(three))
    job = tree["inputs"].pop("job")
    for old, new in (("LED-BAR9-5692", ACTS), ("PAN-FOAM-50x50", HOSTILE[4]), ("larkmoor", HOSTILE[1])):
        tree = renamed(tree, lambda text, old=old, new=new: text.replace(old, new))
    tree |= {"title": f"{ACTS} {HOSTILE[4]}", "words": [ACTS]}
    tree["inputs"]["job"] = job
    (made / "hostile.html").write_text(front_page(FrontRecord.model_validate(tree)), encoding="utf-8")
    return made


@pytest.fixture
def opened(browser: Any, folder: Path) -> Iterator[Opener]:
    with watched(browser, folder) as opener:
        yield opener


def builds(page: Any) -> list[str]:
    """Return the numbers of the builds in full view, in their order."""
    found: list[str] = page.evaluate(
        "[...document.querySelectorAll('article')].filter(a => a.offsetParent).map(a => a.dataset.point)"
    )
    return found


def spot(page: Any, number: int, chart: int = 1) -> tuple[float, float]:
    """Return the middle of a marker on the screen."""
    box = page.locator(f"#c{chart}-{number}").bounding_box()
    return box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0


@pytest.mark.parametrize("name", ["two", "three", "hostile"])
@pytest.mark.parametrize(("width", "dark"), [(360, False), (768, True), (1280, False)])
def test_the_page_loads_fits_and_can_be_used_by_everyone(opened: Opener, name: str, width: int, dark: bool) -> None:
    page = opened(name, width, dark=dark)
    assert page.title().startswith("Front: ")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.locator(".front:visible").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+Enter")
    assert page.locator("#against").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    background = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert (sum(map(int, background.removeprefix("rgb(").removesuffix(")").split(","))) < 200) == dark
    found = Axe().run(page).response["violations"]
    assert [(fault["id"], fault["impact"], fault["nodes"][0]["html"][:200]) for fault in found] == []


def test_a_mouse_hovers_picks_and_compares(opened: Opener) -> None:
    page = opened("two", 1280)
    assert builds(page) == ["3"]  # the knee, to begin with
    page.mouse.move(*spot(page, 1))
    assert page.locator("#readout").inner_text().startswith("Point 1 of 7: mass 1.1 kg, runtime 1 h 15 min: 3 × ")
    assert builds(page) == ["3"]  # to look is not to pick
    page.mouse.click(*spot(page, 1))
    assert builds(page) == ["1"]
    assert page.locator("article[data-point='1'] .total").inner_text().split()[-1] == "116.80"
    page.locator("input[name=turn][value=b]").check()
    page.mouse.click(*spot(page, 4))
    assert builds(page) == ["1", "4"]
    rows = page.locator("#against-figures tr").all_inner_texts()
    assert rows[0].split("\t") == ["mass", "1.1 kg", "2.6 kg", "1.5 kg more"]
    assert rows[1].split("\t") == ["runtime", "1 h 15 min", "3 h 00 min", "1 h 45 min more"]
    assert rows[2].split("\t") == ["cost", "90.00 EUR", "120.00 EUR", "30.00 EUR more"]
    parts = {row.split("\t")[0]: row.split("\t")[1:] for row in page.locator("#against-parts tr").all_inner_texts()}
    assert parts["panel"] == ["PAN-FOAM-50x50", "PAN-AL-60x60"]
    assert parts["diffuser"][1] == "none"
    page.mouse.click(*spot(page, 2), button="left")
    assert builds(page) == ["1", "2"]
    assert page.locator("#against-parts tr").first.inner_text().split("\t")[2] == "the same"
    page.locator("#alone").click()
    assert builds(page) == ["1"]
    assert not page.locator("#against").is_visible()


def test_a_keyboard_does_the_same(opened: Opener) -> None:
    page = opened("two")
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.getAttribute('role')") == "listbox":
            break
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"

    def active() -> str:
        found: str = page.evaluate("document.activeElement.getAttribute('aria-activedescendant')")
        return found

    assert active() == "c1-3"
    page.keyboard.press("Home")
    assert active() == "c1-1"
    page.keyboard.press("ArrowLeft")
    assert active() == "c1-1"
    for key, number in (("ArrowRight", 2), ("ArrowUp", 3), ("ArrowDown", 2), ("End", 7), ("ArrowLeft", 6)):
        page.keyboard.press(key)
        assert active() == f"c1-{number}"
        assert page.locator("#readout").inner_text().startswith(f"Point {number} of 7: ")
    label = page.locator("#c1-6").get_attribute("aria-label")
    assert label == "Point 6 of 7: mass 4.4 kg, runtime 5 h 45 min"
    page.keyboard.press("Enter")
    assert builds(page) == ["6"]
    assert page.locator("#c1-6").get_attribute("aria-selected") == "true"
    page.keyboard.press("End")
    page.keyboard.press("Shift+Enter")
    assert builds(page) == ["6", "7"]
    runtime = page.locator("#against-figures tr").nth(1).inner_text().split("\t")
    assert runtime[:3] == ["runtime", "5 h 45 min", "mains"]
    page.keyboard.press("Escape")
    assert builds(page) == ["6"]
    assert page.locator("#readout").get_attribute("role") == "status"


def test_the_table_picks_too(opened: Opener) -> None:
    page = opened("three", 1280)
    page.locator("#list input[name=a][value='5']").check()
    page.locator("#list input[name=b][value='2']").check()
    assert builds(page) == ["5", "2"]
    assert page.locator("#list input[name=b][value='5']").is_disabled()
    page.locator("#list a", has_text="6").click()
    assert builds(page) == ["6", "2"]
    assert page.locator("#list input[name=a][value='6']").is_checked()


def test_of_three_figures_any_two_are_drawn(opened: Opener) -> None:
    page = opened("three", 1280)
    figures = page.locator(".chart")
    assert [figures.nth(n).is_visible() for n in range(3)] == [True, False, False]
    page.locator("input[name=draw]").nth(2).check()
    assert [figures.nth(n).is_visible() for n in range(3)] == [False, False, True]
    page.mouse.click(*spot(page, 7, 3))
    assert builds(page) == ["7"]


def test_without_scripts_all_is_there(opened: Opener) -> None:
    page = opened("three", scripts=False)
    assert page.locator("article:visible").count() == 7
    assert page.locator(".chart:visible").count() == 3
    assert page.locator(".scripted:visible").count() == 0


def test_names_that_mean_harm_do_none(opened: Opener) -> None:
    page = opened("hostile")
    page.locator(".front:visible").focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Shift+Enter")
    page.wait_for_timeout(100)
    assert page.title().startswith("Front: <script>")
    assert page.evaluate("document.querySelectorAll('script').length") == 1
    assert page.evaluate("document.querySelectorAll('img').length") == 0
    assert ACTS[:30] in page.locator("#readout").inner_text()
    assert ACTS[:30] in page.locator("#against-parts").inner_text()
