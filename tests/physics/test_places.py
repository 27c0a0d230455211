"""Emitters at their places: apart, inside, symmetric about the centre, in cells as near to square as fits."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.places import Grid, grid_of, grid_places, grid_points

quick = settings(max_examples=60, deadline=None)
sides = st.floats(0.05, 3.0)


@st.composite
def grids(draw: st.DrawFn) -> tuple[Grid, int, int, int, float, float]:
    columns_max, rows_max = draw(st.integers(1, 14)), draw(st.integers(1, 14))
    count = draw(st.integers(1, columns_max * rows_max))
    width, height = draw(sides), draw(sides)
    return grid_of(count, columns_max, rows_max, width, height), count, columns_max, rows_max, width, height


def pairs(x: np.ndarray, y: np.ndarray) -> set[tuple[float, float]]:
    return {(round(a, 9) + 0.0, round(b, 9) + 0.0) for a, b in zip(x.tolist(), y.tolist(), strict=True)}


@quick
@given(grids())
def test_all_are_apart_inside_the_rectangle_within_the_limits(
    drawn: tuple[Grid, int, int, int, float, float],
) -> None:
    grid, count, columns_max, rows_max, width, height = drawn
    x, y = grid_places(grid)
    assert x.shape == y.shape == (count,) == (grid.count,)
    assert grid.columns <= columns_max
    assert grid.rows <= rows_max
    # A cell of the fullest grid about each of them lies on the rectangle and on no other one's.
    assert np.abs(x).max() <= width / 2 - grid.pitch_x / 2 + 1e-9
    assert np.abs(y).max() <= height / 2 - grid.pitch_y / 2 + 1e-9
    assert grid.pitch_x >= width / columns_max * (1 - 1e-12)
    assert grid.pitch_y >= height / rows_max * (1 - 1e-12)
    near = (np.abs(x[:, None] - x) < grid.pitch_x - 1e-9) & (np.abs(y[:, None] - y) < grid.pitch_y - 1e-9)
    assert near.sum() == count


@quick
@given(grids())
def test_symmetric_wherever_a_grid_can_be(drawn: tuple[Grid, int, int, int, float, float]) -> None:
    grid, count, columns_max, rows_max, _, _ = drawn
    x, y = grid_places(grid)
    places = pairs(x, y)
    assert pairs(-x, y) == places
    mirrored = pairs(x, -y) == places
    assert mirrored == grid.symmetric

    def odd_lines(lines_max: int, most: int) -> bool:
        return any(math.ceil(count / lines) <= most for lines in range(1, lines_max + 1, 2))

    # An even number always has a symmetric grid; an odd one needs an odd number of lines, one way or the other.
    assert mirrored == (count % 2 == 0 or odd_lines(rows_max, columns_max) or odd_lines(columns_max, rows_max))


@quick
@given(grids())
def test_lines_differ_by_one_at_most_and_stand_between_their_neighbours(
    drawn: tuple[Grid, int, int, int, float, float],
) -> None:
    grid, count, *_ = drawn
    assert sum(grid.lines) == count
    assert max(grid.lines) - min(grid.lines) <= 1
    x, y = grid_places(grid)
    along, across = (y, x) if grid.upright else (x, y)
    pitch = grid.pitch_y if grid.upright else grid.pitch_x
    for line, number in zip(np.unique(np.round(across, 9)), grid.lines, strict=True):
        those = along[np.abs(across - line) < 1e-8]
        assert len(those) == number
        assert np.diff(those) == pytest.approx(pitch, rel=1e-9)
        assert those.sum() == pytest.approx(0.0, abs=1e-9)


def test_known_numbers() -> None:
    # The five of a die, and seven as two, three and two.
    five, seven = grid_of(5, 9, 9, 0.3, 0.3), grid_of(7, 9, 9, 0.3, 0.3)
    assert (five.lines, seven.lines) == ((2, 1, 2), (2, 3, 2))
    assert pairs(*grid_places(five)) == {(-0.075, -0.1), (0.075, -0.1), (0.0, 0.0), (-0.075, 0.1), (0.075, 0.1)}
    # Five on two rows: the middle column holds one.
    flat = grid_of(5, 3, 2, 0.3, 0.2)
    assert flat.upright
    assert pairs(*grid_places(flat)) == {(-0.1, -0.05), (-0.1, 0.05), (0.0, 0.0), (0.1, -0.05), (0.1, 0.05)}
    # Three on two by two has no symmetric place: two below, one above them.
    three = grid_of(3, 2, 2, 0.2, 0.2)
    assert not three.symmetric
    assert pairs(*grid_places(three)) == {(-0.05, -0.05), (0.05, -0.05), (0.0, 0.05)}


def test_cells_are_as_near_to_square_as_fits() -> None:
    assert (grid_of(16, 16, 16, 0.5, 0.5).columns, grid_of(16, 16, 16, 0.5, 0.5).rows) == (4, 4)
    assert grid_of(8, 16, 16, 0.8, 0.4).columns == 4
    assert grid_of(8, 16, 16, 0.4, 0.8).columns == 2
    # Limits overrule: three rows at most.
    assert grid_of(16, 16, 3, 0.5, 0.5).lines == (5, 6, 5)


@pytest.mark.parametrize("count", [0, 13, -1])
def test_what_does_not_fit_is_refused(count: int) -> None:
    with pytest.raises(ValueError, match="the grid cannot hold that many emitters"):
        grid_of(count, 4, 3, 1.0, 1.0)


@pytest.mark.parametrize("lying", [True, False])
def test_long_emitters_are_lines_about_their_places(lying: bool) -> None:
    x, y, weights = grid_points(6, 3, 2, 0.6, 0.4, 0.1, lying)
    u, v = grid_places(grid_of(6, 3, 2, 0.6, 0.4))
    assert weights.sum() == pytest.approx(1.0, rel=1e-12)
    assert x @ weights == pytest.approx(u, abs=1e-12)
    assert y @ weights == pytest.approx(v, abs=1e-12)
    assert (np.ptp(x, axis=1) > 0.08).all() == lying
    assert (np.ptp(y, axis=1) > 0.08).all() != lying


def test_lines_that_hold_one_less_are_spread_evenly_and_else_at_the_top() -> None:
    assert grid_of(25, 4, 7, 0.4, 0.7).lines == (4, 3, 4, 3, 4, 3, 4)
    assert grid_of(27, 4, 7, 0.4, 0.7).lines == (4, 4, 4, 3, 4, 4, 4)
    assert grid_of(15, 4, 4, 0.4, 0.4).lines == (4, 4, 4, 3)


@pytest.mark.parametrize("size", [(0.3, 0.2), (0.2, 0.3)])
def test_every_grid_is_the_same_to_the_left_and_to_the_right(size: tuple[float, float]) -> None:
    for columns in range(1, 6):
        for rows in range(1, 6):
            for count in range(1, columns * rows + 1):
                x, y = grid_places(grid_of(count, columns, rows, *size))
                here = sorted(zip(x.round(9) + 0.0, y.round(9) + 0.0, strict=True))
                assert here == sorted(zip((-x).round(9) + 0.0, y.round(9) + 0.0, strict=True)), (columns, rows, count)


def test_a_length_below_0_is_none() -> None:
    with pytest.raises(ValueError, match="length must be at least 0"):
        grid_points(3, 3, 1, 0.3, 0.3, -0.1)
