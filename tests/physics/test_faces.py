import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.beams import point_factors
from optimise.physics.faces import check_near, corner_factor, face_factor, lit_part, lux_per_lumen

# Few examples, for the whole run to stay short; no deadline, for a busy machine to pass too.
quick = settings(max_examples=40, deadline=None)

sides = st.floats(0.05, 3.0)
distances = st.floats(0.1, 20.0)
offsets = st.floats(-3.0, 3.0)
exponents = st.floats(0.3, 60.0)


@quick
@given(sides, sides, distances, offsets, offsets)
def test_factor_lies_between_0_and_1(width: float, height: float, distance: float, dx: float, dy: float) -> None:
    assert 0.0 < face_factor(width, height, distance, dx, dy) < 1.0


@quick
@given(sides, sides, distances, st.floats(1.001, 3.0))
def test_factor_falls_with_distance(width: float, height: float, distance: float, times: float) -> None:
    assert face_factor(width, height, distance * times) < face_factor(width, height, distance)


@quick
@given(sides, sides, distances, st.floats(0.01, 3.0), st.floats(0.01, 1.0))
def test_factor_falls_off_axis(width: float, height: float, distance: float, dx: float, further: float) -> None:
    assert face_factor(width, height, distance, dx + further) < face_factor(width, height, distance, dx)
    assert face_factor(width, height, distance, dx) < face_factor(width, height, distance)


@quick
@given(sides, sides, distances, offsets, offsets, st.floats(0.1, 10.0))
def test_factor_depends_on_proportions_only(
    width: float, height: float, distance: float, dx: float, dy: float, scale: float
) -> None:
    scaled = face_factor(scale * width, scale * height, scale * distance, scale * dx, scale * dy)
    assert scaled == pytest.approx(float(face_factor(width, height, distance, dx, dy)), rel=1e-8)


@quick
@given(sides, sides, distances, offsets, offsets)
def test_factor_is_symmetric(width: float, height: float, distance: float, dx: float, dy: float) -> None:
    factor = float(face_factor(width, height, distance, dx, dy))
    assert face_factor(width, height, distance, -dx, dy) == pytest.approx(factor, rel=1e-8)
    assert face_factor(width, height, distance, dx, -dy) == pytest.approx(factor, rel=1e-8)
    assert face_factor(height, width, distance, dy, dx) == pytest.approx(factor, rel=1e-8)


@quick
@given(sides, sides, distances, offsets)
def test_two_halves_make_the_whole(width: float, height: float, distance: float, dx: float) -> None:
    # The halves' centres lie a quarter of the width to each side.
    halves = face_factor(width / 2, height, distance, dx - width / 4) + face_factor(
        width / 2, height, distance, dx + width / 4
    )
    assert halves == pytest.approx(float(face_factor(width, height, distance, dx)), rel=1e-8)


@quick
@given(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0), distances)
def test_corner_factor_carries_the_sign_of_each_side(width: float, height: float, distance: float) -> None:
    factor = corner_factor(width, height, distance)
    assert corner_factor(-width, height, distance) == -factor
    assert corner_factor(-width, -height, distance) == factor
    assert np.sign(factor) == np.sign(width) * np.sign(height) or abs(width * height) < 1e-300


def test_corner_of_a_face_is_seen_as_a_quarter_of_one_four_times_as_large() -> None:
    assert face_factor(0.6, 0.4, 2.0, 0.3, 0.2) == pytest.approx(float(corner_factor(0.6, 0.4, 2.0)), rel=1e-12)


def test_endless_face_fills_the_view() -> None:
    assert face_factor(1e6, 1e6, 1.0) == pytest.approx(1.0, abs=1e-10)


def test_far_face_follows_the_inverse_square_law() -> None:
    assert face_factor(0.6, 0.3, 1e4) == pytest.approx(0.18 / (math.pi * 1e8), rel=1e-8)


@quick
@given(sides, sides, exponents)
def test_lux_per_lumen_of_a_far_face_is_that_of_a_point(width: float, height: float, exponent: float) -> None:
    far = 1e4 * max(width, height)
    expected = float(point_factors(0.0, 0.0, far, exponent))
    assert lux_per_lumen(width, height, far, exponent) == pytest.approx(expected, rel=1e-6)


