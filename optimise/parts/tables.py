"""Reading one CSV table into rows of a kind, with every fault told by line and column."""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from optimise.parts import units
from optimise.parts.columns import REQUIRED, Column, Row, columns_of
from optimise.parts.faults import Collector, Fault, nearest, quoted
from optimise.parts.kinds import MONEY_COLUMNS
from optimise.parts.units import UnitError

MAX_BYTES = 32 * 1024 * 1024
MAX_ROWS = 100_000

R = TypeVar("R", bound=Row)

_HEADER = re.compile(r"([^\[\]]*)(?:\[([^\[\]]*)\])?")
_YES_NO = {"yes": True, "no": False}


@dataclass(frozen=True)
class Line(Generic[R]):
    """A row that was read, and the line of the file it came from."""

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
    """Whether every row was looked at: False where the file, its header or its end could not be read."""


@dataclass(frozen=True)
class _Head:
    column: Column
    unit: str | None
    """Unit of cells that carry none; None where cells must carry their own."""


def read_text(path: Path, name: str, faults: Collector) -> str | None:
    """Return the text of a UTF-8 file without its byte-order mark, or None after adding a fault."""
    try:
        size = path.stat().st_size
        if size > MAX_BYTES:
            faults.add(Fault(name, read=f"{size} bytes", allowed=f"at most {MAX_BYTES}", mend="Split the file."))
            return None
        data = path.read_bytes()
    except OSError as error:
        faults.add(
            Fault(
                name,
                read=error.strerror or "nothing",
                allowed="a readable file",
                mend="Check name and rights.",
            )
        )
        return None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        faults.add(Fault(name, read="UTF-16 text", allowed="UTF-8 text", mend="Save the file as UTF-8."))
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        faults.add(
            Fault(
                name,
                row=error.object[: error.start].count(b"\n") + 1,
                read=f"byte 0x{error.object[error.start]:02x}, which is not UTF-8",
                allowed="UTF-8 text",
                mend="Save the file as UTF-8.",
            )
        )
        return None
    if "\x00" in text:
        faults.add(Fault(name, row=text[: text.index("\x00")].count("\n") + 1, read="a NUL byte", allowed="text"))
        return None
    return text


def read_table(path: Path, kind: type[R], faults: Collector) -> Table[R]:
    """Read a CSV file into rows of `kind`; whatever is wrong is added to `faults`."""
    name = path.name
    text = read_text(path, name, faults)
    if text is None:
        return Table((), None, whole=False)
    cells = _cells(text, name, faults)
    number, header = next(cells, (0, []))
    if header is None:
        return Table((), None, whole=False)
    if not header:
        faults.add(Fault(name, read="an empty file", allowed="a header line and rows", mend="Write a header."))
        return Table((), None, whole=False)
    heads, currency = _heads(header, number, kind, name, faults)
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
        if len(row) > len(heads) and any(cell.strip() for cell in row[len(heads) :]):
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
            refused.add(row[key].strip())
    return Table(tuple(lines), currency, frozenset(refused), whole)


def _cells(text: str, name: str, faults: Collector) -> Iterator[tuple[int, list[str] | None]]:
    """Yield every row with its first line's number; None for the row at which the CSV breaks, the last."""
    start, fresh = 0, True

    def lines() -> Iterator[str]:
        # Comments are dropped before csv sees them: a quote in one would open a cell that swallows what follows.
        nonlocal start, fresh
        for number, line in enumerate(io.StringIO(text, newline=""), 1):
            if fresh and line.lstrip().startswith("#"):
                continue
            if fresh:
                start, fresh = number, False
            yield line

    reader = csv.reader(lines(), strict=True)
    while True:
        fresh = True
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            faults.add(Fault(name, row=start, read=f"broken CSV ({error})", allowed="CSV (RFC 4180)"))
            yield start, None
            return
        comment = bool(row) and row[0].lstrip().startswith("#")
        if not comment and any(cell.strip() for cell in row):
            yield start, row


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


def _row(
    cells: list[str], heads: list[_Head | None], kind: type[R], name: str, number: int, faults: Collector
) -> R | None:
    values: dict[str, Any] = {}
    texts: dict[str, str] = {}
    before = len(faults.faults)
    blank_money = kind.model_fields.keys() & {"price"} and _is_own(cells, heads)
    for head, cell in zip(heads, cells, strict=False):
        text = cell.strip()
        if head is None or not text:
            continue
        title = head.column.name
        texts[title] = text
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
        and kind.model_fields[head.column.name].is_required()
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
                faults.add(_model_fault(problem, kind, texts, name, number))
    return built if len(faults.faults) == before else None


def _is_own(cells: list[str], heads: list[_Head | None]) -> bool:
    return any(
        head is not None and head.column.name == "supplier" and cell.strip() == "own"
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


def _model_fault(problem: Any, kind: type[Row], texts: dict[str, str], name: str, number: int) -> Fault:
    message = str(problem["msg"]).removeprefix("Value error, ")
    if problem["loc"]:
        title = str(problem["loc"][0])
        column = columns_of(kind)[title]
        allowed, mend = bound_text(column, problem), ""
    else:
        title, allowed, mend = message.split("|")
    return Fault(
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
        if column.name == "currency":
            return "a currency code (ISO 4217), such as EUR"
        return "a code of at most 80 signs without comma, semicolon or space in front"
    if problem["type"] in {"int_from_float", "int_parsing"}:
        return "a whole number"
    if str(problem["type"]).startswith("date_"):
        return "a day, such as 2031-01-31"
    return column.allowed or str(problem["msg"])
