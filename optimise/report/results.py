"""The results of a study as one table: CSV, Parquet where its library is there, and what a terminal shows."""

import io
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from rich.console import Console
from rich.table import Table

from optimise.parts.text import csv_text
from optimise.report.record import Record
from optimise.report.spreadsheet import guarded
from optimise.report.table import plain
from optimise.report.terminal import number

Cell = str | int | float | None


@dataclass(frozen=True)
class Row:
    """One case of a study; the record is None where the case failed."""

    scenario: str
    catalogue: str
    objective: str
    record: Record | None

    @property
    def status(self) -> str:
        """What the case came to."""
        return "failed" if self.record is None else self.record.status


@dataclass(frozen=True)
class _Column:
    header: str
    kind: type[str] | type[int] | type[float]
    cell: Callable[[Row], Cell]
    form: str = ".12g"


def _figure(name: str) -> Callable[[Row], Cell]:
    def cell(row: Row) -> Cell:
        figure = None if row.record is None else row.record.figures.get(name)
        return None if figure is None else figure.value

    return cell


def _part(kind: str) -> Callable[[Row], Cell]:
    def cell(row: Row) -> Cell:
        choice = None if row.record is None else row.record.choice
        return None if choice is None else getattr(choice, kind)

    return cell


def _drivers(row: Row) -> Cell:
    if row.record is None or row.record.choice is None:
        return None
    count: Counter[str] = Counter()
    for channel in row.record.choice.channels:
        count[channel.driver] += channel.number
    return "; ".join(f"{times} {part}" for part, times in sorted(count.items()))


def _kinds(row: Row) -> Cell:
    choice = None if row.record is None else row.record.choice
    return None if choice is None else "; ".join(choice.kinds)


def _batteries(row: Row) -> Cell:
    choice = None if row.record is None else row.record.choice
    if choice is None:
        return None
    return 0 if choice.battery is None else choice.battery_series * choice.battery_parallel


def _conflict(row: Row) -> Cell:
    conflict = None if row.record is None else row.record.conflict
    return None if conflict is None else "; ".join(item.limit for item in conflict)


COLUMNS = (
    _Column("scenario", str, lambda row: row.scenario),
    _Column("catalogue", str, lambda row: row.catalogue),
    _Column("objective", str, lambda row: row.objective),
    _Column("status", str, lambda row: row.status),
    _Column("currency", str, lambda row: None if row.record is None else row.record.currency),
    _Column("cost", float, _figure("cost"), ".2f"),
    _Column("mass [kg]", float, _figure("mass")),
    _Column("power [W]", float, _figure("power")),
    _Column("illuminance [lx]", float, _figure("illuminance")),
    _Column("runtime [h]", float, _figure("runtime")),
    _Column("emitter", str, _kinds),
    _Column("emitters", int, _part("emitters")),
    _Column("drivers", str, _drivers),
    _Column("panel", str, _part("panel")),
    _Column("diffuser", str, _part("sheets")),
    _Column("battery", str, _part("battery")),
    _Column("batteries", int, _batteries),
    _Column("cable", str, _part("cable")),
    _Column("fuse", str, _part("fuse")),
    _Column("connector", str, _part("connector")),
    _Column("mount", str, _part("mount")),
    _Column("bound", float, lambda row: None if row.record is None else row.record.proof.bound),
    _Column("gap", float, lambda row: None if row.record is None else row.record.proof.gap),
    _Column("conflict", str, _conflict),
)
"""What the table tells of a case: nothing that differs from one run to the next. Cost and bound are in the
record's currency (the bound where the objective is cost; else it is in kg or W)."""


def ordered(rows: Iterable[Row]) -> list[Row]:
    """Return the rows in the order of the table, which does not depend on the order of their solving."""
    return sorted(rows, key=lambda row: (row.scenario, row.catalogue, row.objective))


def to_csv(rows: Sequence[Row]) -> str:
    """Return rows as CSV text; text that a spreadsheet might run as a formula has an apostrophe before it."""
    cells = [[_written(column.cell(row), column.form) for column in COLUMNS] for row in rows]
    return csv_text([[column.header for column in COLUMNS], *cells])


def _written(value: Cell, form: str) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return guarded(value)
    return format(value, form) if isinstance(value, float) else str(value)


def to_parquet(rows: Sequence[Row]) -> bytes | None:
    """Return rows as a Parquet file, text as it is and numbers as numbers; None where its library is missing."""
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        return None
    types = {str: pyarrow.string(), int: pyarrow.int64(), float: pyarrow.float64()}
    schema = pyarrow.schema([(column.header, types[column.kind]) for column in COLUMNS])
    columns = [[column.cell(row) for row in rows] for column in COLUMNS]
    file = io.BytesIO()
    parquet.write_table(pyarrow.table(columns, schema=schema), file)
    return file.getvalue()


def print_rows(console: Console, rows: Sequence[Row]) -> None:
    """Print the rows in short; the catalogue is left out where there is only one."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    names = [
        ("scenario", [row.scenario for row in rows]),
        ("catalogue", [row.catalogue for row in rows]),
        ("objective", [row.objective for row in rows]),
    ]
    if len({row.catalogue for row in rows}) == 1:
        del names[1]
    for header, _ in names:
        table.add_column(header, overflow="fold")
    table.add_column("status", no_wrap=True)
    for header in ("cost", "mass", "power", "light"):
        table.add_column(header, justify="right", no_wrap=True)
    for index, row in enumerate(rows):
        figures = {} if row.record is None else row.record.figures
        currency = "" if row.record is None else row.record.currency
        shown = [
            number(figures[name].value, figures[name].unit, currency) if name in figures else ""
            for name in ("cost", "mass", "power", "illuminance")
        ]
        table.add_row(*(plain(cells[index]) for _, cells in names), row.status, *shown)
    console.print(table)


def counted(rows: Sequence[Row]) -> str:
    """Return how many cases came to what, in words."""
    count = Counter(row.status for row in rows)
    order = ("optimal", "feasible", "impossible", "stopped", "failed")
    cases = "1 case" if len(rows) == 1 else f"{len(rows)} cases"
    return f"{cases}: " + ", ".join(f"{count[status]} {status}" for status in order if count[status])
