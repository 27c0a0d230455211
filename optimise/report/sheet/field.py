"""The light of a build over its subject: a map with contour lines, and points with targets of their own."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import contourpy
import numpy as np
from markupsafe import Markup

from optimise.model.exact import wanted_illuminance
from optimise.model.spots import spots_of
from optimise.physics.arrays import Array
from optimise.report.drawing import Drawing, even_steps
from optimise.report.lamp import Lamp
from optimise.report.sheet.chart import WIDTH
from optimise.report.sheet.light import metres
from optimise.report.terminal import number

_MAP_POINTS = 33
_CONTOURS = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0)
"""Stops below the middle at which contour lines are drawn."""


def field_at(lamp: Lamp, points: Array) -> Array:
    """Return the illuminance, lx, at points before the panel, on faces parallel to it; shape (points,)."""
    places = tuple((x, y, distance, 0.0, 0.0) for x, y, distance in points.tolist())
    return lamp.state.flux * np.array(spots_of(lamp.build, places))


@dataclass(frozen=True)
class Spot:
    """A point with a target of its own: its mark in the map, and the light on its face."""

    mark: str
    name: str
    across: float
    up: float
    distance: float
    face: str
    lux: float
    least: float | None
    most: float | None

    @property
    def stops(self) -> float:
        """Stops above the least that is asked; NaN where none is."""
        return math.log2(self.lux / self.least) if self.least and self.lux > 0.0 else math.nan


@dataclass(frozen=True)
class Field:
    """Light over a rectangle about the subject's middle, parallel to the panel."""

    x: Array
    y: Array
    lux: Array
    """Shape (y, x)."""
    subject: tuple[float, float] | None

    @property
    def middle(self) -> float:
        """Illuminance in the middle, lx."""
        return float(self.lux[len(self.y) // 2, len(self.x) // 2])

    @property
    def stops(self) -> Array:
        """Stops above the middle."""
        least = np.maximum(self.lux, 1e-9 * self.middle)
        return np.asarray(np.log2(least / self.middle))


def field_of(lamp: Lamp, marked: Sequence[Spot] = ()) -> Field:
    """Return the field over what the subject takes up and somewhat more, at least as wide as half its distance.

    marked: spots that are within it, where they stand in its plane.
    """
    light = lamp.scenario.light
    subject = light.subject
    wide, high = subject if subject is not None else (0.0, 0.0)
    there = [spot for spot in marked if in_plane(spot, light.distance)]
    half_x = max([0.75 * light.distance, 0.65 * wide, *(1.15 * abs(spot.across) for spot in there)])
    half_y = max([0.5 * light.distance, 0.65 * high, *(1.15 * abs(spot.up) for spot in there)])
    x, y = (np.linspace(-half, half, _MAP_POINTS) for half in (half_x, half_y))
    across_, up_ = np.meshgrid(x, y)
    points = np.stack([across_.ravel(), up_.ravel(), np.full(across_.size, light.distance)], axis=1)
    lux = field_at(lamp, points).reshape(len(y), len(x))
    return Field(x, y, lux, subject)


def spots(lamp: Lamp) -> list[Spot]:
    """Return the points of the job with the light on each, in the order of the job."""
    targets = lamp.scenario.targets(wanted_illuminance(lamp.scenario))
    each = spots_of(lamp.build, tuple(target.place for target in targets))
    found = []
    for index, (target, share) in enumerate(zip(targets, each, strict=True), 1):
        x, y, distance, bearing, tilt = target.place
        face = _face(bearing, tilt)
        lux = lamp.state.flux * share
        name = target.label.removeprefix("at ")
        found.append(Spot(f"P{index}", name, x, y, distance, face, lux, target.least, target.most))
    return found


def _face(bearing: float, tilt: float) -> str:
    """Return how a face stands, as seen facing the light."""
    found = []
    if bearing:
        found.append(f"turned {abs(bearing):g}° to the {'right' if bearing > 0.0 else 'left'}")
    if tilt:
        found.append(f"leant {abs(tilt):g}° {'back' if tilt > 0.0 else 'forward'}")
    return ", ".join(found) or "parallel to the board"


def field_map(lamp: Lamp, field: Field, marked: Sequence[Spot] = ()) -> Markup:
    """Return the field as a map with contour lines (by contourpy), stops below the middle written on them."""
    left, right, top, bottom = 58.0, 10.0, 10.0, 46.0
    wide, high = float(field.x[-1] - field.x[0]), float(field.y[-1] - field.y[0])
    scale = (WIDTH - left - right) / wide
    height = high * scale + top + bottom
    worst = float(field.stops.min())
    drawing = Drawing(
        f"field-{lamp.key}",
        WIDTH,
        height,
        "Light on the subject",
        f"A map {metres(wide)} m wide and {metres(high)} m high, as seen facing the light: "
        f"{number(field.middle, 'lx')} in the middle, down to {worst:.1f} stops in the corners. "
        "The table below has the light along its middle lines.",
    )

    def px(value: float) -> float:
        return left + (value - float(field.x[0])) * scale

    def py(value: float) -> float:
        return top + (float(field.y[-1]) - value) * scale

    drawing.rect("piece", px(float(field.x[0])), top, wide * scale, high * scale)
    for tick in even_steps(float(field.x[0]), float(field.x[-1]), 5):
        drawing.line("grid", px(tick), height - bottom, px(tick), height - bottom + 5.0)
        drawing.words(f"{tick:g}", px(tick), height - bottom + 18.0, "middle", "small")
    for tick in even_steps(float(field.y[0]), float(field.y[-1]), 5):
        drawing.line("grid", left - 5.0, py(tick), left, py(tick))
        drawing.words(f"{tick:g}", left - 8.0, py(tick) + 4.5, "end", "small")
    drawing.words("across [m]", px(0.0), height - 8.0, "middle", "small")
    drawing.upright_words("up [m]", 14.0, py(0.0))
    lines = contourpy.contour_generator(field.x, field.y, field.stops, name="serial")
    for level in _CONTOURS:
        for line in lines.lines(-level):
            points = [(px(float(a)), py(float(b))) for a, b in np.asarray(line)]
            drawing.path("curve" if level in {1.0, 2.0, 3.0, 4.0} else "third", points)
    if field.subject is not None:
        a, b = field.subject
        drawing.rect("mark", px(-a / 2.0), py(b / 2.0), max(a * scale, 1.0), max(b * scale, 1.0))
    drawing.circle("hot", px(0.0), py(0.0), 5.0)
    taken = [(px(0.0), py(0.0))]
    for spot in marked:
        if in_plane(spot, lamp.scenario.light.distance):
            x, y = px(spot.across), py(spot.up)
            drawing.path("mark", [(x - 6.0, y), (x, y - 6.0), (x + 6.0, y), (x, y + 6.0)], closed=True)
            drawing.words(spot.mark, x + 9.0, y - 7.0, "start", "halo")
            taken += [(x, y), (x + 18.0, y - 12.0)]
    for level in _CONTOURS:
        # To the right of the middle, or else where no mark and no other number is in the way.
        for ahead in _WAYS:
            place = _crossed(field, level, *ahead)
            if place is None:
                continue
            x, y = px(place[0]), py(place[1])
            if all(abs(x - other) > 40.0 or abs(y - beside) > 17.0 for other, beside in taken):
                drawing.words(f"−{level:g}", x, y + 4.5, "middle", "halo")
                taken.append((x, y))
                break
    return drawing.markup()


def in_plane(spot: Spot, distance: float) -> bool:
    """Whether a point stands in the plane of the map."""
    return math.isclose(spot.distance, distance, rel_tol=1e-6)


_WAYS = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1), (1, -1), (-1, 1))
"""From the middle of the map to its sides and corners, in steps of its grid."""


def _crossed(field: Field, level: float, right: int, up: int) -> tuple[float, float] | None:
    """Return where on a way from the middle the light is first so many stops less; None where it is not."""
    row, column = len(field.y) // 2, len(field.x) // 2
    for step in range(1, min(row, column) + 1):
        here, before = (float(field.stops[row + up * n, column + right * n]) for n in (step, step - 1))
        if here <= -level < before:
            part = step - 1 + (before + level) / (before - here)
            x = part * right * float(field.x[column + 1] - field.x[column])
            return x, part * up * float(field.y[row + 1] - field.y[row])
    return None


def field_rows(field: Field) -> list[tuple[str, list[tuple[float, float, float]]]]:
    """Return (offset, lux, stops) along the middle lines, across and up."""
    row, column = len(field.y) // 2, len(field.x) // 2
    pick = range(0, _MAP_POINTS, 8)
    across_ = [(float(field.x[i]), float(field.lux[row, i]), float(field.stops[row, i])) for i in pick]
    up_ = [(float(field.y[i]), float(field.lux[i, column]), float(field.stops[i, column])) for i in pick]
    return [("across", across_), ("up", up_)]
