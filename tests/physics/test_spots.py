"""Single faces before a panel: their order, their bounds, and nothing for nothing."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.parts.photometry import Photometry
from optimise.physics.beams import axial_intensity
from optimise.physics.distributions import Beam
from optimise.physics.fields import face_field, facing, open_field
from optimise.physics.intensity import measured
from optimise.physics.spots import Spot, face_spots, grid_spots, spot_bounds

FAN = Photometry(
    "C",
    np.linspace(0.0, 90.0, 31),
    np.array([0.0, 90.0]),
    np.cos(np.radians(np.linspace(0.0, 90.0, 31))) ** np.array([[12.0], [1.0]]),
)
BEAMS: list[Beam] = [0.6, 1.0, 5.0, 45.0, measured(FAN)]
SPOTS: tuple[Spot, ...] = ((0.0, 0.0, 1.0, 0.0, 0.0), (0.5, -0.3, 0.7, 20.0, 0.0), (-2.0, 0.4, 1.5, 70.0, -30.0))
spots = st.tuples(
    st.floats(-3.0, 3.0), st.floats(-3.0, 3.0), st.floats(0.05, 3.0), st.floats(-180.0, 180.0), st.floats(-90.0, 90.0)
)


@pytest.mark.parametrize("beam", BEAMS)
def test_spots_are_those_of_the_field_one_by_one(beam: Beam) -> None:
    for (*place, bearing, tilt), lux in zip(SPOTS, face_spots(beam, 0.6, 0.4, True, SPOTS), strict=True):
        assert lux == face_field(beam, 0.6, 0.4, place, facing(bearing, tilt), True)[0]
    assert face_spots(beam, 0.6, 0.4, True, ()) == ()
    assert grid_spots(beam, 3, 4, 2, 0.6, 0.4, 0.1, True, ()) == ()


@settings(max_examples=50, deadline=None)
@given(
    st.sampled_from(BEAMS),
    st.integers(1, 12),
    st.floats(0.05, 2.0),
    st.floats(0.05, 2.0),
    st.lists(spots, min_size=1, max_size=3),
)
def test_emitters_anywhere_give_no_less_and_no_more_than_the_bounds(
    beam: Beam, count: int, width: float, height: float, asked: list[Spot]
) -> None:
    found = np.array(grid_spots(beam, count, 4, 3, width, height, width / 4.0, True, tuple(asked)))
    least, most = spot_bounds(beam, width, height, asked).T
    assert np.all(least <= found * (1 + 1e-12) + 1e-300)
    assert np.all(found <= most * (1 + 1e-12))
    corners = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2.0
    for (*place, bearing, tilt), low, high in zip(asked, least, most, strict=True):
        for x, y in corners:
            one = open_field(beam, [x], [y], [1.0], place, facing(bearing, tilt))[0]
            assert low <= one * (1 + 1e-12) + 1e-300
            assert one <= high * (1 + 1e-12)


@settings(max_examples=25, deadline=None)
@given(st.sampled_from([0.6, 1.0, 5.0, 45.0]), st.floats(0.05, 2.0), st.floats(0.05, 2.0), spots)
def test_a_face_gives_no_more_than_its_peak_from_anywhere_on_it(
    beam: float, width: float, height: float, asked: Spot
) -> None:
    peak = float(axial_intensity(1.0, beam))
    (found,) = face_spots(beam, width, height, True, (asked,))
    assert found <= peak * spot_bounds(None, width, height, [asked])[0, 1] * (1 + 1e-9)


def test_bounds_of_a_small_panel_meet() -> None:
    for beam in (0.6, 1.0, 5.0):
        least, most = spot_bounds(beam, 1e-6, 1e-6, SPOTS[:2]).T
        np.testing.assert_allclose(least, most, rtol=1e-4)


def test_bounds_on_a_spot_by_hand() -> None:
    # Straight ahead of 0.6 m by 0.4 m at 2 m: the middle is nearest, a corner farthest; 1/π cd/lm, by cos⁴ over 2 m².
    far = math.sqrt(0.3**2 + 0.2**2 + 4.0)
    ((least, most),) = spot_bounds(1.0, 0.6, 0.4, [(0.0, 0.0, 2.0, 0.0, 0.0)])
    assert (least, most) == pytest.approx(((2.0 / far) ** 4 / 4.0 / math.pi, 1.0 / 4.0 / math.pi), rel=1e-9)
    # A metre aside: 0.7 m from the nearer edge.
    near = math.sqrt(0.7**2 + 4.0)
    ((_, most),) = spot_bounds(1.0, 0.6, 0.4, [(1.0, 0.0, 2.0, 0.0, 0.0)])
    assert most == pytest.approx((2.0 / near) * (2.0 / near) / near**2 / math.pi, rel=1e-9)
    # Of a table by its peak, of none by 1 cd; a face that looks along the board has no more than all of it.
    beam = measured(Photometry("C", np.array([0.0, 90.0]), np.zeros(1), np.array([[3.0, 1.0]])))
    for of, peak in ((beam, beam.peak), (None, 1.0)):
        assert spot_bounds(of, 0.6, 0.4, [(0.0, 0.0, 2.0, 0.0, 0.0)])[0].tolist() == pytest.approx([0.0, peak / 4.0])
        ((_, most),) = spot_bounds(of, 2.0, 2.0, [(0.0, 0.0, 0.1, 80.0, 0.0)])
        assert most == pytest.approx(100.0 * peak, rel=1e-9)
