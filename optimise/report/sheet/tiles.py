"""The board at 1:1 on sheets of A4 that overlap: a page to print without scaling, to join and to drill by."""

import math
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from optimise import __version__
from optimise.report.drawing import plain_number
from optimise.report.pages import asset, environment, policy
from optimise.report.sheet.full_size import Window, board, picture, ruler
from optimise.report.sheet.plan import ARM, Plan

_HOME = "optimise.report.sheet"

UPRIGHT, LYING = (194.0, 257.0), (281.0, 170.0)
"""What of a sheet of A4 shows the board, mm: printers leave some 4 mm blank, and the foot has the ruler."""

OVERLAP = 10.0
"""By how much neighbours overlap, mm; more than a cross is wide, so that each is whole on one of them."""

_BLEED = 2.0
_LOZENGE = 3.0


@dataclass(frozen=True)
class Tile:
    """One sheet: its row and column, from 1 at the top left, and what it shows."""

    row: int
    column: int
    window: Window


@dataclass(frozen=True)
class Mark:
    """A joining mark: the same on each sheet that shows it; mm from the board's upper left corner, y downwards."""

    number: int
    x: float
    y: float
    upright: bool
    """Whether its seam runs up and down."""


@dataclass(frozen=True)
class Tiling:
    """All sheets, row by row; `seams` are the lines along which they are joined, across and down."""

    face: tuple[float, float]
    """`UPRIGHT` or `LYING`, whichever takes fewer sheets."""
    rows: int
    columns: int
    tiles: Sequence[Tile]
    seams: tuple[Sequence[float], Sequence[float]]
    marks: Sequence[Mark]


def tiling_of(plan: Plan) -> Tiling:
    """Return the sheets that a board takes, with each cross whole on one of them at least."""
    bleed = max([_BLEED, *(ARM - _to_edge(plan, c.x, c.y) for c in plan.centres)])
    face = min(UPRIGHT, LYING, key=lambda face: math.prod(len(starts) for starts in _both(plan, face, bleed)))
    across, down = _both(plan, face, bleed)
    wide, high = face
    tiles = [
        Tile(row, column, Window(x, y, wide, high))
        for row, y in enumerate(down, 1)
        for column, x in enumerate(across, 1)
    ]
    seams = [x + OVERLAP / 2.0 for x in across[1:]], [y + OVERLAP / 2.0 for y in down[1:]]
    places = [(x, y + share * high, True) for x in seams[0] for y in down for share in (0.25, 0.75)]
    places += [(x + share * wide, y, False) for y in seams[1] for x in across for share in (0.25, 0.75)]
    marks = [Mark(number, *place) for number, place in enumerate(places, 1)]
    return Tiling(face, len(down), len(across), tiles, seams, marks)


def _both(plan: Plan, face: tuple[float, float], bleed: float) -> tuple[list[float], list[float]]:
    """Return where the sheets begin across and down."""
    return _starts(plan.width, face[0], bleed), _starts(plan.height, face[1], bleed)


def _to_edge(plan: Plan, x: float, y: float) -> float:
    return min(x, y, plan.width - x, plan.height - y)


def _starts(length: float, face: float, bleed: float) -> list[float]:
    """Return where the sheets begin along one side."""
    count = max(1, math.ceil((length + 2.0 * bleed - OVERLAP) / (face - OVERLAP) - 1e-9))
    return [number * (face - OVERLAP) - bleed for number in range(count)]


def tiles_page(plan: Plan, title: str, name: str) -> str:
    """Return the sheets as one HTML page; title and name are those of the job and of the light, as users write them."""
    tiling = tiling_of(plan)
    lying = tiling.face == LYING
    style = asset(_HOME, "tiles.css") + (asset(_HOME, "tiles-lying.css") if lying else "")
    return (
        environment(_HOME)
        .get_template("tiles.html.jinja")
        .render(
            title=title,
            name=name,
            size=f"{plain_number(plan.width)} × {plain_number(plan.height)} mm",
            emitters=len(plan.centres),
            rows=tiling.rows,
            columns=tiling.columns,
            lying=lying,
            sheets=[_sheet(plan, tiling, tile) for tile in tiling.tiles],
            overlap=plain_number(OVERLAP),
            map=_map(plan, tiling, None),
            check=_markup(_check()),
            version=__version__,
            style=style,
            policy=policy(style),
        )
    )


def _sheet(plan: Plan, tiling: Tiling, tile: Tile) -> dict[str, Any]:
    key = f"tile-{tile.row}-{tile.column}"
    whole = [c.number for c in plan.centres if tile.window.holds(c.x, plan.height - c.y, ARM)]
    root = picture(key, tile.window, f"Row {tile.row}, column {tile.column}", _whole(whole))
    root.extend(board(plan, tile.window))
    root.extend(_joints(tiling, tile))
    foot = picture(f"{key}-r", Window(-1.0, -6.0, 104.0, 12.0), "Ruler", "A ruler of 100 mm, to measure the print by.")
    foot.extend(ruler(0.0, 0.0))
    return {
        "row": tile.row,
        "column": tile.column,
        "drawing": _markup(root),
        "ruler": _markup(foot),
        "map": _map(plan, tiling, tile),
    }


