"""The command `trade`: every build that no other beats on the figures traded."""

import sys
import time
from pathlib import Path

import click
from rich.console import Console

from optimise.cli_common import (
    ANSWERED,
    IMPOSSIBLE,
    NO_ANSWER,
    apart,
    calibration_option,
    catalogue_option,
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
from optimise.model.axes import AXES
from optimise.model.bench import Bench
from optimise.parts import units
from optimise.parts.units import UnitError
from optimise.report.front import make_front, print_front
from optimise.report.record import to_json
from optimise.report.results import Row, to_csv
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
@catalogue_option
@click.option(
    "--enough",
    multiple=True,
    metavar="AMOUNT",
    help='More than this counts for nothing, such as "6 h" or "500 lx"; of the figures traded of which more is better.',
)
@click.option("--points", type=click.IntRange(min=2), metavar="N", help="Show N points, spread evenly.")
@click.option("--json", "json_path", metavar="FILE", help="Write the front to FILE, or to standard output as -.")
@click.option("--csv", "csv_path", type=click.Path(path_type=Path), metavar="FILE", help="Write a table to FILE.")
@click.option(
    "--page",
    "page_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write a page to FILE on which points are picked and compared in a browser.",
)
@calibration_option
@time_limit_option
@threads_option
def trade(
    scenario: Path,
    figures: tuple[str, ...],
    catalogue: Path,
    enough: tuple[str, ...],
    points: int | None,
    json_path: str | None,
    csv_path: Path | None,
    page_path: Path | None,
    calibration: Path | None,
    time_limit: float | None,
    threads: int,
) -> None:
    """Find every build for SCENARIO that no other beats on two or three FIGURES, such as mass and runtime.

    Less cost, mass, power and panel size are better, and more runtime, illuminance and source size. The panel size is
    its longer side, the source size its shorter one. The scenario's limits hold for every build.
    """
    errors = Console(stderr=True)
    if not 2 <= len(set(figures)) <= 3 or len(set(figures)) != len(figures):
        refuse(errors, "Name two or three different figures to trade.")
    parts, wanted = read_job(errors, catalogue, scenario, calibration=calibration)
    most = _enough(errors, enough, figures)
    if "runtime" in figures and not wanted.power.battery:
        refuse(errors, "The scenario is fed by mains alone: runtime is no figure of its builds.")
    if points is not None and points < len(figures):
        refuse(errors, f"--points: at least {len(figures)}, the best build by each figure.")
    target = file_to_write(errors, "--json", json_path)
    table = file_to_write(errors, "--csv", csv_path)
    page = file_to_write(errors, "--page", page_path)
    apart(errors, (target, table, page))
    began = time.monotonic()
    limit = time_limit if time_limit is not None else wanted.search.time_limit
    wanted = wanted.model_copy(update={"search": wanted.search.model_copy(update={"time_limit": limit})})
    with solving(errors, quiet=json_path == "-") as progress:
        bench = Bench(parts, wanted, figures, most, deadline_of(limit, began), threads)
        whole = front(bench, figures, lambda number: progress(f"{number} builds found; looking for more"))
    shown = whole if points is None or not whole.points else thinned(whole, points)
    record = make_front(bench, whole, shown, wanted.fingerprint, time.monotonic() - began)
    if json_path == "-":
        hand_over(to_json(record))
    else:
        print_front(Console(), record)
        if target is not None:
            write_or_stop(errors, target, to_json(record), "Front")
    if table is not None:
        name = ",".join(figures)
        rows = [Row(scenario.stem, catalogue.name, name, point.record) for point in record.points]
        write_or_stop(errors, table, to_csv(rows), "Table")
    if page is not None:
        # Templates are a matter of this option alone: the command starts without them.
        from optimise.report.front_page.page import front_page

        write_or_stop(errors, page, front_page(record), "Page")
    if not whole.points:
        sys.exit(IMPOSSIBLE if whole.complete else NO_ANSWER)
    sys.exit(ANSWERED)


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
            refuse(
                errors,
                f'--enough "{text}": an amount above 0, with its unit, of one of the figures traded of which more is '
                f"better ({', '.join(able) or 'none is'}).",
            )
    return most
