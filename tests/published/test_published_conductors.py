"""Copper and its gauges, against IEC 60228, IEC 60028, NEC and ASTM B258.

None of these documents was at hand: every figure was seen second-hand, on pages that copy the tables.
"""

import numpy as np
import pytest

from optimise.parts.conductors import CLASS_5_RESISTANCE
from optimise.physics.leads import COPPER_PER_KELVIN, conductor_resistance

# IEC 60228:2004, Table 3 (number of the table from memory), class 5, plain copper wires, greatest dc
# resistance at 20 °C in ohm/m by area in mm². Seen second-hand: one page for all sizes, another for 1 to 16.
IEC_60228_CLASS_5 = {
    0.5: 39.0e-3,
    0.75: 26.0e-3,
    1.0: 19.5e-3,
    1.5: 13.3e-3,
    2.5: 7.98e-3,
    4.0: 4.95e-3,
    6.0: 3.30e-3,
    10.0: 1.91e-3,
    16.0: 1.21e-3,
}

# IEC 60228, factor that takes a resistance measured at T °C to 20 °C. Seen second-hand, one page.
IEC_60228_TO_20 = {10: 1.042, 30: 0.962, 40: 0.926, 60: 0.862, 70: 0.833, 90: 0.781}

# Resistivity of annealed copper at 20 °C, ohm mm²/km: IEC 60028:1925 (IACS), seen second-hand.
IACS = 17.241

# Gauge: (area mm² from ASTM B258's formula, computed; ohm/km at 20 °C, wire table seen second-hand).
GAUGES = {
    24: (0.2047, 84.2),
    22: (0.3255, 53.0),
    20: (0.5176, 33.3),
    18: (0.8230, 21.0),
    16: (1.3087, 13.2),
    14: (2.0809, 8.29),
    12: (3.3088, 5.21),
    10: (5.2612, 3.28),
    8: (8.3656, 2.06),
}

# NEC chapter 9, Table 8, uncoated copper, ohm/kft at 75 °C: (solid, stranded). Seen second-hand, one page;
# another page prints the solid figures under "stranded".
NEC_TABLE_8 = {
    18: (7.77, 7.95),
    16: (4.89, 4.99),
    14: (3.07, 3.14),
    12: (1.93, 1.98),
    10: (1.21, 1.24),
    8: (0.764, 0.778),
}


def gauge_area(gauge: int) -> float:
    """Area in mm² by ASTM B258: d = 0.005 in · 92^((36 − n) / 39), definition seen second-hand."""
    diameter = 0.127 * 92.0 ** ((36 - gauge) / 39)
    return float(np.pi / 4.0 * diameter**2)


def test_class_5_resistances_are_those_of_iec_60228() -> None:
    published = IEC_60228_CLASS_5
    assert published == CLASS_5_RESISTANCE


def test_class_5_is_a_little_worse_than_solid_copper() -> None:
    # Computed from the table: 11 to 16 % over IACS copper, for the lay and tolerance of strands.
    for area, ohm in CLASS_5_RESISTANCE.items():
        assert 19.0 <= area * ohm * 1e3 <= 19.96


@pytest.mark.parametrize(("temperature", "factor"), IEC_60228_TO_20.items())
def test_temperature_factor_is_within_half_a_percent_of_iec_60228(temperature: int, factor: float) -> None:
    # IEC 60228 rounds copper's 0.00393 / K to 0.004, hence the tolerance.
    assert 1.0 / conductor_resistance(1.0, temperature) == pytest.approx(factor, rel=0.005)


@pytest.mark.parametrize(("temperature", "factor"), [(40, 1.0786), (60, 1.1572), (70, 1.1965), (90, 1.2751)])
def test_resistance_rises_by_the_iacs_coefficient(temperature: int, factor: float) -> None:
    # IEC 60028:1925: 0.00393 / K at 20 °C (value from memory); the factors are computed from it.
    assert conductor_resistance(1.0, temperature) == pytest.approx(factor, abs=6e-5)


def test_coefficient_at_75_degrees_is_the_one_of_the_nec() -> None:
    # NEC chapter 9, Table 8, note: 0.00323 / K at 75 °C, seen second-hand. It confirms 0.00393 at 20 °C.
    at_75, at_76 = conductor_resistance(1.0, 75.0), conductor_resistance(1.0, 76.0)
    assert (at_76 - at_75) / at_75 == pytest.approx(0.00323, abs=5e-6)
    assert COPPER_PER_KELVIN == 0.00393


@pytest.mark.parametrize("gauge", GAUGES)
def test_gauge_area_and_resistance_agree_with_wire_tables(gauge: int) -> None:
    area, per_km = GAUGES[gauge]
    assert gauge_area(gauge) == pytest.approx(area, rel=0.003)
    assert conductor_resistance(IACS / gauge_area(gauge), 20.0) == pytest.approx(per_km, rel=0.005)


@pytest.mark.parametrize("gauge", NEC_TABLE_8)
def test_hot_gauges_agree_with_the_nec(gauge: int) -> None:
    solid, stranded = NEC_TABLE_8[gauge]
    per_kft = conductor_resistance(IACS / gauge_area(gauge), 75.0) * 0.3048
    assert per_kft == pytest.approx(solid, rel=0.005)
    # Stranding adds about 2 %; the printed figures have three digits.
    assert 1.01 <= stranded / per_kft <= 1.03
