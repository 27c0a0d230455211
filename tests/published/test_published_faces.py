"""Light from a lit rectangle, against configuration factors and quadrature that shares no code with it.

Formulas: J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors. B-12 (disk) seen
second-hand in source code; B-3 (rectangle) by its number from memory, its geometry also in Siegel & Howell
(1972) as cited by Tregenza & Sharples, Daylight Algorithms, 3.14 (seen second-hand). The figures below are
not printed there: they were computed for this project from the closed forms and checked by quadrature.
"""

import math

import pytest
from scipy.integrate import dblquad

from optimise.physics.beams import point_factors
from optimise.physics.faces import corner_factor, face_factor, lux_per_lumen


def disk_factor(radius: float, distance: float) -> float:
    """Howell B-12: element parallel to a disk, normal through its centre."""
    return radius**2 / (distance**2 + radius**2)


def integrated(
    width: float, height: float, distance: float, exponent: float = 1.0, dx: float = 0.0, dy: float = 0.0
) -> float:
    """Mean over the face of (m + 1) cos^(m + 1) t / (2π r²) by scipy, the definition of lux per lumen."""

    def integrand(y: float, x: float) -> float:
        square = (x - dx) ** 2 + (y - dy) ** 2 + distance**2
        cosine = distance / math.sqrt(square)
        return (exponent + 1) / (2 * math.pi) * math.pow(cosine, exponent + 1) / square

    value, _ = dblquad(integrand, -width / 2, width / 2, -height / 2, height / 2, epsabs=0.0, epsrel=1e-10)
    return float(value) / (width * height)


@pytest.mark.parametrize(
    ("width", "height", "distance", "factor"),
    [
        (1.0, 1.0, 1.0, 0.1385316060),
        (0.5, 0.5, 1.0, 0.0598641176),
        (0.6, 0.3, 1.0, 0.0444720884),
        (0.6, 0.4, 2.0, 0.0175860621),
    ],
)
def test_corner_factors(width: float, height: float, distance: float, factor: float) -> None:
    assert corner_factor(width, height, distance) == pytest.approx(factor, abs=5.1e-11)


@pytest.mark.parametrize(
    ("width", "height", "distance", "dx", "factor", "digits"),
    [
        (0.3, 0.3, 1.0, 0.0, 0.02781466, 8),
        (0.6, 0.6, 1.0, 0.0, 0.10237179, 8),
        (0.6, 0.3, 1.0, 0.0, 0.05334016, 8),
        (1.2, 0.6, 2.0, 0.0, 0.05334016, 8),
        (2.0, 2.0, 1.0, 0.0, 0.55412642, 8),
        (0.6, 0.6, 2.0, 0.5, 0.0247983196, 10),
        (0.6, 0.6, 2.0, 1.0, 0.0181559898, 10),
    ],
)
def test_face_factors(width: float, height: float, distance: float, dx: float, factor: float, digits: int) -> None:
    assert face_factor(width, height, distance, dx) == pytest.approx(factor, abs=0.51 * 10.0**-digits)


@pytest.mark.parametrize(
    ("width", "height", "distance", "dx", "dy"),
    [
        (0.3, 0.3, 1.0, 0.0, 0.0),
        (0.6, 0.3, 1.0, 0.0, 0.0),
        (2.0, 2.0, 1.0, 0.0, 0.0),
        (0.6, 0.6, 2.0, 0.5, 0.0),
        (0.6, 0.6, 2.0, 1.0, -0.7),
        (1.2, 0.2, 0.3, -0.9, 0.4),
    ],
)
def test_closed_form_agrees_with_quadrature(width: float, height: float, distance: float, dx: float, dy: float) -> None:
    by_quadrature = integrated(width, height, distance, 1.0, dx, dy) * width * height
    assert face_factor(width, height, distance, dx, dy) == pytest.approx(by_quadrature, rel=1e-7)


@pytest.mark.parametrize("exponent", [0.646059, 1.246972, 4.818842, 45.277602])
@pytest.mark.parametrize(
    ("width", "height", "distance", "dx", "dy"),
    [(0.6, 0.6, 2.0, 0.0, 0.0), (1.2, 0.6, 0.4, 0.0, 0.0), (0.6, 0.3, 0.5, 0.4, -0.2)],
)
def test_beamed_face_agrees_with_quadrature(
    width: float, height: float, distance: float, dx: float, dy: float, exponent: float
) -> None:
    # Exponents of beams 140, 110, 60 and 20° wide.
    expected = integrated(width, height, distance, exponent, dx, dy)
    assert lux_per_lumen(width, height, distance, exponent, dx, dy) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(("radius", "factor"), [(0.3, 0.0825688073), (0.5, 0.2)])
def test_sum_over_points_of_a_disk_is_howell_b_12(radius: float, factor: float) -> None:
    # Polar quadrature of the law for one emitter; the disk's closed form knows nothing of rectangles.
    def ring(angle: float, r: float) -> float:
        return r * float(point_factors(r * math.cos(angle), r * math.sin(angle), 1.0, 1.0))

    value, _ = dblquad(ring, 0.0, radius, 0.0, 2 * math.pi, epsabs=0.0, epsrel=1e-9)
    assert value == pytest.approx(disk_factor(radius, 1.0), rel=1e-7)
    assert value == pytest.approx(factor, abs=5.1e-11 + 1e-9)


@pytest.mark.parametrize("distance", [0.1, 0.5, 1.0, 4.0])
def test_square_lies_between_the_disks_inside_and_around_it(distance: float) -> None:
    assert disk_factor(0.3, distance) < face_factor(0.6, 0.6, distance) < disk_factor(0.3 * math.sqrt(2), distance)


@pytest.mark.parametrize(
    ("size", "distance", "lux", "inverse_square"),
    [(0.6, 1.0, 321.61, 360.0), (0.3, 1.0, 87.382, 90.0), (0.6, 3.0, 39.474, 40.0)],
)
def test_lux_of_a_panel_of_1000_candela_per_square_metre(
    size: float, distance: float, lux: float, inverse_square: float
) -> None:
    # Computed for this project: E = π L F, beside L A / d².
    assert math.pi * 1000.0 * face_factor(size, size, distance) == pytest.approx(lux, rel=2e-5)
    as_a_point = math.pi * 1000.0 * size**2 * point_factors(0.0, 0.0, distance, 1.0)
    assert as_a_point == pytest.approx(inverse_square, rel=1e-12)


def test_chain_from_lumens_to_lux() -> None:
    # Computed for this project: 10 000 lm, diffuser 0.6, face 0.6 m × 0.6 m, at 2 m.
    leaving = 10_000.0 * 0.6
    assert leaving * lux_per_lumen(0.6, 0.6, 2.0) == pytest.approx(463.578, abs=5e-4)
    assert leaving * point_factors(0.0, 0.0, 2.0, 1.0) == pytest.approx(477.465, abs=5e-4)
