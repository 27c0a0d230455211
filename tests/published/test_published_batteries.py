"""Runtime of batteries, against Peukert's law and a maker's table of temperatures."""

import math

import pytest

from optimise.physics.batteries import cold_factor, discharge_current, discharge_time

HOUR = 3600.0


def hours(current: float, ampere_hours: float, rated_hours: float, exponent: float) -> float:
    return float(discharge_time(current, ampere_hours * HOUR, rated_hours * HOUR, exponent)) / HOUR


@pytest.mark.parametrize(
    ("ampere_hours", "rated", "current", "exponent", "time", "delivered"),
    [
        (100.0, 20.0, 5.0, 1.0, 20.0, 100.0),
        (100.0, 20.0, 5.0, 1.3, 20.0, 100.0),
        (100.0, 20.0, 10.0, 1.2, 8.70551, 87.055),
        (100.0, 20.0, 10.0, 1.3, 8.12252, 81.225),
        (100.0, 20.0, 25.0, 1.2, 2.89912, 72.478),
        (120.0, 20.0, 20.0, 1.3, 4.18107, 83.621),
    ],
)
def test_rated_hour_form(
    ampere_hours: float, rated: float, current: float, exponent: float, time: float, delivered: float
) -> None:
    # Form t = H (C / (I H))^k as given, with its reason, by a maker of battery monitors (second-hand); the
    # figures are computed from it for this project.
    got = hours(current, ampere_hours, rated, exponent)
    assert got == pytest.approx(time, abs=6e-6)
    assert got * current == pytest.approx(delivered, abs=6e-4)


@pytest.mark.parametrize(
    ("peukert_capacity", "current", "exponent", "time", "tolerance"),
    [
        (250.0, 20.0, 1.3, 5.088631644, 1e-9),  # worked example of a page on battery discharge (second-hand)
        (100.0, 5.0, 1.2, 14.5, 5e-3),  # worked example of an electrical engineer's blog (second-hand)
    ],
)
def test_published_worked_examples(
    peukert_capacity: float, current: float, exponent: float, time: float, tolerance: float
) -> None:
    # Both examples are T = Cp / I^k with the capacity at 1 A; the same battery rated over 20 h holds
    # C = H (Cp / H)^(1/k). Setting H = 1 h instead would give C^k / I^k, another battery.
    rated = 20.0
    ampere_hours = rated * (peukert_capacity / rated) ** (1.0 / exponent)
    assert hours(current, ampere_hours, rated, exponent) == pytest.approx(time, abs=tolerance)


def test_exponent_from_two_ratings_gives_both_back() -> None:
    # Computed for this project: 100 Ah over 20 h and 85 Ah over 5 h → k = 1.13280.
    exponent = math.log(20.0 / 5.0) / math.log((85.0 / 5.0) / (100.0 / 20.0))
    assert hours(5.0, 100.0, 20.0, exponent) == pytest.approx(20.0, rel=1e-12)
    assert hours(17.0, 100.0, 20.0, exponent) == pytest.approx(5.0, rel=1e-12)
    assert hours(17.0, 100.0, 20.0, 1.13280) == pytest.approx(5.0, rel=1e-5)
    assert discharge_current(5.0 * HOUR, 100.0 * HOUR, 20.0 * HOUR, exponent) == pytest.approx(17.0, rel=1e-12)


def test_slow_discharge_gives_no_more_than_the_rated_capacity() -> None:
    # Peukert's law alone would promise 120 Ah at 2 A; makers rate no such gain (common practice, no source).
    assert hours(2.0, 100.0, 20.0, 1.2) == pytest.approx(50.0, rel=1e-12)


# Lead-acid, discharge over more than an hour, capacity against that at 25 °C: a maker's page of questions.
MAKERS_TABLE = {0: 0.84, 5: 0.88, 10: 0.90, 15: 0.94, 20: 0.99, 30: 1.03, 35: 1.04, 40: 1.05}


@pytest.mark.parametrize(("ambient", "share"), MAKERS_TABLE.items())
def test_cold_factor_is_near_a_makers_table_and_not_above_it(ambient: int, share: float) -> None:
    # 0.67 %/K fits the table; the straight line stays on the safe side, and takes no gain from heat.
    factor = cold_factor(ambient, 0.0067)
    assert factor <= share
    assert factor >= min(share, 1.0) - 0.025


def test_cold_factor_at_10_degrees() -> None:
    assert cold_factor(10.0, 0.0067) == pytest.approx(0.90, abs=0.005)
