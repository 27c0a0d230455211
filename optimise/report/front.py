"""The record of a front, and what a person reads of it: a table, a small plot, words."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from pydantic import Field
from rich.console import Console
from rich.table import Table

from optimise.model.axes import Axis
from optimise.model.bench import Bench
from optimise.model.search import Proof, Result
from optimise.report.calibration import calibration_notes
from optimise.report.record import InputsRecord, Record, inputs_of, make_record
from optimise.report.record_parts import RecordModel, short
from optimise.report.table import plain
from optimise.report.terminal import number, print_lines
from optimise.studies.front import Front, knee

SHOWN = {
    "cost": (100.0, ""),
    "mass": (1e6, "kg"),
    "power": (1.0, "W"),
    "runtime": (3600.0, "h"),
    "illuminance": (1.0, "lx"),
    "panel_size": (1.0, "m"),
    "source_size": (1.0, "m"),
}
"""What an axis counts to one unit shown, and that unit (of cost: the currency)."""

STEPS = {"runtime": (1800.0, "half an hour"), "illuminance": (math.sqrt(2.0), "half a stop")}
"""By how much more the words ask of an axis: seconds to add, lux to multiply by."""

MOST_STEPS = 6


class AxisRecord(RecordModel):
    """A figure traded: in which unit, and whether less or more of it is better."""

    name: str
    unit: str
    prefers: Literal["less", "more"]
    enough: float | None
    """Beyond this, more counted for nothing."""


class PointRecord(RecordModel):
    """A build of the front: its figures on the axes (null for an endless runtime, on mains), and its whole record."""

    values: dict[str, float | None]
    record: Record


class FrontRecord(RecordModel):
    """Every build that no other beats on all figures traded, by the first of them.

    `complete`: it is proven that there is no other; `points_found` is more than there are `points` where they were
    thinned; `knee` is the place of the point farthest below the line between the ends. `notes` are those of all builds.
    """

    schema_: Literal["rushlight-front/1"] = Field("rushlight-front/1", alias="schema")
    title: str
    currency: str
    axes: list[AxisRecord]
    complete: bool
    points_found: int
    points: list[PointRecord]
    knee: int | None
    words: list[str]
    notes: list[str] = Field(default_factory=list)
    solves: int
    seconds: float
    inputs: InputsRecord


def make_front(bench: Bench, whole: Front, shown: Front, scenario_print: str, seconds: float) -> FrontRecord:
    """Return the record of a front; `shown` is what is left of `whole` after thinning."""
    currency = bench.catalogue.currency
    market = replace(bench.market, scenario=bench.scenario)
    objective = bench.scenario.search.objective
    proof = Proof(bound=None, gap=None, rounds=whole.solves, columns=0, kept=0, seconds=seconds)
    points = []
    for point in shown.points:
        # A point is the best by what is traded, not by the scenario's objective: its record claims no more.
        result = Result("feasible", point.found, proof, market, objective)
        values = {axis.name: _shown(axis, value) for axis, value in zip(whole.axes, point.values, strict=True)}
        points.append(PointRecord(values=values, record=make_record(result, objective, scenario_print)))
    place = knee(whole)
    kept = None if place is None else next((i for i, p in enumerate(shown.points) if p is whole.points[place]), None)
    return FrontRecord(
        title=bench.scenario.title,
        currency=currency,
        axes=[
            AxisRecord(
                name=axis.name,
                unit=SHOWN[axis.name][1] or currency,
                prefers=axis.prefers,
                enough=_shown(axis, bench.enough[axis.name]) if axis.name in bench.enough else None,
            )
            for axis in whole.axes
        ],
        complete=whole.complete,
        points_found=len(whole.points),
        points=points,
        knee=kept,
        words=words_of(whole, currency),
        notes=list(calibration_notes(bench.catalogue.calibration)),
        solves=whole.solves,
        seconds=round(seconds, 3),
        inputs=inputs_of(bench.catalogue, bench.scenario, scenario_print),
    )


def _shown(axis: Axis, value: float) -> float | None:
    return short(value / SHOWN[axis.name][0]) if math.isfinite(value) else None


def _text(axis: Axis, value: float, currency: str) -> str:
    """Return a value with its unit."""
    if axis.name == "runtime":
        return hours(value)
    scale, unit = SHOWN[axis.name]
    return number(value / scale, unit or currency, currency)


def hours(seconds: float) -> str:
    """Return a time as a person says it; full minutes, rounded down."""
    if math.isinf(seconds):
        return "mains"
    minutes = math.floor(seconds / 60.0 + 1e-9)
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"


def words_of(whole: Front, currency: str) -> list[str]:
    """Return what a front of two axes says: its knee, and what a step more of light or time asks for."""
    if len(whole.axes) != 2 or len(whole.points) < 2:
        return []
    said = []
    place = knee(whole)
    if place is not None:
        x, y = (_text(axis, v, currency) for axis, v in zip(whole.axes, whole.points[place].values, strict=True))
        before, after = (_rate(whole, currency, ends) for ends in ((0, place), (place, len(whole.points) - 1)))
        said.append(f"Knee: point {place + 1}, {x} and {y}. Up to it {before}; beyond it {after}.")
    for first, second in ((0, 1), (1, 0)):
        if whole.axes[first].name in STEPS:
            said += _steps(whole, first, second, currency)
    return said


def _rate(whole: Front, currency: str, ends: tuple[int, int]) -> str:
    """Return what the first axis gives way for the second between two points, in words."""
    (x0, y0), (x1, y1) = (whole.points[i].values for i in ends)
    one, other = whole.axes
    if math.isinf(x1 - x0) or math.isinf(y1 - y0):
        return "the supply changes to mains"
    given = _amount(one, abs(x1 - x0), currency)
    return f"{given} {'more' if x1 > x0 else 'less'} {one.what} {_gain(other, y1 - y0, currency)}"


def _amount(axis: Axis, value: float, currency: str) -> str:
    return _text(axis, value, currency) if axis.name != "runtime" or value >= 60.0 else f"{value:.0f} s"


def _gain(axis: Axis, change: float, currency: str) -> str:
    return f"for {_amount(axis, abs(change), currency)} {'more' if change > 0 else 'less'} {axis.what}"


def _steps(whole: Front, more: int, pays: int, currency: str) -> list[str]:
    """Return what each half hour, or half stop, more asks of the other axis."""
    axis, other = whole.axes[more], whole.axes[pays]
    step, name = STEPS[axis.name]
    points = [point.values for point in whole.points]
    at = min(v[more] for v in points)
    said: list[str] = []
    known = _least(points, more, pays, at, other)
    while len(said) < MOST_STEPS and known is not None and math.isfinite(at):
        wanted = at + step if axis.name == "runtime" else at * step
        then = _least(points, more, pays, wanted, other)
        if then is None:
            break
        change = then - known
        change_text = f"{'+' if change >= 0 else '−'}{_amount(other, abs(change), currency)}"
        said.append(f"{name} more, {_text(axis, at, currency)} to {_text(axis, wanted, currency)}: {change_text}")
        at, known = wanted, then
    return [line[0].upper() + line[1:] + "." for line in said]


def _least(points: Sequence[tuple[float, ...]], more: int, pays: int, wanted: float, other: Axis) -> float | None:
    able = [values[pays] for values in points if values[more] >= wanted * (1 - 1e-9)]
    return min(able, key=other.loss) if able else None


def headline(front: FrontRecord) -> str:
    """Return what a front is of, and how complete, in one sentence."""
    names = [axis.name.replace("_", " ") for axis in front.axes]
    traded = (" against ".join(names) if len(names) == 2 else ", ".join(names)).capitalize()
    if not front.points:
        return (
            "No build keeps every limit of the scenario: there is no front." if front.complete else "Stopped: none yet."
        )
    if front.complete:
        count = "1 build" if front.points_found == 1 else f"{front.points_found} builds"
        return f"{traded}: {count} that no other beats, proven complete."
    return f"{traded}: stopped after {front.points_found} builds; others may lie between or beyond."


def thinning(front: FrontRecord) -> str:
    """Return how a front was thinned, in words."""
    return f"Thinned evenly to {len(front.points)}; the whole front has {front.points_found}."


def print_front(console: Console, front: FrontRecord) -> None:
    """Print a front: its table, its plot, what it says."""
    if front.title:
        console.print(plain(f"Job: {front.title}"))
    console.print(plain(headline(front)), style="bold")
    if not front.points:
        return
    if len(front.points) < front.points_found:
        console.print(thinning(front))
    _print_table(console, front)
    if len(front.axes) == 2 and len(front.points) > 2:
        _print_plot(console, front)
    for line in front.words:
        console.print(plain(line))
    console.print(plain(f"{front.solves} searches, {front.seconds:.1f} s. Each point is a whole record in --json."))
    print_lines(console, [], front.notes)


def _print_table(console: Console, front: FrontRecord) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("", justify="right")
    for axis in front.axes:
        table.add_column(axis.name.replace("_", " "), justify="right", no_wrap=True)
    for header in ("emitters", "panel", "supply"):
        table.add_column(header, overflow="fold")
    for place, point in enumerate(front.points):
        choice = point.record.choice
        assert choice is not None
        cells = [cell(axis, point.values[axis.name], front.currency) for axis in front.axes]
        table.add_row(
            f"{place + 1}{' knee' if place == front.knee else ''}",
            *cells,
            plain(choice.lit_by),
            plain(choice.panel),
            plain(choice.supply),
        )
    console.print(table)


def cell(axis: AxisRecord, value: float | None, currency: str) -> str:
    """Return a value on an axis with its unit, as tables have it; an endless runtime is that of the mains."""
    if value is None:
        return "mains"
    return hours(value * 3600.0) if axis.name == "runtime" else number(value, axis.unit, currency)


def _print_plot(console: Console, front: FrontRecord) -> None:
    import plotext

    points = [[p.values[axis.name] for axis in front.axes] for p in front.points]
    finite = [(x, y) for x, y in points if x is not None and y is not None]
    if len(finite) < 3:
        return
    plotext.clear_figure()
    plotext.theme("clear")
    plotext.plot_size(min(console.width, 72), 16)
    plotext.scatter([x for x, _ in finite], [y for _, y in finite], marker="o")
    if front.knee is not None and None not in points[front.knee]:
        plotext.scatter([points[front.knee][0]], [points[front.knee][1]], marker="K")
    across, up = (f"{axis.name.replace('_', ' ')} [{axis.unit}]" for axis in front.axes)
    plotext.xlabel(across)
    plotext.ylabel(up)
    console.print(plain_lines(plotext.uncolorize(plotext.build())), soft_wrap=True, markup=False, highlight=False)


def plain_lines(text: str) -> str:
    """Return a drawing without spaces at the ends of its lines."""
    return "\n".join(line.rstrip() for line in text.splitlines())
