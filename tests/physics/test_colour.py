"""Colour of light: shapes, limits and what is refused; figures are held against sources in tests/published."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.blue_light import blue_light_per_lumen, blue_light_weight
from optimise.physics.colour import (
    chromaticity,
    filtered_light,
    filtered_temperature,
    isotemperature,
    mired,
    planckian,
    share_for,
    tristimulus,
    uniform_chromaticity,
)

KELVIN = st.floats(1000.0, 20000.0)


@settings(max_examples=30, deadline=None)
@given(before=KELVIN, first=st.floats(-40.0, 300.0), second=st.floats(-5.0, 300.0))
def test_filters_add_and_undo_each_other(before: float, first: float, second: float) -> None:
    both = filtered_temperature(filtered_temperature(before, first), second)
    assert both == pytest.approx(float(filtered_temperature(before, first + second)), rel=1e-9)
    assert filtered_temperature(both, -first - second) == pytest.approx(before, rel=1e-6)
    if abs(first) > 1e-6:
        assert (filtered_temperature(before, first) < before) == (first > 0.0)


def test_filters_that_leave_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="leaves no"):
        filtered_temperature([5000.0, 20000.0], -60.0)
    for bad in (0.0, -3000.0, float("nan")):
        with pytest.raises(ValueError, match=r"must be more than 0|must be finite"):
            mired(bad)


def test_light_behind_a_filter_keeps_no_figure_but_one() -> None:
    light = {"cct": 5500.0, "duv": 0.001, "cri": 95.0}
    assert filtered_light(light, 0.0) is light
    assert filtered_light(light, 131.0) == {"cct": pytest.approx(3196.7, abs=0.1), "duv": None, "cri": None}
    assert filtered_light({**light, "cct": None}, 131.0)["cct"] is None
    assert filtered_light(light, -200.0)["cct"] is None


@settings(max_examples=30, deadline=None)
@given(x=st.floats(0.1, 0.6), y=st.floats(0.1, 0.35), flux=st.floats(0.1, 1e5))
def test_chromaticity_comes_back(x: float, y: float, flux: float) -> None:
    light = tristimulus(flux, x, y)
    assert light[1] == flux
    assert chromaticity(light) == pytest.approx([x, y], rel=1e-9)
    u, v = uniform_chromaticity(light)
    # CIE 15:2018, 9.5, from x and y.
    assert u == pytest.approx(4 * x / (-2 * x + 12 * y + 3), rel=1e-9)
    assert v == pytest.approx(6 * y / (-2 * x + 12 * y + 3), rel=1e-9)


def test_shapes_go_through() -> None:
    assert tristimulus([1.0, 2.0], 0.3, 0.3).shape == (2, 3)
    assert chromaticity(np.ones((4, 5, 3))).shape == (4, 5, 2)
    assert planckian(3000.0, [500.0, 560.0])[1] == 1.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: tristimulus(1.0, 0.3, 0.0),
        lambda: chromaticity([0.0, 0.0, 0.0]),
        lambda: uniform_chromaticity([0.0, 0.0, 0.0]),
        lambda: planckian(0.0, [500.0]),
        lambda: planckian(3000.0, [0.0]),
        lambda: isotemperature(3000.0, [500.0, 510.0], np.ones((3, 3))),
        lambda: isotemperature(1.0, [500.0], np.ones((1, 3))),
        lambda: share_for([1.0, 1.0, 1.0], [1.0, 1.0, 1.0], [1.0, 0.0, 0.0]),
        lambda: share_for([1.0, 0.0, 1.0], [1.0, 1.0, 1.0], [1.0, 0.0, 0.0]),
        lambda: blue_light_per_lumen([400.0, 500.0], [1.0, 1.0], [0.0, 0.0]),
        lambda: blue_light_per_lumen([400.0, 500.0], [1.0], [1.0, 1.0]),
    ],
)
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - each says why in its own words
        call()  # type: ignore[operator]


@settings(max_examples=30, deadline=None)
@given(share=st.floats(0.01, 0.99), first=st.floats(1.0, 1e4), second=st.floats(1.0, 1e4))
def test_share_is_found_on_any_line_through_the_mixture(share: float, first: float, second: float) -> None:
    warm, cold = tristimulus(first, 0.4578, 0.4101), tristimulus(second, 0.3123, 0.3282)
    mixed = (1 - share) * warm / first + share * cold / second
    line = np.cross(mixed, [0.2, 1.0, 0.1])  # any plane through the mixture that parts the two
    assert share_for(warm, cold, line) == pytest.approx(share, abs=1e-9)


def test_blue_light_is_weighted_without_gaps() -> None:
    waves = np.arange(290.0, 720.0, 0.5)
    weight = blue_light_weight(waves)
    assert weight.max() == 1.0
    assert ((weight == 0.0) == ((waves < 300.0) | (waves > 700.0))).all()
    for edge in (500.0, 600.0):
        assert blue_light_weight(edge - 1e-9) == pytest.approx(float(blue_light_weight(edge + 1e-9)), rel=1e-6)
    # One narrow line at 440 nm, of V = 0.023 (CIE 1924): 1 / (683.002 × 0.023) W/lm.
    line = blue_light_per_lumen([439.0, 440.0, 441.0], [0.0, 1.0, 0.0], [0.02, 0.023, 0.026])
    assert line == pytest.approx(1 / (683.002 * 0.023), rel=1e-9)


def test_one_light_that_cannot_be_among_others_is_refused() -> None:
    assert mired([0.5, 4000.0]).tolist() == [2e6, 250.0]
    assert filtered_temperature(4000.0, -249.5) == pytest.approx(2e6, rel=1e-12)
    for call in (
        lambda: mired([4000.0, 0.0]),
        lambda: filtered_temperature([4000.0, 3000.0], -250.0),
        lambda: tristimulus(1.0, 0.3, [0.3, 0.0]),
        lambda: chromaticity([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]]),
        lambda: uniform_chromaticity([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]]),
    ):
        with pytest.raises(ValueError, match=r"must be more than 0|no colour temperature|no light"):
            call()


def test_lights_in_a_row_keep_their_own_colour() -> None:
    lights = tristimulus([1.0, 3.0], [0.4578, 0.3123], [0.4101, 0.3282])
    assert chromaticity(lights) == pytest.approx(np.array([[0.4578, 0.4101], [0.3123, 0.3282]]), rel=1e-12)
    assert uniform_chromaticity(lights)[1] == pytest.approx(uniform_chromaticity(lights[1]), rel=1e-12)


def test_a_filter_that_leaves_no_reciprocal_temperature_leaves_none() -> None:
    # 10⁶/4000 K is 250 mired: one of −250 leaves nothing.
    assert filtered_light({"cct": 4000.0, "cri": 90.0}, -250.0) == {"cct": None, "cri": None}
    assert filtered_light({"cct": 4000.0}, -249.5)["cct"] == pytest.approx(2e6, rel=1e-9)


def test_a_share_is_found_where_the_lights_are_on_either_side_of_a_line() -> None:
    line = [1.0, 0.0, 0.0]  # what is told apart is X / Y alone
    assert share_for([-1.0, 1.0, 0.0], [3.0, 1.0, 0.0], line) == pytest.approx(0.25, rel=1e-12)
    # One that lies on the line is all of the mixture; both at once are any mixture, which is none.
    assert share_for([0.0, 1.0, 1.0], [3.0, 1.0, 1.0], line) == 0.0
    assert share_for([-1.0, 1.0, 1.0], [0.0, 1.0, 1.0], line) == 1.0
    for first, second in ((0.5, 0.25), (-0.5, -0.25), (2.0, 3.0), (0.0, 0.0), (1.0, 1.0)):
        with pytest.raises(ValueError, match="no mixture"):
            share_for([first, 1.0, 1.0], [second, 1.0, 1.0], line)
    for flux in (0.0, -1.0):
        with pytest.raises(ValueError, match="flux"):
            share_for([-1.0, 1.0, 1.0], [3.0, flux, 1.0], line)
    with pytest.raises(ValueError, match="at least 1"):
        planckian(4000.0, [0.0, 560.0])
