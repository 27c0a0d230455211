"""Dots on a diffuser against Poisson's sum: the light of a grid as a series of cosines.

The transform of (m + 1) / 2π · d^(m+1) / (ρ² + d²)^((m+3)/2) over the plane is 2 (kd/2)^n K_n(kd) / Γ(n), with
n = (m + 1) / 2 and the modified Bessel function of the second kind (tables of Hankel transforms; Abramowitz and Stegun
11.4.44, number from memory). The functions are scipy's.
"""

from itertools import product

import numpy as np
import pytest
from scipy.special import gamma, kv

from optimise.physics.dots import dot_ripple, grid_light


def series(x: float, y: float, across: float, up: float, depth: float, exponent: float) -> float:
    """Return the light of an endless grid over its mean by Poisson's sum."""
    n = (exponent + 1.0) / 2.0
    total = 1.0
    for i, j in product(range(-12, 13), repeat=2):
        if (i, j) == (0, 0):
            continue
        k = 2.0 * np.pi * np.hypot(i / across, j / up) * depth
        total += 2.0 * (k / 2.0) ** n * kv(n, k) / gamma(n) * np.cos(2.0 * np.pi * (i * x / across + j * y / up))
    return float(total)


@pytest.mark.parametrize("exponent", [0.646, 1.0, 4.819])
@pytest.mark.parametrize(("across", "up", "depth"), [(0.03, 0.03, 0.03), (0.02, 0.05, 0.02), (0.03, 0.03, 0.06)])
def test_the_sum_against_the_series(across: float, up: float, depth: float, exponent: float) -> None:
    for x, y in ((0.0, 0.0), (across / 2, up / 2), (across / 5, up / 7)):
        found = float(grid_light(np.array(x), np.array(y), across, up, depth, exponent))
        assert found == pytest.approx(series(x, y, across, up, depth, exponent), rel=1e-9)


def test_a_lambertian_grid_as_deep_as_its_pitch_ripples_by_2_5_per_cent() -> None:
    # The first cosines alone: 1 + 2 a (cos + cos) with a = 2π K1(2π), so 4 a.
    first = 2.0 * np.pi * kv(1.0, 2.0 * np.pi)
    assert dot_ripple(1.0, 0.03, 0.03, 0.03) == pytest.approx(4.0 * first, rel=2e-2)
    assert dot_ripple(1.0, 0.03, 0.03, 0.03) == pytest.approx(0.0248, abs=1e-4)
