"""The box behind a diffuser against textbook factors and the closed forms of simple boxes."""

import numpy as np
import pytest

from optimise.physics.cavity import box, box_transmittance, opposite_factor


def test_opposite_faces_of_a_cube() -> None:
    # Textbooks of heat transfer: 0.2 between opposite faces of a cube (0.19982 in full; value from memory).
    assert float(opposite_factor(1.0, 1.0, 1.0)) == pytest.approx(0.19982, abs=5e-6)


def test_far_apart_it_is_the_inverse_square() -> None:
    assert float(opposite_factor(0.01, 0.02, 10.0)) == pytest.approx(0.01 * 0.02 / np.pi / 100.0, rel=1e-4)


@pytest.mark.parametrize("reflectance", [0.3, 0.5, 0.8])
def test_effective_reflectance_of_a_cavity(reflectance: float) -> None:
    # IESNA Lighting Handbook, zonal-cavity method (formula from memory): base B and walls W of a cavity whose base is
    # as large as its opening, f the factor between the two.
    w, h, d = 4.0, 3.0, 1.0
    f = float(opposite_factor(w, h, d))
    base = wall = reflectance
    ratio = w * h / (2 * (w + h) * d)
    above = base * wall * f * (2 * ratio * (1 - f) - f) + base * f * f + wall * ratio * (1 - f) ** 2
    below = 1 - base * wall * ratio * (1 - f) ** 2 - wall * (1 - 2 * ratio * (1 - f))
    _, shown = box(w, h, d, reflectance)
    assert float(shown) == pytest.approx(above / below, rel=1e-9)


@pytest.mark.parametrize(("through", "back", "reflectance"), [(0.6, 0.4, 0.9), (0.5, 0.3, 0.5), (0.9, 0.05, 0.0)])
def test_two_parallel_sheets(through: float, back: float, reflectance: float) -> None:
    # Stokes' pile of plates, for a light between two sheets: t / (1 − r R).
    value = float(box_transmittance(0.6, 0.6, 0.0, reflectance, through, back))
    assert value == pytest.approx(through / (1 - back * reflectance), rel=1e-12)


def test_a_white_box_with_a_diffuser_that_takes_nothing_lets_all_out() -> None:
    assert float(box_transmittance(0.5, 0.4, 0.3, 1.0, 0.35, 0.65)) == pytest.approx(1.0, abs=1e-9)


def test_the_multiplier_of_an_integrating_sphere() -> None:
    # A sphere's multiplier is r / (1 − mean reflectance), with a port of share f: the mean flux on the port of light
    # that has met the walls once is f / (1 − r (1 − f)). A long way round a nearly closed box is nearly a sphere: in a
    # cube with one open face light that leaves a wall finds the opening by its share of area, within a fifth.
    r, share = 0.95, 1.0 / 6.0
    reaching, _ = box(1.0, 1.0, 1.0, r)
    ahead = float(opposite_factor(1.0, 1.0, 1.0))
    sphere = ahead + (1 - ahead) * r * share / (1 - r * (1 - share))
    assert float(reaching) == pytest.approx(sphere, rel=0.05)
