"""Whites: there and back, and what has no colour temperature; figures are held against sources in tests/published."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.whites import FARTHEST, locus, temperature_and_duv, temperature_lines, white


@settings(max_examples=40, deadline=None)
@given(cct=st.floats(1100.0, 20000.0), duv=st.floats(-0.02, 0.02))
def test_a_white_comes_back(cct: float, duv: float) -> None:
    found = temperature_and_duv(7.5 * white(cct, duv))
    assert found[0] == pytest.approx(cct, rel=1e-8)
    assert found[1] == pytest.approx(duv, abs=1e-9)


def test_many_at_once_and_none_among_them() -> None:
    lights = np.array([[white(3000.0), [1.0, 0.2, 0.1]], [white(900.0), white(5600.0, -0.01)]])
    found = temperature_and_duv(lights)
    assert found.shape == (2, 2, 2)
    assert np.isnan(found[0, 1]).all()  # too far from white
    assert np.isnan(found[1, 0]).all()  # too warm
    assert found[1, 1] == pytest.approx([5600.0, -0.01], rel=1e-7)


def test_a_line_tells_colder_from_warmer() -> None:
    line = temperature_lines(4000.0)
    assert line @ white(4001.0, 0.01) > 0.0 > line @ white(3999.0, 0.01)
    assert line @ white(4000.0, -0.02) == pytest.approx(0.0, abs=1e-12)


def test_what_is_refused() -> None:
    for duv in (FARTHEST * 1.01, -0.2, float("nan")):
        with pytest.raises(ValueError, match="too far"):
            white(3000.0, duv)
    for cct in (0.0, -5.0, 99.9, 1.1e6, float("nan")):
        with pytest.raises(ValueError, match=r"must be at least 100|must be at most 1e|must be finite"):
            locus(cct)
    with pytest.raises(ValueError, match="no light"):
        temperature_and_duv([0.0, 0.0, 0.0])


def test_colour_temperatures_are_looked_for_from_1000_k_to_25000_k() -> None:
    for kelvin in (1000.3, 24999.0):
        assert temperature_and_duv(white(kelvin))[0] == pytest.approx(kelvin, rel=1e-7)
    for kelvin in (999.7, 25000.5):
        assert np.isnan(temperature_and_duv(white(kelvin))).all()


def test_lights_of_any_strength_are_told_together_as_each_by_itself() -> None:
    asked = [(2000.0, 0.01), (2700.0, -0.02), (4000.0, 0.0), (6500.0, 0.03), (12000.0, -0.005), (20000.0, 0.002)]
    lights = np.stack(
        [white(*pair) * scale for pair, scale in zip(asked, (1e8, 1.0, 1e-8, 1e4, 1e-4, 1.0), strict=True)]
    )
    found = temperature_and_duv(lights)
    np.testing.assert_allclose(found, asked, rtol=1e-7, atol=1e-9)
    for light, told in zip(lights, found, strict=True):
        np.testing.assert_allclose(temperature_and_duv(light), told, rtol=1e-7, atol=1e-9)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_light_too_far_from_the_locus_has_no_temperature(side: float) -> None:
    near, far = white(4000.0, 0.0), white(4000.0, side * FARTHEST)
    np.testing.assert_allclose(temperature_and_duv(far), [4000.0, side * FARTHEST], rtol=1e-6)

    def uv(xyz: np.ndarray) -> np.ndarray:
        return np.array([4.0, 6.0]) * xyz[:2] / (xyz @ [1.0, 15.0, 3.0])

    for times in (1.001, 1.2):
        # On the same line of temperature, a thousandth and a fifth farther out.
        u, v = uv(near) + times * (uv(far) - uv(near))
        whole = 6.0 / v
        light = np.array([u * whole / 4.0, 1.0, (whole - u * whole / 4.0 - 15.0) / 3.0])
        assert np.isnan(temperature_and_duv(light)).all()
