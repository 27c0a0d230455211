"""The light of a build: how it falls off, its field on the subject, softness, and exposure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import contourpy
import numpy as np
from markupsafe import Markup

from optimise.model import limits
from optimise.model.exact import wanted_illuminance
from optimise.model.face import leaving, lux_per_lumen, usable_size
from optimise.physics.arrays import Array
from optimise.physics.exposure import exposure_illuminance, stops
from optimise.physics.fields import face_field, open_field
from optimise.physics.intensity import MeasuredBeam
from optimise.physics.places import grid_points
from optimise.physics.softness import apparent_angle, penumbra_width
from optimise.report.sheet.chart import WIDTH, Axis, across, chart, up
from optimise.report.sheet.drawing import Drawing, even_steps
from optimise.report.sheet.lamp import Lamp
from optimise.report.terminal import number

NEAR, FAR = 0.25, 4.0
"""Shares of the distance asked for between which the fall-off is drawn."""

STANDARD_SHUTTER = 1.0 / 50.0
"""s; where a job states none: half of a frame at 25 frames a second."""

APERTURES = (1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0)
SPEEDS = (100, 200, 400, 800, 1600, 3200, 6400)

_MAP_POINTS = 33
_CONTOURS = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0)
"""Stops below the middle at which contour lines are drawn."""


@dataclass(frozen=True)
class Step:
    """One distance of the fall-off."""

    distance: float
    lux: float
    stops: float
    """Above what is asked for; below 0 where it is less."""
    square: float
    """Stops that the inverse-square law would give beyond the light at the target's distance."""
    target: bool = False


def lux_at(lamp: Lamp, distance: float) -> float:
    """Return the illuminance straight ahead at a distance, m, of a face that looks at the light."""
    return lamp.state.flux * lux_per_lumen(lamp.build, distance)


def falloff(lamp: Lamp) -> list[Step]:
    """Return the light at distances about the one asked for, nearest first."""
    there = lamp.scenario.light.distance
    wanted, here = wanted_illuminance(lamp.scenario), lux_at(lamp, there)
    shares = (0.25, 0.354, 0.5, 0.707, 1.0, 1.414, 2.0, 2.83, 4.0)
    found: list[Step] = []
    for share in shares:
        lux = lux_at(lamp, there * share)
        above = float(stops(lux, wanted))
        square = float(stops(here, wanted)) - 2.0 * math.log2(share)
        found.append(Step(there * share, lux, above, square, share == 1.0))
    return found


def falloff_chart(lamp: Lamp) -> Markup:
    """Return lux over distance, both in doublings, with stops about the target at the right."""
    there, wanted = lamp.scenario.light.distance, wanted_illuminance(lamp.scenario)
    curve = [(d, lux_at(lamp, d)) for d in (float(x) for x in there * np.geomspace(NEAR, FAR, 33, dtype=np.float64))]
    rel = [float(stops(lux, wanted)) for _, lux in curve]
    low, high = math.floor(min(rel)), math.ceil(max(rel))
    level = Axis(NEAR * there, FAR * there, [there * s for s in (0.25, 0.5, 1.0, 2.0, 4.0)], "distance [m]", True, _m)
    whole = range(low, high + 1)
    upright = Axis(low, high, list(whole), "illuminance [lx]", written=lambda v: f"{_short(wanted * 2.0**v)}")
    right = Axis(low, high, list(whole), "stops against the target", written=lambda v: f"{v:+g}" if v else "0")
    drawing = chart(
        f"fall-{lamp.key}",
        "Illuminance over distance",
        f"The light falls from {number(curve[0][1], 'lx')} at {_m(curve[0][0])} m to {number(curve[-1][1], 'lx')} "
        f"at {_m(curve[-1][0])} m. The target, {number(wanted, 'lx')} at {_m(there)} m, is marked. "
        "The table below has the same figures.",
        level,
        upright,
        right,
    )
    x, y = across(level), up(upright)
    here = float(stops(lux_at(lamp, there), wanted))
    law = [(d, here - 2.0 * math.log2(d / there)) for d, _ in curve]
    drawing.path("third", [(x(d), y(v)) for d, v in law if low <= v <= high])
    drawing.path("curve", [(x(d), y(v)) for (d, _), v in zip(curve, rel, strict=True)])
    drawing.circle("hot", x(there), y(0.0), 6.0)
    drawing.words("target", x(there) + 10.0, y(0.0) - 8.0, "start", "halo")
    return drawing.markup()


def _m(value: float) -> str:
    return f"{value:.3g}"


def _short(value: float) -> str:
    return f"{float(f'{value:.2g}'):g}" if value < 1e6 else f"{value:.1e}"


def field_at(lamp: Lamp, points: Array) -> Array:
    """Return the illuminance, lx, at points before the panel, on faces parallel to it; shape (points,)."""
    build = lamp.build
    share, beam = leaving(build)
    through = lamp.state.flux * share
    lying = limits.lies(build.emitter, build.panel)
    if build.diffuser is not None:
        face = build.panel.width, build.panel.height
        if isinstance(beam, MeasuredBeam):
            return face_field(beam, *face, points, lying=lying) * through
        # What a formula gives is the same in all four quarters.
        quarter, place = np.unique(np.round(np.abs(points), 12), axis=0, return_inverse=True)
        return face_field(beam, *face, quarter)[np.ravel(place)] * through
    columns, rows = limits.grid(build.emitter, build.panel)
    places = grid_points(build.choice.emitters, columns, rows, *usable_size(build), build.emitter.length, lying)
    return open_field(beam, *places, points, lying=lying) * through


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


