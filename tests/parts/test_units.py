"""Text with units to numbers, and back."""

import contextlib
import math
import time

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.parts import units
from optimise.parts.units import Measure, UnitError, check_unit, convert, money, read_number, shown, split

# Factors from the SI Brochure and the international yard and pound agreement, worked by hand.
CONVERSIONS = [
    ("1200 lm", units.FLUX, 1200.0),
    ("1.2 klm", units.FLUX, 1200.0),
    ("3 lumen", units.FLUX, 3.0),
    ("2 klx", units.ILLUMINANCE, 2000.0),
    ("5 lm/m^2", units.ILLUMINANCE, 5.0),
    ("1 fc", units.ILLUMINANCE, 1.0 / 0.3048**2),
    ("1 footcandle", units.ILLUMINANCE, 1.0 / 0.3048**2),
    ("350 mA", units.CURRENT, 0.35),
    ("0.23 kV", units.VOLTAGE, 230.0),
    ("1.5 kW", units.POWER, 1500.0),
    ("18 VA", units.POWER, 18.0),
    ("0.5 in", units.SMALL_LENGTH, 0.0127),
    ("12 in", units.LENGTH, 0.3048),
    ("6 ft", units.LENGTH, 1.8288),
    ("2 yd", units.LENGTH, 1.8288),
    ("30 cm", units.LENGTH, 0.3),
    ("250 µm", units.SMALL_LENGTH, 250e-6),
    ("1.5 mm^2", units.AREA, 1.5e-6),
    ("1.5 mm²", units.AREA, 1.5e-6),
    ("1.5 mm**2", units.AREA, 1.5e-6),
    ("1 lb", units.MASS, 0.45359237),
    ("16 oz", units.MASS, 0.45359237),
    ("250 g", units.MASS, 0.25),
    ("1.2 kg", units.MASS, 1.2),
    ("95 g/m^2", units.MASS_PER_AREA, 0.095),
    ("1 oz/yd^2", units.MASS_PER_AREA, 0.45359237 / 16 / 0.9144**2),
    ("34 g/m", units.MASS_PER_LENGTH, 0.034),
    ("34 kg / km", units.MASS_PER_LENGTH, 0.034),
    ("60 deg", units.ANGLE, 60.0),
    ("60°", units.ANGLE, 60.0),
    ("3.141592653589793 rad", units.ANGLE, 180.0),
    ("25 degC", units.TEMPERATURE, 25.0),
    ("25 °C", units.TEMPERATURE, 25.0),
    ("77 degF", units.TEMPERATURE, 25.0),
    ("14 °F", units.TEMPERATURE, -10.0),
    ("298.15 K", units.TEMPERATURE, 25.0),
    ("5600 K", units.COLOUR_TEMPERATURE, 5600.0),
    ("-0.2 %/K", units.PER_KELVIN, -0.002),
    ("-0.002 1/K", units.PER_KELVIN, -0.002),
    ("-0.2 %/°C", units.PER_KELVIN, -0.002),
    ("-16 mV/K", units.VOLTAGE_PER_KELVIN, -0.016),
    ("1.9 K/W", units.THERMAL_RESISTANCE, 1.9),
    ("1.9 °C/W", units.THERMAL_RESISTANCE, 1.9),
    ("290 mohm", units.RESISTANCE, 0.29),
    ("13.3 ohm/km", units.RESISTANCE_PER_LENGTH, 13.3e-3),
    ("13.3 Ω/km", units.RESISTANCE_PER_LENGTH, 13.3e-3),
    ("13.3 mohm/m", units.RESISTANCE_PER_LENGTH, 13.3e-3),
    ("1 ohm/kft", units.RESISTANCE_PER_LENGTH, 1.0 / 304.8),
    ("4.7 Ah", units.CHARGE, 16920.0),
    ("4700 mAh", units.CHARGE, 16920.0),
    ("10 C", units.CHARGE, 10.0),
    ("90 min", units.DURATION, 5400.0),
    ("1.5 h", units.DURATION, 5400.0),
    ("2 weeks", units.DAYS, 1209600.0),
    ("14 day", units.DAYS, 1209600.0),
    ("20 ms", units.EXPOSURE_TIME, 0.02),
    ("25 Hz", units.FREQUENCY, 25.0),
    ("90 %", units.SHARE, 0.9),
    ("90 percent", units.SHARE, 0.9),
    ("340 lx*s", units.METER_CONSTANT, 340.0),
    ("340 lx s", units.METER_CONSTANT, 340.0),
]


