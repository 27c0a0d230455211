"""The command `build`: the best build for a scenario, and alternatives to it."""

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
    clash_of,
    fingerprint_of,
    read_all,
    shown_progress,
    write_or_stop,
)
from optimise.model.refinement import CannotRefineError
from optimise.model.search import Result, best_build
from optimise.model.state import Progress, SolverError, TimeUpError
from optimise.parts import InputError
from optimise.parts.tolerance import bad_end
from optimise.report.alternatives import make_alternatives, print_alternatives
from optimise.report.record import make_record, to_json
from optimise.report.terminal import print_faults, print_record
from optimise.scenario.model import Objective
from optimise.studies.alternatives import KINDS, Alternative, Asked, unknown_names
from optimise.studies.desk import Desk
from optimise.studies.tolerances import DRAWS, MOST_DRAWS, START, over_tolerances


@click.command()
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
@click.option("--alternatives", type=click.IntRange(1, 50), metavar="N", help="Also the N next best builds.")
@click.option(
    "--different",
    multiple=True,
    type=click.Choice(KINDS),
    help="Also the best build with another emitter, driver, panel, diffuser or battery; may be given several times.",
)
@click.option(
    "--without",
    multiple=True,
    metavar="NAME",
    help="Also the best build without a supplier, or without a part; may be given several times.",
)
@click.option(
    "--within",
    type=click.FloatRange(min=0),
    metavar="PERCENT",
    help="Only alternatives within so much of the best build.",
)
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
    alternatives: int | None,
    different: tuple[str, ...],
    without: tuple[str, ...],
    within: float | None,
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
    asked = Asked(alternatives or 0, different, without, None if within is None else within / 100.0)
    complaints = unknown_names(parts, without)
    for complaint in complaints:
        errors.print(f"--without {complaint}. Nothing was solved.", markup=False, highlight=False)
    if complaints:
        sys.exit(BAD_INPUT)
    if within is not None and not asked:
        errors.print("--within: say which alternatives with it; nothing was solved.", markup=False, highlight=False)
        sys.exit(BAD_INPUT)
    fingerprint = fingerprint_of(scenario)
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
            others = _others(result, asked, began, threads, progress)
    except (SolverError, CannotRefineError) as error:
        errors.print(f"Stopped: {error}. This is a fault of rushlight, not of your files.", markup=False)
        sys.exit(NO_ANSWER)
    except KeyboardInterrupt:
        errors.print("Stopped before there was an answer.")
        sys.exit(NO_ANSWER)
    best = result.evaluation
    spread = None if best is None else over_tolerances(best.choice, parts, wanted, draws, seed)
    record = make_record(result, result.objective, fingerprint, clash, worst_case=worst_case, tolerances=spread)
    if best is not None and others is not None:
        record = record.model_copy(update={"alternatives": make_alternatives(best, others, fingerprint)})
    if json_path == "-":
        click.echo(to_json(record), nl=False)
    else:
        console = Console()
        print_record(console, record)
        print_alternatives(console, record, asked.within)
        if asked and best is not None and (others is None or len(others) < len(asked)):
            console.print("\nThe time was up before all alternatives were found.")
        if target is not None:
            write_or_stop(errors, target, to_json(record), "Record")
    sys.exit({"impossible": IMPOSSIBLE, "stopped": NO_ANSWER}.get(result.status, ANSWERED))


def _others(
    result: Result, asked: Asked, began: float, threads: int, progress: Progress
) -> list[tuple[str, Alternative | None]] | None:
    """Return the alternatives asked for, as many as there was time for; None where the best build is not proven."""
    if not asked or result.status != "optimal":
        return None
    assert result.evaluation is not None
    scenario = result.market.scenario
    limit = scenario.search.time_limit
    desk = Desk(result.market.catalogue, scenario, None if limit is None else began + limit, threads, progress)
    found: list[tuple[str, Alternative | None]] = []
    try:
        for answer in asked.answers(desk, result.evaluation):
            found.append(answer)  # noqa: PERF402 - what came before the time was up is kept
    except (TimeUpError, KeyboardInterrupt):
        pass
    return found
