"""The edge where units live: text with units to plain numbers on reading, and back on writing.

Inside, every number is in the canonical unit of its `Measure`: SI, with lm, lx, °C and degrees of arc where
a measure says so. pint does the conversion; what pint cannot know (that a candela is not a lumen, that a
degree is not a share) is told by the allowed units of a measure.
"""

import math
import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from optimise.parts.faults import quoted, tamed

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?\d+,\d+")
_FACTOR = r"(?:[A-Za-zµμΩΩ]+(?:_[A-Za-z]+)*|%|°[CF]?)(?:\s*(?:\*\*|\^)\s*-?[1-9]|[²³])?"
_UNIT = re.compile(rf"(?:1|{_FACTOR})(?:\s*[*/·]\s*{_FACTOR}){{0,5}}")
"""What is handed to pint at all: its parser also does sums, and 9**9**9 would never come back."""
_ENDLESS = re.compile(r"[A-Za-zµμΩΩ_]{61}")
"""Longer than any name of a unit with its prefix: pint takes time by the square of one, minutes for some 60,000."""


class UnitError(ValueError):
    """A text that is not a quantity of the wanted kind: `allowed` and `mend` say what would be."""

    def __init__(self, allowed: str, mend: str = "") -> None:
        super().__init__(allowed)
        self.allowed = allowed
        self.mend = mend


@dataclass(frozen=True)
class Measure:
    """A kind of quantity: its name, its canonical unit, and the unit a person is shown."""

    name: str
    unit: str
    shown: str = ""
    digits: int = 3
    """Significant digits for showing."""
    only: tuple[str, ...] = ()
    """The only units accepted, where the dimension alone would let a wrong one through."""

    @property
    def show_unit(self) -> str:
        """The unit a person is shown."""
        return self.shown or self.unit


FLUX = Measure("luminous flux", "lm", only=("lm", "lumen", "klm", "kilolumen"))
ILLUMINANCE = Measure("illuminance", "lx", only=("lx", "lux", "klx", "lm/m^2", "lm/m**2", "fc", "footcandle"))
CURRENT = Measure("current", "A")
VOLTAGE = Measure("voltage", "V")
POWER = Measure("power", "W")
LENGTH = Measure("length", "m")
SMALL_LENGTH = Measure("length", "m", "mm")
AREA = Measure("area", "m^2", "mm^2")
MASS = Measure("mass", "kg", "g")
MASS_PER_AREA = Measure("mass per area", "kg/m^2", "g/m^2")
MASS_PER_LENGTH = Measure("mass per length", "kg/m", "g/m")
ANGLE = Measure("angle", "deg", only=("deg", "degree", "degrees", "°", "rad", "radian"))
TEMPERATURE = Measure("temperature", "degC", "degC", only=("degC", "°C", "degF", "°F", "K", "kelvin"))
TEMPERATURE_DIFFERENCE = Measure("temperature difference", "K", only=("K", "kelvin"))
COLOUR_TEMPERATURE = Measure("colour temperature", "K", only=("K", "kelvin"))
MIRED = Measure("mired shift", "mired", only=("mired",))
PER_KELVIN = Measure("change per kelvin", "1/K", "%/K")
VOLTAGE_PER_KELVIN = Measure("voltage per kelvin", "V/K", "mV/K")
THERMAL_RESISTANCE = Measure("thermal resistance", "K/W")
HEAT_DENSITY = Measure("heat for an area", "W/m^2", "W/cm^2")
RESISTANCE = Measure("resistance", "ohm")
RESISTANCE_PER_LENGTH = Measure("resistance per length", "ohm/m", "ohm/km")
CHARGE = Measure("charge", "C", "Ah")
DURATION = Measure("time", "s", "h")
EXPOSURE_TIME = Measure("time", "s")
MINUTES = Measure("time", "s", "min")
FREQUENCY = Measure("frequency", "1/s", "1/s")
HERTZ = Measure("frequency", "1/s", "Hz")
DAYS = Measure("time", "s", "day")
SHARE = Measure("share", "", only=("", "%", "percent"))
NUMBER = Measure("number", "", only=("",))
METER_CONSTANT = Measure("exposure constant", "lx*s", only=("lx*s", "lx s", "lux*s"))


