"""The front drawn over two of its figures; a third one is told by the size of the markers and by their lettering."""

import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from optimise.report.drawing import Drawing, even_steps, plain_number
from optimise.report.front import AxisRecord, FrontRecord, cell

WIDTH, HEIGHT = 460.0, 390.0
LEFT, RIGHT, TOP, BOTTOM = 66.0, 18.0, 30.0, 54.0
_BAND = 46.0
"""Room for what has no end: a runtime on the mains."""
_SMALL, _GREAT = 4.5, 10.0
"""Radii of markers."""
_LETTERS = 12.0

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Scale:
    """One axis on the page: the place of a value, and the values told on it."""

    place: Callable[[float | None], float]
    ticks: Sequence[float]
    endless: float | None
    """The place of what has no end; None where every value has one."""


def scale_of(values: Sequence[float | None], start: float, end: float) -> Scale:
    """Return a scale on which all values lie between two places, with some room at either side."""
    finite = [value for value in values if value is not None]
    endless = end if len(finite) < len(values) else None
    far = end if endless is None else end - (_BAND if end > start else -_BAND)
    low, high = (min(finite), max(finite)) if finite else (0.0, 1.0)
    room = 0.08 * (high - low) or 0.1 * abs(high) or 1.0
    low, high = max(low - room, 0.0) if low >= 0.0 else low - room, high + room

    def place(value: float | None) -> float:
        return end if value is None else start + (value - low) / (high - low) * (far - start)

    return Scale(place, even_steps(low, high, 6) if finite else [], endless)


@dataclass(frozen=True)
class Spot:
    """A point on the page: its place in the front from 0, where it lies, and the radius of its marker."""

    index: int
    x: float
    y: float
    radius: float
    letters: str


def front_chart(front: FrontRecord, key: str, pair: tuple[int, int]) -> Markup:
    """Return the chart of a front over a pair of its axes; what is interactive is the script's, by `data-point`."""
    across, up = (front.axes[axis] for axis in pair)
    third = next((axis for place, axis in enumerate(front.axes) if place not in pair), None)
    drawing = Drawing(key, WIDTH, HEIGHT, caption(front, pair), _told(front, third))
    drawing.root.set("class", "drawing front")
    level = scale_of([point.values[across.name] for point in front.points], LEFT, WIDTH - RIGHT)
    upright = scale_of([point.values[up.name] for point in front.points], HEIGHT - BOTTOM, TOP)
    whole, drawing.root = drawing.root, ET.SubElement(drawing.root, "g", {"aria-hidden": "true"})
    _scenery(drawing, level, upright, across, up)
    spots = list(_spots(front, level, upright, across, up, third))
    if third is None:
        _boundary(drawing, spots, across, up)
    drawing.root = ET.SubElement(whole, "g", {"class": "spots"})
    for spot in sorted(spots, key=lambda spot: -spot.radius):
        _marker(drawing, spot, key, spot.index == front.knee)
    drawing.root = ET.SubElement(whole, "g", {"aria-hidden": "true"})
    for spot, x, y, anchor in _lettering(spots):
        drawing.words(spot.letters, x, y, anchor, "halo", _LETTERS)
    drawing.root = whole
    return drawing.markup()


def caption(front: FrontRecord, pair: tuple[int, int]) -> str:
    """Return what a chart shows, such as `mass against runtime`."""
    across, up = (front.axes[axis].name.replace("_", " ") for axis in pair)
    return f"{across} against {up}"


def _told(front: FrontRecord, third: AxisRecord | None) -> str:
    points = "1 point" if len(front.points) == 1 else f"{len(front.points)} points"
    if third is None:
        return f"{points}, each a build with its number; the table has all of them."
    name = third.name.replace("_", " ")
    return f"{points}; a greater marker has more {name}, which stands beside it; the table has all."


def _scenery(drawing: Drawing, level: Scale, upright: Scale, across: AxisRecord, up: AxisRecord) -> None:
    bottom, end = HEIGHT - BOTTOM, WIDTH - RIGHT
    for tick in level.ticks:
        x = level.place(tick)
        drawing.line("grid", x, TOP, x, bottom)
        drawing.words(f"{tick:g}", x, bottom + 17.0, "middle", "small", 13.0)
    for tick in upright.ticks:
        y = upright.place(tick)
        drawing.line("grid", LEFT, y, end, y)
        drawing.words(f"{tick:g}", LEFT - 7.0, y + 4.5, "end", "small", 13.0)
    if level.endless is not None:
        drawing.line("third", level.endless, TOP, level.endless, bottom)
        drawing.words("mains", level.endless, bottom + 17.0, "end", "small", 13.0)
    if upright.endless is not None:
        drawing.line("third", LEFT, upright.endless, end, upright.endless)
        drawing.words("mains", LEFT - 7.0, upright.endless + 4.5, "end", "small", 13.0)
    drawing.path("thin", [(LEFT, TOP), (LEFT, bottom), (end, bottom)])
    better = "better →" if across.prefers == "more" else "← better"
    drawing.words(f"{_named(across)}, {better}", (LEFT + end) / 2.0, bottom + 41.0, "middle", "small")
    # An upright line of words reads from below, so that its arrows lie along it.
    better = "better →" if up.prefers == "more" else "← better"
    drawing.upright_words(f"{_named(up)}, {better}", 16.0, (TOP + bottom) / 2.0)


