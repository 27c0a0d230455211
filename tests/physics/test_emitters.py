import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.emitters import (
    forward_voltage,
    junction_temperature,
    relative_flux,
    temperature_factor,
)

# Few examples, for the whole run to stay short; no deadline, for a busy machine to pass too.
quick = settings(max_examples=40, deadline=None)


@quick
@given(st.floats(0.0, 1.5), st.floats(0.0, 1.5), st.floats(0.0, 0.499))
def test_flux_rises_with_drive_up_to_one_and_a_half(one: float, other: float, droop: float) -> None:
    low, high = sorted((one, other))
    assert relative_flux(low, droop) <= relative_flux(high, droop)


@quick
@given(st.floats(0.001, 0.999), st.floats(0.001, 0.499))
def test_underdriven_emitter_is_more_efficient(drive: float, droop: float) -> None:
    assert drive < relative_flux(drive, droop) < drive * (1.0 + droop)


@quick
@given(st.floats(0.0, 0.499))
def test_rated_drive_gives_rated_flux(droop: float) -> None:
    assert relative_flux(1.0, droop) == 1.0
    assert relative_flux(0.0, droop) == 0.0
    assert relative_flux(1e-9, droop) / 1e-9 == pytest.approx(1.0 + droop, rel=1e-8)


def test_flux_broadcasts_and_refuses_negative_values() -> None:
    assert relative_flux([[0.5], [1.0]], [0.0, 0.1, 0.2]).shape == (2, 3)
    with pytest.raises(ValueError, match="drive must be at least 0"):
        relative_flux(-0.1, 0.1)
    with pytest.raises(ValueError, match="droop must be at least 0"):
        relative_flux(0.5, -0.1)


def test_temperature_factor_is_1_at_25_degrees_and_never_negative() -> None:
    assert temperature_factor([25.0, 75.0, 525.0, 900.0], -0.002) == pytest.approx([1.0, 0.9, 0.0, 0.0])
    assert temperature_factor(-25.0, -0.002) == pytest.approx(1.1)


@quick
@given(st.floats(-40.0, 120.0), st.floats(0.0, 10.0), st.floats(0.0, 20.0))
def test_junction_is_no_cooler_than_its_board(board: float, heat: float, resistance: float) -> None:
    assert junction_temperature(board, heat, resistance) >= board


def test_junction_rises_by_heat_times_resistance() -> None:
    assert junction_temperature(50.0, [0.0, 1.0, 2.0], 8.0) == pytest.approx([50.0, 58.0, 66.0])
    with pytest.raises(ValueError, match="heat must be at least 0"):
        junction_temperature(50.0, -1.0, 8.0)
    with pytest.raises(ValueError, match="resistance must be at least 0"):
        junction_temperature(50.0, 1.0, -8.0)


def test_voltage_is_the_rated_one_at_the_rated_point() -> None:
    assert forward_voltage(36.0, 0.7, 0.7, 3.0, -0.01, 25.0) == 36.0
    assert forward_voltage(36.0, 0.7, 0.7, 3.0) == 36.0


@quick
@given(st.floats(0.0, 2.0), st.floats(0.01, 1.0))
def test_voltage_rises_with_current_and_falls_with_heat(current: float, more: float) -> None:
    cool = forward_voltage(36.0, current, 0.7, 3.0, -0.01, 25.0)
    assert forward_voltage(36.0, current + more, 0.7, 3.0, -0.01, 25.0) - cool == pytest.approx(3.0 * more)
    assert forward_voltage(36.0, current, 0.7, 3.0, -0.01, 85.0) - cool == pytest.approx(-0.6)


def test_voltage_is_never_negative() -> None:
    assert forward_voltage(3.0, 0.0, 1.0, 10.0) == 0.0


def test_voltage_broadcasts_and_refuses_negative_values() -> None:
    assert forward_voltage(np.full((2, 1), 36.0), [0.1, 0.2, 0.3], 0.7, 3.0).shape == (2, 3)
    with pytest.raises(ValueError, match="current must be at least 0"):
        forward_voltage(36.0, -0.1, 0.7, 3.0)
    with pytest.raises(ValueError, match="dynamic_resistance must be at least 0"):
        forward_voltage(36.0, 0.1, 0.7, -3.0)


def test_warmth_changes_no_voltage_where_no_slope_is_stated() -> None:
    assert forward_voltage(3.0, 0.35, 0.35, 0.5, junction=85.0) == 3.0
    assert forward_voltage(3.0, 0.45, 0.35, 0.5, -0.002, 85.0) == pytest.approx(3.0 + 0.05 - 0.12, rel=1e-12)
