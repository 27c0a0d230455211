"""Batteries as passenger baggage, against the IATA Dangerous Goods Regulations.

Passenger provisions 2.3; the regulations were not at hand: figures seen second-hand, on sheets for 2018, for
the 66th edition (2025) and the 67th (2026). Lead-acid from one secondary page.
"""

import pytest

from optimise.physics.batteries import Flight, flight_rule


@pytest.mark.parametrize("chemistry", ["li-ion", "lifepo4"])
@pytest.mark.parametrize(
    ("watt_hours", "rule", "most"),
    [
        (100.0, Flight.FREE, 20),
        (100.01, Flight.APPROVAL, 2),
        (160.0, Flight.APPROVAL, 2),
        (160.01, Flight.REFUSED, 0),
    ],
)
def test_lithium_limits(chemistry: str, watt_hours: float, rule: Flight, most: int) -> None:
    assert flight_rule(chemistry, watt_hours, 14.4) == (rule, most)


def test_third_battery_with_approval_is_one_too_many() -> None:
    _, most = flight_rule("li-ion", 130.0, 14.4)
    assert most == 2


@pytest.mark.parametrize(
    ("watt_hours", "voltage", "rule", "most"),
    [
        (84.0, 12.0, Flight.FREE, 2),
        (100.0, 12.0, Flight.FREE, 2),
        (100.01, 12.0, Flight.REFUSED, 0),
        (84.0, 12.01, Flight.REFUSED, 0),
    ],
)
def test_lead_acid_limits(watt_hours: float, voltage: float, rule: Flight, most: int) -> None:
    assert flight_rule("lead-acid", watt_hours, voltage) == (rule, most)


@pytest.mark.parametrize(
    ("chemistry", "cells", "cell_voltage", "ampere_hours", "rule"),
    [
        # Nominal 3.2 V (LiFePO4) and 3.6 to 3.7 V (Li-ion) a cell, seen on secondary pages.
        ("li-ion", 4, 3.6, 6.6, Flight.FREE),
        ("li-ion", 4, 3.7, 6.8, Flight.APPROVAL),
        ("lifepo4", 4, 3.2, 20.0, Flight.REFUSED),
    ],
)
def test_packs_of_four_cells(
    chemistry: str, cells: int, cell_voltage: float, ampere_hours: float, rule: Flight
) -> None:
    voltage = cells * cell_voltage
    assert flight_rule(chemistry, voltage * ampere_hours, voltage)[0] is rule
