"""The command `trade`: every build that no other beats on the figures traded."""

import sys
import time
from pathlib import Path

import click
from rich.console import Console

from optimise.cli_common import (
    ANSWERED,
    BAD_INPUT,
    IMPOSSIBLE,
    NO_ANSWER,
    fingerprint_of,
    read_all,
    shown_progress,
    write_or_stop,
)
from optimise.model.axes import AXES
from optimise.model.bench import Bench
from optimise.model.refinement import CannotRefineError
from optimise.model.state import SolverError
from optimise.parts import InputError, units
from optimise.parts.units import UnitError
from optimise.report.front import make_front, print_front
from optimise.report.record import to_json
from optimise.report.results import Row, to_csv
from optimise.report.terminal import print_faults
from optimise.scenario import Scenario
from optimise.studies.front import front, thinned

MEASURES = {
    "runtime": units.DURATION,
    "illuminance": units.ILLUMINANCE,
    "source_size": units.LENGTH,
}
"""Of the figures of which more is better: what an amount of them is."""


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@click.argument("figures", nargs=-1, required=True, type=click.Choice(list(AXES)))
@click.option(
    "--catalogue",
    type=click.Path(path_type=Path),
    default=Path("catalogue"),
    show_default=True,
    help="Folder of the catalogue's CSV files.",
)
@click.option(
    "--enough",
    multiple=True,
    metavar="AMOUNT",
    help='More than this counts for nothing, such as "6 h" or "500 lx"; of the figures traded of which more is better.',
)
@click.option("--points", type=click.IntRange(min=2), metavar="N", help="Show N points, spread evenly.")
@click.option("--json", "json_path", metavar="FILE", help="Write the front to FILE, or to standard output as -.")
@click.option("--csv", "csv_path", type=click.Path(path_type=Path), metavar="FILE", help="Write a table to FILE.")
@click.option("--time-limit", type=click.FloatRange(min=0, min_open=True), metavar="SECONDS", help="Longest search.")
@click.option("--threads", type=click.IntRange(1, 64), default=1, show_default=True, help="Threads of the solver.")
def trade(
    scenario: Path,
    figures: tuple[str, ...],
    catalogue: Path,
    enough: tuple[str, ...],
    points: int | None,
    json_path: str | None,
    csv_path: Path | None,
    time_limit: float | None,
    threads: int,
) -> None:
    """Find every build for SCENARIO that no other beats on two or three FIGURES, such as mass and runtime.

    Less cost, mass, power and panel size are better, and more runtime, illuminance and source size. The panel size is
    its longer side, the source size its shorter one. The scenario's limits hold for every build.
    """
    errors = Console(stderr=True)
    if not 2 <= len(set(figures)) <= 3 or len(set(figures)) != len(figures):
        _refuse(errors, "Name two or three different figures to trade.")
    try:
        parts, wanted = read_all(catalogue, scenario)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    assert parts is not None
    assert wanted is not None
    most = _enough(errors, enough, figures)
    _check(errors, wanted, figures, points, json_path, csv_path)
    fingerprint = fingerprint_of(scenario)
    began = time.monotonic()
    limit = time_limit if time_limit is not None else wanted.search.time_limit
    wanted = wanted.model_copy(update={"search": wanted.search.model_copy(update={"time_limit": limit})})
    try:
        with shown_progress(quiet=json_path == "-") as progress:
            bench = Bench(parts, wanted, figures, most, None if limit is None else began + limit, threads)
            whole = front(bench, figures, lambda number: progress(f"{number} builds found; looking for more"))
    except (SolverError, CannotRefineError) as error:
        errors.print(f"Stopped: {error}. This is a fault of rushlight, not of your files.", markup=False)
        sys.exit(NO_ANSWER)
    except KeyboardInterrupt:
        errors.print("Stopped before there was an answer.")
        sys.exit(NO_ANSWER)
    shown = whole if points is None or not whole.points else thinned(whole, points)
    record = make_front(bench, whole, shown, fingerprint, time.monotonic() - began)
    if json_path == "-":
        click.echo(to_json(record), nl=False)
    else:
        print_front(Console(), record)
        if json_path is not None:
            write_or_stop(errors, Path(json_path), to_json(record), "Front")
    if csv_path is not None:
        name = ",".join(figures)
        rows = [Row(scenario.stem, catalogue.name, name, point.record) for point in record.points]
        write_or_stop(errors, csv_path, to_csv(rows), "Table")
    if not whole.points:
        sys.exit(IMPOSSIBLE if whole.complete else NO_ANSWER)
    sys.exit(ANSWERED)


def _refuse(errors: Console, why: str) -> None:
    errors.print(f"{why} Nothing was solved.", markup=False, highlight=False)
    sys.exit(BAD_INPUT)


def _check(
    errors: Console,
    wanted: Scenario,
    figures: tuple[str, ...],
    points: int | None,
    json_path: str | None,
    csv_path: Path | None,
) -> None:
    """Refuse what cannot be done before anything is solved."""
    if "runtime" in figures and not wanted.power.battery:
        _refuse(errors, "The scenario is fed by mains alone: runtime is no figure of its builds.")
    if points is not None and points < len(figures):
        _refuse(errors, f"--points: at least {len(figures)}, the best build by each figure.")
    for option, path in (("--json", None if json_path in (None, "-") else Path(str(json_path))), ("--csv", csv_path)):
        if path is not None and not path.parent.is_dir():
            _refuse(errors, f"{option}: there is no folder {path.parent}.")


def _enough(errors: Console, amounts: tuple[str, ...], figures: tuple[str, ...]) -> dict[str, float]:
    """Return the amounts beyond which more counts for nothing, in the units of the axes."""
    most: dict[str, float] = {}
    for text in amounts:
        for name, measure in MEASURES.items():
            if name not in figures:
                continue
            try:
                value = units.convert(text, measure, None)
            except UnitError:
                continue
            if value > 0.0:
                most[name] = value
                break
        else:
            able = [name for name in MEASURES if name in figures]
            _refuse(
                errors,
                f'--enough "{text}": an amount above 0, with its unit, of one of the figures traded of which more is '
                f"better ({', '.join(able) or 'none is'}).",
            )
    return most
