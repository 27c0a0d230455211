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