LEAST, GREATEST = 1e-12, 1e12
"""Sizes of a figure, in its canonical unit, within which all that is worked out of figures is finite."""


@cache
def _registry() -> Any:
    """Return pint with the units of this trade alone: its full list takes a good part of a second to load."""
    import pint

    return pint.UnitRegistry(str(Path(__file__).with_name("units.txt")))


@cache
def _full_registry() -> Any:
    import pint

    registry = pint.UnitRegistry()
    registry.define("footcandle = lumen / foot ** 2 = fc")
    return registry


def _allowed(measure: Measure) -> str:
    if measure is SHARE:
        return "a share, such as 0.9 or 90 %"
    if not measure.unit:
        return "a plain number"
    if measure.only:
        return f"{measure.name} in {', '.join(measure.only)}"
    return f"{measure.name} in a unit such as {measure.show_unit}"


@cache
def _scale(unit: str, measure: Measure) -> tuple[float, float]:
    """Return (factor, offset) that take a number in `unit` to the canonical unit of `measure`."""
    if unit == measure.unit:
        return 1.0, 0.0
    allowed = _allowed(measure)
    if measure.only and unit not in measure.only:
        raise UnitError(allowed, "Correct the number or its unit.")
    unknown = f"{quoted(unit)} is not a unit that is known."
    if not measure.only and (_ENDLESS.search(unit) or _UNIT.fullmatch(unit) is None):
        raise UnitError(allowed, unknown)
    import pint

    symbol = {"": "dimensionless", "°": "deg", "°C": "degC", "°F": "degF", "lx s": "lx*s"}.get(unit, unit)
    target = {"": "dimensionless"}.get(measure.unit, measure.unit)
    try:
        registry = _registry()
        try:
            parsed = registry.Unit(symbol)
        except pint.UndefinedUnitError:
            registry = _full_registry()
            parsed = registry.Unit(symbol)
        one = registry.Quantity(1.0, parsed).to(target).magnitude
        zero = registry.Quantity(0.0, parsed).to(target).magnitude
    except pint.DimensionalityError:
        raise UnitError(
            allowed,
            f"{tamed(unit, 60)} is a unit of another kind of quantity: correct the number or its unit.",
        ) from None
    except Exception:  # pint's parser fails in many ways on hostile text; all mean the same to a reader
        raise UnitError(allowed, unknown) from None
    if zero != 0.0 and measure.unit != "degC":  # a logarithmic unit, such as dBm: a factor cannot convert it
        raise UnitError(allowed, unknown)
    if not (math.isfinite(one) and math.isfinite(zero)):
        raise UnitError(allowed)
    return float(one - zero), float(zero)


def check_unit(unit: str, measure: Measure | None) -> None:
    """Raise `UnitError` if `unit` is not a unit of `measure` (None: of what has no unit)."""
    if measure is None:
        raise UnitError("no unit in this column", "Take the unit out of the header.")
    _scale(unit, measure)


def read_number(text: str) -> float:
    """Return the finite number that `text` is, or raise `UnitError`."""
    value, unit = split(text)
    if unit:
        raise UnitError("a plain number", "This column has no unit: take it out.")
    return value


def split(text: str) -> tuple[float, str]:
    """Split "2.5 m" into 2.5 and "m". Raise `UnitError` where it is no finite number with a unit."""
    number, unit = _number_and_unit(text)
    return float(number), unit


def _number_and_unit(text: str) -> tuple[str, str]:
    text = text.strip()
    if "," in text and _COMMA.match(text):
        raise UnitError("a number with a decimal point", "Write a point, not a comma, and no thousands separator.")
    match = _NUMBER.match(text)
    if match is None:
        raise UnitError("a finite number, with or without a unit", "Write a number.")
    number = match[0]
    if not math.isfinite(float(number)):
        raise UnitError("a finite number")
    return number, text[len(number) :].strip()


