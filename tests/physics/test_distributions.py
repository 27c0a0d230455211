"""Light of emitters and faces with a formula or a table: one as the other where they are the same. Invented tables."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from optimise.parts.photometry import Photometry
from optimise.physics.beams import beam_exponent, gridded, point_factors
from optimise.physics.distributions import (
    axis_intensity,
    back_share,
    bare_beam,
    emitter_factors,
    face_beam,
    face_lux,
    grid_lux,
    open_bounds,
    peak_intensity,
    share_behind,
    sheet_beam,
    sheet_peak,
)
from optimise.physics.faces import lux_per_lumen
from optimise.physics.places import grid_points

ANGLES = np.linspace(0.0, 90.0, 361)


def table_of(full_width: float) -> Photometry:
    m = float(beam_exponent(full_width))
    candela = np.maximum(np.cos(np.radians(ANGLES)), 0.0) ** m
    return Photometry("C", ANGLES, np.zeros(1), candela[None, :])


ELONGATED = Photometry("C", ANGLES, np.array([0.0, 90.0]), np.cos(np.radians(ANGLES)) ** np.array([[20.0], [1.0]]))
"""Narrow along the piece, wide across it."""


@pytest.mark.parametrize("full_width", [30.0, 60.0, 120.0])
def test_a_table_of_a_formula_lights_like_the_formula(full_width: float) -> None:
    table = table_of(full_width)
    by_table, formula = bare_beam(full_width, table), bare_beam(full_width, None)
    assert peak_intensity(by_table) == pytest.approx(peak_intensity(formula), rel=2e-4)
    for count, length in ((1, 0.0), (7, 0.0), (12, 0.1)):
        x, y, weights = grid_points(count, 4, 3, 0.6, 0.4, length)
        plain = float(np.mean(point_factors(x, y, 0.8, float(beam_exponent(full_width))) @ weights))
        assert grid_lux(by_table, count, 4, 3, 0.6, 0.4, 0.8, length) == pytest.approx(plain, rel=5e-4)
        assert grid_lux(formula, count, 4, 3, 0.6, 0.4, 0.8, length) == plain


def test_the_table_rules_over_the_width_that_is_stated_beside_it() -> None:
    assert peak_intensity(bare_beam(20.0, table_of(120.0))) == pytest.approx(1.0 / math.pi, rel=1e-4)


def test_pieces_that_stand_throw_their_light_the_other_way() -> None:
    beam = bare_beam(120.0, ELONGATED)
    side = np.array([0.5])
    along = emitter_factors(beam, side, np.zeros(1), 1.0, lying=True)
    assert along < 0.5 * emitter_factors(beam, side, np.zeros(1), 1.0, lying=False)
    np.testing.assert_allclose(along, emitter_factors(beam, np.zeros(1), side, 1.0, lying=False), rtol=1e-12)
    # What the point is off, the emitter is off the other way.
    np.testing.assert_allclose(along, emitter_factors(beam, np.zeros(1), np.zeros(1), 1.0, dx=-0.5), rtol=1e-12)
    # Of five in two rows, three and two, more lie far out along the row.
    assert grid_lux(beam, 6, 6, 1, 1.2, 0.2, 0.5) < 0.8 * grid_lux(beam, 6, 6, 1, 1.2, 0.2, 0.5, lying=False)


def test_a_measured_face_is_the_sum_over_its_points() -> None:
    beam = face_beam(120.0, ELONGATED, 40.0)
    width, height, distance = 0.9, 0.3, 0.6
    for lying in (True, False):
        x, y = ((np.arange(n) + 0.5) / n * side - side / 2.0 for n, side in ((600, width), (200, height)))
        expected = float(emitter_factors(beam, x[:, None], y[None, :], distance, lying).mean())
        assert face_lux(beam, width, height, distance, lying) == pytest.approx(expected, rel=1e-4)
    assert face_lux(beam, width, height, distance) < face_lux(beam, width, height, distance, lying=False)


def test_a_narrow_beam_from_a_wide_face_needs_many_patches() -> None:
    # By the law of inverse squares and cosines, at 360,000 points of the face.
    beam = bare_beam(8.0, table_of(8.0))
    width, height, distance = 2.0, 0.5, 0.4
    x, y = ((np.arange(n) + 0.5) / n * side - side / 2.0 for n, side in ((1200, width), (300, height)))
    expected = float(emitter_factors(beam, x[:, None], y[None, :], distance).mean())
    assert face_lux(beam, width, height, distance) == pytest.approx(expected, rel=2e-4)


def test_a_beam_that_leans_to_one_side_lights_that_side() -> None:
    # 4 cd along the piece (horizontal 0°), 2 cd across it, 1 cd against it, 3 cd across it the other way.
    candela = np.outer([4.0, 2.0, 1.0, 3.0, 4.0], [1.0, 1.0])
    beam = bare_beam(120.0, Photometry("C", np.array([0.0, 90.0]), np.arange(5) * 90.0, candela))
    none = np.zeros(1)

    def seen(dx: float, dy: float, lying: bool) -> float:
        here = emitter_factors(beam, none, none, 1.0, lying, dx, dy)
        # An emitter on the other side of the point is seen the same.
        away = emitter_factors(beam, np.array([-dx]), np.array([-dy]), 1.0, lying)
        np.testing.assert_allclose(here, away, rtol=1e-12)
        return float(here[0])

    lying = [seen(0.5, 0.0, True), seen(0.0, 0.5, True), seen(-0.5, 0.0, True), seen(0.0, -0.5, True)]
    assert np.array(lying) / lying[2] == pytest.approx([4.0, 2.0, 1.0, 3.0], rel=1e-9)
    # A piece that stands has been turned by a quarter: what went to the right goes up, what went up goes to the left.
    standing = [seen(0.0, 0.5, False), seen(-0.5, 0.0, False), seen(0.0, -0.5, False), seen(0.5, 0.0, False)]
    assert standing == pytest.approx(lying, rel=1e-12)


def test_a_lambertian_face_is_the_same_whatever_lights_it() -> None:
    assert face_beam(20.0, ELONGATED, None) == 1.0
    assert face_beam(20.0, None, None) == 1.0


@pytest.mark.parametrize("table", [None, table_of(45.0), ELONGATED])
def test_open_bounds_hold_for_every_number_of_emitters(table: Photometry | None) -> None:
    beam = bare_beam(45.0, table)
    least, greatest = open_bounds(beam, 0.6, 0.4, 0.5)
    for count in range(1, 13):
        for length in (0.0, 0.15):
            assert least <= grid_lux(beam, count, 4, 3, 0.6, 0.4, 0.5, length) <= greatest * (1 + 1e-12)


@pytest.mark.parametrize("table", [None, table_of(45.0), ELONGATED])
@pytest.mark.parametrize("spread", [6.0, 20.0, 100.0])
def test_a_face_never_gives_more_than_its_peak_from_its_middle(table: Photometry | None, spread: float) -> None:
    beam = face_beam(45.0, table, spread)
    assert face_lux(beam, 0.5, 0.4, 0.7) <= sheet_peak(45.0, table, spread) / 0.7**2


def test_open_bounds_of_a_formula_are_reached_in_a_corner_and_in_the_middle() -> None:
    x, y = np.meshgrid(np.linspace(-0.3, 0.3, 13), np.linspace(-0.2, 0.2, 9))
    for exponent in (0.5, 2.0):
        lux = point_factors(x, y, 0.7, exponent)
        assert open_bounds(exponent, 0.6, 0.4, 0.7) == pytest.approx((lux.min(), lux.max()), rel=1e-12)
        # A table of the same beam has cells of a quarter of a degree: its bounds are hardly wider.
        width = math.degrees(2.0 * math.acos(0.5 ** (1.0 / exponent)))
        by_table = open_bounds(bare_beam(120.0, table_of(width)), 0.6, 0.4, 0.7)
        assert by_table == pytest.approx((lux.min(), lux.max()), rel=0.02)


def test_a_grid_counts_where_both_of_its_figures_are_stated() -> None:
    beam, share = sheet_beam(60.0, None, None, 40.0, 0.8)
    assert (beam, share) == pytest.approx(tuple(map(float, gridded(1.0, 40.0, 0.8))), rel=1e-12)
    bound = sheet_peak(45.0, ELONGATED, 60.0)
    assert sheet_peak(45.0, ELONGATED, 60.0, 40.0, 0.8) == pytest.approx(0.8 * bound, rel=1e-12)
    for grid, ahead in ((40.0, None), (None, 0.8)):
        assert sheet_beam(60.0, None, None, grid, ahead) == (1.0, 1.0)
        assert sheet_peak(45.0, ELONGATED, 60.0, grid, ahead) == bound


def test_a_table_without_light_ahead_is_no_beam() -> None:
    dark = Photometry("C", np.array([0.0, 90.0, 135.0, 180.0]), np.zeros(1), np.array([[0.0, 0.0, 0.0, 1.0]]))
    with pytest.raises(ValueError, match="light ahead"):
        bare_beam(120.0, dark)
    # Half a degree past 90° is past it.
    hardly = Photometry("C", np.array([0.0, 90.0, 90.5]), np.zeros(1), np.array([[1.0, 1.0, 1.0]]))
    assert back_share(0.2, hardly) == pytest.approx(-math.cos(math.radians(90.5)), rel=0.02)


def test_share_behind() -> None:
    v = np.array([0.0, 90.0, 180.0])
    assert share_behind(Photometry("C", v, np.zeros(1), np.array([[1.0, 1.0, 1.0]]))) == pytest.approx(0.5)
    assert share_behind(table_of(60.0)) == 0.0


def test_what_goes_to_the_board_is_told_by_a_table_that_goes_so_far() -> None:
    v = np.array([0.0, 90.0, 180.0])
    both = Photometry("C", v, np.zeros(1), np.array([[1.0, 1.0, 1.0]]))
    assert back_share(0.2, both) == pytest.approx(0.5)
    assert back_share(None, both) == pytest.approx(0.5)
    ahead = Photometry("C", v, np.zeros(1), np.array([[1.0, 0.0, 0.0]]))
    assert back_share(0.2, ahead) == pytest.approx(0.0, abs=1e-15)
    assert back_share(0.2, table_of(60.0)) == 0.2
    assert back_share(0.2, None) == 0.2
    assert back_share(None, None) == 0.0
    # For each lumen that goes ahead the half-sphere of 1 cd has 1 / 2π.
    assert axis_intensity(bare_beam(120.0, both)) == pytest.approx(1.0 / (2.0 * math.pi))


@pytest.mark.parametrize("spread", [None, 20.0, 60.0])
@pytest.mark.parametrize("grid", [None, 30.0, 100.0])
def test_the_peak_before_a_sheet_and_its_grid_is_bounded(spread: float | None, grid: float | None) -> None:
    ahead = None if grid is None else 0.9
    for table in (None, ELONGATED, table_of(40.0)):
        beam, share = sheet_beam(45.0, table, spread, grid, ahead)
        assert share * peak_intensity(beam) <= sheet_peak(45.0, table, spread, grid, ahead) * (1.0 + 1e-12)
        assert share * axis_intensity(beam) <= share * peak_intensity(beam) * (1.0 + 1e-12)


@pytest.mark.parametrize("exponent", [1.0, 4.818842, 20.0])
def test_many_emitters_light_like_a_face(exponent: float) -> None:
    face = float(lux_per_lumen(0.6, 0.4, 0.7, exponent))
    error = [abs(grid_lux(exponent, n * n, n, n, 0.6, 0.4, 0.7) / face - 1.0) for n in (5, 15, 45)]
    # Midpoint rule: nine times better with three times as many a side.
    assert error[2] < 2e-4 * (exponent + 3.0)
    assert error[2] < error[1] / 7.0 < error[0] / 49.0


def test_one_emitter_stands_in_the_middle() -> None:
    middle = float(point_factors(0.0, 0.0, 1.2, 2.0))
    assert grid_lux(2.0, 1, 5, 5, 0.6, 0.6, 1.2) == pytest.approx(middle, rel=1e-12)


@pytest.mark.parametrize("lying", [True, False])
def test_long_emitters_are_lines_of_light(lying: bool) -> None:
    # A Lambertian line of length L on axis at d: the mean of (d² / (d² + x²))² / (π d²), by another quadrature.
    length, distance = 1.15, 1.8
    mean, _ = quad(lambda x: (distance**2 / (distance**2 + x * x)) ** 2, -length / 2, length / 2)
    expected = mean / length / (np.pi * distance**2)
    factor = grid_lux(1.0, 1, 3, 3, 1.2, 1.2, distance, length, lying)
    assert factor == pytest.approx(expected, rel=1e-6)
    assert factor < 0.95 * grid_lux(1.0, 1, 3, 3, 1.2, 1.2, distance)


def test_a_line_across_and_a_line_along_differ_off_the_middle() -> None:
    along = grid_lux(1.0, 2, 2, 1, 1.2, 0.3, 1.0, 0.5, lying=True)
    upright = grid_lux(1.0, 2, 2, 1, 1.2, 0.3, 1.0, 0.25, lying=False)
    point = grid_lux(1.0, 2, 2, 1, 1.2, 0.3, 1.0)
    assert along != pytest.approx(upright, rel=1e-3)
    assert upright < point


@pytest.mark.parametrize(("width", "height", "distance"), [(3.0, 0.2, 0.4), (0.2, 3.0, 0.4), (0.5, 0.4, 0.7)])
@pytest.mark.parametrize("full_width", [120.0, 10.0])
def test_a_long_face_of_a_table_of_a_formula_has_the_light_of_the_formula(
    width: float, height: float, distance: float, full_width: float
) -> None:
    angles = np.linspace(0.0, 90.0, 1801)
    m = float(beam_exponent(full_width))
    table = Photometry("C", angles, np.zeros(1), np.maximum(np.cos(np.radians(angles)), 0.0)[None, :] ** m)
    expected = float(lux_per_lumen(width, height, distance, m))
    assert face_lux(bare_beam(120.0, table), width, height, distance) == pytest.approx(expected, rel=2e-5)
