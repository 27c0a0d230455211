"""A catalogue from one form into the other: a folder of CSV files into a workbook, and back, cell by cell."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from optimise.parts.faults import Collector, Fault
from optimise.parts.kinds import TABLES
from optimise.parts.sheets import Sheet, has_workbooks, unheld, workbook_bytes
from optimise.parts.sources import Folder, open_source
from optimise.parts.tables import Cells, days_of
from optimise.parts.text import csv_text
from optimise.parts.workbooks import Book


@dataclass(frozen=True)
class Converted:
    """A catalogue in its other form, not yet written."""

    content: bytes | dict[str, str]
    """The workbook, or the text of each CSV file by its name."""
    lost: tuple[str, ...]
    """What the other form cannot keep, in words."""


def convert(path: Path) -> Converted:
    """Return a sound catalogue in its other form: a workbook of a folder, the files of a workbook.

    Cells are text as it is read, comments and columns in their places. Raises `InputError` where a source cannot be
    read, or holds a cell that a workbook cannot.
    """
    faults = Collector()
    source = open_source(path, faults)
    faults.stop_if_any()
    assert source is not None
    present = [name for name in TABLES if name in source.tables()]
    tables = {name: list(_rows(source, name, faults)) for name in present}
    if isinstance(source, Folder):
        if not has_workbooks():
            mend = "Install it: pip install 'rushlight[workbook]'."
            faults.add(Fault(str(path), read="a folder", allowed="a workbook needs openpyxl", mend=mend))
        _check_held(source, tables, faults)
    faults.stop_if_any()
    beside = _named_files(tables)
    if isinstance(source, Folder):
        sheets = (Sheet(name, (row for _, row in rows)) for name, rows in tables.items())
        return Converted(workbook_bytes(sheets), beside)
    lost = [*beside, *(f"the sheet {name}, which is a note" for name in source.notes())]
    files: dict[str, str] = {}
    for name, rows in tables.items():
        lines = [_line(row) for _, row in rows]
        gone = lines.count(None)
        if gone:
            lost.append(f"{gone} comment{'s' if gone > 1 else ''} of more than one line in the sheet {name}")
        files[f"{name}.csv"] = "".join(line for line in lines if line is not None)
    return Converted(files, tuple(lost))


def _rows(source: Folder | Book, name: str, faults: Collector) -> Iterator[tuple[int, list[str]]]:
    found = source.rows(name, faults, days_of(TABLES[name]))
    for number, row in found or ():
        if row is not None:
            yield number, [cell or "" for cell in row]


def _named_files(tables: dict[str, list[tuple[int, list[str]]]]) -> tuple[str, ...]:
    """Return what is lost of the files that cells name: they lie beside the tables, and are not copied."""
    rows = [cells for _, cells in tables.get("emitters", ()) if any(cells) and not cells[0].lstrip().startswith("#")]
    titles = [cell.split("[")[0].strip() for cell in rows[0]] if rows else []
    places = [titles.index(title) for title in ("spectrum", "photometry") if title in titles]
    names = {cells[place].strip() for place in places for cells in rows[1:] if len(cells) > place} - {""}
    return tuple(f"the file {name}, which must be copied to lie beside it" for name in sorted(names))


def _check_held(source: Folder, tables: dict[str, list[tuple[int, list[str]]]], faults: Collector) -> None:
    for name, rows in tables.items():
        for number, row in rows:
            for place, cell in enumerate(row, 1):
                if unheld(cell):
                    allowed = "what a cell of a workbook can hold"
                    faults.add(Fault(source.file(name), number, f"cell {place} of the row", unheld(cell), allowed))


def _line(row: Cells) -> str | None:
    """Return a row as a line of CSV; None for a comment that is no one line."""
    cells = [cell or "" for cell in row]
    if cells and cells[0].lstrip().startswith("#"):
        return None if "\n" in cells[0] or "\r" in cells[0] else cells[0] + "\n"
    return csv_text([cells])
