"""The page of a front: sound HTML that lets nothing in; the picture is where the figures say; names are names."""

import json
import re
import xml.etree.ElementTree as ET
from collections import Counter
from functools import lru_cache
from itertools import combinations, pairwise

import pytest
from front_records import COST, LUX, MASS, RUNTIME, front_of
from page_rules import assert_names_are_found, assert_shut
from sheets import Page, read_page
from test_sheet_page import HOSTILE, renamed

from optimise.report.front import FrontRecord, cell
from optimise.report.front_page.chart import HEIGHT, LEFT, RIGHT, WIDTH, front_chart
from optimise.report.front_page.page import front_page
from optimise.report.record import to_json

FRONTS = {"two": (MASS, RUNTIME), "three": (COST, MASS, LUX)}


@lru_cache(maxsize=4)
def made(name: str) -> str:
    return front_page(front_of(*FRONTS[name]))


@pytest.fixture(scope="module", params=sorted(FRONTS))
def page(request: pytest.FixtureRequest) -> Page:
    return read_page(made(request.param))


def test_nothing_comes_from_outside_and_one_script_acts(page: Page) -> None:
    assert_shut(page)
    # What turns text into markup has no place in the script.
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacent|document\.write|eval|Function\(", page.pieces["script"][0]
    )


def test_everyone_can_find_their_way(page: Page) -> None:
    assert_names_are_found(page)
    assert len(page.of("caption")) == len(page.of("table"))
    assert all(head.get("scope") in {"col", "row"} for head in page.of("th"))
    assert all(p.get("role") == "img" or p.get("aria-hidden") == "true" for p in page.of("svg"))
    assert [p["role"] for p in page.of("p") if "role" in p] == ["status"]
    # What only a script can serve is not there without it.
    scripted = [a for _, a in page.tags if "scripted" in (a.get("class") or "").split()]
    assert scripted
    assert all("hidden" in a for a in scripted)
    assert not [a for a in page.of("article") if "hidden" in a]


@pytest.mark.parametrize("name", sorted(FRONTS))
def test_the_table_and_the_builds_say_what_the_record_says(name: str) -> None:
    front, text = front_of(*FRONTS[name]), made(name)
    listed = text.split('<table id="list">')[1].split("</table>")[0]
    rows = listed.split("<tr data-point=")[1:]
    articles = re.findall(r"<article.*?</article>", text, flags=re.DOTALL)
    assert len(rows) == len(articles) == len(front.points)
    for row, article, point in zip(rows, articles, front.points, strict=True):
        seen, choice = read_page(article).text, point.record.choice
        assert choice is not None
        for axis in front.axes:
            shown = cell(axis, point.values[axis.name], front.currency)
            assert f'<td class="n">{shown}</td>' in row
            assert shown in seen
        assert f"{choice.emitters} × <bdi>{choice.emitter}</bdi>" in row
        for line in point.record.bill:
            assert line.part in seen
            assert f"{line.line:.2f}" in seen
        assert f"{sum(order.total for order in point.record.orders):.2f}" in seen
        for told in (*point.record.cautions, *point.record.notes, *(m.name for m in point.record.margins)):
            assert told in seen
    assert "Knee: point 3, as if." in text
    assert front.inputs.job.strip()[:60] in read_page(text).text


def spots_of(front: FrontRecord, pair: tuple[int, int]) -> list[tuple[float, float, ET.Element]]:
    root = ET.fromstring(front_chart(front, "c", pair))
    found = {g.get("data-point"): g for g in root.iter("g") if g.get("class") == "spot"}
    assert sorted(found, key=lambda n: int(n or "")) == [str(n + 1) for n in range(len(front.points))]
    ordered = [found[str(n + 1)] for n in range(len(front.points))]
    return [(float(g.get("data-x") or ""), float(g.get("data-y") or ""), g) for g in ordered]


