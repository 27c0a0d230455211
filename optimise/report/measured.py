"""What was measured on a built light beside its prediction: as a record, and as a person reads it."""

import math
from collections.abc import Iterator, Sequence
from typing import Literal

from pydantic import Field
from rich.console import Console
from rich.text import Text

from optimise import __version__
from optimise.model.build import Build
from optimise.model.stacks import layers_of
from optimise.physics.fitting import CONFIDENCE
from optimise.report.record_parts import RecordModel, short
from optimise.report.table import plain, table_of
from optimise.report.terminal import number, print_lines
from optimise.scenario import Scenario
from optimise.studies.measured import Compared, Factors, Fitted, compare, fit, heat_of
from optimise.studies.readings import Measured, Quantity

SCHEMA: Literal["rushlight-measured/1"] = "rushlight-measured/1"

DISAGREES = 0.1
"""Share by which a reading of light is off its fit where a note asks to look again (common practice, no source)."""

_WHOLE = "flux × transmittance"
_LIGHT = ("illuminance", "bare illuminance")
_UNITS: dict[str, str] = {
    "illuminance": "lx",
    "bare illuminance": "lx",
    "current": "A",
    "board temperature": "degC",
    "runtime": "h",
}
_FACTOR_UNITS = {
    "flux": "lm",
    "light": "lm",
    "transmittance": "",
    "thermal resistance": "K/W",
    "input power": "VA",
    "usable energy": "Ah",
}


class ReadingRecord(RecordModel):
    """A reading beside its prediction.

    `deviation` is measured over predicted, less 1 (of a board: of its rise above the air); `stops` the same for light.
    `least` and `most` are what the stated tolerances of the parts let it be, null where none of them bears on it, and
    `within` whether it lies there. `fitted` is what the factors make of it. `distance` in m, `voltage` in V.
    """

    quantity: Quantity
    unit: str
    distance: float | None
    voltage: float | None
    to_empty: bool
    measured: float
    predicted: float
    deviation: float
    stops: float | None
    least: float | None
    most: float | None
    within: bool | None
    fitted: float


class FactorRecord(RecordModel):
    """A factor that was fitted: `value` is the figure of the first of `parts` that it comes to, `stated` what it was.

    `light` is flux times transmittance, which the readings cannot tell apart; `stated` and `value` are then those of
    the flux. `thermal resistance` has as stated what the panel states or what is calculated for the same heat. `low`
    and `high` are the ends of the interval of the factor by the scatter of the readings, null where there are none to
    spare. `freedom` is how many there are to spare.
    """

    name: Literal["flux", "transmittance", "light", "thermal resistance", "input power", "usable energy"]
    parts: list[str]
    unit: str
    stated: float
    value: float
    factor: float
    low: float | None
    high: float | None
    readings: int
    freedom: int


class MeasuredRecord(RecordModel):
    """All that was measured of one light, and what explains it; `record` is the SHA-256 of the record measured.

    `ambient` is in °C, `ambient_stated` whether it was said (else it is the job's). `heat` is that of the board, W,
    with the input power as it was measured.
    """

    schema_: Literal["rushlight-measured/1"] = Field(SCHEMA, alias="schema")
    record: str
    title: str
    light: str | None
    ambient: float
    ambient_stated: bool
    heat: float
    confidence: float
    readings: list[ReadingRecord]
    factors: list[FactorRecord]
    cautions: list[str]
    notes: list[str]
    version: str


def make_measured(
    build: Build,
    scenario: Scenario,
    measured: Measured,
    *,
    fingerprint: str,
    light: str | None,
    calibrated: bool = False,
) -> MeasuredRecord:
    """Return the record of what was measured; the scenario has the air of the readings. Raises `CannotFitError`.

    calibrated: whether the build's parts have measured figures already.
    """
    factors, fitted = fit(build, scenario, measured.readings)
    rows = compare(build, scenario, measured.readings, factors)
    ambient = scenario.power.ambient
    heat = heat_of(build, scenario, factors)
    again = ["The build was made with measured figures: what is called stated here are those."] if calibrated else []
    return MeasuredRecord(
        record=fingerprint,
        title=scenario.title,
        light=light,
        ambient=ambient,
        ambient_stated=measured.ambient is not None,
        heat=short(heat),
        confidence=CONFIDENCE,
        readings=[_reading(row, ambient) for row in rows],
        factors=[_factor(one) for one in fitted],
        cautions=list(_cautions(build, measured)),
        notes=[*again, *_notes(build, scenario, measured, rows, factors, fitted, heat)],
        version=__version__,
    )


