"""The bill as files: numbers as numbers, text never a formula, every cent in the total."""

import csv
import io
import re
from functools import cache
from pathlib import Path

import openpyxl
import pytest

from optimise.model.search import best_build
from optimise.parts import read_catalogue
from optimise.report.bill_files import bill_header, bill_rows, supplier_files, to_csv, to_workbook
from optimise.report.record import Record, make_record
from optimise.report.record_parts import BillRecord, OrderRecord
from optimise.report.spreadsheet import RISKY
from optimise.scenario import read_scenario

ROOT = Path(__file__).parents[2]
HEADER = [
    "supplier",
    "part",
    "needed",
    "packs",
    "pack",
    "sold_by",
    "price of a pack [EUR]",
    "line [EUR]",
    "left over",
]


@cache
def record() -> Record:
    result = best_build(
        read_catalogue(ROOT / "catalogue"), read_scenario(ROOT / "scenarios" / "orchard-night.toml"), "mass"
    )
    return make_record(result, result.objective, "0" * 64)


def line(part: str, supplier: str, packs: int = 1, **more: object) -> BillRecord:
    given = {"quantity": 12.5, "pack": 5.0, "sold_by": "length", "unit_price": 1.1, "line": 1.1 * packs}
    return BillRecord(part=part, supplier=supplier, packs=packs, **{**given, "left_over": 2.5, **more})


def order(supplier: str, goods: float, top_up: float = 0.0, delivery: float = 0.0) -> OrderRecord:
    total = round(goods + top_up + delivery, 2)
    return OrderRecord(supplier=supplier, goods=goods, top_up=top_up, delivery=delivery, total=total)


def with_bill(bill: list[BillRecord], orders: list[OrderRecord]) -> Record:
    return record().model_copy(update={"bill": bill, "orders": orders})


def read(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


def read_book(data: bytes) -> list[list[object]]:
    (sheet,) = openpyxl.load_workbook(io.BytesIO(data)).worksheets
    assert sheet.title == "bill"
    return [[cell.value for cell in row] for row in sheet.iter_rows()]


def test_every_line_charge_and_the_total_are_rows() -> None:
    made = record()
    rows = bill_rows(made)
    assert rows[0] == HEADER == bill_header("EUR")
    assert len(rows) == 2 + len(made.bill) + sum((o.delivery > 0) + (o.top_up > 0) for o in made.orders)
    assert {row[1] for row in rows[1:-1]} >= {entry.part for entry in made.bill}
    paid = [row[7] for row in rows[1:-1]]
    assert rows[-1] == ["", "total", None, None, None, None, None, made.figures["cost"].value, None]
    assert sum(round(amount * 100) for amount in paid if isinstance(amount, float)) == round(rows[-1][7] * 100)


def test_a_bill_with_charges_is_this_text() -> None:
    bill = [
        line("CORD", "south", 3, line=3.3, left_over=7.5),
        line("BAR", "north", 2, quantity=3, pack=2, sold_by="each", unit_price=1234.5, line=2469.0, left_over=1),
        line("CORD", "own", unit_price=0.0, line=0.0, left_over=7.5),
    ]
    orders = [order("own", 0.0), order("south", 3.3, 1.7), order("north", 2469.0, 31.0, 0.0)]
    orders[1] = orders[1].model_copy(update={"delivery": 4.0, "total": 9.0})
    assert to_csv(bill_rows(with_bill(bill, orders))).splitlines() == [
        ",".join(HEADER),
        "north,BAR,3,2,2,each,1234.50,2469.00,1",
        'north,"anything else, for free delivery",,,,,,31.00,',
        "south,CORD,12.5,3,5,length,1.10,3.30,",
        'south,"anything else, to the least order",,,,,,1.70,',
        "south,delivery,,,,,,4.00,",
        "own,CORD,12.5,1,5,length,0.00,0.00,7.5",
        ",total,,,,,,2509.00,",
    ]


def test_a_workbook_has_numbers_as_numbers_and_the_rows_of_the_csv() -> None:
    made = record()
    book = read_book(to_workbook(bill_rows(made)))
    assert [[None if cell == "" else cell for cell in row] for row in bill_rows(made)] == book
    assert all(isinstance(row[7], int | float) for row in book[1:])
    sheet = openpyxl.load_workbook(io.BytesIO(to_workbook(bill_rows(made)))).worksheets[0]
    assert {sheet.cell(2, column).number_format for column in (7, 8)} == {"0.00"}


def test_a_workbook_is_the_same_bytes_each_time() -> None:
    first, second = (to_workbook(bill_rows(record())) for _ in range(2))
    assert first == second
    stamps = re.findall(rb"\d{4}-\d\d-\d\dT", b"".join(_parts(first)))
    assert stamps == [b"2000-01-01T"] * 2


def _parts(data: bytes) -> list[bytes]:
    import zipfile

    with zipfile.ZipFile(io.BytesIO(data)) as file:
        assert {entry.date_time for entry in file.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        return [file.read(entry) for entry in file.infolist()]


@pytest.mark.parametrize("sign", RISKY)
def test_no_text_is_a_formula(sign: str) -> None:
    hostile = f"{sign}HYPERLINK(1)"
    made = with_bill([line(hostile, hostile)], [order(hostile, 1.1)])
    rows = read(to_csv(bill_rows(made)))
    assert rows[1][:2] == [f"'{hostile}"] * 2
    (text,) = supplier_files(made).values()
    assert read(text)[1][:2] == [f"'{hostile}"] * 2
    sheet = openpyxl.load_workbook(io.BytesIO(to_workbook(bill_rows(made)))).worksheets[0]
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s", "n"}
    assert [sheet.cell(2, column).value for column in (1, 2)] == [hostile.replace("\r", " ")] * 2


@pytest.mark.parametrize("name", ["#N/A", "TRUE", "1e5", "a\x07b", "_x0041_", "a\ufffeb"])
def test_a_workbook_holds_odd_names_as_text(name: str) -> None:
    book = read_book(to_workbook(bill_rows(with_bill([line(name, "north")], [order("north", 1.1)]))))
    assert isinstance(book[1][1], str)
    assert book[1][1] == {"a\x07b": "a b", "_x0041_": "_ x0041_", "a\ufffeb": "a b"}.get(name, name)


def test_every_supplier_has_one_file_and_no_two_share_one() -> None:
    names = ["north", "North", "a/b", "a:b", "..", "../up", "CON", "", "own", "x" * 300]
    orders = [order(name, 1.1) for name in names]
    files = supplier_files(with_bill([line(f"P{i}", name) for i, name in enumerate(names)], orders))
    assert len({name.casefold() for name in files}) == len(names)
    assert all(re.fullmatch(r"bill-[A-Za-z0-9._-]+\.csv", name) and len(name) < 140 for name in files)
    found = {}
    for text in files.values():
        rows = read(text)
        assert rows[0] == HEADER
        assert rows[-1][1:] == ["total", "", "", "", "", "", "1.10", ""]
        found[rows[1][0]] = rows[1][1]
    assert found == {name: f"P{i}" for i, name in enumerate(names)}
    assert "bill-own.csv" in files


def test_supplier_files_hold_the_lines_of_the_bill() -> None:
    whole = read(to_csv(bill_rows(record())))
    parts = [row for text in supplier_files(record()).values() for row in read(text)[1:-1]]
    assert sorted(parts) == sorted(whole[1:-1])
