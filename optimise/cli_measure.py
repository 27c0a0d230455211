"""The command `measure`: what was measured on a built light, beside what was predicted."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.console import Console

from optimise.cli_common import BAD_INPUT, apart, file_to_write, hand_over, refuse, write_or_stop
from optimise.parts import Collector, Fault, InputError
from optimise.report.record import to_json
from optimise.report.terminal import print_faults

if TYPE_CHECKING:
    from optimise.report.lamp import Lamp
    from optimise.studies.readings import Measured

_COMMAND = "measure"


@click.command()
@click.argument("record", type=click.Path(path_type=Path))
@click.option("--light", metavar="NAME", help="Of a record of a kit: which of its lights was measured.")
@click.option("--ambient", metavar="TEMPERATURE", help='Of the air about the light, as "22 degC".')
@click.option("--lux", multiple=True, metavar="READING", help='Straight ahead, as "118 lx at 2.5 m".')
@click.option("--bare-lux", multiple=True, metavar="READING", help="The same with all diffusers taken off.")
@click.option("--current", multiple=True, metavar="READING", help='From the supply, as "1.9 A at 14.6 V".')
@click.option("--board", multiple=True, metavar="READING", help='Temperature of the board, as "41 degC".')
@click.option("--runtime", multiple=True, metavar="READING", help='From full, as "70 min" or "85 min to empty".')
@click.option("--lux-meter", metavar="SHARE", help='What the lux meter may be off to either side (95 %), as "4 %".')
@click.option("--current-meter", metavar="SHARE", help='The same of the current meter, as "2 %".')
@click.option("--thermometer", metavar="KELVIN", help='The same of the board over the air, as "1 K".')
@click.option("--from", "source", type=click.Path(path_type=Path), metavar="FILE", help="Readings in a TOML file.")
@click.option("--form", type=click.Path(path_type=Path), metavar="FILE", help="Write a blank for --from to fill in.")
@click.option(
    "--calibration", type=click.Path(path_type=Path), metavar="FILE", help="Write the figures for build --calibration."
)
@click.option("--json", "json_path", metavar="FILE", help="Write the answer to FILE, or to standard output as -.")
def measure(
    record: Path,
    light: str | None,
    source: Path | None,
    form: Path | None,
    calibration: Path | None,
    json_path: str | None,
    **given: Any,
) -> None:
    """Compare what was measured on the light built from RECORD with what was predicted, and fit what explains it.

    RECORD is what `build --json FILE` wrote. All readings are at full light, after half an hour. Options for readings
    may be given several times; the more, the surer the factors. A light without a reading of its own with the diffuser
    taken off (--bare-lux) has flux and transmittance as one factor.
    """
    from optimise.report.calibration_file import calibration_text
    from optimise.report.measured import make_measured, print_measured
    from optimise.studies.measured import CannotFitError

    errors = Console(stderr=True)
    target = file_to_write(errors, "--json", json_path)
    blank = file_to_write(errors, "--form", form)
    figures = file_to_write(errors, "--calibration", calibration)
    apart(errors, (target, blank, figures), record)
    try:
        lamp, fingerprint, calibrated = _lamp(record, light)
        if blank is not None:
            _write_form(errors, blank, lamp, record.name, given, source)
            return
        measured = _measured(lamp, given, source)
        at = lamp.scenario if measured.ambient is None else lamp.at(measured.ambient).scenario
        try:
            told = make_measured(lamp.build, at, measured, fingerprint=fingerprint, light=light, calibrated=calibrated)
        except CannotFitError as error:
            refuse(errors, f"{str(error).capitalize()}.")
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    if json_path == "-":
        hand_over(to_json(told))
    else:
        print_measured(Console(), told)
    try:
        text = None if figures is None else calibration_text(told, lamp.build)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    if target is not None:
        write_or_stop(errors, target, to_json(told), "Answer")
    if figures is not None and text is not None:
        write_or_stop(errors, figures, text, "Calibration")


def _lamp(path: Path, name: str | None) -> tuple["Lamp", str, bool]:
    """Return the light of a record with its parts as stated, its fingerprint, and whether they are measured ones.

    Raises `InputError`.
    """
    from optimise.report.kit import KitRecord, read_build
    from optimise.report.lamp import lamps_of

    told, fingerprint = read_build(path)
    calibrated = told.inputs.calibration is not None
    # What is measured is held against the figures as stated, wherever the search had them at their bad end.
    lamps = lamps_of(told.model_copy(update={"worst_case": False}), path.name)
    if not isinstance(told, KitRecord):
        if name is not None:
            raise InputError([Fault(_COMMAND, None, "--light", name, "nothing: the record is of one light")])
        return lamps[0], fingerprint, calibrated
    names = ", ".join(lamp.name for lamp in lamps)
    for lamp in lamps:
        if lamp.name == name:
            return lamp, fingerprint, calibrated
    raise InputError([Fault(_COMMAND, None, "--light", name or "nothing", f"a light of the kit: {names}")])


def _measured(lamp: "Lamp", given: dict[str, Any], source: Path | None) -> "Measured":
    """Return what was measured. Raises `InputError` with all that is wrong with it."""
    from optimise.studies.measured import unfit
    from optimise.studies.readings import KINDS, METERS, read_measured

    faults = Collector()
    options = {key: given[key] for key in KINDS}
    meters = {key: given[key] for key in METERS}
    found = read_measured(options, given["ambient"], source, _COMMAND, faults, meters)
    if not found.readings and not faults.faults:
        allowed = ", ".join(f"--{key.replace('_', '-')}" for key in KINDS)
        place = _COMMAND if source is None else source.name
        faults.add(Fault(place, read="no reading", allowed=f"at least one of {allowed}", mend="--form writes a blank."))
    air = lamp.scenario if found.ambient is None else lamp.at(found.ambient).scenario
    faults.faults += unfit(lamp.build, air, found)
    faults.stop_if_any()
    return found


def _write_form(
    errors: Console, path: Path, lamp: "Lamp", record: str, given: dict[str, Any], source: Path | None
) -> None:
    from optimise.report.measured_form import blank_form

    if any(given.values()) or source is not None:
        refuse(errors, "--form writes a blank: give readings without it.")
    if path.exists():
        refuse(errors, f"{path} is there already.")
    write_or_stop(errors, path, blank_form(lamp.build, lamp.scenario, record, lamp.name or None), "Blank")