@pytest.mark.parametrize(("text", "measure", "expected"), CONVERSIONS)
def test_quantity_is_converted_to_the_canonical_unit(text: str, measure: Measure, expected: float) -> None:
    assert convert(text, measure, None) == pytest.approx(expected, rel=1e-12)


# What only the full list of pint knows, and spellings that a prefix of the short list could turn into another unit.
SPELLINGS = [
    ("5 min", units.DURATION),
    ("5 hr", units.DURATION),
    ("5 sec", units.DURATION),
    ("5 fortnight", units.DAYS),
    ("5 d", units.DAYS),
    ("5 lbs", units.MASS),
    ("5 mg", units.MASS),
    ("5 stone", units.MASS),
    ("5 inches", units.LENGTH),
    ("5 feet", units.LENGTH),
    ("5 meter", units.LENGTH),
    ("5 thou", units.SMALL_LENGTH),
    ("5 nm", units.SMALL_LENGTH),
    ("5 mile", units.LENGTH),
    ("5 kcmil", units.AREA),
    ("5 uA", units.CURRENT),
    ("5 MW", units.POWER),
    ("5 horsepower", units.POWER),
    ("5 J/s", units.POWER),
]


@pytest.fixture(scope="module")
def full_list() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("text", "measure"),
    SPELLINGS + [(text, measure) for text, measure, _ in CONVERSIONS if measure.unit not in {"", "degC", "lx*s", "lx"}],
)
def test_short_list_of_units_says_the_same_as_all_of_pint(
    full_list: pint.UnitRegistry, text: str, measure: Measure
) -> None:
    value, unit = split(text)
    expected = full_list.Quantity(value, unit.replace("°C", "delta_degC").replace("°", "deg")).to(measure.unit)
    assert convert(text, measure, None) == pytest.approx(expected.magnitude, rel=1e-12)


def test_plain_number_takes_the_unit_of_its_column() -> None:
    assert convert("280", units.SMALL_LENGTH, "mm") == pytest.approx(0.28, rel=1e-15)
    assert convert("280 in", units.SMALL_LENGTH, "mm") == pytest.approx(7.112, rel=1e-15)
    assert convert("90", units.SHARE, "%") == pytest.approx(0.9, rel=1e-15)


def test_canonical_unit_is_kept_to_the_last_bit() -> None:
    assert convert("0.1 m", units.LENGTH, None) == 0.1
    assert convert("0.1", units.SHARE, "") == 0.1


REFUSED = [
    ("5 cd", units.FLUX, "luminous flux in lm, lumen, klm, kilolumen", "Correct the number or its unit."),
    ("5 lx", units.FLUX, "luminous flux in lm, lumen, klm, kilolumen", "Correct the number or its unit."),
    ("30 deg", units.SHARE, "a share, such as 0.9 or 90 %", "Correct the number or its unit."),
    ("30 m/m", units.SHARE, "a share, such as 0.9 or 90 %", "Correct the number or its unit."),
    ("95 %", units.NUMBER, "a plain number", "Correct the number or its unit."),
    ("60 %", units.ANGLE, "angle in deg, degree, degrees, °, rad, radian", "Correct the number or its unit."),
    ("20 C", units.TEMPERATURE, "temperature in degC, °C, degF, °F, K, kelvin", "Correct the number or its unit."),
    ("3000 degC", units.COLOUR_TEMPERATURE, "colour temperature in K, kelvin", "Correct the number or its unit."),
    (
        "5 V",
        units.CURRENT,
        "current in a unit such as A",
        "V is a unit of another kind of quantity: correct the number or its unit.",
    ),
    (
        "5 N",
        units.MASS,
        "mass in a unit such as g",
        "N is a unit of another kind of quantity: correct the number or its unit.",
    ),
    ("5 mm2", units.AREA, "area in a unit such as mm^2", '"mm2" is not a unit that is known.'),
    ("5 Kg", units.MASS, "mass in a unit such as g", '"Kg" is not a unit that is known.'),
    ("5 m m", units.LENGTH, "length in a unit such as m", '"m m" is not a unit that is known.'),
    ("1 000 m", units.LENGTH, "length in a unit such as m", '"000 m" is not a unit that is known.'),
    ("1_000 m", units.LENGTH, "length in a unit such as m", '"_000 m" is not a unit that is known.'),
    ("0x10 m", units.LENGTH, "length in a unit such as m", '"x10 m" is not a unit that is known.'),
    ("1 h 30 min", units.DURATION, "time in a unit such as h", '"h 30 min" is not a unit that is known.'),
    ("20 dBm", units.POWER, "power in a unit such as W", '"dBm" is not a unit that is known.'),
    (
        "2,5 m",
        units.LENGTH,
        "a number with a decimal point",
        "Write a point, not a comma, and no thousands separator.",
    ),
    (
        "1,250 g",
        units.MASS,
        "a number with a decimal point",
        "Write a point, not a comma, and no thousands separator.",
    ),
    ("nan", units.LENGTH, "a finite number, with or without a unit", "Write a number."),
    ("inf m", units.LENGTH, "a finite number, with or without a unit", "Write a number."),
    ("-inf", units.SHARE, "a finite number, with or without a unit", "Write a number."),
    ("m", units.LENGTH, "a finite number, with or without a unit", "Write a number."),
    ("", units.LENGTH, "a finite number, with or without a unit", "Write a number."),
    ("½ in", units.LENGTH, "a finite number, with or without a unit", "Write a number."),
    ("1e999 m", units.LENGTH, "a finite number", ""),
    ("1e308 Ah", units.CHARGE, "0, or a size of 1e-12 to 1e+12 C", "Correct the number or its unit."),
    ("-1.01e12 W", units.POWER, "0, or a size of 1e-12 to 1e+12 W", "Correct the number or its unit."),
    ("0.9e-12", units.NUMBER, "0, or a size of 1e-12 to 1e+12", "Correct the number or its unit."),
    ("1e-300 lm", units.FLUX, "0, or a size of 1e-12 to 1e+12 lm", "Correct the number or its unit."),
    ("2.5", units.LENGTH, "length with its unit, such as m", "Write the unit behind the number."),
]


