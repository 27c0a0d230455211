"""What was measured on a built light beside its prediction: as a record, and as a person reads it."""

import math
from collections.abc import Mapping
from typing import Literal

from pydantic import Field
from rich.console import Console
from rich.text import Text

from optimise import __version__
from optimise.model.build import Build
from optimise.physics.fitting import CONFIDENCE
from optimise.report.measured_notes import LIGHT, cautions_of, factor_name, notes_of
from optimise.report.record_parts import RecordModel, short
from optimise.report.table import plain, table_of, whole_words
from optimise.report.terminal import number, print_lines
from optimise.scenario import Scenario
from optimise.studies.measured import Compared, Fitted, compare, fit, heat_of
from optimise.studies.meters import covered, reach, with_meters
from optimise.studies.readings import Measured, Quantity

SCHEMA: Literal["rushlight-measured/1"] = "rushlight-measured/1"

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
    `within` whether it lies there. `meter` is what the meter may be off to either side (95 %), null where that is not
    stated, and `meter_covers` whether measured and predicted are no farther apart. `fitted` is what the factors make of
    it. `distance` in m, `voltage` in V.
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
    meter: float | None
    meter_covers: bool | None
    fitted: float


class FactorRecord(RecordModel):
    """A factor that was fitted: `value` is the figure of the first of `parts` that it comes to, `stated` what it was.

    `light` is flux times transmittance, which the readings cannot tell apart; `stated` and `value` are then those of
    the flux. `thermal resistance` has as stated what the panel states or what is calculated for the same heat. `low`
    and `high` are the ends of the interval of the factor by all that is known: the scatter of the readings where there
    are some to spare (`freedom` is how many), and what the meters may be off where that is stated. `meters` is what the
    latter move the factor's logarithm to either side (95 %), null where it is not known.
    """

    name: Literal["flux", "transmittance", "light", "thermal resistance", "input power", "usable energy"]
    parts: list[str]
    unit: str
    stated: float
    value: float
    factor: float
    low: float | None
    high: float | None
    meters: float | None
    readings: int
    freedom: int


class MeasuredRecord(RecordModel):
    """All that was measured of one light, and what explains it; `record` is the SHA-256 of the record measured.

    `ambient` is in °C, `ambient_stated` whether it was said (else it is the job's). `heat` is that of the board, W,
    with the input power as it was measured. `meters` is what each meter may be off to either side (95 %) as it was
    stated: a share, of the thermometer K.
    """

    schema_: Literal["rushlight-measured/1"] = Field(SCHEMA, alias="schema")
    record: str
    title: str
    light: str | None
    ambient: float
    ambient_stated: bool
    heat: float
    meters: dict[str, float]
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
    fitted = with_meters(build, scenario, measured.readings, fitted, measured.meters)
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
        meters=dict(measured.meters),
        confidence=CONFIDENCE,
        readings=[_reading(row, ambient, measured.meters) for row in rows],
        factors=[_factor(one) for one in fitted],
        cautions=list(cautions_of(build, measured)),
        notes=[*again, *notes_of(build, scenario, measured, rows, factors, fitted, heat)],
        version=__version__,
    )


def _reading(row: Compared, ambient: float, meters: Mapping[str, float]) -> ReadingRecord:
    reading = row.reading
    light = reading.quantity in LIGHT
    zero = ambient if reading.quantity == "board temperature" else 0.0
    ratio = (reading.value - zero) / (row.predicted - zero)
    scale = 3600.0 if reading.quantity == "runtime" else 1.0
    ranged = row.most - row.least > 1e-9 * abs(row.predicted - zero)
    # What a meter shows at the very end of the range is within it, whatever floating point makes of the sum.
    slack = 1e-9 * abs(row.predicted - zero)
    meter = reach(reading, meters)
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
        meter=None if meter is None else short(meter),
        meter_covers=None if meter is None else covered(row, meters),
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
        meters=None if one.meters is None else short(one.meters),
        readings=one.readings,
        freedom=one.freedom,
    )


def print_measured(console: Console, record: MeasuredRecord) -> None:
    """Print what was measured: readings beside their predictions, the factors, cautions and notes."""
    title = record.title if record.light is None else f"{record.title}: {record.light}"
    console.print(Text("Measured: ", style="dim") + plain(title))
    # Where no meter is stated, a note says so once.
    metered = bool(record.meters)
    heads = [("reading", False), ("measured", True), ("predicted", True), ("off by", True)]
    heads += [("meter", True)] if metered else []
    table = table_of("", *heads, ("tolerances allow", True), ("with factors", True))
    for row in record.readings:
        table.add_row(
            _name(row),
            number(row.measured, row.unit),
            number(row.predicted, row.unit),
            _off(row),
            *([_meter(row)] if metered else []),
            _range(row),
            number(row.fitted, row.unit),
        )
    console.print(whole_words(table, console.width))
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
            factor_name(one.name),
            plain(", ".join(one.parts)),
            number(one.stated, one.unit),
            number(one.value, one.unit),
            f"{one.factor:.4g}",
            span,
            str(one.readings),
        )
    console.print(whole_words(told, console.width))
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


def _meter(row: ReadingRecord) -> str:
    if row.meter is None:
        return "not stated" if row.unit != "h" else "a clock"
    return f"± {number(row.meter, 'K' if row.unit == 'degC' else row.unit)}"


def _range(row: ReadingRecord) -> str:
    if row.least is None or row.most is None:
        return "none stated"
    verdict = "within" if row.within else "OUTSIDE"
    if not row.within and row.meter is not None and row.least - row.meter <= row.measured <= row.most + row.meter:
        verdict = "outside, by less than the meter can tell"
    return f"{number(row.least, '')} to {number(row.most, row.unit)}: {verdict}"
