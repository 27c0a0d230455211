"""The layout of a board in the record, and what a person reads of it."""

from collections.abc import Iterator
from itertools import groupby
from typing import Literal

from optimise.model.build import Build
from optimise.model.fitting import place_size
from optimise.model.layout import layout_of
from optimise.report.record_parts import RecordModel


class StringRecord(RecordModel):
    """The middles of the emitters of one string in the order of the current, from its positive end."""

    x: list[float]
    y: list[float]


class RunRecord(RecordModel):
    """What one driver feeds: which of its kind it is, from 1; its emitters; its strings, in parallel; the least wire.

    The wire runs straight from terminal to terminal, both ways, to where a positive and a negative end are nearest to
    each other; ends, bends and the way to the driver are not in it.
    """

    driver: str
    number: int
    emitter: str = ""
    strings: list[StringRecord]
    wire: float


class LayoutRecord(RecordModel):
    """Where the emitters sit on the board, in m from its lower left corner, seen from the front.

    `rows` and `columns` are those of the fullest ones; `lines` holds the emitters of each row from the bottom up, or of
    each column from the left where `counted` says so. `pitch_x` and `pitch_y` lie between neighbours, null where there
    is one column or row alone; `clearance_x` and `clearance_y` between the outermost pieces and the edge of the board.
    """

    width: float
    height: float
    form: Literal["module", "strip", "tube"]
    length: float
    across: float
    """Length and width of one piece; of two kinds, of a place that is roomy enough for either."""
    along: Literal["width", "height"]
    """The side of the board along which the length of the pieces runs."""
    rows: int
    columns: int
    counted: Literal["rows", "columns"]
    lines: list[int]
    pitch_x: float | None
    pitch_y: float | None
    clearance_x: float
    clearance_y: float
    runs: list[RunRecord]


def _metres(value: float) -> float:
    """Round to a nanometre: what differs below is rounding of floating point."""
    return round(value, 9) + 0.0


def layout_record(build: Build) -> LayoutRecord | None:
    """Return the record of the layout of a build; None where its board cannot hold the emitters."""
    layout = layout_of(build)
    if layout is None:
        return None
    grid = layout.grid
    length, width = place_size(build.kinds)
    runs = [
        RunRecord(
            driver=run.driver,
            number=run.number,
            strings=[
                StringRecord(x=[_metres(layout.x[i]) for i in string], y=[_metres(layout.y[i]) for i in string])
                for string in run.strings
            ],
            emitter=run.emitter,
            wire=_metres(run.wire),
        )
        for run in layout.runs
    ]
    return LayoutRecord(
        width=build.panel.width,
        height=build.panel.height,
        form=build.emitter.form,
        length=length,
        across=width,
        along="width" if layout.lying else "height",
        rows=grid.rows,
        columns=grid.columns,
        counted="columns" if grid.upright else "rows",
        lines=list(grid.lines),
        pitch_x=_metres(grid.pitch_x) if grid.columns > 1 else None,
        pitch_y=_metres(grid.pitch_y) if grid.rows > 1 else None,
        clearance_x=_metres(layout.clearance_x),
        clearance_y=_metres(layout.clearance_y),
        runs=runs,
    )


def layout_lines(layout: LayoutRecord) -> Iterator[tuple[str, str]]:
    """Yield what a person reads of a layout: a word and a line for each."""
    rows, columns = _number(layout.rows, "row"), _number(layout.columns, "column")
    if len(set(layout.lines)) == 1:
        text = f"{rows} × {columns}"
    else:
        lines = _number(len(layout.lines), layout.counted.removesuffix("s"))
        text = f"{sum(layout.lines)} in {lines} of {min(layout.lines)} or {max(layout.lines)}, each centred"
    in_line = layout.columns if layout.along == "width" else layout.rows
    if in_line > 1 and layout.form != "module":
        text += f", {in_line} end to end"
    pitches = [_size(pitch) for pitch in (layout.pitch_x, layout.pitch_y) if pitch is not None]
    if pitches:
        text += f"; pitch {' × '.join(pitches)} mm"
    text += f"; {_size(layout.clearance_x)} mm clear at the sides, {_size(layout.clearance_y)} mm at top and bottom"
    yield "Layout", text
    yield "Wiring", "; ".join(_wires(layout)) + " on the board"


def _number(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def _size(length: float) -> str:
    return f"{1e3 * length:.0f}"


def _wires(layout: LayoutRecord) -> Iterator[str]:
    """Yield the wire of each driver; neighbours alike together."""
    for (driver, wire), same in groupby(layout.runs, key=lambda r: (r.driver, f"{r.wire:.2f} m")):
        runs = list(same)
        if len(runs) == len([run for run in layout.runs if run.driver == driver]) == 1:
            yield f"{driver} {wire}"
        elif len(runs) == 1:
            yield f"{driver} no. {runs[0].number} {wire}"
        else:
            yield f"{driver} no. {runs[0].number} to {runs[-1].number} {wire} each"
