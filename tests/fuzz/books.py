"""Workbooks out of their parts: whole ones through the archive, and one sheet through what reads its cells."""

import io
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from optimise.parts import Collector
from optimise.parts.kinds import TABLES
from optimise.parts.tables import read_table
from optimise.parts.workbooks import Book, open_book, unsafe

from .bundle import packed, unpacked
from .memory import put

_MAIN = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
_SHEETS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET = f"""<worksheet xmlns="{_SHEETS}"><sheetData>
<row r="1"><c r="A1" t="inlineStr"><is><t>part</t></is></c><c r="B1" t="inlineStr"><is><t>supplier</t></is></c>
<c r="C1" t="inlineStr"><is><t>price [EUR]</t></is></c><c r="D1" t="inlineStr"><is><t>until</t></is></c></row>
<row r="2"><c r="A2" t="inlineStr"><is><t>BAR</t></is></c><c r="B2" t="s"><v>0</v></c>
<c r="C2"><v>4.5</v></c><c r="D2" s="1"><v>47849</v></c></row>
</sheetData></worksheet>""".encode()
PARTS: dict[str, bytes] = {
    "[Content_Types].xml": f"""<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Override PartName="/xl/workbook.xml" ContentType="{_MAIN}.sheet.main+xml"/>
<Override PartName="/xl/sharedStrings.xml" ContentType="{_MAIN}.sharedStrings+xml"/>
<Override PartName="/xl/styles.xml" ContentType="{_MAIN}.styles+xml"/>
<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_MAIN}.worksheet+xml"/>
</Types>""".encode(),
    "_rels/.rels": f"""<Relationships xmlns="{_RELATIONS}">
<Relationship Id="r1" Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/>
</Relationships>""".encode(),
    "xl/workbook.xml": f"""<workbook xmlns="{_SHEETS}" xmlns:r="{_OFFICE}"><sheets>
<sheet name="offers" sheetId="1" r:id="r1"/>
</sheets></workbook>""".encode(),
    "xl/_rels/workbook.xml.rels": f"""<Relationships xmlns="{_RELATIONS}">
<Relationship Id="r1" Type="{_OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>
<Relationship Id="r2" Type="{_OFFICE}/sharedStrings" Target="sharedStrings.xml"/>
<Relationship Id="r3" Type="{_OFFICE}/styles" Target="styles.xml"/>
</Relationships>""".encode(),
    "xl/sharedStrings.xml": f'<sst xmlns="{_SHEETS}">\n<si><t>north</t></si>\n</sst>'.encode(),
    "xl/styles.xml": f"""<styleSheet xmlns="{_SHEETS}">
<cellXfs><xf/><xf numFmtId="14" applyNumberFormat="1"/><xf numFmtId="9" applyNumberFormat="1"/></cellXfs>
</styleSheet>""".encode(),
    "xl/worksheets/sheet1.xml": SHEET,
}
"""The parts of a small sound workbook."""


def seed() -> bytes:
    """Return the small workbook as one input: its parts, of which an archive is made before it is read."""
    return packed(PARTS)


def archive(parts: list[tuple[str, bytes]]) -> bytes:
    """Return an archive of parts in their order, not packed: that takes time and tells nothing.

    Two parts of one name are meant. It is put together here (APPNOTE, 4.3.7, 4.3.12 and 4.3.16), which takes a tenth of
    the library's time.
    """
    out, listed, place = [], [], 0
    for name, data in parts:
        called = (name[:200].split("\0")[0] or "x").encode("utf-8", "replace")
        told = struct.pack("<5H3L2H", 20, 0x800, 0, 0, 0x21, zlib.crc32(data), len(data), len(data), len(called), 0)
        out += [b"PK\x03\x04", told, called, data]
        listed.append(b"PK\x01\x02\x14\x00" + told + struct.pack("<3H2L", 0, 0, 0, 0, place) + called)
        place += 30 + len(called) + len(data)
    end = struct.pack("<4H2LH", 0, 0, len(parts), len(parts), sum(map(len, listed)), place, 0)
    return b"".join([*out, *listed, b"PK\x05\x06", end])


def workbook(folder: Path) -> Callable[[bytes], object]:
    """Return a reader of whole workbooks: of an archive as it stands, or of one made of parts."""

    def read(data: bytes) -> object:
        path = put("mine.xlsx", data if data.startswith(b"PK") else archive(unpacked(data)))
        faults = Collector()
        book = open_book(path, faults)
        if book is None:
            faults.stop_if_any()
            raise AssertionError("neither a value nor a fault")
        found = _tables(book, faults)
        faults.stop_if_any()
        return found

    return read


def sheet(folder: Path) -> Callable[[bytes], object]:
    """Return a reader of one sheet of a workbook that is open: the library makes a workbook in some ms, once."""
    path = folder / "open.xlsx"
    path.write_bytes(archive(list(PARTS.items())))
    faults = Collector()
    book = open_book(path, faults)
    assert book is not None, faults.faults
    stand_in = _Archive()
    book._book._archive = stand_in

    def read(data: bytes) -> object:
        faults = Collector()
        if unsafe(data):
            return None
        stand_in.data = data
        found = _tables(book, faults)
        faults.stop_if_any()
        return found

    return read


class _Archive:
    """What gives the one part that is read."""

    data = b""

    def open(self, name: str) -> io.BytesIO:
        return io.BytesIO(self.data)

    def close(self) -> None:
        """Stay open."""


def _tables(book: Book, faults: Collector) -> list[Any]:
    book.notes()
    names = [name for name in book.tables() if name in TABLES]
    return [read_table(book, name, TABLES[name], faults) for name in names]
