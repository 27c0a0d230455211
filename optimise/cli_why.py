"""The command `why`: what stands in the way of a job, or what it hangs on."""

import sys
import time
from pathlib import Path

import click
from rich.console import Console

from optimise.cli_common import (
    ANSWERED,
    IMPOSSIBLE,
    NO_ANSWER,
    calibration_option,
    catalogue_option,
    deadline_of,
    file_to_write,
    hand_over,
    read_job,
    solving,
    threads_option,
    time_limit_option,
    write_or_stop,
)
from optimise.model.search import Result, best_build
from optimise.model.state import TimeUpError
from optimise.report.reasons import ReasonsRecord, make_reasons, print_reasons
from optimise.report.record import to_json
from optimise.studies.conflict import conflict
from optimise.studies.desk import Desk, in_time
from optimise.studies.limits import Limit
from optimise.studies.reasons import eases, mends


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@catalogue_option
@click.option(
    "--ease",
    type=click.FloatRange(min=0, max=100, min_open=True),
    default=10.0,
    show_default=True,
    metavar="PERCENT",
    help="By how much the limits of a possible job are eased.",
)
@click.option("--json", "json_path", metavar="FILE", help="Write the answer to FILE, or to standard output as -.")
@calibration_option
@time_limit_option
@threads_option
def why(
    scenario: Path,
    catalogue: Path,
    ease: float,
    json_path: str | None,
    calibration: Path | None,
    time_limit: float | None,
    threads: int,
) -> None:
    """Say what stands in the way of SCENARIO, or, if it can be done, which limits bind.

    Of a job that cannot be done: for each limit alone the smallest change that makes it possible, with the build that
    it would buy, and a smallest set of limits in conflict. Of one that can: what easing each limit saves.
    """
    errors = Console(stderr=True)
    parts, wanted = read_job(errors, catalogue, scenario, calibration=calibration)
    target = file_to_write(errors, "--json", json_path)
    began = time.monotonic()
    limit = time_limit if time_limit is not None else wanted.search.time_limit
    with solving(errors, quiet=json_path == "-") as progress:
        result = best_build(parts, wanted, time_limit=limit, threads=threads, progress=progress)
        desk = Desk(parts, wanted, deadline_of(limit, began), threads, progress)
        reasons = _reasons(desk, result, ease / 100.0, wanted.fingerprint, began)
    if json_path == "-":
        hand_over(to_json(reasons))
    else:
        print_reasons(Console(), reasons)
        if target is not None:
            write_or_stop(errors, target, to_json(reasons), "Answer")
    sys.exit({"impossible": IMPOSSIBLE, "stopped": NO_ANSWER}.get(reasons.status, ANSWERED))


def _reasons(desk: Desk, result: Result, step: float, fingerprint: str, began: float) -> ReasonsRecord:
    if result.status == "impossible":
        mended, complete = in_time(mends(desk))
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
    eased, complete = in_time(eases(desk, result.evaluation, step))
    return make_reasons(result, fingerprint, time.monotonic() - began, complete=complete, eases=eased)
