"""Boards at full size: DXF read by its group codes, SVG by an XML parser, sheets of A4 that cover the board."""

import json
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import pytest
from sheets import BUILDS, Page, read_page, record_of
from test_sheet_page import HOSTILE

from optimise.report.lamp import lamps_of
from optimise.report.record import Record
from optimise.report.sheet.dxf import LAYERS, drafter
from optimise.report.sheet.full_size import RULER, full_size
from optimise.report.sheet.plan import ARM, Centre, Plan, plan_of
from optimise.report.sheet.tiles import LYING, OVERLAP, UPRIGHT, tiles_page, tiling_of

NAMES = sorted(BUILDS)
MM = 0.0005 + 1e-9
"""Drawings have three decimals of a mm."""
A4 = (210.0, 297.0)
"""ISO 216, mm (from memory)."""

Points = list[tuple[float, float]]


@lru_cache(maxsize=8)
def plan_for(name: str) -> Plan:
    lamp = lamps_of(record_of(name), "r.json")[0]
    assert lamp.layout is not None
    return plan_of(lamp, lamp.layout)


def places_in(record: Record) -> Points:
    """Return the middles of the record itself, mm."""
    assert record.layout is not None
    strings = [string for run in record.layout.runs for string in run.strings]
    return [(1000.0 * x, 1000.0 * y) for string in strings for x, y in zip(string.x, string.y, strict=True)]


def same_points(one: Points, other: Points, within: float) -> bool:
    return len(one) == len(other) and all(
        abs(a[0] - b[0]) <= within and abs(a[1] - b[1]) <= within for a, b in zip(one, other, strict=True)
    )


Entity = tuple[str, list[tuple[int, str]]]


def read_dxf(text: str) -> tuple[dict[str, list[tuple[int, str]]], list[Entity], set[str]]:
    """Return header, entities and layers of a DXF: pairs of lines, a group code and its value."""
    lines = text.splitlines()
    assert len(lines) % 2 == 0
    pairs = [(int(code), value.strip()) for code, value in zip(lines[::2], lines[1::2], strict=True)]
    assert pairs[-1] == (0, "EOF")
    header: dict[str, list[tuple[int, str]]] = {}
    entities: list[Entity] = []
    layers: set[str] = set()
    section = name = ""
    for place, (code, value) in enumerate(pairs):
        if code == 0:
            name = value
        if (code, value) == (0, "SECTION"):
            section = pairs[place + 1][1]
        elif section == "HEADER" and code == 9:
            header[value] = []
        elif section == "HEADER" and header and code != 0:
            header[next(reversed(header))].append((code, value))
        elif section == "ENTITIES" and code == 0 and value not in {"SECTION", "ENDSEC"}:
            entities.append((value, []))
        elif section == "ENTITIES" and entities and code != 0:
            entities[-1][1].append((code, value))
        elif section == "TABLES" and name == "LAYER" and code == 2:
            layers.add(value)
    return header, entities, layers


def numbers(entity: Entity, code: int) -> list[float]:
    return [float(value) for group, value in entity[1] if group == code]


def on_layer(entities: Sequence[Entity], layer: str, kind: str) -> list[Entity]:
    return [entity for entity in entities if entity[0] == kind and (8, layer) in entity[1]]