def _named(axis: AxisRecord) -> str:
    return f"{axis.name.replace('_', ' ')} [{axis.unit}]"


def _spots(
    front: FrontRecord,
    level: Scale,
    upright: Scale,
    across: AxisRecord,
    up: AxisRecord,
    third: AxisRecord | None,
) -> Iterator[Spot]:
    sizes = [] if third is None else [point.values[third.name] for point in front.points]
    finite = [size for size in sizes if size is not None]
    low, high = (min(finite), max(finite)) if finite else (0.0, 0.0)
    for index, point in enumerate(front.points):
        radius, letters = 5.5, str(index + 1)
        if third is not None:
            size = point.values[third.name]
            share = 1.0 if size is None else (size - low) / (high - low) if high > low else 0.5
            radius = _SMALL + share * (_GREAT - _SMALL)
            letters = cell(third, size, front.currency)
        yield Spot(index, level.place(point.values[across.name]), upright.place(point.values[up.name]), radius, letters)


def _boundary(drawing: Drawing, spots: Sequence[Spot], across: AxisRecord, up: AxisRecord) -> None:
    """Draw the steps between points: on the one side of them there is no build."""
    ordered = sorted(spots, key=lambda spot: (spot.x, spot.y))
    way: list[tuple[float, float]] = []
    for spot in ordered:
        if way:
            # What is no better than a point in both figures lies behind it: the corner is the worse end of each step.
            before = way[-1]
            way.append((spot.x, before[1]) if across.prefers == "less" else (before[0], spot.y))
        way.append((spot.x, spot.y))
    drawing.path("third", way)


def _marker(drawing: Drawing, spot: Spot, key: str, knee: bool) -> None:
    given = {"class": "spot", "id": f"{key}-{spot.index + 1}", "data-point": str(spot.index + 1)}
    given |= {"data-x": plain_number(spot.x), "data-y": plain_number(spot.y)}
    group = ET.SubElement(drawing.root, "g", given)
    within, drawing.root = drawing.root, group
    if knee:
        # The knee is a square on its corner, so that it is told by its shape.
        r = spot.radius * 1.35
        drawing.path(
            "hot", [(spot.x, spot.y - r), (spot.x + r, spot.y), (spot.x, spot.y + r), (spot.x - r, spot.y)], True
        )
    else:
        drawing.circle("spot", spot.x, spot.y, spot.radius)
    drawing.root = within


def _lettering(spots: Sequence[Spot]) -> Iterator[tuple[Spot, float, float, str]]:
    """Yield spot, place and anchor of the letters that have room beside their marker; the rest stand in the table."""
    taken: list[Box] = [(s.x - s.radius, s.y - s.radius, s.x + s.radius, s.y + s.radius) for s in spots]
    for spot in spots:
        wide, gap, slant = 0.6 * _LETTERS * len(spot.letters), spot.radius + 3.0, spot.radius + 0.5
        for x, y, anchor in (
            (spot.x + gap, spot.y + 4.0, "start"),
            (spot.x - gap, spot.y + 4.0, "end"),
            (spot.x, spot.y - gap, "middle"),
            (spot.x, spot.y + gap + 0.75 * _LETTERS, "middle"),
            (spot.x - slant, spot.y - slant, "end"),
            (spot.x + slant, spot.y + slant + 0.75 * _LETTERS, "start"),
            (spot.x + slant, spot.y - slant, "start"),
            (spot.x - slant, spot.y + slant + 0.75 * _LETTERS, "end"),
        ):
            left = x - {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor]
            box = left, y - 0.8 * _LETTERS, left + wide, y + 1.0
            inside = box[0] >= LEFT and box[2] <= WIDTH and box[1] >= 0.0 and box[3] <= HEIGHT - BOTTOM
            if inside and not any(_meet(box, other) for other in taken):
                taken.append(box)
                yield spot, x, y, anchor
                break


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