def _reading(row: Compared, ambient: float) -> ReadingRecord:
    reading = row.reading
    light = reading.quantity in _LIGHT
    zero = ambient if reading.quantity == "board temperature" else 0.0
    ratio = (reading.value - zero) / (row.predicted - zero)
    scale = 3600.0 if reading.quantity == "runtime" else 1.0
    ranged = row.most - row.least > 1e-9 * abs(row.predicted - zero)
    # What a meter shows at the very end of the range is within it, whatever floating point makes of the sum.
    slack = 1e-9 * abs(row.predicted - zero)
    return ReadingRecord(
        quantity=reading.quantity,
        unit=_UNITS[reading.quantity],
        distance=reading.where if light else None,
        voltage=reading.where if reading.quantity == "current" else None,
        to_empty=reading.to_empty,
        measured=short(reading.value / scale),
        predicted=short(row.predicted / scale),
        deviation=short(ratio - 1.0),
        stops=short(math.log2(ratio)) if light else None,
        least=short(row.least / scale) if ranged else None,
        most=short(row.most / scale) if ranged else None,
        within=row.least - slack <= reading.value <= row.most + slack if ranged else None,
        fitted=short(row.fitted / scale),
    )


def _factor(one: Fitted) -> FactorRecord:
    scale = 3600.0 if one.name == "usable energy" else 1.0
    half = one.half_width
    return FactorRecord(
        name=one.name,
        parts=list(one.parts),
        unit=_FACTOR_UNITS[one.name],
        stated=short(one.stated / scale),
        value=short(one.value / scale),
        factor=short(one.factor),
        low=None if half is None else short(one.factor * math.exp(-half)),
        high=None if half is None else short(one.factor * math.exp(half)),
        readings=one.readings,
        freedom=one.freedom,
    )


def _cautions(build: Build, measured: Measured) -> Iterator[str]:
    if build.battery is None:
        yield (
            "Mains: measuring on mains parts is for people licensed or competent to do it; keep covers on, take "
            "current and power by a meter that plugs in between, and let local codes decide."
        )
    elif any(reading.quantity == "current" for reading in measured.readings):
        yield "Current: with the fuse in circuit, or by a clamp; an ammeter across a battery is a short circuit."
    if any(reading.quantity == "board temperature" for reading in measured.readings):
        yield "Heat: fix the sensor before switching on; the board may burn."
    if any(reading.quantity == "runtime" for reading in measured.readings):
        yield "Running time: stay with it, stop at the battery's cut-off, and let it cool before it is charged."
    yield "Bright light: put the meter in its place before switching on, and do not look into the source."
    yield "Readings are those of one light as it was made, on one day: they are no test report and no certificate."


def _notes(
    build: Build,
    scenario: Scenario,
    measured: Measured,
    rows: Sequence[Compared],
    factors: Factors,
    fitted: Sequence[Fitted],
    heat: float,
) -> Iterator[str]:
    names = {one.name: one for one in fitted}
    ambient = scenario.power.ambient
    if measured.ambient is None:
        yield f"How warm the air was is not said: taken as {number(ambient, 'degC')}, that of the job."
    if any(r.quantity == "current" and r.where is None for r in measured.readings):
        volts = scenario.power.mains_voltage if build.battery is None else None
        told = number(volts, "V") if volts is not None else "the battery's nominal one"
        yield f"The voltage at which the current was read is not said: taken as {told}."
    if "light" in names:
        yield (
            "With no reading without the diffuser, flux and transmittance are one factor, that of the whole light; "
            "distance, aim and meter are in it too."
        )
    elif any(r.quantity == "bare illuminance" for r in measured.readings) and "transmittance" not in names:
        yield "With no reading behind the diffuser, nothing is known of its transmittance."
    if len(build.kinds) > 1 and ("flux" in names or "light" in names):
        yield "The two kinds of emitter are one to a meter: the factor is that of both, the flux that of the first."
    if len(layers_of(build.diffuser)) > 1 and ("transmittance" in names or "light" in names):
        yield "The two sheets are one to a meter: what is off in the one cannot be told from the other."
    if "transmittance" in names and build.panel.depth is not None and build.panel.reflectance is not None:
        yield "What the walls of the box take is counted with the diffuser on alone: a fault of it is in transmittance."
    if "input power" in names:
        yield (
            "The driver's efficiency, the emitters' voltage and the meter are one factor, the input power; the board's "
            "heat is taken to go with it. It is never a calibration: fuse and cable go by what the catalogue states."
        )
    elif "thermal resistance" in names:
        yield "With no reading of the current, the board's heat is the predicted one; what it is off is in K/W."
    if thermal := names.get("thermal resistance"):
        yield (
            f"The thermal resistance is that at {number(heat, 'W')} of heat, as the light hung: in still air a board "
            "sheds less for each kelvin when it is cooler."
        )
        if thermal.factor < 1.0:
            yield (
                f"{build.panel.part}: {number(thermal.value, 'K/W')} is less than the {number(thermal.stated, 'K/W')} "
                "predicted. A draught, a cold wall or a sensor that does not touch the board does that: be sure."
            )
    if "usable energy" in names:
        yield "Capacity, usable share and what the cold leaves are one factor, told as the capacity."
    yield from _doubts(rows, fitted, ambient)