@pytest.mark.parametrize(("text", "measure", "allowed", "mend"), REFUSED)
def test_what_is_no_quantity_of_the_kind_is_refused(text: str, measure: Measure, allowed: str, mend: str) -> None:
    with pytest.raises(UnitError) as caught:
        convert(text, measure, None)
    assert (caught.value.allowed, caught.value.mend) == (allowed, mend)


@pytest.mark.parametrize(
    "unit",
    [
        "9**9**9**9",
        "9^9^9^9*m",
        "m^99999999",
        "9 cubed cubed cubed cubed",
        "9⁹⁹⁹⁹⁹⁹⁹⁹⁹",
        "(" * 5000,
        "m*" * 50000,
        "m^" * 9,
    ],
)
def test_hostile_unit_is_refused_at_once(unit: str) -> None:
    # pint alone would work such a power out, and never come back.
    start = time.perf_counter()
    with pytest.raises(UnitError) as caught:
        convert(f"5 {unit}", units.LENGTH, None)
    assert time.perf_counter() - start < 2.0
    assert len(caught.value.mend) < 120


@pytest.mark.parametrize("unit", ["m" * 30_000, "k" + "f" * 4000, "kg*" + "m_" * 200 + "s", "g/" + "Ω" * 61])
def test_endless_name_of_a_unit_is_unknown_without_a_look_at_all_units(
    unit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # To look one of 30,000 letters up took 26 s, by the square of its length.
    monkeypatch.setattr(units, "_registry", lambda: pytest.fail("looked up"))
    with pytest.raises(UnitError, match="length in a unit such as m") as caught:
        check_unit(unit, units.LENGTH)
    assert caught.value.mend.endswith('…" is not a unit that is known.')


def test_every_name_of_a_unit_is_short_enough_to_be_looked_up() -> None:
    registry = units._full_registry()
    prefixed = max(map(len, registry._prefixes)) + max(map(len, registry._units)) + len("s")
    assert units._ENDLESS.search("m" * prefixed) is None


def test_unit_of_another_kind_is_not_told_at_length() -> None:
    with pytest.raises(UnitError) as caught:
        check_unit("kg" + " " * 5000 + "/ m", units.LENGTH)
    assert len(caught.value.mend) < 150


def test_unit_of_a_column_is_checked_without_a_number() -> None:
    check_unit("in", units.LENGTH)
    with pytest.raises(UnitError) as caught:
        check_unit("g", units.LENGTH)
    assert caught.value.allowed == "length in a unit such as m"


def test_column_of_words_has_no_unit() -> None:
    with pytest.raises(UnitError) as caught:
        check_unit("m", None)
    assert (caught.value.allowed, caught.value.mend) == ("no unit in this column", "Take the unit out of the header.")


def test_plain_number_has_no_unit() -> None:
    assert read_number(" -2.5e3 ") == -2500.0
    with pytest.raises(UnitError) as caught:
        read_number("2 m")
    assert caught.value.allowed == "a plain number"


@pytest.mark.parametrize(
    ("text", "parts"),
    [("+.5in", (0.5, "in")), ("3.", (3.0, "")), ("-1e-3 %/K", (-0.001, "%/K")), (" 2  m ", (2.0, "m"))],
)
def test_number_is_split_from_its_unit(text: str, parts: tuple[float, str]) -> None:
    assert split(text) == parts


@pytest.mark.parametrize(
    ("value", "measure", "text"),
    [
        (0.28, units.SMALL_LENGTH, "280 mm"),
        (1.5e-6, units.AREA, "1.5 mm²"),
        (25.0, units.TEMPERATURE, "25 °C"),
        (0.0133, units.RESISTANCE_PER_LENGTH, "13.3 Ω/km"),
        (16920.0, units.CHARGE, "4.7 Ah"),
        (0.03, units.SHARE, "0.03"),
        (-0.002, units.PER_KELVIN, "-0.2 %/K"),
        (1.0 / 3.0, units.LENGTH, "0.3333 m"),
    ],
)
def test_quantity_is_shown_in_the_unit_a_person_reads(value: float, measure: Measure, text: str) -> None:
    assert shown(value, measure) == text


MEASURES = sorted({m for m in vars(units).values() if isinstance(m, Measure)}, key=lambda m: (m.name, m.show_unit))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(MEASURES), st.floats(-1e6, 1e6).filter(lambda value: value == 0.0 or abs(value) > 1e-3))
def test_converting_is_affine_and_one_to_one_in_the_shown_unit(measure: Measure, value: float) -> None:
    number = convert(repr(value), measure, measure.show_unit)
    factor, offset = units._scale(measure.show_unit, measure)
    assert factor > 0.0
    assert (number - offset) / factor == pytest.approx(value, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("texts", "measure", "value"),
    [
        (("4.7 g", "0.0047 kg", "4700 mg"), units.MASS, 0.0047),
        (("0.28 m", "28 cm", "280 mm", "0.28e3 mm"), units.LENGTH, 0.28),
        (("11 in", "27.94 cm"), units.LENGTH, 0.2794),
        (("41 degF", "5 degC", "278.15 K"), units.TEMPERATURE, 5.0),
        (("32 degF", "0 degC", "273.15 K"), units.TEMPERATURE, 0.0),
        (("-0.16 %/K", "-0.0016 1/K"), units.PER_KELVIN, -0.0016),
        (("1 lb", "0.45359237 kg"), units.MASS, 0.45359237),
        (("0.75 mm^2", "0.0075 cm^2"), units.AREA, 7.5e-7),
        (("1e12 W", "1e15 mW"), units.POWER, 1e12),
        (("1e-12 m", "1e-9 mm"), units.LENGTH, 1e-12),
    ],
)
def test_one_quantity_is_one_number_whatever_it_is_written_in(
    texts: tuple[str, ...], measure: Measure, value: float
) -> None:
    assert {convert(text, measure, None) for text in texts} == {value}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12", (1200, None)),
        ("12.5", (1250, None)),
        ("12.50 EUR", (1250, "EUR")),
        ("0.29GBP", (29, "GBP")),
        (" 0 ", (0, None)),
        ("1.100", (110, None)),
        ("1.15", (115, None)),
    ],
)
def test_amount_is_read_in_whole_cents(text: str, expected: tuple[int, str | None]) -> None:
    assert money(text) == expected


