"""Flexible cords, against BS 7671 tables 4F3A, 4F3B and 4Ab.

BS 7671 was not at hand: every figure was seen second-hand, on suppliers' and electricians' pages.
"""

import pytest

from optimise.parts.conductors import CLASS_5_RESISTANCE, flexible_area
from optimise.physics.leads import ambient_factor, conductor_resistance, load_current, load_power
from optimise.scenario.model import Safety

# BS 7671 Table 4F3B, 60 °C flexible cords, dc or single-phase, mV/A/m by area in mm². Two second-hand copies.
# 1.25 mm² (37 mV/A/m) is left out: IEC 60228 has no such size.
TABLE_4F3B = {0.5: 93.0, 0.75: 62.0, 1.0: 46.0, 1.5: 32.0, 2.5: 19.0, 4.0: 12.0}

# BS 7671 Table 4F3A, factor for the air's temperature in °C, 60 °C cords. One second-hand copy.
AMBIENT_60 = {35: 0.91, 40: 0.82, 45: 0.71, 50: 0.58, 55: 0.41}


def there_and_back(area: float, temperature: float, length: float) -> float:
    """Resistance in ohm of a lead of `length` m, both conductors."""
    return float(2.0 * length * conductor_resistance(CLASS_5_RESISTANCE[area], temperature))


# BS 7671 Table 4F3A, 60 °C flexible cords, A at 30 °C by area in mm². Two second-hand copies.
TABLE_4F3A = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0}


@pytest.mark.parametrize(("area", "table"), TABLE_4F3A.items())
def test_the_least_wire_is_that_of_4f3a(area: float, table: float) -> None:
    assert flexible_area(table) == area
    assert flexible_area(table + 0.01) == next((other for other in TABLE_4F3A if other > area), None)


@pytest.mark.parametrize(("area", "table"), TABLE_4F3B.items())
def test_drop_is_at_most_the_table_and_at_least_95_percent_of_it(area: float, table: float) -> None:
    # The table is rounded up and holds a margin of 2 to 4.5 % over IEC 60228, so the check is one-sided.
    computed = there_and_back(area, 60.0, 1.0) * 1e3
    assert 0.95 * table <= computed <= table


@pytest.mark.parametrize(("air", "table"), AMBIENT_60.items())
def test_ambient_factors_of_60_degree_cords(air: int, table: float) -> None:
    assert ambient_factor(air, 60.0) == pytest.approx(table, abs=0.005)


def test_ratings_of_4f3a_hold_at_30_degrees() -> None:
    # BS 7671 Table 4F3A: ambient 30 °C; no gain is counted in colder air, where the table prints none.
    assert ambient_factor(30.0, 60.0) == 1.0
    assert ambient_factor(10.0, 60.0) == 1.0


@pytest.mark.parametrize(
    ("metres", "millivolts", "amperes", "volts"),
    [(20, 11.0, 30.0, 6.6), (40, 7.3, 45.0, 13.14), (10, 29.0, 16.0, 4.64), (40, 4.4, 45.0, 7.92)],
)
def test_worked_examples_of_voltage_drop(metres: int, millivolts: float, amperes: float, volts: float) -> None:
    # An electrical firm's page that works BS 7671 Appendix 4 for armoured cable (second-hand).
    resistance = metres * millivolts / 1e3
    power = load_power(230.0, resistance, amperes)
    assert load_current(230.0, resistance, power) == pytest.approx(amperes, rel=1e-12)
    assert 230.0 - power / amperes == pytest.approx(volts, abs=5e-10)


@pytest.mark.parametrize(
    ("amperes", "metres", "area", "at_20", "at_70", "by_table"),
    [
        (5.0, 10.0, 1.5, 1.330, 1.591, 1.600),
        (0.87, 10.0, 0.75, 0.4524, 0.5413, 0.5394),
        (10.0, 3.0, 4.0, 0.297, 0.3554, 0.360),
    ],
)
def test_drops_computed_from_iec_60228(
    amperes: float, metres: float, area: float, at_20: float, at_70: float, by_table: float
) -> None:
    # Computed for this project from IEC 60228 and Table 4F3B (both second-hand); not printed anywhere.
    assert amperes * there_and_back(area, 20.0, metres) == pytest.approx(at_20, abs=1e-9)
    assert amperes * there_and_back(area, 70.0, metres) == pytest.approx(at_70, abs=6e-4)
    assert 0.95 * by_table <= amperes * there_and_back(area, 60.0, metres) <= by_table


def test_voltage_drop_default_is_the_limit_for_lighting() -> None:
    # BS 7671 Appendix 4, Table 4Ab: lighting on a public supply 3 %, which is 6.9 V of 230 V (second-hand).
    assert Safety().voltage_drop == 0.03
    assert Safety().voltage_drop * 230.0 == pytest.approx(6.9, abs=1e-9)