@pytest.mark.parametrize("name", NAMES)
def test_a_reader_of_group_codes_finds_the_places_of_the_record(name: str) -> None:
    record = record_of(name)
    assert record.layout is not None
    header, entities, layers = read_dxf(drafter()(plan_for(name)))
    assert header["$INSUNITS"] == [(70, "4")]  # millimetres
    assert set(LAYERS) <= layers
    points = [(numbers(p, 10)[0], numbers(p, 20)[0]) for p in on_layer(entities, "CENTRES", "POINT")]
    assert same_points(points, places_in(record), 1e-6)
    outlines = on_layer(entities, "OUTLINE", "LWPOLYLINE")
    assert len(outlines) == 1
    assert (70, "1") in outlines[0][1]  # closed
    wide, high = 1000.0 * record.layout.width, 1000.0 * record.layout.height
    assert sorted(set(numbers(outlines[0], 10))) == pytest.approx([0.0, wide])
    assert sorted(set(numbers(outlines[0], 20))) == pytest.approx([0.0, high])
    pieces = on_layer(entities, "EMITTERS", "LWPOLYLINE")
    assert len(pieces) == len(points)
    middles = [(sum(numbers(p, 10)) / 4.0, sum(numbers(p, 20)) / 4.0) for p in pieces]
    assert same_points(middles, points, 1e-6)
    told = [next(value for code, value in text[1] if code == 1) for text in on_layer(entities, "NUMBERS", "TEXT")]
    assert told == [str(number) for number in range(1, len(points) + 1)]
    ways = [list(zip(numbers(w, 10), numbers(w, 20), strict=True)) for w in on_layer(entities, "WIRING", "LWPOLYLINE")]
    strings = [string for run in record.layout.runs for string in run.strings if len(string.x) > 1]
    assert len(ways) == len(strings)
    for way, string in zip(ways, strings, strict=True):
        wanted = [(1000.0 * x, 1000.0 * y) for x, y in zip(string.x, string.y, strict=True)]
        assert same_points(way, wanted, 1e-6)


SVG = "{http://www.w3.org/2000/svg}"


def crosses(root: ET.Element, space: str) -> Points:
    """Return the middles of the crosses of a picture, in its units."""
    found = []
    for path in root.iter(f"{space}path"):
        if path.get("class") == "centre":
            across, down = (path.get("d") or "").removeprefix("M").split("M")
            left, y = across.split("H")[0].split()
            right = across.split("H")[1]
            x = down.split()[0]
            assert float(right) - float(left) == pytest.approx(2.0 * ARM, abs=2.0 * MM)
            assert float(x) == pytest.approx((float(left) + float(right)) / 2.0, abs=2.0 * MM)
            found.append((float(x), float(y)))
    return found


def unit_of(picture: dict[str, str | None]) -> tuple[float, float]:
    """Return how many mm on paper one unit of a picture is, across and down."""
    box = [float(text) for text in (picture.get("viewBox") or picture.get("viewbox") or "").split()]
    size = [picture["width"] or "", picture["height"] or ""]
    assert all(text.endswith("mm") for text in size)
    across, down = (float(text.removesuffix("mm")) for text in size)
    return across / box[2], down / box[3]


@pytest.mark.parametrize("name", NAMES)
def test_the_svg_is_in_mm_with_a_cross_at_every_place_and_a_ruler(name: str) -> None:
    record, plan = record_of(name), plan_for(name)
    root = ET.fromstring(full_size(plan))
    assert unit_of(dict(root.attrib)) == (1.0, 1.0)
    box = [float(text) for text in (root.get("viewBox") or "").split()]
    outline = next(group for group in root if group.get("class") == "outline")[0]
    x, y, wide, high = (float(outline.get(key) or "") for key in ("x", "y", "width", "height"))
    assert record.layout is not None
    assert (x, y) == (0.0, 0.0)
    assert (wide, high) == (pytest.approx(1000.0 * record.layout.width), pytest.approx(1000.0 * record.layout.height))
    assert box[0] < 0.0
    assert box[0] + box[2] > max(wide, RULER)
    drawn = [(x, high - y) for x, y in crosses(root, SVG)]
    assert same_points(drawn, places_in(record), MM)
    rulers = [path.get("d") for path in root.iter(f"{SVG}path") if path.get("class") == "ruler"]
    assert [text.split("h")[1] for text in rulers if text] == ["100"]
    assert "100 mm" in [text.text for text in root.iter(f"{SVG}text")]


