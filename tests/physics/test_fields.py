"""Light at any point on a surface that faces any way: symmetry, limits, and how even it is."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.parts.photometry import Photometry
from optimise.physics.distributions import bare_beam, face_beam, face_lux, grid_lux
from optimise.physics.evenness import evenness_of, face_evenness, grid_evenness, subject_grid
from optimise.physics.faces import face_factor, lux_per_lumen
from optimise.physics.fields import FACING, face_field, facing, open_field, rectangle_factor
from optimise.physics.places import grid_points

sides = st.floats(0.05, 2.0)
angles = st.floats(-180.0, 180.0)
FAN = Photometry(
    "C",
    np.linspace(0.0, 90.0, 31),
    np.array([0.0, 90.0]),
    np.cos(np.radians(np.linspace(0.0, 90.0, 31))) ** np.array([[12.0], [1.0]]),
)


def test_normals() -> None:
    np.testing.assert_allclose(facing(), FACING, atol=1e-15)
    np.testing.assert_allclose(facing(90.0), [1.0, 0.0, 0.0], atol=1e-15)
    np.testing.assert_allclose(facing(0.0, 90.0), [0.0, 1.0, 0.0], atol=1e-15)
    assert facing(np.zeros(4), 30.0).shape == (4, 3)
    with pytest.raises(ValueError, match="bearing must be finite"):
        facing(math.inf)


@given(sides, sides, st.floats(0.05, 5.0), st.floats(-3.0, 3.0), st.floats(-3.0, 3.0))
def test_a_parallel_element_has_the_factor_of_four_corners(w: float, h: float, d: float, x: float, y: float) -> None:
    expected = float(face_factor(w, h, d, x, y))
    assert rectangle_factor(w, h, (x, y, d))[0] == pytest.approx(expected, rel=1e-9, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(sides, sides, st.floats(0.1, 3.0), st.floats(-2.0, 2.0), st.floats(-2.0, 2.0), angles, angles)
def test_closed_form_and_quadrature_meet_at_exponent_1(
    w: float, h: float, d: float, x: float, y: float, bearing: float, tilt: float
) -> None:
    normal = facing(bearing, tilt)
    closed = face_field(1.0, w, h, (x, y, d), normal)[0]
    summed = face_field(1.0 + 1e-13, w, h, (x, y, d), normal)[0]
    assert closed == pytest.approx(summed, rel=1e-7, abs=1e-10)


@given(angles, angles, st.floats(-1.0, 1.0), st.floats(-1.0, 1.0))
def test_the_two_sides_of_a_surface_add_up_to_a_vector(bearing: float, tilt: float, x: float, y: float) -> None:
    """The net flux through a surface is the light vector times its normal, whatever the horizon cuts off."""
    point = (x, y, 0.7)
    axes = np.array([[-1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]])
    there, back = rectangle_factor(0.6, 0.4, [point] * 3, axes), rectangle_factor(0.6, 0.4, [point] * 3, -axes)
    vector = there - back
    normal = facing(bearing, tilt)
    net = rectangle_factor(0.6, 0.4, point, normal)[0] - rectangle_factor(0.6, 0.4, point, -normal)[0]
    assert net == pytest.approx(float(vector @ -normal), abs=1e-12)


def test_a_surface_that_turns_its_back_is_dark() -> None:
    assert rectangle_factor(0.6, 0.4, (0.1, 0.1, 1.0), -FACING)[0] == pytest.approx(0.0, abs=1e-16)
    assert face_field(5.0, 0.6, 0.4, (0.1, 0.1, 1.0), facing(180.0))[0] == 0.0
    # Edge on, straight ahead of the middle, half of the panel is above the horizon.
    assert rectangle_factor(0.6, 0.4, (0.0, 0.0, 1.0), facing(90.0))[0] > 0.0
    assert rectangle_factor(0.6, 0.4, (0.5, 0.0, 1.0), facing(90.0))[0] == pytest.approx(0.0, abs=1e-16)


def test_far_away_only_the_angle_of_the_surface_counts() -> None:
    for bearing in (0.0, 40.0, 80.0):
        lux = face_field(3.0, 0.3, 0.3, (0.0, 0.0, 300.0), facing(bearing))[0]
        assert lux == pytest.approx(4.0 / (2.0 * math.pi) / 300.0**2 * math.cos(math.radians(bearing)), rel=1e-5)


def test_on_axis_the_field_is_what_the_target_is_counted_by() -> None:
    middle = (0.0, 0.0, 0.8)
    assert face_field(1.0, 0.6, 0.4, middle)[0] == pytest.approx(float(lux_per_lumen(0.6, 0.4, 0.8)), rel=1e-12)
    assert face_field(7.0, 0.6, 0.4, middle)[0] == pytest.approx(float(lux_per_lumen(0.6, 0.4, 0.8, 7.0)), rel=1e-9)
    x, y, weights = grid_points(5, 3, 2, 0.6, 0.4, 0.1)
    assert open_field(7.0, x, y, weights, middle)[0] == pytest.approx(grid_lux(7.0, 5, 3, 2, 0.6, 0.4, 0.8, 0.1))
    for lying in (True, False):
        fan, film = bare_beam(120.0, FAN), face_beam(120.0, FAN, 40.0)
        x, y, weights = grid_points(5, 3, 2, 0.6, 0.4, 0.1, lying)
        found = open_field(fan, x, y, weights, middle, lying=lying)[0]
        assert found == pytest.approx(grid_lux(fan, 5, 3, 2, 0.6, 0.4, 0.8, 0.1, lying), rel=1e-12)
        lux = face_lux(film, 0.6, 0.4, 0.8, lying)
        assert face_field(film, 0.6, 0.4, middle, lying=lying)[0] == pytest.approx(lux, rel=1e-4)


def test_points_must_stand_before_the_panel() -> None:
    for points in ((0.0, 0.0, 0.0), [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)]):
        with pytest.raises(ValueError, match="distance must be more than 0"):
            rectangle_factor(1.0, 1.0, points)
        with pytest.raises(ValueError, match="distance must be more than 0"):
            open_field(1.0, np.zeros((1, 1)), np.zeros((1, 1)), np.ones(1), points)
    with pytest.raises(ValueError, match="width must be more than 0"):
        face_field(2.0, 0.0, 1.0, (0.0, 0.0, 1.0))


# Evenness ------------------------------------------------------------------------------------------------


def test_the_grid_of_a_subject() -> None:
    points, weights, edge = subject_grid(2.0, 1.0, 3.0)
    assert points.shape == (81, 3)
    assert weights.sum() == pytest.approx(1.0)
    assert edge.sum() == 32
    np.testing.assert_array_equal(points[40], [0.0, 0.0, 3.0])
    assert np.abs(points[:, 0]).max() == 1.0
    # The trapezoid rule means a plane that slopes by its middle.
    assert float(weights @ (5.0 + points[:, 0] - 2.0 * points[:, 1])) == pytest.approx(5.0)
    for line in (subject_grid(2.0, 0.0, 3.0), subject_grid(0.0, 2.0, 3.0)):
        assert line[0].shape == (9, 3)
        assert line[2].sum() == 2
        np.testing.assert_array_equal(line[0][4], [0.0, 0.0, 3.0])


def test_figures_of_evenness_by_hand() -> None:
    points, weights, edge = subject_grid(1.0, 0.0, 2.0)
    found = evenness_of(np.array([50.0, 90, 90, 90, 100, 90, 90, 90, 80]), weights, edge)
    assert found.least == 50.0
    assert found.mean == pytest.approx((25.0 + 40.0 + 6 * 90.0 + 100.0) / 8.0)
    assert found.share == pytest.approx(50.0 / found.mean)
    assert found.edge == pytest.approx(1.0)
    brighter = evenness_of(np.where(edge, 400.0, 100.0), weights, edge)
    assert brighter.edge == pytest.approx(2.0)
    dark = evenness_of(np.where(edge, 0.0, 100.0), weights, edge)
    assert (dark.share, dark.edge) == (0.0, math.inf)
    nothing = evenness_of(np.zeros(len(points)), weights, edge)
    assert (nothing.share, nothing.edge) == (0.0, math.inf)


def test_a_small_far_source_falls_off_as_cos_to_the_fourth() -> None:
    # Lambertian, over a subject that spans 45° to its edge: cos⁴ 45° = 1/4, two stops.
    found = face_evenness(1.0, 0.01, 0.01, 1.0, True, (2.0, 0.0))
    assert found.edge == pytest.approx(2.0, abs=1e-3)
    assert face_evenness(1.0, 4.0, 4.0, 1.0, True, (2.0, 0.0)).edge < 0.5


def test_quarters_of_a_formula_are_alike_and_those_of_a_table_are_looked_at() -> None:
    whole = evenness_of(face_field(4.0, 0.7, 0.3, subject_grid(1.0, 0.6, 0.9)[0]), *subject_grid(1.0, 0.6, 0.9)[1:])
    quick = face_evenness(4.0, 0.7, 0.3, 0.9, True, (1.0, 0.6))
    assert (quick.share, quick.edge) == pytest.approx((whole.share, whole.edge), rel=1e-12)
    film = face_evenness(face_beam(120.0, FAN, 30.0), 0.3, 0.3, 1.0, True, (1.5, 0.0))
    turned = face_evenness(face_beam(120.0, FAN, 30.0), 0.3, 0.3, 1.0, False, (1.5, 0.0))
    assert film.share < 0.8 * turned.share


def test_evenness_of_an_open_board_hangs_on_the_number_of_emitters() -> None:
    found = [grid_evenness(12.0, n, 6, 1, 1.2, 0.1, 1.0, 0.0, True, (1.6, 0.0)) for n in (1, 2, 6)]
    assert found[0].share < found[1].share
    assert len({round(f.share, 6) for f in found}) == 3


def test_a_subject_without_size_is_as_even_as_can_be() -> None:
    for subject in ((0.0, 0.0), (0.0, 0.5)):
        points, weights, edge = subject_grid(*subject, 2.0)
        assert weights.sum() == pytest.approx(1.0, rel=1e-12)
        assert len(points) == (1 if subject == (0.0, 0.0) else 9)
        assert edge.sum() == (0 if len(points) == 1 else 2)
    point = face_evenness(1.0, 0.6, 0.4, 2.0, True, (0.0, 0.0))
    assert (point.share, point.edge) == (1.0, 0.0)


def test_darkness_has_no_share_and_no_end_of_stops() -> None:
    edge = np.array([True, False, True])
    weights = np.full(3, 1.0 / 3.0)
    dark = evenness_of(np.zeros(3), weights, edge)
    assert (dark.least, dark.mean, dark.share) == (0.0, 0.0, 0.0)
    assert dark.edge == math.inf
    assert evenness_of(np.array([0.0, 1.0, 1.0]), weights, edge).edge == math.inf
    # Half as bright on one side, a quarter more on the other: one stop is the greater difference.
    assert evenness_of(np.array([0.5, 1.0, 1.25]), weights, edge).edge == pytest.approx(1.0, rel=1e-12)
    assert evenness_of(np.array([1.0, 1.0, 0.25]), weights, edge).edge == pytest.approx(2.0, rel=1e-12)


@pytest.mark.parametrize(("bearing", "tilt"), [(70.0, 20.0), (-70.0, 20.0), (75.0, 5.0), (80.0, -10.0), (0.0, 75.0)])
@pytest.mark.parametrize("beam", [1.0 - 1e-12, 1.0 + 1e-12])
def test_the_quadrature_over_what_stands_above_a_horizon_is_the_closed_form(
    beam: float, bearing: float, tilt: float
) -> None:
    # The horizon of such a face cuts the panel: pieces without a bend are integrated to all digits.
    points, normal = np.array([[0.1, -0.05, 0.3]]), facing(bearing, tilt)
    closed = rectangle_factor(0.6, 0.4, points, normal) / (0.6 * 0.4)
    assert face_field(beam, 0.6, 0.4, points, normal) == pytest.approx(closed, rel=1e-10)


def test_a_measured_board_is_looked_at_on_both_sides() -> None:
    # Pieces that throw their light to the right alone: the left half of the subject is dark.
    candela = np.array([[1.0, 1.0], [1.0, 1.0], [0.0, 0.0], [0.0, 0.0], [1.0, 1.0]])
    beam = bare_beam(120.0, Photometry("C", np.array([0.0, 90.0]), np.array([0.0, 80.0, 100.0, 260.0, 360.0]), candela))
    found = grid_evenness(beam, 1, 1, 1, 0.1, 0.1, 1.0, 0.0, True, (1.0, 0.0))
    assert (found.least, found.edge) == (0.0, math.inf)
