import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.leads import ambient_factor, conductor_resistance, load_current, load_power

# Few examples, for the whole run to stay short; no deadline, for a busy machine to pass too.
quick = settings(max_examples=40, deadline=None)

voltages = st.floats(5.0, 300.0)
resistances = st.just(0.0) | st.floats(1e-9, 5.0)
shares = st.floats(0.001, 0.99)


def most_power(voltage: float, resistance: float) -> float:
    """What the lead can carry, or a plain 100 A where it has no resistance."""
    return voltage**2 / (4.0 * resistance) if resistance > voltage / 400.0 else 100.0 * voltage / 2.0


@quick
@given(voltages, resistances, shares)
def test_load_power_undoes_load_current(voltage: float, resistance: float, share: float) -> None:
    power = share * most_power(voltage, resistance)
    current = load_current(voltage, resistance, power)
    assert load_power(voltage, resistance, current) == pytest.approx(power, rel=1e-9)


@quick
@given(voltages, resistances, st.floats(0.001, 0.49))
def test_load_current_undoes_load_power(voltage: float, resistance: float, share: float) -> None:
    current = share * voltage / max(resistance, voltage / 100.0)
    power = load_power(voltage, resistance, current)
    assert load_current(voltage, resistance, power) == pytest.approx(current, rel=1e-9)


@quick
@given(voltages, resistances, shares, st.floats(0.01, 0.99))
def test_current_rises_with_power(voltage: float, resistance: float, share: float, less: float) -> None:
    power = share * most_power(voltage, resistance)
    assert load_current(voltage, resistance, less * power) < load_current(voltage, resistance, power)


@quick
@given(voltages, st.floats(0.01, 5.0), shares)
def test_lead_makes_the_load_draw_more(voltage: float, resistance: float, share: float) -> None:
    power = share * voltage**2 / (4.0 * resistance)
    current = float(load_current(voltage, resistance, power))
    assert power / voltage < current < voltage / (2.0 * resistance)
    assert load_current(voltage * 1.1, resistance, power) < current


@quick
@given(voltages, st.floats(0.01, 5.0), st.floats(1.000001, 10.0))
def test_power_beyond_what_the_lead_can_carry_is_nan(voltage: float, resistance: float, times: float) -> None:
    most = voltage**2 / (4.0 * resistance)
    assert np.isnan(load_current(voltage, resistance, times * most))
    assert not np.isnan(load_current(voltage, resistance, most / times))


def test_greatest_power_halves_the_voltage() -> None:
    assert load_current(12.0, 0.5, 72.0) == 12.0
    assert load_power(12.0, 0.5, 12.0) == 72.0


@quick
@given(voltages, st.floats(0.01, 5.0), st.floats(1.0, 10.0))
def test_load_power_never_falls_beyond_its_greatest(voltage: float, resistance: float, times: float) -> None:
    current = times * voltage / (2.0 * resistance)
    most = voltage**2 / (4.0 * resistance)
    assert load_power(voltage, resistance, current) == pytest.approx(most, rel=1e-12)


def test_no_load_draws_nothing() -> None:
    assert load_current(230.0, 0.3, 0.0) == 0.0
    assert load_power(230.0, 0.0, 0.0) == 0.0


def test_tiny_resistance_does_not_cost_digits() -> None:
    assert load_current(230.0, 1e-15, 100.0) == pytest.approx(100.0 / 230.0, rel=1e-14)


def test_load_broadcasts_with_nan_only_where_there_is_no_root() -> None:
    current = load_current([[12.0], [24.0]], [0.0, 0.5, 1.0], 100.0)
    assert np.array_equal(np.isnan(current), [[False, True, True], [False, False, False]])
    assert load_power([[12.0], [24.0]], [0.0, 0.5, 1.0], 2.0).shape == (2, 3)


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ((0.0, 1.0, 1.0), "voltage must be more than 0"),
        ((1.0, -1.0, 1.0), "resistance must be at least 0"),
        ((1.0, 1.0, -1.0), "must be at least 0"),
    ],
)
def test_load_refuses_what_lies_outside(arguments: tuple[float, float, float], text: str) -> None:
    with pytest.raises(ValueError, match=text):
        load_current(*arguments)
    with pytest.raises(ValueError, match=text):
        load_power(*arguments)


@quick
@given(st.floats(0.0, 1.0), st.floats(-40.0, 150.0), st.floats(0.1, 50.0))
def test_resistance_rises_with_temperature(ohms: float, temperature: float, more: float) -> None:
    cool = conductor_resistance(ohms, temperature)
    rise = conductor_resistance(ohms, temperature + more) - cool
    assert rise == pytest.approx(ohms * 0.00393 * more, rel=1e-6, abs=1e-12)


def test_resistance_is_the_rated_one_at_20_degrees() -> None:
    assert np.array_equal(conductor_resistance([[0.01], [0.02]], 20.0), [[0.01], [0.02]])
    with pytest.raises(ValueError, match="resistance_20 must be at least 0"):
        conductor_resistance(-0.01, 20.0)


@quick
@given(st.floats(-40.0, 120.0), st.floats(0.0, 50.0), st.floats(31.0, 200.0))
def test_hotter_air_never_raises_a_rating(air: float, more: float, hottest: float) -> None:
    assert 0.0 <= ambient_factor(air + more, hottest) <= ambient_factor(air, hottest) <= 1.0


@quick
@given(st.floats(30.0, 90.0))
def test_heat_of_a_derated_conductor_keeps_its_temperature(air: float) -> None:
    # Heat goes by the square of the current, the conductor's excess over air by the heat.
    assert 60.0 * float(ambient_factor(air, 90.0)) ** 2 == pytest.approx(90.0 - air, abs=1e-9)


def test_rating_is_0_in_air_as_hot_as_the_conductor_may_be() -> None:
    assert np.array_equal(ambient_factor([60.0, 75.0], 60.0), [0.0, 0.0])
    with pytest.raises(ValueError, match="conductor_max must be more than 30"):
        ambient_factor(25.0, 30.0)


def test_a_lead_of_next_to_no_resistance_takes_next_to_nothing() -> None:
    # V / 2R is more than any number: no limit, and no warning.
    assert load_power(230.0, 1e-307, 0.5) == pytest.approx(115.0, rel=1e-12)
