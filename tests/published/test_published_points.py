"""Light on single faces of a whole build against published configuration factors and adaptive quadrature.

Sources: Howell, A Catalog of Radiation Heat Transfer Configuration Factors, B-3 (number from memory) for faces parallel
to the panel, by signed sums of its corners, and B-4 (value from memory) for one at a right angle; elsewhere scipy's
adaptive quadrature of the inverse-square and cosine law. All parts are invented.
"""

import math
from dataclasses import replace

import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, catalogue, choice
from scipy.integrate import dblquad

from optimise.model.exact import evaluate, margin_of
from optimise.parts import Diffuser
from optimise.physics.beams import beam_exponent, widened_beam
from optimise.scenario.points import Point

SQUARE = PANEL.model_copy(update={"width": 0.6, "height": 0.6})
THROUGH = 2 * 1000.0 * 0.5
"""Two emitters of 1000 lm behind a cloth that lets half through, lm."""


def lux_at(point: Point, sheet: Diffuser = SHEETS[0]) -> float:
    parts = replace(catalogue(EMITTER), panels=(SQUARE,), diffusers=(sheet,))
    e = evaluate(choice("p", sheet.part), parts, SCENARIO.model_copy(update={"points": (point,)}))
    margin = margin_of(e, "illuminance at here")
    assert margin is not None
    assert margin.achieved == e.figures["illuminance at here"][0]
    return margin.achieved


@pytest.mark.parametrize(
    ("across", "up", "distance", "factor"),
    [
        (0.0, 0.0, 1.0, 0.10237179),
        (0.5, 0.0, 2.0, 0.0247983196),
        (-1.0, 0.0, 2.0, 0.0181559898),
        (0.0, 1.0, 2.0, 0.0181559898),
    ],
)
def test_parallel_faces_have_the_published_factor(across: float, up: float, distance: float, factor: float) -> None:
    here = Point(name="here", across=across, up=up, distance=distance, illuminance=1.0)
    assert lux_at(here) == pytest.approx(THROUGH * factor / 0.36, rel=1e-7)


@pytest.mark.parametrize("turn", [{"face_bearing": 90.0}, {"face_bearing": -90.0}, {"face_tilt": 90.0}])
def test_a_face_at_a_right_angle_has_the_published_factor(turn: dict[str, float]) -> None:
    # B-4, twice: half the panel stands before it, symmetric about its own plane.
    a, b, c = 0.3, 0.3, 0.8
    slant = math.hypot(a, c)
    factor = (math.atan(b / c) - c / slant * math.atan(b / slant)) / math.pi
    here = Point(name="here", distance=c, illuminance=1.0, **turn)
    assert lux_at(here) == pytest.approx(THROUGH * factor / 0.36, rel=1e-9)


@pytest.mark.parametrize("sheet", SHEETS)
def test_any_face_against_quadrature(sheet: Diffuser) -> None:
    exponent = 1.0 if sheet.spread is None else float(beam_exponent(widened_beam(EMITTER.beam, sheet.spread)))
    for x, y, z, bearing, tilt in (
        (0.7, 0.4, 1.2, -35.0, 10.0),
        (-0.2, 0.9, 0.8, 20.0, -40.0),
        (0.1, -0.3, 2.5, 60.0, 25.0),
    ):
        b, t = math.radians(bearing), math.radians(tilt)
        normal = math.sin(b) * math.cos(t), math.sin(t), -math.cos(b) * math.cos(t)

        def light(v: float, u: float, at: tuple[float, ...] = (x, y, z), n: tuple[float, ...] = normal) -> float:
            ray = u - at[0], v - at[1], -at[2]
            away = math.sqrt(sum(part * part for part in ray))
            received = sum(part * slope for part, slope in zip(ray, n, strict=True)) / away
            # None of these faces has a part of the panel below its horizon.
            assert received > 0.0
            return (exponent + 1.0) / (2.0 * math.pi) * (at[2] / away) ** exponent * received / away**2

        total, _ = dblquad(light, -0.3, 0.3, -0.3, 0.3, epsabs=1e-12, epsrel=1e-10)
        here = Point(name="here", across=x, up=y, distance=z, face_bearing=bearing, face_tilt=tilt, illuminance_max=1.0)
        parts = replace(catalogue(EMITTER), panels=(SQUARE,), diffusers=(sheet,))
        e = evaluate(choice("p", sheet.part), parts, SCENARIO.model_copy(update={"points": (here,)}))
        margin = margin_of(e, "illuminance at here, at most")
        assert margin is not None
        assert margin.kind == "max"
        expected = 2 * 1000.0 * sheet.transmittance * total / 0.36
        assert margin.achieved == pytest.approx(expected, rel=1e-6)
