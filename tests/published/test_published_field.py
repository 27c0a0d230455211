"""The field of a lit face against published configuration factors and independent quadrature.

Sources: Howell, A Catalog of Radiation Heat Transfer Configuration Factors, B-3 (number from memory), by signed sums of
corners; an element at a right angle to a rectangle that starts in its plane: B-4 of the same (value from memory). Where
no closed form was at hand: scipy's adaptive quadrature of the inverse-square and cosine law.
"""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import dblquad

from optimise.physics.fields import face_field, facing, open_field, rectangle_factor
from optimise.physics.places import grid_points

ANGLES = [(0.0, 0.0), (45.0, 0.0), (-70.0, 15.0), (30.0, -60.0), (110.0, 5.0), (0.0, 88.0)]
PLACES = [(0.0, 0.0, 1.0), (0.5, 0.0, 2.0), (0.4, -0.7, 0.6), (-1.0, 1.0, 1.5)]


def integrated(
    point: tuple[float, float, float], normal: np.ndarray, exponent: float, width: float = 0.6, height: float = 0.6
) -> float:
    """Return the lux per lumen by adaptive quadrature, the integral cut at the horizon of the element."""
    px, py, pz = point
    a, b, c = (float(part) for part in normal)

    def element(y: float, x: float) -> float:
        square = (px - x) ** 2 + (py - y) ** 2 + pz * pz
        away = math.sqrt(square)
        received = max((a * (x - px) + b * (y - py) - c * pz) / away, 0.0)
        return (exponent + 1.0) / (2.0 * math.pi) * (pz / away) ** exponent * received / square

    def horizon(x: float) -> float:
        return min(max(-(a * (x - px) - b * py - c * pz) / b, -height / 2.0), height / 2.0)

    low = horizon if b > 1e-12 else lambda x: -height / 2.0
    high = horizon if b < -1e-12 else lambda x: height / 2.0
    ends = [-width / 2.0, width / 2.0]
    if abs(a) > 1e-12:
        bends = [px + (c * pz - b * (side - py)) / a for side in (-height / 2.0, height / 2.0)]
        ends = sorted([*ends, *(bend for bend in bends if ends[0] < bend < ends[1])])
    pieces = (dblquad(element, x0, x1, low, high, epsabs=1e-11, epsrel=1e-9)[0] for x0, x1 in pairwise(ends))
    return sum(pieces) / (width * height)


@pytest.mark.parametrize(
    ("point", "factor"),
    [
        ((0.0, 0.0, 1.0), 0.10237179),
        ((0.5, 0.0, 2.0), 0.0247983196),
        ((1.0, 0.0, 2.0), 0.0181559898),
    ],
)
def test_parallel_elements_have_the_published_factor(point: tuple[float, float, float], factor: float) -> None:
    assert rectangle_factor(0.6, 0.6, point)[0] == pytest.approx(factor, rel=1e-7)


@pytest.mark.parametrize(("a", "b", "c"), [(0.6, 0.6, 1.0), (1.0, 0.3, 0.5), (0.2, 2.0, 3.0)])
def test_an_element_at_a_right_angle_has_the_published_factor(a: float, b: float, c: float) -> None:
    # B-4: element in the plane through one edge (length b) of a rectangle a × b, c before the edge, under its corner:
    # F = (1/2π)(atan(b/c) − c/√(a² + c²) · atan(b/√(a² + c²))).
    slant = math.hypot(a, c)
    expected = (math.atan(b / c) - c / slant * math.atan(b / slant)) / (2.0 * math.pi)
    # Twice the rectangle, about the element's own plane: half of it stands above.
    factor = rectangle_factor(2.0 * a, 2.0 * b, (0.0, 0.0, c), facing(90.0))[0]
    assert factor == pytest.approx(2.0 * expected, rel=1e-12)
    assert rectangle_factor(2.0 * b, 2.0 * a, (0.0, 0.0, c), facing(0.0, 90.0))[0] == pytest.approx(2.0 * expected)


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("place", PLACES)
def test_a_lambertian_panel_of_600_mm_against_quadrature(
    place: tuple[float, float, float], angle: tuple[float, float]
) -> None:
    normal = facing(*angle)
    expected = integrated(place, normal, 1.0)
    assert face_field(1.0, 0.6, 0.6, place, normal)[0] == pytest.approx(expected, rel=1e-6, abs=1e-10)


@pytest.mark.parametrize("exponent", [0.646059, 4.818842, 45.277602])
@pytest.mark.parametrize("angle", ANGLES[:4])
def test_a_panel_of_600_mm_with_a_beam_against_quadrature(exponent: float, angle: tuple[float, float]) -> None:
    normal = facing(*angle)
    for place in PLACES[1:3]:
        expected = integrated(place, normal, exponent)
        assert face_field(exponent, 0.6, 0.6, place, normal)[0] == pytest.approx(expected, rel=1e-6, abs=1e-10)


@pytest.mark.parametrize("exponent", [1.0, 4.818842])
def test_an_open_board_is_the_plain_sum_over_its_emitters(exponent: float) -> None:
    x, y, weights = grid_points(7, 4, 3, 0.6, 0.4)
    normal = facing(20.0, -15.0)
    for point in PLACES:
        total = 0.0
        for u, v in zip(x[:, 0].tolist(), y[:, 0].tolist(), strict=True):
            ray = np.array(point) - [u, v, 0.0]
            away = math.sqrt(float(ray @ ray))
            intensity = (exponent + 1.0) / (2.0 * math.pi) * (point[2] / away) ** exponent
            total += intensity * max(-float(ray @ normal) / away, 0.0) / away**2
        assert open_field(exponent, x, y, weights, point, normal)[0] == pytest.approx(total / 7.0, rel=1e-12)


@pytest.mark.parametrize("exponent", [1.0, 4.818842])
def test_ever_more_emitters_light_like_a_face(exponent: float) -> None:
    normal = facing(25.0, 10.0)
    face = face_field(exponent, 0.6, 0.4, PLACES, normal)
    errors = []
    for n in (4, 12, 36):
        x, y, weights = grid_points(n * n, n, n, 0.6, 0.4)
        errors.append(np.abs(open_field(exponent, x, y, weights, PLACES, normal) / face - 1.0).max())
    assert errors[2] < errors[1] / 5.0 < errors[0] / 25.0
    assert errors[2] < 1e-3
