"""Measured figures as a file for the next build: `build --calibration` reads it."""

from collections.abc import Iterator

from optimise.model.build import Build
from optimise.model.stacks import layers_of
from optimise.parts import Fault, InputError, units
from optimise.parts.calibration import SCHEMA, refusal
from optimise.parts.figures import MEASURABLE, MEASURES, Calibrated, measurable
from optimise.parts.part import Part
from optimise.parts.text import toml_text
from optimise.parts.units import Measure
from optimise.report.measured import FactorRecord, MeasuredRecord


def calibration_text(record: MeasuredRecord, build: Build) -> str:
    """Return a file of TOML with the figures of single parts that a measurement gave.

    Raises `InputError` where there is none, or one is what no part can be.
    """
    found = list(_figures(record, build))
    if not found:
        allowed = "readings that tell the figure of one part: light, board, running time"
        raise InputError([Fault("measure", None, "--calibration", "none of a single part", allowed)])
    faults = []
    for part, one in found:
        refused = refusal(part, one.value)
        if refused is not None:
            read = f"{one.figure} of {part.part}: {units.shown(one.value, MEASURES[one.figure])}"
            mend = "Measure again, or leave the readings of it out."
            faults.append(Fault("measure", None, "--calibration", read, refused, mend))
    if faults:
        raise InputError(faults)
    lines = [
        "# Figures measured on a built light, for: rushlight build SCENARIO --calibration FILE",
        "# They hold for these very parts. No rating of a fuse, a cable or a driver is among them.",
        f'schema = "{SCHEMA}"',
        f'record = "{record.record}"',
    ]
    for _, one in found:
        lines += ["", "[[figure]]", *_lines(one)]
    return "\n".join(lines) + "\n"


def _figures(record: MeasuredRecord, build: Build) -> Iterator[tuple[Part, Calibrated]]:
    sheets = layers_of(build.diffuser)
    for factor in record.factors:
        part: Part | None = None
        if factor.name in {"flux", "light"} and len(build.kinds) == 1:
            part = build.emitter
        elif factor.name == "transmittance" and len(sheets) == 1:
            part = sheets[0]
        elif factor.name == "thermal resistance":
            part = build.panel
        elif factor.name == "usable energy":
            part = build.battery
        if part is not None:
            yield part, _calibrated(factor, part, sheets, record.heat)


def _calibrated(factor: FactorRecord, part: Part, sheets: tuple[Part, ...], heat: float) -> Calibrated:
    scale = 3600.0 if factor.name == "usable energy" else 1.0
    value = factor.value * scale
    thermal = factor.name == "thermal resistance"
    return Calibrated(
        part=part.part,
        figure=MEASURABLE[type(part)][0],
        value=value,
        stated=measurable(part),
        low=None if factor.low is None else value * factor.low / factor.factor,
        high=None if factor.high is None else value * factor.high / factor.factor,
        readings=factor.readings,
        behind=tuple(sheet.part for sheet in sheets) if factor.name == "light" else (),
        heat=heat if thermal else None,
        predicted=factor.stated if thermal else None,
    )


def _lines(one: Calibrated) -> Iterator[str]:
    measure = MEASURES[one.figure]
    yield f"part = {toml_text(one.part)}"
    yield f'figure = "{one.figure}"'
    for key in ("value", "stated", "low", "high", "predicted"):
        value = getattr(one, key)
        if value is not None:
            yield f'{key} = "{_exact(value, measure)}"'
    if one.heat is not None:
        yield f'heat = "{one.heat:.6g} W"'
    yield f"readings = {one.readings}"
    if one.behind:
        yield f"behind = [{', '.join(toml_text(code) for code in one.behind)}]"


def _exact(value: float, measure: Measure) -> str:
    """Return a quantity with twelve digits, in the unit that a person is shown."""
    scale = 3600.0 if measure is units.CHARGE else 1.0
    return f"{value / scale:.12g} {measure.show_unit}".strip()
