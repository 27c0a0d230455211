"""The command `why`: what stands in the way of a job, or what it hangs on."""

import sys
import time
from collections.abc import Iterable
from pathlib import Path
from typing import TypeVar

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
from optimise.model.refinement import CannotRefineError
from optimise.model.search import Result, best_build
from optimise.model.state import SolverError, TimeUpError
from optimise.parts import InputError
from optimise.report.reasons import ReasonsRecord, make_reasons, print_reasons
from optimise.report.record import to_json
from optimise.report.terminal import print_faults
from optimise.studies.conflict import conflict
from optimise.studies.desk import Desk
from optimise.studies.limits import Limit
from optimise.studies.reasons import eases, mends

_T = TypeVar("_T")


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
    "--ease",
    type=click.FloatRange(min=0, max=100, min_open=True),
    default=10.0,
    show_default=True,
    metavar="PERCENT",
    help="By how much the limits of a possible job are eased.",
)
@click.option("--json", "json_path", metavar="FILE", help="Write the answer to FILE, or to standard output as -.")
@click.option("--time-limit", type=click.FloatRange(min=0, min_open=True), metavar="SECONDS", help="Longest search.")
@click.option("--threads", type=click.IntRange(1, 64), default=1, show_default=True, help="Threads of the solver.")
def why(
    scenario: Path, catalogue: Path, ease: float, json_path: str | None, time_limit: float | None, threads: int
) -> None:
    """Say what stands in the way of SCENARIO, or, if it can be done, which limits bind.

    Of a job that cannot be done: for each limit alone the smallest change that makes it possible, with the build that
    it would buy, and a smallest set of limits in conflict. Of one that can: what easing each limit saves.
    """
    errors = Console(stderr=True)
    try:
        parts, wanted = read_all(catalogue, scenario)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    assert parts is not None
    assert wanted is not None
    target = None if json_path in (None, "-") else Path(str(json_path))
    if target is not None and not target.parent.is_dir():
        errors.print(f"--json: there is no folder {target.parent}; nothing was solved.", markup=False)
        sys.exit(BAD_INPUT)
    fingerprint = fingerprint_of(scenario)
    began = time.monotonic()
    limit = time_limit if time_limit is not None else wanted.search.time_limit
    try:
        with shown_progress(quiet=json_path == "-") as progress:
            result = best_build(parts, wanted, time_limit=limit, threads=threads, progress=progress)
            desk = Desk(parts, wanted, None if limit is None else began + limit, threads, progress)
            reasons = _reasons(desk, result, ease / 100.0, fingerprint, began)
    except (SolverError, CannotRefineError) as error:
        errors.print(f"Stopped: {error}. This is a fault of rushlight, not of your files.", markup=False)
        sys.exit(NO_ANSWER)
    except KeyboardInterrupt:
        errors.print("Stopped before there was an answer.")
        sys.exit(NO_ANSWER)
    if json_path == "-":
        click.echo(to_json(reasons), nl=False)
    else:
        print_reasons(Console(), reasons)
        if target is not None:
            write_or_stop(errors, target, to_json(reasons), "Answer")
    sys.exit({"impossible": IMPOSSIBLE, "stopped": NO_ANSWER}.get(reasons.status, ANSWERED))


def _reasons(desk: Desk, result: Result, step: float, fingerprint: str, began: float) -> ReasonsRecord:
    if result.status == "impossible":
        mended, complete = _until_time_is_up(mends(desk))
        clash: tuple[Limit, ...] | None = None
        if complete:
            try:
                clash = conflict(desk.catalogue, desk.scenario, desk.progress, desk.deadline) or ()
            except (TimeUpError, KeyboardInterrupt):
                complete = False
        seconds = time.monotonic() - began
        return make_reasons(result, fingerprint, seconds, complete=complete, mends=mended, conflict=clash)
    if result.status != "optimal":
        return make_reasons(result, fingerprint, time.monotonic() - began, complete=False)
    assert result.evaluation is not None
    eased, complete = _until_time_is_up(eases(desk, result.evaluation, step))
    return make_reasons(result, fingerprint, time.monotonic() - began, complete=complete, eases=eased)


def _until_time_is_up(answers: Iterable[_T]) -> tuple[list[_T], bool]:
    """Return the answers that came in time, and whether they are all."""
    found: list[_T] = []
    try:
        for answer in answers:
            found.append(answer)  # noqa: PERF402 - what came before the time was up is kept
    except (TimeUpError, KeyboardInterrupt):
        return found, False
    return found, True