@pytest.mark.parametrize(("name", "pair"), [("two", (0, 1)), ("three", (0, 1)), ("three", (0, 2)), ("three", (1, 2))])
def test_markers_are_where_their_figures_say(name: str, pair: tuple[int, int]) -> None:
    front = front_of(*FRONTS[name])
    spots = spots_of(front, pair)
    for place, axis in enumerate(front.axes[i] for i in pair):
        values = [point.values[axis.name] for point in front.points]
        known = [(value, spot[place]) for value, spot in zip(values, spots, strict=True) if value is not None]
        # One straight line: the same step on the page for the same step of the figure, to the right and upwards.
        slopes = [(q - p) / (b - a) for (a, p), (b, q) in combinations(known, 2)]
        assert slopes == pytest.approx([slopes[0]] * len(slopes), rel=0.02)
        assert (slopes[0] > 0.0) == (place == 0)
        # What runs for ever lies beyond all that does not.
        endless = [spot[place] for value, spot in zip(values, spots, strict=True) if value is None]
        assert all(at < min(p for _, p in known) - 15.0 for at in endless)
        assert len(endless) == (1 if axis.name == "runtime" else 0)
    assert all(LEFT <= x <= WIDTH - RIGHT and 0.0 <= y <= HEIGHT for x, y, _ in spots)


def test_a_third_figure_is_told_by_size_and_letters() -> None:
    front = front_of(*FRONTS["three"])
    drawn = front_chart(front, "c", (0, 1))
    circles = [(g.find("circle"), n) for n, (_, _, g) in enumerate(spots_of(front, (0, 1)))]
    radii = [
        (float(c.get("r") or ""), front.points[n].values["illuminance"] or 0.0) for c, n in circles if c is not None
    ]
    assert len(radii) == len(front.points) - 1  # the knee has a shape of its own
    assert [r for r, _ in sorted(radii, key=lambda pair: pair[1])] == sorted({r for r, _ in radii})
    root = ET.fromstring(drawn)
    lettered = {node.text for node in root.iter("text") if node.get("class") == "s-halo"}
    assert lettered <= {cell(LUX, point.values["illuminance"], "EUR") for point in front.points}
    assert len(lettered) >= 5
    numbered = ET.fromstring(front_chart(front_of(*FRONTS["two"]), "c", (0, 1)))
    told = {node.text for node in numbered.iter("text") if node.get("class") == "s-halo"}
    assert told <= {str(n) for n in range(1, 8)}
    assert len(told) >= 6


def test_letters_keep_off_each_other_and_off_markers_in_a_crowd() -> None:
    front = front_of(*FRONTS["two"])
    values = [{"mass": 1.0 + 0.001 * n, "runtime": 1.0 + 0.002 * n} for n in range(90)]
    points = [front.points[0].model_copy(update={"values": value}) for value in values]
    root = ET.fromstring(front_chart(front.model_copy(update={"points": points, "knee": None}), "c", (0, 1)))
    texts = [node for node in root.iter("text") if node.get("class") == "s-halo"]
    assert 10 < len(texts) <= 90
    boxes = []
    for node in texts:
        wide, x, y = 7.2 * len(node.text or ""), float(node.get("x") or ""), float(node.get("y") or "")
        left = x - {"start": 0.0, "middle": wide / 2.0, "end": wide}[node.get("text-anchor") or ""]
        boxes.append((left, y - 9.6, left + wide, y + 1.0))
    for one, other in combinations(boxes, 2):
        assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


def test_the_steps_are_the_corners_that_no_build_is_better_than() -> None:
    # By hand: of less mass and more runtime, what a build at 1.1 kg leaves open begins at the mass of the next one, at
    # the runtime of the one before.
    front = front_of(*FRONTS["two"])
    root = ET.fromstring(front_chart(front, "c", (0, 1)))
    ways = [node.get("d") or "" for node in root.iter("path") if node.get("class") == "s-third"]
    longest = max(ways, key=len)
    corners = [tuple(map(float, pair.split())) for pair in longest.removeprefix("M").split("L")]
    spots = [(x, y) for x, y, _ in spots_of(front, (0, 1))]
    wanted = [spots[0]]
    for before, after in pairwise(spots):
        wanted += [(after[0], before[1]), after]
    assert [value for corner in corners for value in corner] == pytest.approx(
        [v for pair in wanted for v in pair], abs=0.01
    )


