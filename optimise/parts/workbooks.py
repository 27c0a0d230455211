"""Reading a workbook (XLSX) into cells of text: what it may hold, and what is refused before it is parsed."""

import hashlib
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from optimise.parts.faults import Collector, Fault, quoted, sheet_of
from optimise.parts.sheets import has_workbooks
from optimise.parts.tables import MAX_COLUMNS, MAX_ROWS, Cells
from optimise.parts.text import read_data

MAX_UNPACKED = 128 * 1024 * 1024
"""Bytes that all parts of a workbook may have together once unpacked."""
MAX_PARTS = 1000
MAX_TAGS = 5_000_000
"""Of XML in all parts: 100,000 rows of ten cells have about four; the library takes some 20 µs for one."""

_ENCODING = re.compile(rb"""[^>]{0,200}?encoding\s*=\s*["']([^"'>]{0,40})""")
_ROW = re.compile(rb"<(?:[A-Za-z0-9_]+:)?row(?=[\s/>])([^>]*)")
_NUMBER = re.compile(rb"""\sr\s*=\s*["']\s*([0-9]+)""")
_BROKEN = "a workbook (XLSX) that is whole"
_AGAIN = "Open it in a spreadsheet and save it again."


class Book:
    """A workbook that was found fit to be read. Its formulas, links and macros are never followed."""

    def __init__(self, path: Path, data: bytes, book: Any) -> None:
        self.path = path
        self._data = data
        self._book = book

    def tables(self) -> list[str]:
        """Return the names of the sheets, without those that are one's own notes."""
        return sorted(name for name in self._book.sheetnames if not is_note(name))

    def notes(self) -> list[str]:
        """Return the names of the sheets that are not read."""
        return [name for name in self._book.sheetnames if is_note(name)]

    def file(self, table: str) -> str:
        """Return how a sheet is named in a fault."""
        return sheet_of(self.path.name, table)

    def rows(
        self, table: str, faults: Collector, days: frozenset[str] = frozenset()
    ) -> Iterator[tuple[int, Cells | None]] | None:
        """Return the rows of a sheet; formulas, errors, true or false, and days out of place are faults of cells."""
        sheet = self._book[table]
        if not hasattr(sheet, "reset_dimensions"):
            faults.add(Fault(self.file(table), read="a sheet that is a chart", allowed="a sheet of cells"))
            return None
        return self._rows(sheet, self.file(table), faults, days)

    @property
    def beside(self) -> Path:
        """The folder that the files lie in which its cells name."""
        return self.path.parent

    def prints(self, tables: list[str]) -> dict[str, str]:
        """Return the SHA-256 of the workbook, by its name."""
        return {self.path.name: hashlib.sha256(self._data).hexdigest()}

    def _rows(
        self, sheet: Any, name: str, faults: Collector, days: frozenset[str]
    ) -> Iterator[tuple[int, Cells | None]]:
        # What a sheet says of its own size may be wrong, and rows beyond it would be left out.
        sheet.reset_dimensions()
        found = sheet.iter_rows()
        header: list[str] = []
        number = 0
        while True:
            first = number = number + 1
            ended: Exception | None = None
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    found_row = next(found)
                    while not found_row and number <= 2 * MAX_ROWS:  # a gap, which the library counts out row by row
                        number += 1
                        found_row = next(found)
                    cells = [
                        (c.value, c.data_type, str(c.number_format or "")) if _filled(c) else None for c in found_row
                    ]
            except Exception as error:  # the library fails in many ways on a broken sheet; all mean the same
                ended = error
            # Blank rows that lead nowhere are as many as a file of a few bytes says.
            if number <= 2 * MAX_ROWS:
                yield from ((blank, []) for blank in range(first, number))
            if isinstance(ended, StopIteration):
                return
            if ended is not None:
                read = f"a broken sheet ({type(ended).__name__})"
                faults.add(Fault(name, row=number, read=read, allowed=_BROKEN, mend=_AGAIN))
                yield number, None
                return
            # Only a file made to exhaust a reader has its cells so far out.
            if number > 2 * MAX_ROWS or len(cells) > MAX_COLUMNS:
                read = f"{len(cells)} columns" if len(cells) > MAX_COLUMNS else f"row {number}"
                allowed = f"at most {MAX_COLUMNS} columns and {2 * MAX_ROWS} rows, blank ones included"
                faults.add(Fault(name, row=number, read=read, allowed=allowed))
                yield number, None
                return
            if cells and cells[0] is not None and str(cells[0][0]).lstrip().startswith("#") and cells[0][1] == "s":
                yield number, [None if cell is None else str(cell[0]) for cell in cells[:1]]
                continue
            row = [self._text(cell, i, header, number, name, faults, days) for i, cell in enumerate(cells)]
            if not header and any(cell is None or cell.strip() for cell in row):
                header = [cell or "" for cell in row]
            yield number, row

    def _text(
        self,
        cell: tuple[Any, str, str] | None,
        index: int,
        header: list[str],
        number: int,
        name: str,
        faults: Collector,
        days: frozenset[str],
    ) -> str | None:
        if cell is None:
            return ""
        value, kind, form = cell
        title = header[index].split("[")[0].strip() if index < len(header) else ""
        try:
            return text_of(value, kind, form, day=title in days or is_note(title))
        except ValueError as error:
            read, allowed, mend = str(error).split("|")
            place = f"column {title}" if title else f"column {_letters(index)}"
            faults.add(Fault(name, number, place, read, allowed, mend))
            return None


