"""The command `rushlight`: reading arguments, calling the library, choosing the exit code."""

import hashlib
import sys
import time
from pathlib import Path

import click
from rich.console import Console

from optimise import __version__
from optimise.cli_common import (
    ANSWERED,
    BAD_INPUT,
    IMPOSSIBLE,
    NO_ANSWER,
    clash_of,
    read_all,
    shown_progress,
)
from optimise.cli_study import study
from optimise.demonstration import copy_demonstration
from optimise.model.refinement import CannotRefineError
from optimise.model.search import best_build
from optimise.model.state import SolverError
from optimise.parts import Fault, InputError
from optimise.parts.tolerance import bad_end
from optimise.report.record import make_record, to_json, write_whole
from optimise.report.terminal import print_catalogue, print_faults, print_record
from optimise.scenario.model import Objective
from optimise.studies.tolerances import DRAWS, MOST_DRAWS, START, over_tolerances

_EPILOG = "Exit codes: 0 answered, 2 bad input, 3 proven impossible, 4 stopped with no answer."


@click.group(epilog=_EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="rushlight")
def main() -> None:
    """Choose the parts for a self-built soft light, and prove the choice."""


main.add_command(study)


@main.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
def check(paths: tuple[Path, ...]) -> None:
    """Check catalogues (folders) and scenarios (TOML files), and tell every fault."""
    console = Console()
    faults: list[Fault] = []
    for path in paths:
        try:
            if path.suffix == ".toml":
                wanted = read_all(None, path)[1]
                assert wanted is not None
                console.print(f"{path}: sound.", markup=False, highlight=False)
            else:
                read = read_all(path, None)[0]
                assert read is not None
                print_catalogue(console, str(path), read)
        except InputError as error:
            faults += error.faults
    if faults:
        print_faults(Console(stderr=True), InputError(faults).faults)
        sys.exit(BAD_INPUT)


@main.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.option(
    "--catalogue",
    type=click.Path(path_type=Path),
    default=Path("catalogue"),
    show_default=True,
    help="Folder of the catalogue's CSV files.",
)
@click.option(
    "--objective",
    type=click.Choice(["cost", "mass", "power"]),
    help="What to make least; the scenario's own choice if left out.",
)
@click.option("--json", "json_path", metavar="FILE", help="Write the record to FILE, or to standard output as -.")
@click.option("--time-limit", type=click.FloatRange(min=0, min_open=True), metavar="SECONDS", help="Longest search.")
@click.option("--threads", type=click.IntRange(1, 64), default=1, show_default=True, help="Threads of the solver.")
@click.option("--worst-case", is_flag=True, help="The best build that holds at the bad end of all tolerances.")
@click.option(
    "--draws",
    type=click.IntRange(0, MOST_DRAWS),
    default=DRAWS,
    show_default=True,
    help="Lights drawn within the tolerances of the parts chosen; 0 for none.",
)
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=START, show_default=True, help="Where draws start.")
def build(
    scenario: Path,
    catalogue: Path,
    objective: Objective | None,
    json_path: str | None,
    time_limit: float | None,
    threads: int,
    worst_case: bool,
    draws: int,
    seed: int,
) -> None:
    """Find the best build for SCENARIO, prove it, and print it with its bill and margins."""
    errors = Console(stderr=True)
    try:
        parts, wanted = read_all(catalogue, scenario)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    assert parts is not None
    assert wanted is not None
    # Now, not after the search: the file may change or go while it runs.
    fingerprint = hashlib.sha256(scenario.read_bytes()).hexdigest()
    target = None if json_path in (None, "-") else Path(str(json_path))
    if target is not None and not target.parent.is_dir():
        errors.print(f"--json: there is no folder {target.parent}; nothing was solved.", markup=False)
        sys.exit(BAD_INPUT)
    began = time.monotonic()
    try:
        with shown_progress(quiet=json_path == "-") as progress:
            offered = bad_end(parts) if worst_case else parts
            result = best_build(offered, wanted, objective, time_limit=time_limit, threads=threads, progress=progress)
            clash = clash_of(result, progress, began)
    except (SolverError, CannotRefineError) as error:
        errors.print(f"Stopped: {error}. This is a fault of rushlight, not of your files.", markup=False)
        sys.exit(NO_ANSWER)
    except KeyboardInterrupt:
        errors.print("Stopped before there was an answer.")
        sys.exit(NO_ANSWER)
    best = result.evaluation
    spread = None if best is None else over_tolerances(best.choice, parts, wanted, draws, seed)
    record = make_record(result, result.objective, fingerprint, clash, worst_case=worst_case, tolerances=spread)
    if json_path == "-":
        click.echo(to_json(record), nl=False)
    else:
        print_record(Console(), record)
        if target is not None:
            try:
                write_whole(target, to_json(record))
            except OSError as error:
                errors.print(f"{target} was not written: {error.strerror}.", markup=False)
                sys.exit(NO_ANSWER)
            errors.print(f"Record: {target}", markup=False, highlight=False)
    sys.exit({"impossible": IMPOSSIBLE, "stopped": NO_ANSWER}.get(result.status, ANSWERED))


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
def start(folder: Path) -> None:
    """Copy the demonstration catalogue and scenarios (invented data) into FOLDER."""
    console = Console()
    try:
        written = copy_demonstration(folder)
    except FileExistsError as error:
        Console(stderr=True).print(f"{error.filename or error} is there already; nothing was written.", markup=False)
        sys.exit(BAD_INPUT)
    except OSError as error:
        Console(stderr=True).print(f"{folder}: {error.strerror}; nothing usable was written.", markup=False)
        sys.exit(BAD_INPUT)
    console.print(f"{len(written)} files of invented demonstration data are in {folder}.", markup=False)
    console.print(
        f"Try: rushlight build {folder / 'scenarios' / 'orchard-night.toml'} --catalogue {folder / 'catalogue'}",
        markup=False,
        highlight=False,
        soft_wrap=True,
    )
