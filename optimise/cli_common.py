"""What the commands share: exit codes, reading inputs with all faults at once, progress, limits in conflict."""

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

import click
from rich.console import Console

from optimise.columns.feeding import unfed_emitters
from optimise.model.refinement import CannotRefineError
from optimise.model.search import Result
from optimise.model.solver import SolverError
from optimise.model.state import Progress, TimeUpError
from optimise.parts import Catalogue, Collector, Fault, InputError, read_catalogue, units
from optimise.parts.calibration import calibrated, read_calibration
from optimise.report.table import plain
from optimise.report.terminal import print_faults
from optimise.report.whole import write_whole
from optimise.scenario import Scenario, read_scenario
from optimise.scenario.terms import as_paid, home_currency, missing_rates
from optimise.studies.conflict import conflict

ANSWERED, BAD_INPUT, IMPOSSIBLE, NO_ANSWER = 0, 2, 3, 4

catalogue_option = click.option(
    "--catalogue",
    type=click.Path(path_type=Path),
    default=Path("catalogue"),
    show_default=True,
    help="Folder of the catalogue's CSV files, or a workbook (.xlsx).",
)
calibration_option = click.option(
    "--calibration",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Figures measured on a built light (measure --calibration) in place of the catalogue's.",
)


def in_seconds(context: click.Context, option: click.Parameter, written: str | None) -> float | None:
    """Return what an option holds as a scenario writes a time, `60 s` or `2 min`, or as a bare number of seconds.

    Raises `click.BadParameter` where that is no time.
    """
    if written is None:
        return None
    try:
        seconds = units.convert(written, units.EXPOSURE_TIME, "s")
    except units.UnitError as error:
        raise click.BadParameter(
            f"'{plain(written)}' is no time; allowed: {error.allowed}, or a number of seconds."
        ) from None
    if seconds <= 0.0:
        raise click.BadParameter(f"'{plain(written)}' is not more than 0 s.")
    return seconds


time_limit_option = click.option(
    "--time-limit", callback=in_seconds, metavar="TIME", help="Longest search: '2 min', '60 s', or a number of seconds."
)
threads_option = click.option(
    "--threads", type=click.IntRange(1, 64), default=1, show_default=True, help="Threads of the solver."
)


def sound_catalogue(folder: Path, faults: Collector, offers: Path | None = None) -> Catalogue | None:
    """Read a catalogue, or add its faults and return None; one with emitters that nothing feeds is returned too.

    offers: a file of offers to read in place of its own.
    """
    try:
        read = read_catalogue(folder, offers)
    except InputError as error:
        faults.faults += error.faults
        return None
    faults.faults += unfed_emitters(read)
    return read


def sound_scenario(path: Path, faults: Collector) -> Scenario | None:
    """Read a scenario, or add its faults and return None."""
    try:
        return read_scenario(path)
    except InputError as error:
        faults.faults += error.faults
        return None


def read_all(
    catalogue: Path | None, scenario: Path | None, calibration: Path | None = None
) -> tuple[Catalogue | None, Scenario | None]:
    """Read both inputs, and the figures that take the place of the catalogue's. Raises `InputError` with all faults."""
    faults = Collector()
    read = None if catalogue is None else sound_catalogue(catalogue, faults)
    measured = None if calibration is None else read_calibration(calibration, faults)
    if read is not None and measured is not None and calibration is not None:
        read = calibrated(read, measured, calibration.name, faults)
    wanted = None if scenario is None else sound_scenario(scenario, faults)
    if read is not None and wanted is not None:
        faults.faults += across(read, wanted, "scenario" if scenario is None else scenario.name)
    faults.stop_if_any()
    return read, wanted


def one_light(scenario: Scenario, file: str) -> Iterator[Fault]:
    """Yield the fault that a scenario is of a kit where one light is looked at."""
    if scenario.kit:
        names = ", ".join(entry.name for entry in scenario.kit)
        mend = "Take [[kit]] out, or write a scenario for each light."
        yield Fault(file, None, "key kit", names, "no kit: only build and check know kits", mend)


def read_job(
    errors: Console, catalogue: Path, scenario: Path, *, kits: bool = False, calibration: Path | None = None
) -> tuple[Catalogue, Scenario]:
    """Read both inputs, or tell the faults of both and end with the code for bad input; prices are what is paid.

    kits: whether the scenario may ask for several lights. calibration: a file of measured figures.
    """
    try:
        read, wanted = read_all(catalogue, scenario, calibration)
        if wanted is not None and not kits:
            faults = Collector()
            faults.faults += one_light(wanted, scenario.name)
            faults.stop_if_any()
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    assert read is not None
    assert wanted is not None
    return as_paid(read, wanted), wanted