def test_a_front_of_nothing_says_why() -> None:
    front = front_of(*FRONTS["two"]).model_copy(update={"points": [], "points_found": 0, "knee": None, "words": []})
    page = read_page(front_page(front))
    assert "No build keeps every limit of the scenario: there is no front." in page.text
    assert not page.of("article")
    stopped = front_page(front.model_copy(update={"complete": False}))
    assert "Stopped: none yet." in stopped


def test_what_is_left_out_or_not_proven_is_told_and_time_leaves_no_trace() -> None:
    front = front_of(*FRONTS["two"])
    other = front.model_copy(update={"complete": False, "points_found": 20, "seconds": 99.0})
    page = front_page(other)
    assert "stopped after 20 builds; others may lie between or beyond" in page
    assert "Thinned evenly to 7; the whole front has 20." in page
    assert "On the better side of the steps there may be others." in page
    assert "On the better side of the steps there is no build." in made("two")
    assert "More runtime than 6 h 00 min counted for nothing." in page
    assert front_page(front.model_copy(update={"seconds": 99.0})) == made("two")


@lru_cache(maxsize=1)
def friendly() -> Page:
    tree = json.loads(to_json(front_of(*FRONTS["three"])))
    tree["inputs"]["catalogue"] = {"one": "two"}
    return read_page(front_page(FrontRecord.model_validate(tree)))


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_are_text_and_nothing_else(name: str) -> None:
    front = front_of(*FRONTS["three"])
    codes = sorted({line.part for point in front.points for line in point.record.bill}, key=len, reverse=True)
    swap = {code: f"{name} {place}" for place, code in enumerate([*codes, "larkmoor", "hobdeane", "quillbank"])}
    pattern = re.compile("|".join(map(re.escape, swap)))
    tree = json.loads(to_json(front))
    job = tree["inputs"].pop("job")
    tree = renamed(tree, lambda text: pattern.sub(lambda found: swap[found[0]], text))
    tree |= {"title": f"title {name}", "words": [name]}
    tree["inputs"] |= {"job": job, "catalogue": {name: name}}
    hostile = front_page(FrontRecord.model_validate(tree))
    seen, wanted = read_page(hostile), friendly()
    assert Counter((tag, tuple(sorted(a))) for tag, a in seen.tags) == Counter(
        (tag, tuple(sorted(a))) for tag, a in wanted.tags
    )
    assert seen.pieces == wanted.pieces
    shown = re.sub("[\u0000\u0007]", "\ufffd", name)
    assert seen.text.count(shown) >= 50
    assert hostile.count("<bdi>") == hostile.count("</bdi>")
    outside = re.sub(r"<bdi>.*?</bdi>|<title>.*?</title>", "", hostile, flags=re.DOTALL)
    assert "\u202e" not in outside


def test_two_kinds_of_emitter_and_two_sheets_are_all_told() -> None:
    front = front_of(*FRONTS["two"])
    first, *rest = front.points
    choice = first.record.choice
    assert choice is not None
    whole = choice.channels[0]
    other = whole.model_copy(update={"emitter": "WARM", "number": 2, "series": 1, "parallel": 1})
    both = choice.model_copy(update={"channels": [whole, other], "second_diffuser": "OUTER"})
    mixed = first.model_copy(update={"record": first.record.model_copy(update={"choice": both})})
    seen = read_page(front_page(front.model_copy(update={"points": [mixed, *rest]}))).text
    assert f"{whole.number * whole.series * whole.parallel} × {choice.emitter} + 2 × WARM" in seen
    assert "OUTER" in seen