def _doubts(rows: Sequence[Compared], fitted: Sequence[Fitted], ambient: float) -> Iterator[str]:
    """Yield what a reader should mistrust in the readings."""
    for row in rows:
        zero = ambient if row.reading.quantity == "board temperature" else 0.0
        ratio = (row.reading.value - zero) / (row.predicted - zero)
        if not 0.5 <= ratio <= 2.0:
            yield f"{_named(row)}: measured is {ratio:.3g} times predicted; look at the unit, the place and the aim."
    light = [row for row in rows if row.reading.quantity in _LIGHT]
    off = [row for row in light if abs(row.fitted / row.reading.value - 1.0) > DISAGREES]
    if off:
        yield (
            f"{', '.join(_named(row) for row in off)}: more than {100 * DISAGREES:.0f} % off what one factor makes of "
            "all: stray light, a wrong distance, or a meter not straight ahead."
        )
    alone = [_WHOLE if one.name == "light" else one.name for one in fitted if one.half_width is None]
    if alone:
        yield f"No reading to spare for {', '.join(alone)}: how sure it is cannot be told. Measure again, or elsewhere."
    if len(alone) < len(fitted):
        yield "Intervals are by the scatter of the readings; what the meter itself is off is in all of them alike."


def _named(row: Compared) -> str:
    reading = row.reading
    where = (
        "" if reading.where is None else f" at {number(reading.where, 'V' if reading.quantity == 'current' else 'm')}"
    )
    return f"{reading.quantity}{where}"


def print_measured(console: Console, record: MeasuredRecord) -> None:
    """Print what was measured: readings beside their predictions, the factors, cautions and notes."""
    title = record.title if record.light is None else f"{record.title}: {record.light}"
    console.print(Text("Measured: ", style="dim") + plain(title))
    table = table_of(
        "",
        ("reading", False),
        ("measured", True),
        ("predicted", True),
        ("off by", True),
        ("tolerances allow", True),
        ("with factors", True),
    )
    for row in record.readings:
        table.add_row(
            _name(row),
            number(row.measured, row.unit),
            number(row.predicted, row.unit),
            _off(row),
            _range(row),
            number(row.fitted, row.unit),
        )
    console.print(table)
    told = table_of(
        "\nWhat explains it",
        ("factor", False),
        ("of", False),
        ("stated", True),
        ("comes to", True),
        ("factor", True),
        (f"{100 * record.confidence:.0f} %", True),
        ("readings", True),
    )
    for one in record.factors:
        span = "not known" if one.low is None or one.high is None else f"{one.low:.4g} to {one.high:.4g}"
        told.add_row(
            _WHOLE if one.name == "light" else one.name,
            plain(", ".join(one.parts)),
            number(one.stated, one.unit),
            number(one.value, one.unit),
            f"{one.factor:.4g}",
            span,
            str(one.readings),
        )
    console.print(told)
    print_lines(console, record.cautions, record.notes)


def _name(row: ReadingRecord) -> str:
    if row.distance is not None:
        return f"{row.quantity} at {number(row.distance, 'm')}"
    if row.voltage is not None:
        return f"{row.quantity} at {number(row.voltage, 'V')}"
    return f"{row.quantity} to empty" if row.to_empty else row.quantity


def _off(row: ReadingRecord) -> str:
    share = f"{100.0 * row.deviation:+.1f} %"
    if row.stops is not None:
        return f"{share}, {row.stops:+.2f} stop"
    if row.unit == "degC":
        return f"{row.measured - row.predicted:+.1f} K, {share}"
    return share


def _range(row: ReadingRecord) -> str:
    if row.least is None or row.most is None:
        return "none stated"
    verdict = "within" if row.within else "OUTSIDE"
    return f"{number(row.least, '')} to {number(row.most, row.unit)}: {verdict}"
