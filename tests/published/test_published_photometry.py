"""Flux and intensity of photometric files (ANSI/IESNA LM-63-2002 form) against closed forms.

The vectors are those of cos^m distributions, whose flux is 2π I0 / (m + 1): I0 and m are worked out from that and
from the definition of the half-maximum width, as in `test_published_beams`. The texts are invented. Zonal constants
are those of the zonal method (IES Lighting Handbook, value from memory).
"""

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from optimise.parts import Collector
from optimise.parts.photometry import Photometry, read_photometry
from optimise.physics.intensity import direction_of, intensity_at, intensity_towards, table_flux

TABLE = {60: (4.818842, 926.0974), 90: (2.000000, 477.4648), 110: (1.246972, 357.6168), 120: (1.000000, 318.3099)}
"""Exponent and cd/klm on the axis by full width, deg."""


def lambertian(step: float) -> Photometry:
    """Return what is read of a file of 1000 lm with cd = 318.3099 cos t."""
    angles = np.arange(0.0, 90.0 + step / 2.0, step)
    values = 318.3099 * np.cos(np.radians(angles))
    numbers = " ".join(f"{v:.6g}" for v in [*angles, 0.0, *np.maximum(values, 0.0).round(6)])
    text = f"IESNA:LM-63-2002\n[TEST] invented\nTILT=NONE\n1 1000 1 {len(angles)} 1 1 2 0 0 0\n1 1 10\n{numbers}\n"
    faults = Collector()
    table = read_photometry(text.encode(), "lambertian.ies", faults)
    assert faults.faults == []
    assert table is not None
    return table


@pytest.mark.parametrize(("step", "tolerance"), [(5.0, 0.003), (1.0, 0.001)])
def test_a_lambertian_file_of_1000_lumens_sums_to_them(step: float, tolerance: float) -> None:
    table = lambertian(step)
    assert table_flux(table) == pytest.approx(1000.0, rel=tolerance)
    # Six significant digits are written.
    assert intensity_at(table, 0.0, 0.0) == pytest.approx(318.31, abs=0.005)
    assert intensity_at(table, 60.0, 123.0) == pytest.approx(159.155, abs=0.005)
    # Full width at half maximum: 120°.
    assert intensity_at(table, [59.9, 60.1], 0.0).tolist() == pytest.approx([159.6, 158.7], abs=0.3)


@pytest.mark.parametrize("width", TABLE)
def test_a_table_of_a_cosine_power_sums_to_its_flux(width: int) -> None:
    exponent, peak = TABLE[width]
    angles = np.linspace(0.0, 90.0, 91)
    candela = peak * np.maximum(np.cos(np.radians(angles)), 0.0) ** exponent
    assert table_flux(Photometry("C", angles, np.zeros(1), candela[None, :])) == pytest.approx(1000.0, rel=3e-4)


def test_zonal_constants_of_ten_degree_zones() -> None:
    # A table that is 1 cd in one zone only would need a jump; 1 cd everywhere gives the sum of all constants.
    constants = [0.0955, 0.2835, 0.4629, 0.6282, 0.7744, 0.8972, 0.9926, 1.0579, 1.0911]
    upto = np.cumsum(constants)
    for zones, total in enumerate(upto, 1):
        edge = 10.0 * zones
        angles = np.array([0.0, edge, edge + 1e-9, 90.0]) if edge < 90.0 else np.array([0.0, 90.0])
        candela = np.array([[1.0, 1.0, 0.0, 0.0]]) if edge < 90.0 else np.ones((1, 2))
        assert table_flux(Photometry("C", angles, np.zeros(1), candela)) == pytest.approx(total, abs=6e-4)
    assert upto[-1] == pytest.approx(2.0 * math.pi, abs=2e-4)


def test_an_even_table_of_any_type_fills_the_solid_angle_that_it_spans() -> None:
    whole, half = np.array([-90.0, 90.0]), np.array([0.0, 90.0])
    ones = np.ones((2, 2))
    assert table_flux(Photometry("C", np.array([0.0, 180.0]), np.zeros(1), ones[:1])) == pytest.approx(4.0 * math.pi)
    for kind in ("A", "B"):
        assert table_flux(Photometry(kind, whole, whole, ones)) == pytest.approx(2.0 * math.pi)
        assert table_flux(Photometry(kind, whole, half, ones)) == pytest.approx(2.0 * math.pi)
        assert table_flux(Photometry(kind, half, whole, ones)) == pytest.approx(math.pi)


LIMITS = {"C": ((0.0, 360.0), (0.0, 180.0)), "A": ((-90.0, 90.0), (-90.0, 90.0)), "B": ((-90.0, 90.0), (-90.0, 90.0))}


@pytest.mark.parametrize("kind", ["A", "B", "C"])
def test_flux_is_the_quadrature_of_the_interpolated_intensity(kind: str) -> None:
    (left, right), (low, high) = LIMITS[kind]
    rng = np.random.default_rng(63)
    vertical, horizontal = np.linspace(low, high, 4), np.linspace(left, right, 4)
    table = Photometry(kind, vertical, horizontal, rng.uniform(0.0, 500.0, (4, 4)))

    def element(v: float, h: float) -> float:
        measure = {"C": math.sin(math.radians(v)), "A": math.cos(math.radians(v)), "B": math.cos(math.radians(h))}
        return float(intensity_at(table, v, h)) * measure[kind] * math.radians(1.0) ** 2

    total = sum(
        dblquad(element, horizontal[i], horizontal[i + 1], vertical[j], vertical[j + 1], epsrel=1e-9)[0]
        for i in range(3)
        for j in range(3)
    )
    assert table_flux(table) == pytest.approx(total, rel=1e-8)


@pytest.mark.parametrize("kind", ["A", "B"])
def test_types_a_and_b_of_one_distribution_agree_with_type_c(kind: str) -> None:
    """A lobe off axis, written down in three coordinate systems: the same light in every direction."""

    def lobe(u: np.ndarray, w: np.ndarray, n: np.ndarray) -> np.ndarray:
        return 800.0 * np.maximum(0.3 * u + 0.5 * w + math.sqrt(0.66) * n, 0.0) ** 3 * (n > -1e-12)

    grid = np.linspace(-90.0, 90.0, 181)
    here = Photometry(kind, grid, grid, lobe(*direction_of(kind, grid[None, :], grid[:, None])))
    down, around = np.linspace(0.0, 90.0, 91), np.linspace(0.0, 360.0, 361)
    there = Photometry("C", down, around, lobe(*direction_of("C", down[None, :], around[:, None])))
    rng = np.random.default_rng(7)
    rays = rng.normal(size=(3, 500))
    rays[2] = np.abs(rays[2]) + 0.05
    np.testing.assert_allclose(intensity_towards(here, *rays), intensity_towards(there, *rays), atol=0.15)
    assert table_flux(here) == pytest.approx(table_flux(there), rel=2e-4)
