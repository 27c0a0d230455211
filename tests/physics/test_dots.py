"""Dots on a diffuser: against plain sums, and what must hold of any grid."""

import numpy as np
import pytest

from optimise.physics.beams import point_factors
from optimise.physics.dots import depth_for, dot_ripple, grid_illuminance


@pytest.mark.parametrize(("across", "up", "depth", "exponent"), [(0.03, 0.03, 0.02, 4.8), (0.04, 0.025, 0.03, 2.0)])
def test_against_a_plain_sum_over_many_emitters(across: float, up: float, depth: float, exponent: float) -> None:
    x, y = np.meshgrid(np.arange(-200, 201) * across, np.arange(-200, 201) * up)
    for place in ((0.0, 0.0), (across / 2, up / 2), (across * 0.3, up * 0.1)):
        plain = float(point_factors(x, y, depth, exponent, *place).sum())
        found = float(grid_illuminance(np.array(place[0]), np.array(place[1]), across, up, depth, exponent))
        assert found == pytest.approx(plain, rel=1e-4)


@pytest.mark.parametrize("exponent", [0.5, 1.0, 4.8])
@pytest.mark.parametrize("depth", [0.015, 0.03, 0.06])
def test_the_mean_is_the_flux_over_the_area(depth: float, exponent: float) -> None:
    x, y = np.meshgrid((np.arange(20) + 0.5) / 20 * 0.03, (np.arange(20) + 0.5) / 20 * 0.02)
    mean = float(grid_illuminance(x, y, 0.03, 0.02, depth, exponent).mean())
    assert mean == pytest.approx(1.0 / (0.03 * 0.02), rel=1e-6)


def test_more_rings_change_nothing() -> None:
    place = np.array([0.0, 0.01]), np.array([0.0, 0.015])
    few = grid_illuminance(*place, 0.03, 0.03, 0.03, 1.0)
    assert grid_illuminance(*place, 0.03, 0.03, 0.03, 1.0, rings=60) == pytest.approx(few, rel=1e-6)


def test_deeper_and_wider_beams_show_less() -> None:
    ripples = [dot_ripple(0.03, 0.03, depth) for depth in (0.01, 0.02, 0.04)]
    assert ripples == sorted(ripples, reverse=True)
    assert dot_ripple(0.03, 0.03, 0.03, 4.8) > dot_ripple(0.03, 0.03, 0.03, 1.0)
    assert dot_ripple(0.3, 0.3, 0.2) == pytest.approx(dot_ripple(0.03, 0.03, 0.02), rel=1e-9)


def test_the_depth_for_a_ripple_has_it() -> None:
    depth = depth_for(0.03, 0.04, 0.1)
    assert dot_ripple(0.03, 0.04, depth) == pytest.approx(0.1, rel=1e-3)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: dot_ripple(0.0, 0.03, 0.02), "pitch_x"),
        (lambda: dot_ripple(0.03, -1.0, 0.02), "pitch_y"),
        (lambda: dot_ripple(0.03, 0.03, 0.0), "depth"),
        (lambda: dot_ripple(0.03, 0.03, 0.02, 0.0), "exponent"),
        (lambda: depth_for(0.03, 0.03, 0.0), "ripple"),
        (lambda: depth_for(0.03, 0.03, 1.0), "ripple"),
        (lambda: grid_illuminance(np.zeros(1), np.zeros(1), 0.03, 0.03, 0.02, 1.0, rings=0), "rings"),
    ],
)
def test_what_cannot_be_is_refused(call: object, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]