def _whole(numbers: Sequence[int]) -> str:
    return f"Whole crosses: {', '.join(map(str, numbers))}." if numbers else "No whole cross."


def _joints(tiling: Tiling, tile: Tile) -> Iterator[ET.Element]:
    """Yield the seams on a sheet, in dashes, and its joining marks."""
    window = tile.window
    seams = ET.Element("g", {"class": "seams", "stroke": "#6b6b6b", "stroke-width": "0.2", "fill": "none"})
    for x in tiling.seams[0]:
        if window.holds(x, window.y, 0.0):
            _dashes(seams, f"M{_n(x)} {_n(window.y)}v{_n(window.height)}")
    for y in tiling.seams[1]:
        if window.holds(window.x, y, 0.0):
            _dashes(seams, f"M{_n(window.x)} {_n(y)}h{_n(window.width)}")
    yield seams
    marks = ET.Element("g", {"class": "marks", "stroke": "#000000", "stroke-width": "0.25", "fill": "none"})
    for mark in tiling.marks:
        if window.holds(mark.x, mark.y, _LOZENGE):
            far = _n(_LOZENGE)
            way = f"M{_n(mark.x - _LOZENGE)} {_n(mark.y)}l{far} -{far}l{far} {far}l-{far} {far}z"
            ET.SubElement(marks, "path", {"class": "mark", "d": f"{way}h{_n(2.0 * _LOZENGE)}"})
            # Beside the seam there is half an overlap, which is less than a number needs.
            x, y = (mark.x, mark.y - _LOZENGE - 0.6) if mark.upright else (mark.x + _LOZENGE + 0.4, mark.y - 0.6)
            at = {"x": _n(x), "y": _n(y), "font-size": "2.6", "text-anchor": "middle" if mark.upright else "start"}
            ET.SubElement(marks, "text", {**at, "fill": "#000000", "stroke": "none"}).text = f"J{mark.number}"
    yield marks


def _dashes(group: ET.Element, way: str) -> None:
    ET.SubElement(group, "path", {"d": way, "stroke-dasharray": "6 3"})


def _check() -> ET.Element:
    """Return two rulers at right angles: some printers scale one way only."""
    window = Window(-2.0, -6.0, 108.0, 112.0)
    root = picture(
        "check", window, "Rulers", "A ruler of 100 mm across and one of 100 mm down, to measure the print by."
    )
    root.extend(ruler(0.0, 0.0))
    root.extend(ruler(0.0, 0.0, upright=True))
    return root


def _map(plan: Plan, tiling: Tiling, here: Tile | None) -> Markup:
    """Return how the sheets lie, each by row and column; the one that is `here` is filled."""
    step = tiling.face[0] - OVERLAP, tiling.face[1] - OVERLAP
    across, down = tiling.columns * step[0] + OVERLAP, tiling.rows * step[1] + OVERLAP
    scale = min(70.0 / across, 80.0 / down) if here is None else min(34.0 / across, 15.0 / down)
    root = ET.Element(
        "svg",
        {
            "width": f"{_n(across * scale + 1.0)}mm",
            "height": f"{_n(down * scale + 1.0)}mm",
            "viewBox": f"-0.5 -0.5 {_n(across * scale + 1.0)} {_n(down * scale + 1.0)}",
            "class": "map",
            "aria-hidden": "true",
            "font-family": "Helvetica, Arial, sans-serif",
        },
    )
    left, top = tiling.tiles[0].window.x, tiling.tiles[0].window.y
    shape = {"stroke": "#000000", "stroke-width": "0.3", "fill": "#e3e3e3"}
    size = {"width": _n(plan.width * scale), "height": _n(plan.height * scale)}
    ET.SubElement(root, "rect", {"x": _n(-left * scale), "y": _n(-top * scale), **size, **shape, "stroke": "none"})
    for tile in tiling.tiles:
        x, y = (tile.column - 1) * step[0] * scale, (tile.row - 1) * step[1] * scale
        wide, high = step[0] * scale, step[1] * scale
        mine = tile == here
        box = {"x": _n(x), "y": _n(y), "width": _n(wide), "height": _n(high)}
        ET.SubElement(root, "rect", {**box, **shape, "fill": "#000000" if mine else "none"})
        if here is None:
            text = {"x": _n(x + wide / 2.0), "y": _n(y + high / 2.0 + 1.4), "font-size": "4", "text-anchor": "middle"}
            ET.SubElement(root, "text", text).text = f"{tile.row}, {tile.column}"
    return _markup(root)


def _markup(root: ET.Element) -> Markup:
    return Markup(ET.tostring(root, encoding="unicode"))


def _n(value: float) -> str:
    return plain_number(value)
