"""Dots on a diffuser: against plain sums and quadrature over real boards, and what must hold of any grid."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from optimise.parts.photometry import Photometry
from optimise.physics.beams import point_factors
from optimise.physics.distributions import bare_beam
from optimise.physics.dots import depth_for, dot_ripple, grid_light, measured_light, sheet_exponent

quick = settings(max_examples=30, deadline=None)


@pytest.mark.parametrize(
    ("across", "up", "depth", "exponent"),
    [(0.03, 0.03, 0.02, 4.8), (0.04, 0.025, 0.03, 2.0), (0.03, 0.02, 0.002, 1.0), (0.05, 0.05, 0.03, 60.0)],
)
def test_against_a_plain_sum_over_many_emitters(across: float, up: float, depth: float, exponent: float) -> None:
    x, y = np.meshgrid(np.arange(-200, 201) * across, np.arange(-200, 201) * up)
    for place in ((0.0, 0.0), (across / 2, up / 2), (across * 0.3, up * 0.1)):
        plain = float(point_factors(x, y, depth, exponent, *place).sum()) * across * up
        found = float(grid_light(np.array(place[0]), np.array(place[1]), across, up, depth, exponent))
        assert found == pytest.approx(plain, rel=2e-5)


@pytest.mark.parametrize(("exponent", "lying"), [(1.0, True), (3.0, False)])
def test_the_middle_of_a_real_board_against_adaptive_quadrature(exponent: float, lying: bool) -> None:
    # 41 × 41 lines of light of two thirds of their pitch, each integrated by itself, seen in the middle of the board.
    pitch, depth = np.array([0.06, 0.04]), 0.03
    length = 2.0 / 3.0 * (pitch[0] if lying else pitch[1])

    def of_one(u: float, v: float) -> float:
        def element(along: float) -> float:
            a, b = (u - along, v) if lying else (u, v - along)
            square = a * a + b * b + depth * depth
            return (depth / math.sqrt(square)) ** (exponent + 1.0) / square

        return quad(element, -length / 2, length / 2)[0] / length

    def light(x: float, y: float) -> float:
        # The board is the same in all four quarters about an emitter, and about a gap all but for its edge.
        return sum(of_one(x - i * pitch[0], y - j * pitch[1]) for i in range(-20, 21) for j in range(-20, 21))

    most, least = light(0.0, 0.0), light(pitch[0] / 2, pitch[1] / 2)
    ripple = dot_ripple(exponent, *pitch.tolist(), depth, None, length, lying)
    # The board ends 0.8 m away: what is missing from there is less than (depth / 0.8 m)² of the light.
    assert ripple == pytest.approx((most - least) / (most + least), rel=5e-3)


@quick
@given(
    st.floats(0.02, 0.2),
    st.floats(0.02, 0.2),
    st.floats(0.01, 0.2),
    st.floats(0.3, 30.0),
    st.floats(0.0, 1.0),
    st.booleans(),
)
def test_no_place_is_brighter_than_below_an_emitter_or_darker_than_between_four(
    across: float, up: float, depth: float, exponent: float, share: float, lying: bool
) -> None:
    length = share * (across if lying else up)
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, 13) * across, np.linspace(-0.5, 0.5, 13) * up)
    light = grid_light(x, y, across, up, depth, exponent, *((length, 0.0) if lying else (0.0, length)))
    ripple = dot_ripple(exponent, across, up, depth, None, length, lying)
    assert (light.max() - light.min()) / (light.max() + light.min()) == pytest.approx(ripple, rel=1e-9, abs=1e-12)


@quick
@given(
    st.floats(0.02, 0.2),
    st.floats(0.02, 0.2),
    st.floats(0.01, 0.2),
    st.floats(0.3, 30.0),
    st.floats(0.0, 1.0),
    st.floats(1.0, 2.0),
    st.booleans(),
)
def test_a_wider_pitch_never_shows_less(
    across: float, up: float, depth: float, exponent: float, share: float, times: float, lying: bool
) -> None:
    length = share * (across if lying else up)
    narrow = dot_ripple(exponent, across, up, depth, None, length, lying)
    for pitch in ((across * times, up), (across, up * times)):
        assert dot_ripple(exponent, *pitch, depth, None, length, lying) >= narrow * (1 - 1e-9) - 1e-12


@pytest.mark.parametrize("exponent", [0.5, 1.0, 4.8])
@pytest.mark.parametrize("depth", [0.015, 0.03, 0.06])
def test_the_mean_is_the_flux_over_the_area(depth: float, exponent: float) -> None:
    x, y = np.meshgrid((np.arange(20) + 0.5) / 20 * 0.03, (np.arange(20) + 0.5) / 20 * 0.02)
    assert grid_light(x, y, 0.03, 0.02, depth, exponent).mean() == pytest.approx(1.0, rel=1e-9)


def test_deeper_boxes_wider_beams_and_longer_pieces_show_less() -> None:
    ripples = [dot_ripple(1.0, 0.03, 0.03, depth) for depth in (0.0, 0.001, 0.01, 0.02, 0.04)]
    assert ripples == sorted(ripples, reverse=True)
    assert ripples[0] > 0.999
    assert dot_ripple(4.8, 0.03, 0.03, 0.03) > dot_ripple(1.0, 0.03, 0.03, 0.03)
    assert dot_ripple(1.0, 0.3, 0.3, 0.2) == pytest.approx(dot_ripple(1.0, 0.03, 0.03, 0.02), rel=1e-9)
    lengths = [dot_ripple(1.0, 0.03, 0.01, 0.01, None, length) for length in (0.0, 0.01, 0.02, 0.03)]
    assert lengths == sorted(lengths, reverse=True)
    # Pieces end to end are lines without an end: what ripples is across them alone.
    endless = [dot_ripple(1.0, pitch, 0.02, 0.01, None, pitch) for pitch in (0.03, 0.3)]
    assert endless[0] == pytest.approx(endless[1], rel=1e-9)
    assert dot_ripple(1.0, 0.02, 0.03, 0.01, None, 0.03, lying=False) == pytest.approx(endless[0], rel=1e-9)


def test_a_sheet_that_hardly_spreads_shows_more() -> None:
    assert sheet_exponent(None) == 0.0
    assert sheet_exponent(120.0) == pytest.approx(0.0, abs=1e-12)
    ripples = [dot_ripple(1.0, 0.03, 0.03, 0.03, spread) for spread in (None, 100.0, 60.0, 20.0)]
    assert ripples == sorted(ripples)
    # A spread of 90° scatters as cos², so it looks cos as bright: one more for the exponent.
    assert dot_ripple(1.0, 0.03, 0.03, 0.03, 90.0) == pytest.approx(dot_ripple(2.0, 0.03, 0.03, 0.03), rel=1e-9)


FAN = Photometry(
    "C",
    np.linspace(0.0, 90.0, 91),
    np.array([0.0, 90.0]),
    np.cos(np.radians(np.linspace(0.0, 90.0, 91))) ** np.array([[6.0], [1.0]]),
)
ROUND = Photometry(
    "C", np.linspace(0.0, 90.0, 181), np.array([0.0]), np.cos(np.linspace(0.0, np.pi / 2, 181))[None] ** 2
)


@pytest.mark.parametrize("lying", [True, False])
@pytest.mark.parametrize(("spread", "length"), [(None, 0.0), (60.0, 0.0), (None, 0.02)])
def test_a_table_of_a_formula_gives_what_the_formula_does(spread: float | None, length: float, lying: bool) -> None:
    beam = bare_beam(120.0, ROUND)
    for pitch in ((0.03, 0.03), (0.05, 0.03)):
        by_formula = dot_ripple(2.0, *pitch, 0.02, spread, length, lying)
        assert dot_ripple(beam, *pitch, 0.02, spread, length, lying) == pytest.approx(by_formula, rel=2e-4)


def test_a_lopsided_table_turns_with_its_piece() -> None:
    beam = bare_beam(120.0, FAN)
    assert beam != bare_beam(120.0, ROUND)
    light = measured_light(beam, 0.04, 0.03, 0.03)  # type: ignore[arg-type]
    turned = measured_light(beam, 0.03, 0.04, 0.03, lying=False)  # type: ignore[arg-type]
    assert light.mean() == pytest.approx(1.0, rel=1e-12)
    assert turned == pytest.approx(light.T[(-np.arange(16)) % 16], rel=1e-6)
    # Against a plain sum of single lights at two places.
    x, y = (steps.ravel() for steps in np.meshgrid(np.arange(-60, 61) * 0.04, np.arange(-60, 61) * 0.03))

    def plain(u: float, v: float) -> float:
        square = (u - x) ** 2 + (v - y) ** 2 + 0.03**2
        return float((beam.towards(u - x, v - y, 0.03 + 0.0 * x) * 0.03 / square**1.5).sum())  # type: ignore[union-attr]

    assert light[0, 0] / light[8, 8] == pytest.approx(plain(0.0, 0.0) / plain(0.02, 0.015), rel=2e-3)
    assert light[4, 0] / light[8, 8] == pytest.approx(plain(0.01, 0.0) / plain(0.02, 0.015), rel=2e-3)


@pytest.mark.parametrize(("depth", "exponent"), [(0.1, 1.0), (0.2, 1.0), (0.1, 2.0)])
def test_a_table_of_a_formula_gives_all_of_its_cell(depth: float, exponent: float) -> None:
    angles = np.arange(0.0, 90.5, 0.5)
    table = Photometry("C", angles, np.zeros(1), np.cos(np.radians(angles))[None, :] ** exponent)
    for pitch in ((0.2, 0.35), (0.35, 0.2)):
        light = measured_light(bare_beam(120.0, table), *pitch, depth)  # type: ignore[arg-type]
        x, y = np.meshgrid(np.arange(16) / 16 * pitch[0], np.arange(16) / 16 * pitch[1], indexing="ij")
        formula = grid_light(x, y, *pitch, depth, exponent)
        # What is left of it is that of straight lines between angles of half a degree.
        assert light == pytest.approx(formula / formula.mean(), abs=1e-4)


LOPSIDED = Photometry(
    "C",
    np.array([0.0, 30.0, 55.0, 60.0, 90.0]),
    np.array([0.0, 90.0, 180.0, 270.0, 360.0]),
    np.array([[9.0, 5.0, 2.0, 0.0, 0.0], [9.0, 8.0, 1.0, 0.0, 0.0], [9.0, 3.0, 1.0, 0.0, 0.0],
              [9.0, 9.0, 7.0, 0.0, 0.0], [9.0, 5.0, 2.0, 0.0, 0.0]]),
)  # fmt: skip
"""Different on all four sides, and dark from 60° on."""


@pytest.mark.parametrize("lying", [True, False])
@pytest.mark.parametrize(("pitch", "depth"), [((0.04, 0.03), 0.03), ((0.03, 0.05), 0.06)])
def test_a_table_that_ends_by_a_plain_sum_over_all_that_reach_a_place(
    pitch: tuple[float, float], depth: float, lying: bool
) -> None:
    beam = bare_beam(120.0, LOPSIDED)
    light = measured_light(beam, *pitch, depth, 1.0, 0.0, lying)  # type: ignore[arg-type]
    plain = np.zeros((16, 16))
    steps = (np.arange(16) / 16 * side for side in pitch)
    u, v = np.meshgrid(*steps, indexing="ij")
    # At 60° it has gone 1.73 times the depth aside.
    for column in range(-5, 6):
        for row in range(-5, 6):
            across, up = u - column * pitch[0], v - row * pitch[1]
            square = across**2 + up**2 + depth**2
            towards = (across, up) if lying else (up, -across)
            plain += beam.towards(*towards, depth + 0.0 * u) * depth**2 / square**2  # type: ignore[union-attr]
    assert light == pytest.approx(plain / plain.mean(), abs=1e-9)


@pytest.mark.parametrize("scale", [0.01, 100.0])
def test_a_grid_looks_the_same_at_every_scale(scale: float) -> None:
    beam = bare_beam(120.0, FAN)
    light = measured_light(beam, 0.04, 0.03, 0.03, 1.0, 0.02)  # type: ignore[arg-type]
    scaled = measured_light(beam, *(scale * m for m in (0.04, 0.03, 0.03)), 1.0, 0.02 * scale)  # type: ignore[arg-type]
    assert scaled == pytest.approx(light, rel=1e-9)


def test_the_depth_for_a_ripple_has_it() -> None:
    depth = depth_for(0.03, 0.04, 0.1)
    assert dot_ripple(1.0, 0.03, 0.04, depth) == pytest.approx(0.1, rel=1e-3)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: dot_ripple(1.0, 0.0, 0.03, 0.02), "pitch_x"),
        (lambda: dot_ripple(1.0, 0.03, -1.0, 0.02), "pitch_y"),
        (lambda: dot_ripple(1.0, 0.03, 0.03, -0.01), "depth"),
        (lambda: dot_ripple(-1.0, 0.03, 0.03, 0.02), "exponent"),
        (lambda: dot_ripple(1.0, 0.03, 0.03, 0.02, 180.0), "full_width"),
        (lambda: dot_ripple(1.0, 0.03, 0.03, 0.02, None, -0.01), "length_x"),
        (lambda: dot_ripple(1.0, 0.03, 0.03, 0.02, None, 0.04, lying=False), "length_y must be at most the pitch"),
        (lambda: depth_for(0.03, 0.03, 0.0), "ripple"),
        (lambda: depth_for(0.03, 0.03, 1.0), "ripple"),
        (lambda: grid_light(np.zeros(1), np.zeros(1), 0.03, 0.03, 0.0, 1.0), "depth"),
    ],
)
def test_what_cannot_be_is_refused(call: object, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]


@pytest.mark.parametrize("scale", [0.01, 100.0])
def test_a_grid_by_formula_looks_the_same_at_every_scale(scale: float) -> None:
    x, y = np.array([0.0, 0.02, 0.01]), np.array([0.0, 0.015, 0.003])
    light = grid_light(x, y, 0.04, 0.03, 0.02, 2.0, 0.01)
    scaled = grid_light(scale * x, scale * y, *(scale * m for m in (0.04, 0.03, 0.02)), 2.0, 0.01 * scale)
    assert scaled == pytest.approx(light, rel=1e-9)
