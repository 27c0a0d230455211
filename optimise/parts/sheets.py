"""Writing a workbook: sheets of text and numbers, the same bytes for the same cells."""

import io
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

Cell = str | int | float | None

MOST_TEXT = 32_767
"""Signs that a cell of a workbook may hold; the library would cut longer text without a word."""

_UNHELD = re.compile(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]|_x[0-9A-Fa-f]{4}_")
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)
_TIMES = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")


@dataclass(frozen=True)
class Sheet:
    """A sheet to write: its name, its rows, and the number format of some columns, counted from 0."""

    name: str
    rows: Iterable[Sequence[Cell]]
    formats: Mapping[int, str] = field(default_factory=dict)


def unheld(text: str) -> str:
    """Return what of a text no cell of a workbook can hold, or ''."""
    if len(text) > MOST_TEXT:
        return f"{len(text)} signs"
    found = _UNHELD.search(text)
    return "" if found is None else f"the sign {found[0]!r}"


def has_workbooks() -> bool:
    """Return whether the library for workbooks is installed."""
    try:
        import openpyxl  # noqa: F401
    except ImportError:
        return False
    return True


def workbook_bytes(sheets: Iterable[Sheet]) -> bytes:
    """Return a workbook (XLSX). Text is always text, never a formula. Raises ValueError for text that is `unheld`."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    for sheet in sheets:
        page = book.create_sheet(sheet.name)
        for row in sheet.rows:
            cells = []
            for index, value in enumerate(row):
                if isinstance(value, str) and unheld(value):
                    raise ValueError(f"a cell cannot hold {unheld(value)}")
                cell = WriteOnlyCell(page, value=None if value == "" else value)
                if isinstance(value, str) and value:
                    cell.data_type = "s"
                    cell.number_format = "@"
                elif index in sheet.formats:
                    cell.number_format = sheet.formats[index]
                cells.append(cell)
            page.append(cells)
    made = io.BytesIO()
    book.save(made)
    return _settled(made.getvalue())


def _settled(book: bytes) -> bytes:
    """Return the workbook without the time of its making, so that the same cells are the same bytes."""
    settled = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as source, zipfile.ZipFile(settled, "w", zipfile.ZIP_DEFLATED) as target:
        for entry in source.infolist():
            data = source.read(entry)
            if entry.filename == "docProps/core.xml":
                data = _TIMES.sub(rb"\g<1>2000-01-01T00:00:00Z", data)
            plain = zipfile.ZipInfo(entry.filename, _FIRST_DAY)
            plain.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(plain, data)
    return settled.getvalue()
