"""A catalogue in a workbook: the rules of the CSV files, and nothing that a hostile workbook could do."""

import csv
import hashlib
import io
import sys
import zipfile
from collections.abc import Callable, Mapping
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from sample_files import TABLES, faults_of, spoilt, write

from optimise.parts import Catalogue, Collector, Fault, read_catalogue
from optimise.parts.tables import Cells
from optimise.parts.workbooks import open_book, text_of


def book_of(tables: Mapping[str, str] = TABLES) -> openpyxl.Workbook:
    """Return tables as a workbook, each in a sheet, comments in the first cell, every cell as text."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, text in tables.items():
        sheet = book.create_sheet(name)
        lines = text.splitlines()
        for row, line in enumerate(lines, 1):
            cells = [line] if line.startswith("#") else next(csv.reader([line]))
            for column, value in enumerate(cells, 1):
                if value:
                    sheet.cell(row, column).value = value
    return book


def saved(folder: Path, book: openpyxl.Workbook) -> Path:
    path = folder / "mine.xlsx"
    book.save(path)
    return path


def told(folder: Path, change: Callable[[openpyxl.Workbook], object]) -> tuple[Fault, ...]:
    book = book_of()
    change(book)
    return faults_of(saved(folder, book))


def same(one: Catalogue, other: Catalogue) -> bool:
    # How and where it is written is all that may differ.
    fields = set(Catalogue.__dataclass_fields__) - {"fingerprints", "places"}
    return all(getattr(one, name) == getattr(other, name) for name in fields)


def put(sheet: str, place: str, value: Any, form: str = "") -> Callable[[openpyxl.Workbook], None]:
    def change(book: openpyxl.Workbook) -> None:
        book[sheet][place].value = value
        if form:
            book[sheet][place].number_format = form

    return change


def test_a_workbook_is_the_catalogue_of_its_folder(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    plain = read_catalogue(write(tmp_path / "folder"))
    path = saved(tmp_path, book_of())
    read = read_catalogue(path)
    assert same(read, plain)
    assert read.fingerprints == {"mine.xlsx": hashlib.sha256(path.read_bytes()).hexdigest()}
    assert read.places == {code: (f"mine.xlsx, sheet {file[:-4]}", n) for code, (file, n) in plain.places.items()}


def test_numbers_per_cents_and_days_are_read_as_shown(tmp_path: Path) -> None:
    book = book_of()
    offers, panels, drivers = book["offers"], book["panels"], book["drivers"]
    offers["C2"].value, offers["F2"].value = 4.6000000000000005, 40
    offers["I1"].value, offers["I2"].value = "until", date(2031, 1, 31)
    offers["I3"].value = "2031-02-28"
    panels["B2"].value = 40.5
    drivers["L2"].value, drivers["L2"].number_format = 0.07, "0%"
    drivers["L1"].value = "efficiency [%]"
    for row, text in ((3, "92"), (4, "93"), (5, "94")):
        drivers[f"L{row}"].value = text
    read = read_catalogue(saved(tmp_path, book))
    first = {offer.price: offer for offer in read.offers["BAR"]}[460]
    assert (first.stock, first.until) == (40, date(2031, 1, 31))
    assert read.panels[0].width == pytest.approx(0.405)
    assert [d.efficiency for d in read.drivers if d.part == "CC"] == [pytest.approx(0.07)]


def test_a_note_may_hold_a_day_and_a_sheet_of_notes_is_not_read(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        book["emitters"]["P3"].value = datetime(2030, 5, 1)
        book.create_sheet("note on prices")["A1"].value = "=1+1"

    assert told(tmp_path, change) == ()


FORMULA = ("a formula", "text or a number", "Put its value in its place: formulas are not worked out.")
BAD = [
    ("offers", "C2", "=2+2", 2, "price", *FORMULA),
    ("offers", "C1", "=A1", 1, "C", *FORMULA),
    ("emitters", "P3", "=NOW()", 3, "note", *FORMULA),
    ("offers", "F2", "#N/A", 2, "stock", 'the error value "#N/A"', "text or a number", "Mend the cell."),
    (
        "panels",
        "E2",
        True,
        2,
        "metal",
        "a cell that is true or false",
        "text or a number",
        "Write the word, such as yes or no, as text.",
    ),
    (
        "offers",
        "A2",
        date(2030, 1, 2),
        2,
        "part",
        "the day 2030-01-02",
        "text or a number",
        "Give the cell the format of text and write it again.",
    ),
    (
        "offers",
        "G2",
        time(12, 30),
        2,
        "lead_time",
        "a time",
        "text, a number or a day",
        "Write it as text, with its unit.",
    ),
]


@pytest.mark.parametrize(("sheet", "place", "value", "row", "column", "read", "allowed", "mend"), BAD)
def test_a_cell_that_is_no_text_or_number_is_the_one_fault(
    tmp_path: Path, sheet: str, place: str, value: Any, row: int, column: str, read: str, allowed: str, mend: str
) -> None:
    fault = Fault(f"mine.xlsx, sheet {sheet}", row, f"column {column}", read, allowed, mend)
    assert told(tmp_path, put(sheet, place, value)) == (fault,)
    assert str(fault).startswith(f"mine.xlsx, sheet {sheet}, row {row}, column {column}: read {read}")


@pytest.mark.parametrize(("sheet", "place"), [("batteries", "G2"), ("emitters", "A3"), ("suppliers", "A2")])
def test_nothing_else_complains_of_a_cell_that_was_refused(tmp_path: Path, sheet: str, place: str) -> None:
    # A peukert needs a rated time, and an offer its part and supplier: all of them are there, though not read.
    assert [fault.read for fault in told(tmp_path, put(sheet, place, "=1"))] == ["a formula"]


def test_a_stored_result_of_a_formula_is_not_read(tmp_path: Path) -> None:
    path = saved(tmp_path, book_of())
    altered(path, "xl/worksheets/sheet10.xml", b"</row>", b'<c r="F1"><f>1+1</f><v>2</v></c></row>')
    assert {fault.read for fault in faults_of(path)} == {"a formula"}


def test_every_bad_cell_of_a_row_is_told_at_once(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        book["offers"]["C2"].value = "=1"
        book["offers"]["D2"].value = "many"
        book["offers"]["F3"].value = True
        book["panels"]["B2"].value = -1

    faults = told(tmp_path, change)
    assert [(fault.file[17:], fault.row, fault.column) for fault in faults] == [
        ("offers", 2, "column pack"),
        ("offers", 2, "column price"),
        ("offers", 3, "column stock"),
        ("panels", 2, "column width"),
    ]


@pytest.mark.parametrize("name", ["emitters", "offers", "suppliers", "mounts"])
def test_faults_are_those_of_the_csv_in_other_words_for_the_place(tmp_path: Path, name: str) -> None:
    wrong = {
        "emitters": ("1000,0.7", "1000,-0.7"),
        "offers": ("south,7.10", "sooth,7.10"),
        "suppliers": ("6.50,,15.00", "6.505,,15.00"),
        "mounts": ("YOKE,6", "BAR,6"),
    }[name]
    tables = {**TABLES, name: spoilt(TABLES[name], *wrong)}
    (tmp_path / "folder").mkdir()
    plain = faults_of(write(tmp_path / "folder", tables))
    (fault,) = faults_of(saved(tmp_path, book_of(tables)))
    assert (fault.row, fault.column, fault.read) == (plain[0].row, plain[0].column, plain[0].read)
    assert fault.file == f"mine.xlsx, sheet {name}"
    assert ".csv" not in str(fault)


def test_missing_and_unknown_sheets_are_told(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        book.remove(book["panels"])
        book.create_sheet("pannels")

    missing, unknown = told(tmp_path, change)
    assert (missing.file, missing.read) == ("mine.xlsx, sheet panels", "no such sheet")
    assert (unknown.file, unknown.read, unknown.mend) == (
        "mine.xlsx, sheet pannels",
        "an unknown table",
        'Did you mean "panels"?',
    )


def altered(path: Path, part: str, old: bytes, new: bytes) -> None:
    """Change one part of a workbook on disk."""
    with zipfile.ZipFile(path) as file:
        parts = {name: file.read(name) for name in file.namelist()}
    assert old in parts[part]
    parts[part] = parts[part].replace(old, new, 1)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in parts.items():
            file.writestr(name, data)


SHEET = "xl/worksheets/sheet1.xml"
BOMB = b'<!DOCTYPE a [<!ENTITY b "' + b"x" * 50 + b'">]>'
HOSTILE = [
    ("xl/workbook.xml", b"<workbook", BOMB + b"<workbook", "a document type in"),
    (SHEET, b"<worksheet", BOMB + b"<worksheet", "a document type in"),
    (SHEET, b"<worksheet", b'<?xml version="1.0" encoding="cp037"?><worksheet', "another encoding than UTF-8 in"),
    (SHEET, b"</sheetData>", b'<row r="3"><c r="A3"><v>1</v></c></row></sheetData>', "row 3 after row 5 in"),
    (SHEET, b"</sheetData>", b"<row></row><row r='6'/></sheetData>", "row 6 after row 6 in"),
    (SHEET, b"</sheetData>", b"</sheetDat>", "a broken sheet (ParseError)"),
    (SHEET, b"</sheetData>", b'<row r="x"/></sheetData>', "a broken sheet (ValueError)"),
    ("xl/workbook.xml", b"</workbook>", b"", "no whole workbook (ParseError)"),
    (SHEET, b"</sheetData>", b'<row r="999999999"><c r="A999999999"><v>1</v></c></row></sheetData>', "row 200001"),
    (SHEET, b"</sheetData>", b'<row r="90"><c r="ZZZ90"><v>1</v></c></row></sheetData>', "18278 columns"),
]


@pytest.mark.parametrize(("part", "old", "new", "read"), HOSTILE)
def test_a_hostile_part_is_refused(tmp_path: Path, part: str, old: bytes, new: bytes, read: str) -> None:
    path = saved(tmp_path, book_of())
    altered(path, part, old, new)
    assert [fault.read for fault in faults_of(path) if fault.read.startswith(read)]


def test_what_a_sheet_says_of_its_size_does_not_hide_rows(tmp_path: Path) -> None:
    path = saved(tmp_path, book_of())
    altered(path, SHEET, b'<dimension ref="A1:P5"', b'<dimension ref="A1:B3"')
    assert len(read_catalogue(path).emitters) == 3


def rows_of(path: Path) -> tuple[list[tuple[int, Cells | None]], list[Fault]]:
    """Return what the first sheet hands out, and the faults."""
    faults = Collector()
    book = open_book(path, faults)
    assert book is not None
    return list(book.rows(next(iter(TABLES)), faults) or ()), faults.faults


def test_the_blank_rows_of_a_gap_and_at_the_end_are_handed_out(tmp_path: Path) -> None:
    path = saved(tmp_path, book_of())
    altered(path, SHEET, b"</sheetData>", b'<row r="9"><c r="A9"><v>1</v></c></row><row r="11"/></sheetData>')
    rows, faults = rows_of(path)
    assert [number for number, _ in rows] == [*range(1, 12)]
    assert rows[5:] == [(6, []), (7, []), (8, []), (9, ["1"]), (10, []), (11, [])]
    assert faults == []


@pytest.mark.parametrize("row", ["<row r='1048576'><c r='A1048576'><v>1</v></c></row>", f"<row r='{'9' * 40}'/>"])
def test_a_row_far_out_is_refused_and_the_gap_before_it_not_handed_out(tmp_path: Path, row: str) -> None:
    # A sheet of some bytes took seconds: it has a million rows by what it says.
    path = saved(tmp_path, book_of())
    altered(path, SHEET, b"</sheetData>", row.encode() + b"</sheetData>")
    rows, faults = rows_of(path)
    assert [number for number, _ in rows] == [1, 2, 3, 4, 5, 200_001]
    assert rows[-1][1] is None
    assert [(fault.row, fault.read) for fault in faults] == [(200_001, "row 200001")]


def test_a_workbook_too_large_once_unpacked_is_refused_before_parsing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = saved(tmp_path, book_of())
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as file:
        file.writestr("xl/media/pad.bin", bytes(3_000_000))
    monkeypatch.setattr("optimise.parts.workbooks.MAX_UNPACKED", 3_000_000)
    monkeypatch.setattr("openpyxl.load_workbook", None)
    (fault,) = faults_of(path)
    assert fault.read.endswith("bytes once unpacked")
    assert path.stat().st_size < 100_000


def test_too_many_parts_or_two_of_a_name_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = saved(tmp_path, book_of())
    with zipfile.ZipFile(path, "a") as file, pytest.warns(UserWarning, match="Duplicate"):
        file.writestr(SHEET, b"<worksheet/>")
    assert faults_of(path)[0].read == "two parts of the same name"
    monkeypatch.setattr("optimise.parts.workbooks.MAX_PARTS", 3)
    assert faults_of(path)[0].read.endswith(" parts")


@pytest.mark.parametrize("data", [b"", b"PK", b"part,price\n", b"PK\x05\x06" + bytes(18)])
def test_a_file_that_is_no_workbook_is_told(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "mine.xlsx"
    path.write_bytes(data)
    (fault,) = faults_of(path)
    assert (fault.file, fault.allowed) == ("mine.xlsx", "a workbook (XLSX) that is whole")


def test_every_cut_of_a_workbook_is_a_fault_and_no_crash(tmp_path: Path) -> None:
    whole = io.BytesIO()
    book_of().save(whole)
    path = tmp_path / "mine.xlsx"
    for length in range(0, len(whole.getvalue()), 997):
        path.write_bytes(whole.getvalue()[:length])
        assert faults_of(path)


def test_without_its_library_a_workbook_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = saved(tmp_path, book_of())
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    (fault,) = faults_of(path)
    assert "rushlight[workbook]" in fault.mend


def test_a_workbook_that_is_not_there_is_told(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path / "none.xlsx")
    assert fault.read == "no such folder or file"


@pytest.mark.parametrize(
    ("value", "form", "text"),
    [
        (12, "General", "12"),
        (12.5, "0.00", "12.5"),
        (0.1 + 0.2, "0.0", "0.3"),
        (0.9, "0%", "90.0 %"),
        (2, "0.0%", "200 %"),
    ],
)
def test_a_number_is_the_text_that_is_shown(value: float, form: str, text: str) -> None:
    assert text_of(value, "n", form, day=False) == text


def test_more_tags_than_a_catalogue_has_are_refused_before_parsing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A shared text of a few bytes takes the library some 20 µs: what unpacks to 128 MB of them would take minutes.
    monkeypatch.setattr("optimise.parts.workbooks.MAX_TAGS", 50)
    (fault,) = faults_of(saved(tmp_path, book_of()))
    assert (fault.read, fault.allowed) == ("more tags", "at most 50 in all parts")


def test_an_archive_within_a_workbook_is_not_unpacked(tmp_path: Path) -> None:
    path, inner = saved(tmp_path, book_of()), io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("x", b"\0" * 1_000_000)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("xl/inner.zip", inner.getvalue())
    assert read_catalogue(path).fuses
