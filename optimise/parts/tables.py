"""Reading one table into rows of a kind, with every fault told by line and column, wherever its cells come from."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, Generic, Protocol, TypeVar

from pydantic import ValidationError

from optimise.parts import units
from optimise.parts.columns import REQUIRED, Column, Row, columns_of
from optimise.parts.faults import Collector, Fault, nearest, quoted
from optimise.parts.offers import MONEY_COLUMNS
from optimise.parts.units import UnitError

MAX_ROWS = 100_000
MAX_COLUMNS = 256

R = TypeVar("R", bound=Row)

_HEADER = re.compile(r"([^\[\]]*)(?:\[([^\[\]]*)\])?")
_YES_NO = {"yes": True, "no": False}


Cells = Sequence[str | None]
"""The cells of a row as text; None for one that is no text, of which the fault is told already."""


class Source(Protocol):
    """Where tables come from: a folder of CSV files, or a workbook of sheets."""

    def file(self, table: str) -> str:
        """Return how a fault names the place of a table."""

    def rows(
        self, table: str, faults: Collector, days: frozenset[str] = frozenset()
    ) -> Iterator[tuple[int, Cells | None]] | None:
        """Return all rows of a table with their numbers, comments and blank ones too; None where it is unreadable.

        A row of None, the last, is one at which reading broke. `days` are the columns in which a day may stand.
        """


@dataclass(frozen=True)
class Line(Generic[R]):
    """A row that was read, and the line of the file (or row of the sheet) it came from."""

    number: int
    row: R


@dataclass(frozen=True)
class Table(Generic[R]):
    """A whole file, read."""

    lines: tuple[Line[R], ...]
    currency: str | None
    """Currency of its money columns, or None where it has none."""
    refused: frozenset[str] = frozenset()
    """Codes (or names) of the rows that were refused, so that nothing else complains of their absence."""
    whole: bool = True
    """Whether every row has its code: False where the file, its header, its end or a code could not be read."""


@dataclass(frozen=True)
class _Head:
    column: Column
    unit: str | None
    """Unit of cells that carry none; None where cells must carry their own."""


def told(rows: Iterator[tuple[int, Cells | None]]) -> Iterator[tuple[int, Cells | None]]:
    """Yield the rows that say something: neither blank nor a comment."""
    for number, row in rows:
        if row is None:
            yield number, None
            return
        comment = bool(row) and row[0] is not None and row[0].lstrip().startswith("#")
        if not comment and any(cell is None or cell.strip() for cell in row):
            yield number, row


@cache
def days_of(kind: type[Row]) -> frozenset[str]:
    """Return the columns of a kind that hold a day."""
    fields = kind.model_fields.items()
    return frozenset(
        name for name, field in fields if date in (field.annotation, *getattr(field.annotation, "__args__", ()))
    )


def read_table(source: Source, table: str, kind: type[R], faults: Collector) -> Table[R]:
    """Read a table of a source into rows of `kind`; whatever is wrong is added to `faults`."""
    name = source.file(table)
    before = len(faults.faults)
    found = source.rows(table, faults, days_of(kind))
    if found is None:
        return Table((), None, whole=False)
    cells = told(found)
    number, header = next(cells, (0, ()))
    if header is None or None in header:
        return Table((), None, whole=False)
    if not header:
        if len(faults.faults) == before:
            allowed = "a header line and rows"
            faults.add(Fault(name, read="an empty file", allowed=allowed, mend="Write a header."))
        return Table((), None, whole=False)
    if len(header) > MAX_COLUMNS:
        read, allowed = f"{len(header)} columns", f"at most {MAX_COLUMNS}"
        faults.add(Fault(name, row=number, read=read, allowed=allowed))
        return Table((), None, whole=False)
    heads, currency = _heads([cell or "" for cell in header], number, kind, name, faults)
    if heads is None:
        return Table((), currency, whole=False)
    code = next(iter(kind.model_fields))
    key = next((i for i, head in enumerate(heads) if head is not None and head.column.name == code), None)
    refused: set[str] = set()
    whole = True
    lines: list[Line[R]] = []
    for count, (number, row) in enumerate(cells):
        if row is None:
            whole = False
            break
        if count == MAX_ROWS:
            faults.add(Fault(name, row=number, read="more rows", allowed=f"at most {MAX_ROWS} rows"))
            whole = False
            break
        if len(row) > len(heads) and any(cell is None or cell.strip() for cell in row[len(heads) :]):
            faults.add(
                Fault(
                    name,
                    row=number,
                    read=f"{len(row)} cells",
                    allowed=f"at most {len(heads)}, one for each header",
                    mend="A comma inside a cell needs quotes around the cell; a decimal comma must be a point.",
                )
            )
            built = None
        else:
            built = _row(row, heads, kind, name, number, faults)
        if built is not None:
            lines.append(Line(number, built))
        elif key is not None and key < len(row):
            code_read = row[key]
            if code_read is None:  # any code may be meant, so none may be called absent
                whole = False
            else:
                refused.add(code_read.strip())
    return Table(tuple(lines), currency, frozenset(refused), whole)


def _heads(
    cells: list[str], number: int, kind: type[Row], name: str, faults: Collector
) -> tuple[list[_Head | None] | None, str | None]:
    known = columns_of(kind)
    before = len(faults.faults)
    heads: list[_Head | None] = []
    seen: set[str] = set()
    currency: str | None = None
    if len(cells) == 1 and ";" in cells[0]:
        faults.add(
            Fault(
                name,
                row=number,
                read="cells parted by semicolons",
                allowed="cells parted by commas, numbers with a decimal point",
                mend="Save the file as comma-separated with decimal points.",
            )
        )
        return None, None
    for cell in cells:
        match = _HEADER.fullmatch(cell.strip())
        title, unit = (match[1].strip(), match[2]) if match else (cell.strip(), None)
        if title == "note" or title.startswith("note "):
            heads.append(None)
            continue
        column = known.get(title)
        if column is None:
            faults.add(
                Fault(
                    name,
                    row=number,
                    column=f"column {quoted(title)}",
                    read="an unknown column",
                    allowed=", ".join(known) + ", and note",
                    mend=nearest(title, known),
                )
            )
            heads.append(None)
            continue
        if title in seen:
            faults.add(Fault(name, row=number, column=f"column {title}", read="the column twice", allowed="once"))
        seen.add(title)
        if title in MONEY_COLUMNS:
            currency = _currency(unit, title, currency, name, number, faults)
            heads.append(_Head(column, None))
            continue
        if unit is not None:
            try:
                units.check_unit(unit.strip(), column.measure)
            except UnitError as error:
                faults.add(
                    Fault(
                        name,
                        row=number,
                        column=f"column {title}",
                        read=f"unit {quoted(unit)}",
                        allowed=error.allowed,
                        mend=error.mend,
                    )
                )
        elif column.measure is not None and column.measure.unit == "":
            unit = ""
        heads.append(_Head(column, None if unit is None else unit.strip()))
    for title, column in known.items():
        if column.blank == REQUIRED and title not in seen:
            faults.add(
                Fault(
                    name,
                    row=number,
                    column=f"column {title}",
                    read="no such column",
                    allowed="the column, since it is required",
                    mend="Add it to the header.",
                )
            )
    return (heads if len(faults.faults) == before else None), currency


def _currency(
    unit: str | None, title: str, so_far: str | None, name: str, number: int, faults: Collector
) -> str | None:
    if unit is None or re.fullmatch(r"\s*[A-Z]{3}\s*", unit) is None:
        faults.add(
            Fault(
                name,
                row=number,
                column=f"column {title}",
                read="no currency" if unit is None else f"currency {quoted(unit)}",
                allowed=f"a currency code (ISO 4217) in the header, such as {title} [EUR]",
                mend="Write the code into the header.",
            )
        )
        return so_far
    code = unit.strip()
    if so_far is not None and code != so_far:
        faults.add(
            Fault(
                name,
                row=number,
                column=f"column {title}",
                read=f"currency {code}",
                allowed=f"one currency: {so_far}",
            )
        )
    return so_far or code


def _row(cells: Cells, heads: list[_Head | None], kind: type[R], name: str, number: int, faults: Collector) -> R | None:
    values: dict[str, Any] = {}
    texts: dict[str, str] = {}
    before = len(faults.faults) - any(cell is None for cell in cells)
    fields = kind.model_fields  # pydantic takes a while to give them
    blank_money = "price" in fields and _is_own(cells, heads)
    for head, cell in zip(heads, cells, strict=False):
        text = "" if cell is None else cell.strip()
        if head is None or (cell is not None and not text):
            continue
        title = head.column.name
        texts[title] = text
        if cell is None:
            continue
        try:
            values[title] = _value(text, head)
        except UnitError as error:
            faults.add(
                Fault(
                    name,
                    row=number,
                    column=f"column {title}",
                    read=quoted(text),
                    allowed=error.allowed,
                    mend=error.mend,
                )
            )
    if blank_money:
        values.setdefault("price", 0)
    missing = [
        head.column.name
        for head in heads
        if head is not None
        and head.column.name not in texts
        and head.column.name not in values
        and fields[head.column.name].is_required()
    ]
    for title in missing:
        faults.add(
            Fault(
                name,
                row=number,
                column=f"column {title}",
                read="a blank cell",
                allowed=f"a value, since {title} is required",
                mend="Fill the cell; nothing is assumed for it.",
            )
        )
    built: R | None = None
    whole = len(faults.faults) == before
    try:
        built = kind(**values)
    except ValidationError as error:
        for problem in error.errors():
            # A rule between cells says nothing while one of them is not read.
            if problem["type"] != "missing" and (problem["loc"] or whole):
                for fault in _model_faults(problem, kind, texts, name, number):
                    faults.add(fault)
    return built if len(faults.faults) == before else None


def _is_own(cells: Cells, heads: list[_Head | None]) -> bool:
    return any(
        head is not None and head.column.name == "supplier" and (cell or "").strip() == "own"
        for head, cell in zip(heads, cells, strict=False)
    )


def _value(text: str, head: _Head) -> Any:
    column = head.column
    if column.name in MONEY_COLUMNS:
        cents, currency = units.money(text)
        if currency is not None:
            raise UnitError("a plain amount, in the header's currency", "Take the currency out of the cell.")
        return cents
    if column.measure is None:
        if column.allowed == "yes | no":
            if text not in _YES_NO:
                raise UnitError("yes | no")
            return _YES_NO[text]
        return text
    if column.name == "spread" and text == "lambertian":
        return None
    return units.convert(text, column.measure, head.unit)


def _model_faults(problem: Any, kind: type[Row], texts: dict[str, str], name: str, number: int) -> Iterator[Fault]:
    """Yield the faults that a model found: one of a cell by itself, or all that break a rule between cells."""
    if problem["loc"]:
        title = str(problem["loc"][0])
        told = [[title, bound_text(columns_of(kind)[title], problem), ""]]
    else:
        told = [line.split("|") for line in str(problem["msg"]).removeprefix("Value error, ").split("\n")]
    for title, allowed, mend in told:
        yield Fault(
            name,
            row=number,
            column=f"column {title}",
            read=quoted(texts[title]) if title in texts else "a blank cell",
            allowed=allowed,
            mend=mend,
        )


def bound_text(column: Column, problem: Any) -> str:
    """Say in the shown unit what a value that pydantic refused should have been."""
    context = problem.get("ctx", {})
    words = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}
    for key, word in words.items():
        if key in context:
            limit = context[key]
            if column.measure is not None:
                return f"{word} {units.shown(float(limit), column.measure)}"
            return f"{word} {limit}"
    if problem["type"] == "string_pattern_mismatch":
        if column.name == "ip":
            return "IP and two signs of IEC 60529, such as IP44 or IPX4"
        if column.name == "photometry":
            return "the name of a file, at most 200 signs"
        if column.name == "currency":
            return "a currency code (ISO 4217), such as EUR"
        return "a code of at most 80 signs without comma, semicolon or space in front"
    if problem["type"] in {"int_from_float", "int_parsing"}:
        return "a whole number"
    if str(problem["type"]).startswith("date_"):
        return "a day, such as 2031-01-31"
    return column.allowed or str(problem["msg"])
