"""The command `build`: the best build for a scenario, and alternatives to it."""

import sys
import time
from pathlib import Path

import click
from rich.console import Console

from optimise.cli_bill import bill_options, bill_targets
from optimise.cli_common import (
    ANSWERED,
    IMPOSSIBLE,
    NO_ANSWER,
    apart,
    calibration_option,
    catalogue_option,
    clash_of,
    deadline_of,
    file_to_write,
    hand_over,
    read_job,
    refuse,
    solving,
    threads_option,
    time_limit_option,
    write_or_stop,
)
from optimise.model.kit_search import KitResult, best_kit
from optimise.model.search import Result, best_build
from optimise.model.state import Progress, TimeUpError
from optimise.parts.tolerance import bad_end
from optimise.report.alternatives import make_alternatives, print_alternatives
from optimise.report.kit import make_kit_record, print_kit
from optimise.report.record import make_record, to_json
from optimise.report.terminal import print_record
from optimise.scenario.model import Objective
from optimise.studies.alternatives import KINDS, Alternative, Asked, unknown_names
from optimise.studies.desk import Desk, in_time
from optimise.studies.kit_conflict import KitClash, kit_clash
from optimise.studies.tolerances import DRAWS, MOST_DRAWS, START, over_tolerances


@click.command()
@click.argument("scenario", type=click.Path(path_type=Path))
@catalogue_option
@click.option(
    "--objective",
    type=click.Choice(["cost", "mass", "power"]),
    help="What to make least; the scenario's own choice if left out.",
)
@click.option("--json", "json_path", metavar="FILE", help="Write the record to FILE, or to standard output as -.")
@bill_options
@calibration_option
@time_limit_option
@threads_option
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
    bill: Path | None,
    bill_each: Path | None,
    calibration: Path | None,
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
    parts, wanted = read_job(errors, catalogue, scenario, kits=True, calibration=calibration)
    asked = Asked(alternatives or 0, different, without, None if within is None else within / 100.0)
    complaints = unknown_names(parts, without)
    if complaints:
        refuse(errors, *(f"--without {complaint}." for complaint in complaints))
    if within is not None and not asked:
        refuse(errors, "--within: say which alternatives with it.")
    target = file_to_write(errors, "--json", json_path)
    bills = bill_targets(errors, bill, bill_each)
    apart(errors, (target, bills.file))
    began = time.monotonic()
    if worst_case and wanted.search.emitter_kinds > 1:
        refuse(errors, "--worst-case: the colour of two kinds of emitter has no one bad end; take emitter_kinds out.")
    if wanted.kit:
        if asked:
            refuse(errors, "A kit has no alternatives yet: take --alternatives, --different and --without away.")
        offered = bad_end(parts) if worst_case else parts
        with solving(errors, quiet=json_path == "-") as progress:
            kit = best_kit(offered, wanted, objective, time_limit=time_limit, threads=threads, progress=progress)
            limit = kit.scenario.search.time_limit
            why = None if kit.status != "impossible" else _kit_clash(kit, progress, deadline_of(limit, began))
        told = make_kit_record(kit, wanted.fingerprint, why, worst_case=worst_case, stated=parts)
        if json_path == "-":
            hand_over(to_json(told))
        else:
            print_kit(Console(), told)
            if target is not None:
                write_or_stop(errors, target, to_json(told), "Record")
        bills.write(errors, told)
        sys.exit({"impossible": IMPOSSIBLE, "stopped": NO_ANSWER}.get(kit.status, ANSWERED))
    with solving(errors, quiet=json_path == "-") as progress:
        offered = bad_end(parts) if worst_case else parts
        result = best_build(offered, wanted, objective, time_limit=time_limit, threads=threads, progress=progress)
        clash = clash_of(result, progress, began)
        others = _others(result, asked, began, threads, progress)
    best = result.evaluation
    spread = None if best is None else over_tolerances(best.choice, parts, wanted, draws, seed)
    record = make_record(
        result, result.objective, wanted.fingerprint, clash, worst_case=worst_case, tolerances=spread, stated=parts
    )
    if best is not None and others is not None:
        record = record.model_copy(update={"alternatives": make_alternatives(best, others, wanted.fingerprint)})
    if json_path == "-":
        hand_over(to_json(record))
    else:
        console = Console()
        print_record(console, record)
        print_alternatives(console, record, asked.within)
        if asked and best is not None and (others is None or len(others) < len(asked)):
            console.print("\nThe time was up before all alternatives were found.")
        if target is not None:
            write_or_stop(errors, target, to_json(record), "Record")
    bills.write(errors, record)
    sys.exit({"impossible": IMPOSSIBLE, "stopped": NO_ANSWER}.get(result.status, ANSWERED))


def _kit_clash(kit: KitResult, progress: Progress, deadline: float | None) -> KitClash | None:
    """Return why there is no kit; None where there was no time to find it."""
    try:
        return kit_clash(kit.catalogue, kit.scenario, progress, deadline)
    except (TimeUpError, KeyboardInterrupt):
        return None


def _others(
    result: Result, asked: Asked, began: float, threads: int, progress: Progress
) -> list[tuple[str, Alternative | None]] | None:
    """Return the alternatives asked for, as many as there was time for; None where the best build is not proven."""
    if not asked or result.status != "optimal":
        return None
    assert result.evaluation is not None
    scenario = result.market.scenario
    deadline = deadline_of(scenario.search.time_limit, began)
    desk = Desk(result.market.catalogue, scenario, deadline, threads, progress)
    return in_time(asked.answers(desk, result.evaluation))[0]
