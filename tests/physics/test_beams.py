import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.beams import (
    axial_intensity,
    beam_exponent,
    gridded,
    point_factors,
    widened_beam,
)

# Few examples, for the whole run to stay short; no deadline, for a busy machine to pass too.
quick = settings(max_examples=40, deadline=None)

widths = st.floats(1.0, 179.0)


@quick
@given(widths)
def test_intensity_is_half_at_half_the_full_width(width: float) -> None:
    assert math.cos(math.radians(width / 2)) ** float(beam_exponent(width)) == pytest.approx(0.5, rel=1e-9)


@quick
@given(widths, st.floats(1.001, 1.5))
def test_wider_beam_has_smaller_exponent_and_less_on_axis(width: float, times: float) -> None:
    wider = min(width * times, 179.5)
    assert beam_exponent(wider) < beam_exponent(width)
    assert axial_intensity(100.0, beam_exponent(wider)) < axial_intensity(100.0, beam_exponent(width))


@pytest.mark.parametrize(("width", "text"), [(0.0, "at least 0.01"), (-5.0, "at least 0.01"), (180.0, "less than 180")])
def test_full_width_must_lie_between_0_and_180(width: float, text: str) -> None:
    with pytest.raises(ValueError, match=f"full_width must be {text}"):
        beam_exponent([60.0, width])


def test_intensity_is_proportional_to_flux() -> None:
    assert axial_intensity([0.0, 1.0, 2.0], 3.0) == pytest.approx(np.array([0.0, 2.0, 4.0]) / math.pi)
    assert axial_intensity([[1.0], [2.0]], [1.0, 2.0, 3.0]).shape == (2, 3)


def test_intensity_refuses_negative_flux_and_exponent_0() -> None:
    with pytest.raises(ValueError, match="flux must be at least 0"):
        axial_intensity(-1.0, 1.0)
    with pytest.raises(ValueError, match="exponent must be more than 0"):
        axial_intensity(1.0, 0.0)


@quick
@given(st.floats(1.0, 179.0), st.floats(0.1, 179.0))
def test_widened_beam_is_no_narrower_and_no_wider_than_lambertian(bare: float, spread: float) -> None:
    widened = widened_beam(bare, spread)
    assert bare <= widened <= max(bare, 120.0)
    assert widened >= min(spread, 120.0)


def test_widened_beam_adds_as_the_root_of_squares() -> None:
    assert widened_beam(30.0, 40.0) == pytest.approx(50.0, rel=1e-12)
    assert widened_beam(110.0, 100.0) == 120.0
    assert widened_beam(140.0, 100.0) == 140.0
    assert widened_beam([20.0, 30.0], [[10.0], [20.0], [60.0]]).shape == (3, 2)


def test_widened_beam_refuses_a_spread_of_0() -> None:
    with pytest.raises(ValueError, match="spread must be more than 0"):
        widened_beam(30.0, 0.0)


@quick
@given(st.floats(0.1, 50.0), st.floats(0.3, 60.0), st.floats(1.1, 5.0))
def test_point_follows_the_inverse_square_law_on_axis(distance: float, exponent: float, times: float) -> None:
    near = float(point_factors(0.0, 0.0, distance, exponent))
    assert near == pytest.approx(float(axial_intensity(1.0, exponent)) / distance**2, rel=1e-12)
    assert point_factors(0.0, 0.0, times * distance, exponent) == pytest.approx(near / times**2, rel=1e-12)


@quick
@given(st.floats(0.3, 60.0), st.floats(1.0, 80.0))
def test_point_off_axis_falls_by_the_beam_and_by_cos_cubed(exponent: float, angle: float) -> None:
    cosine = math.cos(math.radians(angle))
    on_axis = float(point_factors(0.0, 0.0, 2.0, exponent))
    off_axis = point_factors(0.0, 2.0 * math.tan(math.radians(angle)), 2.0, exponent)
    assert off_axis == pytest.approx(on_axis * cosine ** (exponent + 3.0), rel=1e-9)


@quick
@given(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0), st.floats(-1.0, 1.0), st.floats(-1.0, 1.0))
def test_only_the_offset_between_point_and_emitter_counts(x: float, y: float, dx: float, dy: float) -> None:
    moved = float(point_factors(x - dx, y - dy, 1.5, 2.0))
    assert point_factors(x, y, 1.5, 2.0, dx, dy) == pytest.approx(moved, rel=1e-12)


def test_points_broadcast_and_need_a_distance() -> None:
    assert point_factors(np.zeros(4), np.zeros(4), [[1.0], [2.0]], 1.0).shape == (2, 4)
    with pytest.raises(ValueError, match="distance must be more than 0"):
        point_factors(0.0, 0.0, 0.0, 1.0)
    with pytest.raises(ValueError, match="exponent must be more than 0"):
        point_factors(0.0, 0.0, 1.0, -1.0)


def test_a_grid_leaves_the_axis_but_for_its_walls_and_narrows_the_rest() -> None:
    exponent, share = gridded([1.0, 1.0, 50.0], [60.0, 119.999999, 60.0], 0.9)
    # cos^m of 30° is a half: m = ln 0.5 / ln cos 30°.
    assert exponent == pytest.approx([math.log(0.5) / math.log(math.cos(math.radians(30.0))), 1.0, 50.0], rel=1e-6)
    assert axial_intensity(share, exponent) == pytest.approx(0.9 * axial_intensity(1.0, [1.0, 1.0, 50.0]), rel=1e-12)
    assert (share <= 0.9).all()


@pytest.mark.parametrize(("figures", "name"), [((0.0, 60.0, 0.9), "exponent"), ((1.0, 180.0, 0.9), "full_width")])
def test_a_grid_that_cannot_be_is_refused(figures: tuple[float, float, float], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        gridded(*figures)
    with pytest.raises(ValueError, match="ahead must be at most 1"):
        gridded(1.0, 60.0, 1.1)