def is_note(title: str) -> bool:
    """Return whether a column or sheet is a note of one's own, which is not read."""
    return title == "note" or title.startswith("note ")


def _filled(cell: Any) -> bool:
    return cell.value is not None or cell.data_type == "f"


def _letters(index: int) -> str:
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def text_of(value: Any, kind: str, form: str, *, day: bool) -> str:
    """Return the text that a cell stands for. Raises ValueError, as read|allowed|mend, for what stands for none.

    kind: the cell's data type by ISO/IEC 29500; form: its number format; day: whether a day may stand here.
    A number is taken to the 15 digits that a spreadsheet shows; one that is shown in per cent keeps its sign %.
    """
    if kind == "f":
        raise ValueError("a formula|text or a number|Put its value in its place: formulas are not worked out.")
    if kind == "e":
        raise ValueError(f"the error value {quoted(str(value)[:20]).replace('|', ' ')}|text or a number|Mend the cell.")
    if kind == "b":
        raise ValueError("a cell that is true or false|text or a number|Write the word, such as yes or no, as text.")
    if isinstance(value, str):
        return value
    if isinstance(value, datetime) and value.time() == datetime.min.time():
        value = value.date()
    if isinstance(value, date) and not isinstance(value, datetime):
        if not day:
            raise ValueError(f"the day {value}|text or a number|Give the cell the format of text and write it again.")
        return value.isoformat()
    if isinstance(value, int | float):
        shown = f"{value:.15g}" if isinstance(value, float) else str(value)
        if "%" in form and shown.lower() not in {"nan", "inf", "-inf"}:
            return f"{Decimal(shown) * 100:f} %"
        return shown
    raise ValueError("a time|text, a number or a day|Write it as text, with its unit.")


def open_book(path: Path, faults: Collector) -> Book | None:
    """Return a workbook that is fit to be read, or None after adding a fault."""
    if not has_workbooks():
        mend = "Install it: pip install 'rushlight[workbook]'."
        faults.add(Fault(path.name, read="a workbook", allowed="CSV files, where openpyxl is not installed", mend=mend))
        return None
    data = read_data(path, path.name, faults)
    if data is None:
        return None
    try:
        reason = _unfit(data)
    except Exception as error:  # a broken archive fails in as many ways as there are to break it
        reason = (f"no whole workbook ({type(error).__name__})", _BROKEN)
    if reason is not None:
        faults.add(Fault(path.name, read=reason[0], allowed=reason[1], mend=_AGAIN))
        return None
    from openpyxl import load_workbook

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = load_workbook(io.BytesIO(data), read_only=True, keep_links=False, keep_vba=False)
    except Exception as error:  # the library fails in many ways on a broken file; all mean the same to a reader
        read = f"no whole workbook ({type(error).__name__})"
        faults.add(Fault(path.name, read=read, allowed=_BROKEN, mend=_AGAIN))
        return None
    return Book(path, data, book)


def _unfit(data: bytes) -> tuple[str, str] | None:
    """Return what makes an archive unfit to be parsed, and what is allowed; None where it is fit."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        entries = archive.infolist()
        if len(entries) > MAX_PARTS:
            return f"{len(entries)} parts", f"at most {MAX_PARTS}"
        unpacked = sum(entry.file_size for entry in entries)
        if unpacked > MAX_UNPACKED:
            return f"{unpacked} bytes once unpacked", f"at most {MAX_UNPACKED}"
        if len({entry.filename for entry in entries}) < len(entries):
            return "two parts of the same name", "every part once"
        tags = 0
        for entry in entries:
            # An archive gives no more than the size that it states, so this is within the limit above.
            part = archive.read(entry)
            tags += part.count(b"<")
            if tags > MAX_TAGS:
                return "more tags", f"at most {MAX_TAGS} in all parts"
            if reason := unsafe(part):
                allowed = "a workbook of UTF-8 parts without a document type, every row once and in order"
                return f"{reason} in {quoted(entry.filename)}", allowed
    return None


def unsafe(part: bytes) -> str:
    """Return what in a part could make a parser of XML go astray, or ''."""
    if b"<!DOCTYPE" in part or b"<!ENTITY" in part:
        return "a document type"
    # In another encoding a document type would not be found.
    said = _ENCODING.match(part)
    if part.startswith((b"\xff\xfe", b"\xfe\xff", b"<\x00", b"\x00<")) or (said and said[1].lower() != b"utf-8"):
        return "another encoding than UTF-8"
    # The library leaves out a row that comes after a later one, or a second time, without a word.
    number = 0
    for row in _ROW.finditer(part):
        place = _NUMBER.search(row[1])
        after = number + 1 if place is None else int(place[1][:20])
        if after <= number:
            return f"row {after} after row {number}"
        number = after
    return ""
