"""The board to scale, from the layout of the record: outline, emitters, drill points and the way of the wires."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from optimise.report.drawing import Drawing, mm
from optimise.report.lamp import Lamp
from optimise.report.layout import LayoutRecord

WIDTH = 430.0
TALLEST = 560.0
_EDGE = 40.0
_RING = 9.0
"""Of the mark of the centre of mass."""
_NUMBERED = 80
"""Emitters up to which each has its number in the drawing; the table has all."""


@dataclass(frozen=True)
class Place:
    """One emitter: its number along the wires, its middle in m from the board's lower left corner, and its string."""

    number: int
    x: float
    y: float
    driver: str
    string: str
    emitter: str = ""
    """Code of its kind where there are two."""


def places_of(layout: LayoutRecord) -> list[Place]:
    """Return the emitters, driver by driver and string by string, each string from its positive end."""
    found: list[Place] = []
    two = len({run.emitter for run in layout.runs}) > 1
    for driver, run in enumerate(layout.runs, 1):
        for number, string in enumerate(run.strings, 1):
            for x, y in zip(string.x, string.y, strict=True):
                found.append(Place(len(found) + 1, x, y, f"U{driver}", f"S{number}", run.emitter if two else ""))
    return found


def piece_of(layout: LayoutRecord) -> tuple[float, float]:
    """Return width and height of one emitter as it lies, m."""
    return (layout.length, layout.across) if layout.along == "width" else (layout.across, layout.length)


def centre_of_mass(lamp: Lamp, places: Sequence[Place]) -> tuple[float, float]:
    """Return the centre of mass of board, diffuser and emitters, m from the lower left corner.

    Drivers and mount are not counted: where they go behind the board is the builder's choice.
    """
    panel = lamp.build.panel
    mass = {kind.part: kind.mass for kind in lamp.build.kinds}
    each = [mass[place.emitter or lamp.build.emitter.part] for place in places]
    still = panel.mass
    if lamp.build.diffuser is not None:
        still += lamp.build.diffuser.mass_per_area * panel.width * panel.height
    whole = still + math.fsum(each)
    middle = panel.width / 2.0, panel.height / 2.0
    if whole <= 0.0:
        return middle
    x = (still * middle[0] + math.fsum(m * place.x for m, place in zip(each, places, strict=True))) / whole
    y = (still * middle[1] + math.fsum(m * place.y for m, place in zip(each, places, strict=True))) / whole
    return x, y


def board_drawing(lamp: Lamp, layout: LayoutRecord) -> Markup:
    """Return the board to scale, seen from the front; each string is a line, in a look of its driver's."""
    places = places_of(layout)
    scale = min((WIDTH - 2.0 * _EDGE) / layout.width, (TALLEST - 2.0 * _EDGE) / layout.height)
    left = (WIDTH - layout.width * scale) / 2.0
    height = layout.height * scale + 2.0 * _EDGE
    drawing = Drawing(
        f"board-{lamp.key}",
        WIDTH,
        height,
        "Board, seen from the front",
        f"A board of {mm(layout.width, '')} × {mm(layout.height)} with {len(places)} emitters, to scale; the table "
        "of drill points has every place. A ringed cross marks the centre of mass.",
    )

    def px(x: float) -> float:
        return left + x * scale

    def py(y: float) -> float:
        return height - _EDGE - y * scale

    drawing.rect("piece", left, py(layout.height), layout.width * scale, layout.height * scale, 2.0)
    wide, high = piece_of(layout)
    for place in places:
        drawing.rect("part", px(place.x - wide / 2.0), py(place.y + high / 2.0), wide * scale, high * scale)
    for index, (_, mine) in enumerate(_by_driver(places)):
        for string in dict.fromkeys(place.string for place in mine):
            way = [(px(place.x), py(place.y)) for place in mine if place.string == string]
            drawing.path(("curve", "second", "third")[index % 3], way)
    size = min(13.0, max(9.0, 0.8 * min(wide, high) * scale))
    for place in places:
        drawing.circle("dot", px(place.x), py(place.y), 2.2)
    x, y = (place(value) for place, value in zip((px, py), centre_of_mass(lamp, places), strict=True))
    drawing.circle("mark", x, y, _RING)
    drawing.line("mark", x - 1.5 * _RING, y, x + 1.5 * _RING, y)
    drawing.line("mark", x, y - 1.5 * _RING, x, y + 1.5 * _RING)
    for place in places if len(places) <= _NUMBERED else ():
        # The number of what lies under the ring stands beside the ring.
        hidden = math.hypot(px(place.x) - x, py(place.y) - y) < 1.5 * _RING
        off = _RING if hidden else 4.0
        drawing.words(str(place.number), px(place.x) + off, py(place.y) - off, "start", "halo", size)
    drawing.words(mm(layout.width), WIDTH / 2.0, height - 14.0, "middle", "small")
    drawing.upright_words(mm(layout.height), left - 14.0, height / 2.0)
    drawing.words("0, 0", left - 6.0, height - _EDGE + 15.0, "start", "small")
    return drawing.markup()


def _by_driver(places: Sequence[Place]) -> Iterator[tuple[str, list[Place]]]:
    for driver in dict.fromkeys(place.driver for place in places):
        yield driver, [place for place in places if place.driver == driver]


@dataclass(frozen=True)
class Way:
    """The wires of one driver on the board."""

    mark: str
    driver: str
    """Its code, and that of its emitters where there are two kinds."""
    strings: Sequence[tuple[str, str]]
    """Each string with the numbers of its emitters, from its positive end."""
    wire: float
    """Least wire on the board, m."""


def ways_of(layout: LayoutRecord) -> list[Way]:
    """Return each driver with its strings."""
    by_driver = dict(_by_driver(places_of(layout)))
    found = []
    for index, run in enumerate(layout.runs, 1):
        mine = by_driver.get(f"U{index}", [])
        strings = []
        for name in dict.fromkeys(place.string for place in mine):
            numbers = [place.number for place in mine if place.string == name]
            ends = str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
            strings.append((name, ends))
        of = f", {mine[0].emitter}" if mine and mine[0].emitter else ""
        found.append(Way(f"U{index}", f"{run.driver}{of}", strings, run.wire))
    return found


def drill_points(layout: LayoutRecord) -> list[tuple[str, str, str, str]]:
    """Return number, x and y in mm from the lower left corner, and string of every emitter."""
    return [
        (str(p.number), mm(p.x, ""), mm(p.y, ""), f"{p.driver} {p.string} {p.emitter}".rstrip())
        for p in places_of(layout)
    ]