@cache
def _exact_scale(unit: str, measure: Measure) -> tuple[Decimal, Decimal, Decimal]:
    """Return factor, divisor and offset of a unit as they are defined, without the rounding of floating point.

    A number in it, times the factor, plus the offset, is divided by the divisor.
    """
    factor, offset = _scale(unit, measure)
    ratio, shift = _meant(factor), _meant(offset)
    common = math.lcm(ratio.denominator, shift.denominator)
    return Decimal(int(ratio * common)), Decimal(common), Decimal(int(shift * common))


def _meant(factor: float) -> Fraction:
    """Return the fraction that a factor was before floating point, if it is a short one; else the factor itself."""
    found = Fraction(factor)
    for short, within in ((found.limit_denominator(1000), 10**12), (Fraction(f"{factor:.12g}"), 10**15)):
        if abs(short - found) * within <= abs(found):
            return short
    return found


def convert(text: str, measure: Measure, unit: str | None) -> float:
    """Return the quantity in `text` in the canonical unit of `measure`.

    `unit` is the unit for text that carries none (a column's), or None where text must carry its own.
    Raises `UnitError` with what is allowed.
    """
    number, own = _number_and_unit(text)
    if not own:
        if unit is None and measure.unit:
            raise UnitError(
                f"{measure.name} with its unit, such as {measure.show_unit}",
                "Write the unit behind the number.",
            )
        own = unit or ""
    # What is written as 280 mm is the very number that 0.28 m is: decimals are scaled as decimals.
    factor, divisor, offset = _exact_scale(own, measure)
    exact = (Decimal(number) * factor + offset) / divisor
    result = float(exact)
    if abs(result) > GREATEST or (offset == 0 and 0 < abs(exact) < LEAST):
        size = f"{LEAST:g} to {GREATEST:g} {measure.unit}".strip()
        raise UnitError(f"0, or a size of {size}", "Correct the number or its unit.")
    return result


@cache
def _shown_scale(measure: Measure) -> tuple[float, float]:
    return _scale(measure.show_unit, measure)


_SIGNS = {"degC": "°C", "deg": "°", "mm^2": "mm²", "W/cm^2": "W/cm²", "ohm/km": "Ω/km", "g/m^2": "g/m²"}


def rounded(value: float, measure: Measure, *, up: bool) -> float:
    """Return `value` (canonical) rounded to what `shown` shows of it, never to the other side than asked."""
    factor, offset = _shown_scale(measure)
    inside = (value - offset) / factor
    if inside == 0.0:
        return value
    step = 10.0 ** (math.floor(math.log10(abs(inside))) - measure.digits)
    whole = inside / step
    # A value that is shown exactly stays as it is, whatever floating point makes of the division.
    near = round(whole)
    count = near if math.isclose(whole, near, rel_tol=1e-12) else math.ceil(whole) if up else math.floor(whole)
    return float(f"{count * step:.{measure.digits + 1}g}") * factor + offset


def shown(value: float, measure: Measure) -> str:
    """Return `value` (canonical) as text in the unit a person is shown."""
    factor, offset = _shown_scale(measure)
    number = f"{(value - offset) / factor:.{measure.digits + 1}g}"
    unit = _SIGNS.get(measure.show_unit, measure.show_unit)
    return f"{number} {unit}".strip()


_MONEY = re.compile(r"([+-]?\d+(?:\.\d+)?)(?:\s*([A-Z]{3}))?")


def money(text: str) -> tuple[int, str | None]:
    """Read "12.50" or "12.50 EUR" as (cents, currency or None). Raise `UnitError` on anything else."""
    if _COMMA.match(text.strip()):
        raise UnitError("an amount with a decimal point", "Write a point, not a comma.")
    match = _MONEY.fullmatch(text.strip())
    if match is None:
        raise UnitError("an amount such as 12.50, or 12.50 EUR with an ISO 4217 code")
    try:
        cents = Decimal(match[1]) * 100
    except InvalidOperation:  # pragma: no cover - the pattern lets only numbers through
        raise UnitError("an amount such as 12.50") from None
    if cents != cents.to_integral_value():
        raise UnitError("an amount of whole cents", "Give the price of a pack instead of the price of one piece.")
    if not 0 <= cents < 10**11:
        raise UnitError("an amount from 0 to 1000000000")
    return int(cents), match[2]
