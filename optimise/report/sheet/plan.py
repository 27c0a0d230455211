"""The board in full size: the record's layout as plain geometry in mm, for every drawing that is measured off."""

from collections.abc import Sequence
from dataclasses import dataclass

from optimise.report.lamp import Lamp
from optimise.report.layout import LayoutRecord
from optimise.report.sheet.board import centre_of_mass, piece_of, places_of

ARM = 4.0
"""Half of the cross at a centre, mm."""


@dataclass(frozen=True)
class Centre:
    """The middle of an emitter, mm from the board's lower left corner, seen from the front."""

    number: int
    x: float
    y: float


@dataclass(frozen=True)
class Line:
    """The way of one string over its emitters, from its positive end; `driver` counts from 0."""

    driver: int
    points: Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Plan:
    """A board of width × height mm; every emitter lies as a piece of `piece` mm about its centre."""

    width: float
    height: float
    piece: tuple[float, float]
    centres: Sequence[Centre]
    lines: Sequence[Line]
    mass: tuple[float, float]
    """The centre of mass of board, diffuser and emitters."""
    lettering: float
    """Height of the numbers, mm: they stay apart where emitters are close."""


def plan_of(lamp: Lamp, layout: LayoutRecord) -> Plan:
    """Return the plan of a light's board; the numbers are those of the sheet's table of drill points."""
    places = places_of(layout)
    lines = [
        Line(driver, [(_mm(x), _mm(y)) for x, y in zip(string.x, string.y, strict=True)])
        for driver, run in enumerate(layout.runs)
        for string in run.strings
    ]
    wide, high = piece_of(layout)
    pitches = [pitch for pitch in (layout.pitch_x, layout.pitch_y) if pitch is not None]
    x, y = centre_of_mass(lamp, places)
    return Plan(
        width=_mm(layout.width),
        height=_mm(layout.height),
        piece=(_mm(wide), _mm(high)),
        centres=[Centre(place.number, _mm(place.x), _mm(place.y)) for place in places],
        lines=lines,
        mass=(_mm(x), _mm(y)),
        lettering=min([4.0, *(max(1.8, 0.3 * _mm(pitch)) for pitch in pitches)]),
    )


def _mm(metres: float) -> float:
    """Return mm; the record's metres are whole nanometres."""
    return round(metres * 1000.0, 6) + 0.0