@quick
@given(sides, sides, st.floats(0.3, 5.0), st.floats(-0.5, 0.5))
def test_quadrature_meets_the_closed_form_at_exponent_1(
    width: float, height: float, distance: float, dx: float
) -> None:
    # An exponent a hair off 1 goes through quadrature; the factor changes smoothly with it.
    beamed = lux_per_lumen(width, height, distance, 1.0 + 1e-12, dx)
    assert beamed == pytest.approx(float(lux_per_lumen(width, height, distance, 1.0, dx)), rel=1e-9)


@quick
@given(sides, sides, st.floats(0.5, 20.0), st.floats(0.3, 20.0), st.floats(1.01, 3.0))
def test_lux_per_lumen_falls_with_distance(
    width: float, height: float, distance: float, exponent: float, times: float
) -> None:
    # Close by, a narrow beam leaves the face as it came, so that the two agree but for rounding.
    near = lux_per_lumen(width, height, distance, exponent)
    assert 0.0 < lux_per_lumen(width, height, times * distance, exponent) <= near * (1.0 + 1e-12)


def test_arguments_broadcast_and_agree_with_single_calls() -> None:
    widths = np.array([[0.3], [0.6]])
    exponents_ = np.array([1.0, 2.0, 4.8])
    together = lux_per_lumen(widths, 0.4, 1.5, exponents_, 0.1, -0.2)
    assert together.shape == (2, 3)
    for i, width in enumerate(widths.ravel()):
        for j, exponent in enumerate(exponents_):
            assert together[i, j] == lux_per_lumen(width, 0.4, 1.5, exponent, 0.1, -0.2)
    assert face_factor(widths, 0.4, [1.0, 2.0, 3.0]).shape == (2, 3)
    assert corner_factor(widths, [0.1, 0.2], 1.0).shape == (2, 2)


@pytest.mark.parametrize("distance", [0.0, -1.0])
def test_distance_must_be_above_0(distance: float) -> None:
    with pytest.raises(ValueError, match="distance must be more than 0"):
        corner_factor(1.0, 1.0, distance)
    with pytest.raises(ValueError, match="distance must be more than 0"):
        face_factor(1.0, 1.0, distance)
    with pytest.raises(ValueError, match="distance must be more than 0"):
        lux_per_lumen(1.0, 1.0, distance)


def test_sides_and_exponent_must_be_above_0() -> None:
    with pytest.raises(ValueError, match="width must be more than 0"):
        face_factor(0.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="height must be more than 0"):
        face_factor(1.0, -1.0, 1.0)
    with pytest.raises(ValueError, match="exponent must be more than 0"):
        lux_per_lumen(1.0, 1.0, 1.0, 0.0)


def test_the_lit_part_of_a_long_side_is_all_that_a_narrow_beam_sends_anything_from() -> None:
    for exponent, distance, foot in ((5000.0, 1.0, 2.0), (300.0, 0.5, -1.0)):
        low, high = lit_part(10.0, distance, exponent, foot)
        assert high - foot == pytest.approx(foot - low, rel=1e-12)
        # cos^m of the intensity, one more for the surface, and one for each side of the square of the distance.
        assert (distance / math.hypot(distance, high - foot)) ** (exponent + 2.0) == pytest.approx(1e-20, rel=1e-9)
    # Cut by the ends of the side, of which a wide beam has all, and empty beyond them.
    reach = lit_part(10.0, 1.0, 5000.0, 0.0)[1]
    assert lit_part(10.0, 1.0, 5000.0, 4.99) == pytest.approx((4.99 - reach, 5.0))
    assert lit_part(10.0, 1.0, 5000.0, -5.0) == pytest.approx((-5.0, -5.0 + reach))
    assert lit_part(10.0, 1.0, 1.0, 3.0) == (-5.0, 5.0)
    assert lit_part(10.0, 1.0, 5000.0, 7.0) == (0.0, 0.0)
    assert lit_part(10.0, 1.0, 5000.0, -7.0) == (0.0, 0.0)


def test_how_near_a_point_may_be_to_a_face() -> None:
    check_near(25.0, 1.0, 0.1)
    check_near(1.0, 25.0, 0.1)
    for sides in ((25.05, 1.0), (1.0, 25.05)):
        with pytest.raises(ValueError, match="250 times the distance"):
            check_near(*sides, 0.1)
