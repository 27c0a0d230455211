"""Light of faces that are wide for their distance or turned, where it is known in closed form. Invented tables."""

import math

import numpy as np
import pytest

from optimise.parts.photometry import Photometry
from optimise.physics.faces import lux_per_lumen
from optimise.physics.fields import FACING, face_field, facing, open_field, rectangle_factor
from optimise.physics.intensity import MeasuredBeam, measured

LOPSIDED = measured(
    Photometry(
        "C",
        np.array([0.0, 30.0, 60.0, 90.0]),
        np.array([0.0, 90.0, 180.0, 270.0, 360.0]),
        np.array([[9.0, 5.0, 2.0, 0.0], [9.0, 8.0, 1.0, 0.0], [9.0, 3.0, 1.0, 0.0], [9.0, 9.0, 7.0, 0.0],
                  [9.0, 5.0, 2.0, 0.0]]),
    )
)  # fmt: skip


@pytest.mark.parametrize(("exponent", "side"), [(100.0, 5.0), (2000.0, 20.0)])
def test_before_a_wide_face_each_square_metre_gets_what_one_sends(exponent: float, side: float) -> None:
    # Before an endless plane E = M whatever the beam: ∫ I cos t / r² dA = ∫ I dΩ. Half of it at an edge, a quarter at a
    # corner; on a surface that is turned by β and has all of it above its horizon, cos β of it.
    inside = np.array([[0.3 * side, -0.25 * side, 0.1], [-0.2 * side, 0.1 * side, 0.1]])
    edges = np.array([[side / 2, 0.1, 0.1], [0.1, -side / 2, 0.1]])
    corner = np.array([[side / 2, -side / 2, 0.1]])
    for points, share in ((inside, 1.0), (edges, 0.5), (corner, 0.25)):
        found = face_field(exponent, side, side, points)
        assert found * side**2 == pytest.approx(share, rel=1e-9)
    for bearing, tilt in ((30.0, 0.0), (0.0, -30.0), (20.0, 20.0)):
        normal = facing(bearing, tilt)
        found = face_field(exponent, side, side, inside, normal)
        cosine = math.cos(math.radians(bearing)) * math.cos(math.radians(tilt))
        assert found * side**2 == pytest.approx(cosine, rel=1e-6)


@pytest.mark.parametrize(("width", "height"), [(4.0, 0.5), (0.5, 4.0), (0.6, 0.4)])
def test_a_strip_off_the_axis_against_the_other_way_to_integrate_it(width: float, height: float) -> None:
    for exponent in (2.0, 8.0):
        for x, y, z in ((0.0, 0.0, 0.2), (0.3, -0.2, 0.5), (-0.1, 0.4, 0.3)):
            expected = float(lux_per_lumen(width, height, z, exponent, x, y))
            assert face_field(exponent, width, height, [[x, y, z]])[0] == pytest.approx(expected, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("seed", range(8))
def test_a_beam_that_is_nearly_lambertian_against_the_closed_form_at_any_horizon(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = np.column_stack([rng.uniform(-1.0, 1.0, 6), rng.uniform(-1.0, 1.0, 6), rng.uniform(0.3, 1.5, 6)])
    normals = facing(rng.uniform(-150.0, 150.0, 6), rng.uniform(-80.0, 80.0, 6))
    width, height = rng.uniform(0.3, 2.0, 2).tolist()
    exact = rectangle_factor(width, height, points, normals) / (width * height)
    found = face_field(1.0 + 1e-12, width, height, points, normals)
    assert found == pytest.approx(exact, rel=1e-5, abs=1e-9)
    assert exact.max() > 0.01


def test_closed_form_holds_nearer_than_patches_do() -> None:
    at = np.array([[0.0, 0.0, 0.1]])
    assert face_field(1.0, 30.0, 30.0, at)[0] == pytest.approx(1.0 / 900.0, rel=1e-4)
    with pytest.raises(ValueError, match="times the distance"):
        face_field(2.0, 30.0, 30.0, at)


def test_a_slope_that_rounding_alone_tells_from_none_is_none() -> None:
    at = np.array([[0.1, 0.2, 1.0]])
    flat = face_field(2.0, 0.5, 0.4, at)
    for normal in ([1e-310, 0.0, -1.0], [0.0, 1e-310, -1.0], [-1e-17, 1e-17, -1.0]):
        assert face_field(2.0, 0.5, 0.4, at, normal) == pytest.approx(flat, rel=1e-12)


def test_pieces_that_stand_are_those_that_lie_a_quarter_turn_on() -> None:
    points = np.array([[0.4, 0.1, 0.8], [-0.3, 0.5, 0.6], [0.2, -0.6, 0.7]])
    turned = np.column_stack([points[:, 1], -points[:, 0], points[:, 2]])
    one = np.zeros((1, 1)), np.zeros((1, 1)), np.ones(1)
    standing = open_field(LOPSIDED, *one, points, lying=False)
    assert standing == pytest.approx(open_field(LOPSIDED, *one, turned), rel=1e-12)
    assert np.all(np.abs(standing / open_field(LOPSIDED, *one, points) - 1.0) > 0.01)
    # By hand: at 45° beside it, between 5 and 2 along the piece, over 1 m² squared once more.
    (along,) = open_field(LOPSIDED, *one, [[1.0, 0.0, 1.0]]) * LOPSIDED.flux
    assert along == pytest.approx(3.5 / 2.0 / math.sqrt(2.0))
    face = face_field(LOPSIDED, 0.5, 0.2, points, lying=False)
    assert face == pytest.approx(face_field(LOPSIDED, 0.2, 0.5, turned), rel=1e-6)
    # Lying is what is meant where nothing is said.
    lying = face_field(LOPSIDED, 0.5, 0.2, points, FACING, True)
    assert lying.tolist() == face_field(LOPSIDED, 0.5, 0.2, points).tolist()
    assert np.all(np.abs(face / lying - 1.0) > 0.01)


@pytest.mark.parametrize("beam", [0.0, -0.5])
def test_a_formula_needs_an_exponent(beam: float) -> None:
    assert not isinstance(beam, MeasuredBeam)
    with pytest.raises(ValueError, match="beam must be more than 0"):
        face_field(beam, 0.5, 0.5, [[0.0, 0.0, 1.0]])
    with pytest.raises(ValueError, match="beam must be more than 0"):
        open_field(beam, [[0.0]], [[0.0]], [1.0], [[0.0, 0.0, 1.0]])
