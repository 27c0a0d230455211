"""The light of a build: how it falls off, softness, and exposure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from optimise.model.exact import wanted_illuminance
from optimise.model.face import lux_per_lumen
from optimise.physics.exposure import exposure_illuminance, stops
from optimise.physics.softness import apparent_angle, penumbra_width
from optimise.report.lamp import Lamp
from optimise.report.sheet.chart import Axis, across, chart, up
from optimise.report.terminal import number

NEAR, FAR = 0.25, 4.0
"""Shares of the distance asked for between which the fall-off is drawn."""

STANDARD_SHUTTER = 1.0 / 50.0
"""s; where a job states none: half of a frame at 25 frames a second."""

APERTURES = (1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0)
SPEEDS = (100, 200, 400, 800, 1600, 3200, 6400)


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
    level = Axis(
        NEAR * there, FAR * there, [there * s for s in (0.25, 0.5, 1.0, 2.0, 4.0)], "distance [m]", True, metres
    )
    whole = range(low, high + 1)
    upright = Axis(low, high, list(whole), "illuminance [lx]", written=lambda v: f"{_short(wanted * 2.0**v)}")
    right = Axis(low, high, list(whole), "stops against the target", written=lambda v: f"{v:+g}" if v else "0")
    drawing = chart(
        f"fall-{lamp.key}",
        "Illuminance over distance",
        f"The light falls from {number(curve[0][1], 'lx')} at {metres(curve[0][0])} m to {number(curve[-1][1], 'lx')} "
        f"at {metres(curve[-1][0])} m. The target, {number(wanted, 'lx')} at {metres(there)} m, is marked. "
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


def metres(value: float) -> str:
    """Return a distance as it stands in a drawing."""
    return f"{value:.3g}"


def _short(value: float) -> str:
    return f"{float(f'{value:.3g}'):g}" if value < 1e5 else f"{value:.1e}".replace("e+0", "e")


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