def refuse(errors: Console, *reasons: str) -> NoReturn:
    """Say why nothing is solved, and end with the code for bad input."""
    for reason in reasons:
        errors.print(plain(f"{reason} Nothing was solved."))
    sys.exit(BAD_INPUT)


def file_to_write(errors: Console, option: str, path: str | Path | None) -> Path | None:
    """Return the file that an option names, None for none or standard output; refuse one in a folder that is not."""
    if path is None or path == "-":
        return None
    if not Path(path).parent.is_dir():
        refuse(errors, f"{option}: there is no folder {Path(path).parent}.")
    return Path(path)


def apart(errors: Console, targets: Iterable[Path | None], record: Path | None = None) -> None:
    """Refuse files that would be written over the record that is read, or over one another."""
    given = [path for path in targets if path is not None]
    for place, path in enumerate(given):
        if record is not None and path.exists() and record.exists() and path.samefile(record):
            refuse(errors, f"{path} is the record itself.")
        if path.resolve() in {other.resolve() for other in given[:place]}:
            refuse(errors, f"{path} is asked for twice.")


@contextmanager
def solving(errors: Console, *, quiet: bool) -> Iterator[Progress]:
    """Show how far a search is; tell a fault of ours, or a key that stopped it, and end with the code for no answer."""
    try:
        with shown_progress(quiet=quiet) as progress:
            yield progress
    except (SolverError, CannotRefineError) as error:
        errors.print(plain(f"Stopped: {error}. This is a fault of rushlight, not of your files."))
        sys.exit(NO_ANSWER)
    except KeyboardInterrupt:
        errors.print("Stopped before there was an answer.")
        sys.exit(NO_ANSWER)


def deadline_of(limit: float | None, began: float) -> float | None:
    """Return when a search that began then (of time.monotonic) must end."""
    return None if limit is None else began + limit


def across(catalogue: Catalogue, scenario: Scenario, file: str) -> Iterator[Fault]:
    """Yield what is wrong between a catalogue and a scenario that are each sound."""
    for code, where in missing_rates(catalogue, scenario):
        yield Fault(
            file,
            None,
            "key buying.rates",
            f"no rate for {code}, the currency of {where}",
            f"what 1 {code} costs in {home_currency(catalogue, scenario)}",
            f'Add it under [buying]: rates = {{ {code} = "1.00 {home_currency(catalogue, scenario)}" }}.',
        )
    known = {offer.supplier for rows in catalogue.offers.values() for offer in rows}
    for name in scenario.limits.suppliers or ():
        if name not in known and name != "own":
            yield Fault(file, None, "key limits.suppliers", f'"{name}"', ", ".join(sorted(known)), "")


def hand_over(text: str) -> None:
    """Give a record or a page to standard output, byte for byte as it is in a file, whatever the terminal can show."""
    click.echo(text.encode("utf-8"), nl=False)


def write_or_stop(errors: Console, path: Path, text: str | bytes, what: str) -> None:
    """Write a file whole and say where it is, or say why not and end with the code for no answer."""
    try:
        write_whole(path, text)
    except OSError as error:
        errors.print(plain(f"{path} was not written: {error.strerror}."))
        sys.exit(NO_ANSWER)
    errors.print(plain(f"{what}: {path}"))


@contextmanager
def shown_progress(quiet: bool) -> Iterator[Progress]:
    """Show on standard error, where that is a terminal, what the search is doing."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield lambda text: None
        return
    with console.status("reading") as status:
        yield lambda text: status.update(text)


def clash_of(result: Result, progress: Progress, began: float) -> list[tuple[str, str]] | None:
    """Return the limits in conflict; None where there is no conflict, or no time to find it.

    `began` is when the search began (of time.monotonic): its time limit holds for both.
    """
    if result.status != "impossible":
        return None
    scenario = result.market.scenario
    progress("looking for the limits in conflict")
    try:
        found = conflict(result.market.catalogue, scenario, progress, deadline_of(scenario.search.time_limit, began))
    except (TimeUpError, KeyboardInterrupt):
        return None
    return [(item.name, item.asked) for item in found or ()]