def field_of(lamp: Lamp) -> Field:
    """Return the field over what the subject takes up and somewhat more, at least as wide as half its distance."""
    light = lamp.scenario.light
    subject = light.subject
    wide, high = subject if subject is not None else (0.0, 0.0)
    half_x = max(0.75 * light.distance, 0.65 * wide)
    half_y = max(0.5 * light.distance, 0.65 * high)
    x, y = (np.linspace(-half, half, _MAP_POINTS) for half in (half_x, half_y))
    across_, up_ = np.meshgrid(x, y)
    points = np.stack([across_.ravel(), up_.ravel(), np.full(across_.size, light.distance)], axis=1)
    lux = field_at(lamp, points).reshape(len(y), len(x))
    return Field(x, y, lux, subject)


def field_map(lamp: Lamp, field: Field) -> Markup:
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
        f"A map {_m(wide)} m wide and {_m(high)} m high, seen from the light: {number(field.middle, 'lx')} in the "
        f"middle, down to {worst:.1f} stops in the corners. The table below has the light along its middle lines.",
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
    lettering: list[tuple[str, float, float]] = []
    for level in _CONTOURS:
        for line in lines.lines(-level):
            points = [(px(float(a)), py(float(b))) for a, b in np.asarray(line)]
            drawing.path("curve" if level in {1.0, 2.0, 3.0, 4.0} else "third", points)
        spot = _on_the_right(field, level)
        if spot is not None and (not lettering or px(spot) - lettering[-1][1] > 46.0):
            lettering.append((f"−{level:g}", px(spot), py(0.0)))
    if field.subject is not None:
        a, b = field.subject
        drawing.rect("mark", px(-a / 2.0), py(b / 2.0), max(a * scale, 1.0), max(b * scale, 1.0))
    drawing.circle("hot", px(0.0), py(0.0), 5.0)
    for text, x, y in lettering:
        drawing.words(text, x, y + 4.5, "middle", "halo")
    return drawing.markup()


def _on_the_right(field: Field, level: float) -> float | None:
    """Return where, to the right of the middle, the light is first so many stops less; None where it is not."""
    row = field.stops[len(field.y) // 2]
    for index in range(len(field.x) // 2 + 1, len(field.x)):
        if row[index] <= -level < row[index - 1]:
            share = (row[index - 1] + level) / (row[index - 1] - row[index])
            return float(field.x[index - 1] + share * (field.x[index] - field.x[index - 1]))
    return None


def field_rows(field: Field) -> list[tuple[str, list[tuple[float, float, float]]]]:
    """Return (offset, lux, stops) along the middle lines, across and up."""
    row, column = len(field.y) // 2, len(field.x) // 2
    pick = range(0, _MAP_POINTS, 8)
    across_ = [(float(field.x[i]), float(field.lux[row, i]), float(field.stops[row, i])) for i in pick]
    up_ = [(float(field.y[i]), float(field.lux[i, column]), float(field.stops[i, column])) for i in pick]
    return [("across", across_), ("up", up_)]


@dataclass(frozen=True)
class Exposure:
    """How the light stands for sensitivities and apertures at one shutter."""

    time: float
    assumed: bool
    """Whether the job states no shutter."""
    apertures: Sequence[float]
    rows: Sequence[tuple[int, Sequence[float], float]]
    """Sensitivity (ISO), stops over the right exposure for each aperture, and the aperture that is right."""


def exposure_of(lamp: Lamp) -> Exposure:
    """Return the exposure table for the light at the subject, by the meter constant of the job."""
    light = lamp.scenario.light
    time = lamp.scenario.exposure_time
    lux = lux_at(lamp, light.distance)
    used = STANDARD_SHUTTER if time is None else time
    rows = []
    for iso in SPEEDS:
        over = [float(stops(lux, exposure_illuminance(n, used, iso, light.meter_constant))) for n in APERTURES]
        right = math.sqrt(lux * used * iso / light.meter_constant)
        rows.append((iso, over, right))
    return Exposure(used, time is None, APERTURES, rows)


def softness_of(lamp: Lamp) -> list[tuple[str, str]]:
    """Return how soft the light is, in words and figures."""
    panel, light = lamp.build.panel, lamp.scenario.light
    side, longer = sorted((panel.width, panel.height))
    found = [
        ("Lit face", f"{number(side, 'm')} × {number(longer, 'm')}"),
        ("Angle of its shorter side, seen from the subject", number(float(apparent_angle(side, light.distance)), "°")),
    ]
    catch = lamp.figure("catch_light")
    if catch is not None:
        found.append(("Catch-light in an eye, longer side", number(catch, "mm")))
    stated = lamp.scenario.look.background
    for behind in sorted({0.1, 0.5, 2.0} | ({stated} if stated is not None else set())):
        width = float(penumbra_width(side, light.distance, behind))
        found.append((f"Soft edge of a shadow on a wall {behind:g} m behind the subject", number(width, "m")))
    return found