@pytest.mark.parametrize(
    "size",
    [(90.0, 60.0), (194.0, 257.0), (270.0, 160.0), (560.0, 160.0), (500.0, 500.0), (1219.2, 609.6), (374.0, 2500.0)],
)
def test_sheets_cover_the_board_and_every_cross_is_whole_on_one(size: tuple[float, float]) -> None:
    # Centres everywhere, also where sheets meet and at the very edge of the board.
    steps = [[side * share / 60.0 for share in range(61)] for side in size]
    centres = [Centre(0, x, y) for x in steps[0] for y in steps[1]]
    plan = replace(plan_for("battery"), width=size[0], height=size[1], centres=centres)
    tiling = tiling_of(plan)
    assert len(tiling.tiles) == tiling.rows * tiling.columns
    windows = [tile.window for tile in tiling.tiles]
    for centre in centres:
        assert any(window.holds(centre.x, size[1] - centre.y, ARM) for window in windows)
    # A line of the outline is 0.35 mm wide, and its corners are on the sheets too.
    for x in (-0.2, size[0] + 0.2):
        assert any(window.holds(x, -0.2, 0.0) for window in windows)
        assert any(window.holds(x, size[1] + 0.2, 0.0) for window in windows)
    for one in windows:
        # Each neighbour shares just the overlap.
        shared = sorted(
            {round(one.x + one.width - other.x, 9) for other in windows if other.y == one.y and other.x > one.x}
        )
        assert not shared or shared[-1] == OVERLAP
    # Each mark is whole on two sheets at least, and there are two for each pair of neighbours.
    for mark in tiling.marks:
        assert sum(window.holds(mark.x, mark.y, 3.0) for window in windows) >= 2
    pairs = (tiling.columns - 1) * tiling.rows + (tiling.rows - 1) * tiling.columns
    assert len(tiling.marks) == 2 * pairs


@pytest.mark.parametrize(
    ("size", "face", "sheets"),
    [
        # By hand: 2 mm more on every side; of n sheets each but the first adds 184 mm or 271 mm across and 247 mm or
        # 160 mm down. 270 mm across take 2 sheets or 1, 560 mm 4 or 3; 600 × 600 mm 4 × 3 or 3 × 4.
        ((270.0, 160.0), LYING, 1),
        ((560.0, 160.0), LYING, 3),
        ((190.0, 250.0), UPRIGHT, 1),
        ((600.0, 600.0), UPRIGHT, 12),
        ((1219.2, 609.6), LYING, 20),
    ],
)
def test_the_way_that_takes_fewer_sheets_is_taken(
    size: tuple[float, float], face: tuple[float, float], sheets: int
) -> None:
    plan = replace(plan_for("battery"), width=size[0], height=size[1], centres=[])
    tiling = tiling_of(plan)
    assert (tiling.face, len(tiling.tiles)) == (face, sheets)
    # All sheets together, each overlap once, are the board with what they have beyond its edges: at 1:1.
    first, last = tiling.tiles[0].window, tiling.tiles[-1].window
    assert last.x + last.width - first.x == pytest.approx(tiling.columns * (face[0] - OVERLAP) + OVERLAP)
    assert last.y + last.height - first.y == pytest.approx(tiling.rows * (face[1] - OVERLAP) + OVERLAP)
    assert first.x == first.y == -2.0
    assert last.x + last.width >= size[0] + 2.0
    assert last.y + last.height >= size[1] + 2.0


def lying_plan() -> Plan:
    """Return a board that takes fewer sheets where they lie."""
    return replace(plan_for("battery"), width=560.0, height=160.0, centres=[Centre(1, 276.0, 80.0)], lines=[])


def test_sheets_that_lie_are_drawn_at_full_size_on_paper_that_lies() -> None:
    plan = lying_plan()
    text = tiles_page(plan, "", "")
    page, tiling = read_page(text), tiling_of(plan)
    faces = [p for p in pictures(text) if (p.get("aria-labelledby") or "").startswith("tile-")][::2]
    assert [p.get("width") for p in faces] == ["281mm"] * 3
    assert all(unit_of(dict(face.attrib)) == (1.0, 1.0) for face in faces)
    assert "in landscape at 100 %" in page.text
    style = page.pieces["style"][0]
    assert style.index("size: A4 landscape") > style.index("size: A4; margin: 0;")
    # Mark and cross are at the same place of the board on both sheets that show them: moved by 271 mm on the paper.
    seam = tiling.seams[0][0]
    assert seam == -2.0 + 271.0 + OVERLAP / 2.0
    on = [[p.get("d") for p in face.iter("path") if p.get("class") in {"mark", "centre"}] for face in faces]
    assert len(on[0]) == 3
    assert set(on[0]) <= set(on[1])
    left = [float((face.get("viewBox") or "").split()[0]) for face in faces]
    assert left == [-2.0, 269.0, 540.0]


