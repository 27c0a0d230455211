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
