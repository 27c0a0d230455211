from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.physics.arrays import Array
from optimise.physics.batteries import (
    Flight,
    cold_factor,
    discharge_current,
    discharge_time,
    flight_rule,
    resting_voltage,
)

# Few examples, for the whole run to stay short; no deadline, for a busy machine to pass too.
quick = settings(max_examples=40, deadline=None)

currents = st.floats(0.01, 200.0)
capacities = st.floats(3600.0, 1e6)
rated_times = st.floats(3600.0, 100 * 3600.0)
peukerts = st.floats(1.0, 1.5)


@quick
@given(currents, capacities, rated_times, peukerts)
def test_discharge_current_undoes_discharge_time(
    current: float, capacity: float, rated_time: float, peukert: float
) -> None:
    time = discharge_time(current, capacity, rated_time, peukert)
    assert discharge_current(time, capacity, rated_time, peukert) == pytest.approx(current, rel=1e-9)


@quick
@given(currents, capacities, rated_times, peukerts, st.floats(1.001, 5.0))
def test_more_current_empties_sooner_and_gives_no_more_charge(
    current: float, capacity: float, rated_time: float, peukert: float, times: float
) -> None:
    slow = float(discharge_time(current, capacity, rated_time, peukert))
    fast = float(discharge_time(times * current, capacity, rated_time, peukert))
    assert fast < slow
    assert fast * times * current <= slow * current * (1.0 + 1e-12)


@quick
@given(currents, capacities, rated_times, peukerts)
def test_charge_never_exceeds_the_rated_capacity(
    current: float, capacity: float, rated_time: float, peukert: float
) -> None:
    time = discharge_time(current, capacity, rated_time, peukert)
    assert current * time <= capacity * (1.0 + 1e-12)


@quick
@given(currents, capacities, rated_times, st.floats(3600.0, 100 * 3600.0))
def test_rated_time_does_not_matter_without_peukert(current: float, capacity: float, one: float, other: float) -> None:
    expected = float(discharge_time(current, capacity, one, 1.0))
    assert discharge_time(current, capacity, other, 1.0) == pytest.approx(expected, rel=1e-9)
    assert expected == pytest.approx(capacity / current, rel=1e-9)


@quick
@given(capacities, rated_times, st.floats(1.01, 1.4))
def test_higher_peukert_gives_less_above_the_rated_current(capacity: float, rated_time: float, peukert: float) -> None:
    current = 3.0 * capacity / rated_time
    assert discharge_time(current, capacity, rated_time, peukert + 0.05) < discharge_time(
        current, capacity, rated_time, peukert
    )


@pytest.mark.parametrize("function", [discharge_time, discharge_current])
@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ((0.0, 1.0, 1.0, 1.1), "must be more than 0"),
        ((1.0, 0.0, 1.0, 1.1), "capacity must be more than 0"),
        ((1.0, 1.0, 0.0, 1.1), "rated_time must be more than 0"),
        ((1.0, 1.0, 1.0, 0.99), "peukert must be at least 1"),
    ],
)
def test_discharge_refuses_what_lies_outside(
    function: Callable[..., Array], arguments: tuple[float, ...], text: str
) -> None:
    with pytest.raises(ValueError, match=text):
        function(*arguments)


def test_discharge_broadcasts() -> None:
    assert discharge_time([[1.0], [2.0]], [3600.0, 7200.0, 9000.0], 3600.0, 1.1).shape == (2, 3)
    assert discharge_current([[1.0], [2.0]], [3600.0, 7200.0, 9000.0], 3600.0, 1.1).shape == (2, 3)


@quick
@given(st.floats(-60.0, 60.0), st.floats(0.0, 0.05))
def test_cold_factor_is_a_share_and_counts_no_gain(ambient: float, per_kelvin: float) -> None:
    factor = cold_factor(ambient, per_kelvin)
    assert 0.0 <= factor <= 1.0
    assert factor <= cold_factor(ambient + 1.0, per_kelvin)
    if ambient >= 25.0:
        assert factor == 1.0


def test_cold_factor_falls_in_a_straight_line_to_0() -> None:
    assert cold_factor([25.0, 15.0, 5.0, -75.0, -100.0], 0.01) == pytest.approx([1.0, 0.9, 0.8, 0.0, 0.0])
    with pytest.raises(ValueError, match="per_kelvin must be at least 0"):
        cold_factor(10.0, -0.01)


@pytest.mark.parametrize("chemistry", ["nimh", "nicd"])
def test_nickel_cells_have_no_watt_hour_limit(chemistry: str) -> None:
    assert flight_rule(chemistry, 500.0, 24.0) == (Flight.FREE, 20)


@quick
@given(st.floats(1.0, 400.0), st.floats(0.0, 100.0), st.sampled_from(["li-ion", "lifepo4", "lead-acid"]))
def test_larger_battery_is_never_freer_to_fly(watt_hours: float, more: float, chemistry: str) -> None:
    _, small = flight_rule(chemistry, watt_hours, 12.0)
    _, large = flight_rule(chemistry, watt_hours + more, 12.0)
    assert large <= small


def test_resting_voltage_goes_through_what_is_stated() -> None:
    taken = [0.0, 0.25, 0.5, 0.75, 1.0]
    assert resting_voltage(taken, 16.8, 14.4, 12.0) == pytest.approx([16.8, 15.6, 14.4, 13.2, 12.0])
    for wrong in (-0.1, 1.1, float("nan")):
        with pytest.raises(ValueError, match="taken"):
            resting_voltage(wrong, 16.8, 14.4, 12.0)