def pictures(text: str) -> list[ET.Element]:
    """Return the pictures of a page that XML reads."""
    return [ET.fromstring("<svg" + piece.split("</svg>")[0] + "</svg>") for piece in text.split("<svg")[1:]]


@pytest.mark.parametrize("name", ["battery", "pack"])
def test_every_sheet_is_at_full_size_named_and_has_the_ruler(name: str) -> None:
    plan, record = plan_for(name), record_of(name)
    text = tiles_page(plan, record.title, "")
    page = read_page(text)
    tiling = tiling_of(plan)
    sheets = [picture for picture in pictures(text) if (picture.get("aria-labelledby") or "").startswith("tile-")]
    rulers = [p for p in sheets if "-r-t" in (p.get("aria-labelledby") or "")]
    faces = [p for p in sheets if p not in rulers]
    assert len(faces) == len(rulers) == len(tiling.tiles) == len(page.of("section")) - 1
    seen: set[tuple[float, float]] = set()
    for face, foot, tile in zip(faces, rulers, tiling.tiles, strict=True):
        assert unit_of(dict(face.attrib)) == unit_of(dict(foot.attrib)) == (1.0, 1.0)
        assert [p.get("d") for p in foot.iter("path") if p.get("class") == "ruler"] == ["M0 0h100"]
        assert f"Row {tile.row} of {tiling.rows}" in page.text
        for x, y in crosses(face, ""):
            if tile.window.holds(x, y, ARM):
                seen.add((round(x, 3), round(plan.height - y, 3)))
        # Joining marks are where those of the neighbours are.
        marks = [p for p in face.iter("path") if p.get("class") == "mark"]
        assert len(marks) == sum(tile.window.holds(mark.x, mark.y, 3.0) for mark in tiling.marks) >= 2
    assert seen == {(round(x, 3), round(y, 3)) for x, y in places_in(record)}
    # Face, foot and margins fill the sheet, and no more.
    assert (UPRIGHT[0] + 2.0 * 8.0, UPRIGHT[1] + 2.0 * 8.0 + 24.0) == A4
    assert (LYING[0] + 2.0 * 8.0, LYING[1] + 2.0 * 8.0 + 24.0) == A4[::-1]
    assert "@page { size: A4; margin: 0; }" in page.pieces["style"][0]
    assert "without “fit to page”" in page.text
    assert "Measure" in page.text


@lru_cache(maxsize=1)
def plain_page() -> Page:
    return read_page(tiles_page(plan_for("battery"), "plain", "plain"))


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_names_are_text_on_the_sheets_and_nothing_comes_from_outside(name: str) -> None:
    page = read_page(tiles_page(plan_for("battery"), name, name))
    assert [(tag, sorted(given)) for tag, given in page.tags] == [(t, sorted(g)) for t, g in plain_page().tags]
    assert page.pieces == plain_page().pieces
    assert not page.of("script")
    policy = next(m["content"] or "" for m in page.of("meta") if m.get("http-equiv") == "Content-Security-Policy")
    assert "default-src 'none'" in policy
    assert "script-src" not in policy
    for _, given in page.tags:
        assert not {"style", "src", "href", "action"} & set(given)
        assert not [key for key in given if key.startswith("on")]
    assert json.dumps(name[:40])[1:20] in json.dumps(page.text) or "\u0000" in name


def test_a_board_in_one_piece_needs_no_joints() -> None:
    plan = replace(plan_for("battery"), width=150.0, height=120.0, centres=[Centre(1, 75.0, 60.0)], lines=[])
    page = read_page(tiles_page(plan, "", ""))
    assert "Neighbours overlap" not in page.text
    assert "on 1 sheet of A4" in page.text
    assert "J1" not in page.text