@pytest.mark.parametrize(
    ("text", "allowed"),
    [
        ("12,50", "an amount with a decimal point"),
        ("12.505", "an amount of whole cents"),
        ("-1", "an amount from 0 to 1000000000"),
        ("1000000000", "an amount from 0 to 1000000000"),
        ("12 euro", "an amount such as 12.50, or 12.50 EUR with an ISO 4217 code"),
        ("EUR 12", "an amount such as 12.50, or 12.50 EUR with an ISO 4217 code"),
        ("1e2", "an amount such as 12.50, or 12.50 EUR with an ISO 4217 code"),
        ("nan", "an amount such as 12.50, or 12.50 EUR with an ISO 4217 code"),
        ("", "an amount such as 12.50, or 12.50 EUR with an ISO 4217 code"),
    ],
)
def test_what_is_no_amount_is_refused(text: str, allowed: str) -> None:
    with pytest.raises(UnitError) as caught:
        money(text)
    assert caught.value.allowed == allowed


TEXTS = st.text("0123456789.,-+eE %°mkgVAWldF/*^²()_'\"\t\n\\é", max_size=24)


@settings(max_examples=100, deadline=None)
@given(TEXTS, st.sampled_from([units.LENGTH, units.TEMPERATURE, units.SHARE]))
def test_any_text_is_a_finite_quantity_or_refused(text: str, measure: Measure) -> None:
    value = 0.0
    with contextlib.suppress(UnitError):
        value = convert(text, measure, "")
    assert math.isfinite(value)
