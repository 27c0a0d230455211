"""Published figures of flexible copper conductors."""

CLASS_5_RESISTANCE = {
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
"""Greatest dc resistance at 20 °C, ohm/m, of one plain copper conductor of class 5 by its area in mm².

Source: IEC 60228:2004, Table 3 (figures seen in two secondary copies of the table).
"""

FLEXIBLE_RATING = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0}
"""Current, A, that a flexible cord of 60 °C bears at 30 °C, direct or single-phase, by its area in mm².

Source: BS 7671, Table 4F3A (seen second-hand). 1.25 mm² is left out: IEC 60228 has no such size.
"""


def flexible_area(current: float) -> float | None:
    """Return the least common area, mm², of flexible wire that bears a current in A; None above 32 A."""
    return next((area for area, rating in FLEXIBLE_RATING.items() if current <= rating), None)
