"""The bill as files: CSV, a workbook, or a CSV file for each supplier."""

import re
import unicodedata
from collections.abc import Sequence
from typing import Protocol

from optimise.parts.sheets import Cell, Sheet, unheld, workbook_bytes
from optimise.parts.text import csv_text
from optimise.report.bill import by_supplier, charges_of, last_lines, total_of
from optimise.report.record import BillRecord, OrderRecord
from optimise.report.spreadsheet import guarded
from optimise.studies.naming import record_names

ENDINGS = (".csv", ".xlsx")

_MONEY = (6, 7)
"""Places of the columns that hold money."""


class Billed(Protocol):
    """What has a bill: a build, or a kit."""

    @property
    def currency(self) -> str:
        """Of all its prices."""

    @property
    def bill(self) -> list[BillRecord]:
        """Its lines."""

    @property
    def orders(self) -> list[OrderRecord]:
        """What each supplier is paid."""


def bill_header(currency: str) -> list[Cell]:
    """Return the names of the columns; amounts are in pieces, in metres (length, reel) or in sheets (sheet)."""
    money = [f"price of a pack [{currency}]", f"line [{currency}]"]
    return ["supplier", "part", "needed", "packs", "pack", "sold_by", *money, "left over"]


def bill_rows(record: Billed) -> list[list[Cell]]:
    """Return the lines and charges of every supplier, and the total: numbers as numbers, the header first."""
    orders = by_supplier(record.bill, record.orders)
    last = last_lines(orders)
    rows = [bill_header(record.currency)]
    for order, lines in orders:
        rows += _order_rows(order, lines, last)
    return [*rows, _charge("", "total", total_of(record.orders))]


def supplier_files(record: Billed) -> dict[str, str]:
    """Return the CSV text of every supplier's lines, charges and total by the name of its file."""
    orders = by_supplier(record.bill, record.orders)
    last = last_lines(orders)
    names = record_names([(order.supplier,) for order, _ in orders])
    files: dict[str, str] = {}
    for name, (order, lines) in zip(names, orders, strict=True):
        total = _charge(order.supplier, "total", order.total)
        # With a word before it, no name is empty, hidden, or one that a system keeps for a device.
        files[f"bill-{name}.csv"] = to_csv([bill_header(record.currency), *_order_rows(order, lines, last), total])
    return files


def to_csv(rows: Sequence[Sequence[Cell]]) -> str:
    """Return rows as CSV text; text that a spreadsheet might run as a formula has an apostrophe before it."""
    return csv_text([_written(value, index) for index, value in enumerate(row)] for row in rows)


def to_workbook(rows: Sequence[Sequence[Cell]]) -> bytes:
    """Return rows as a workbook with one sheet; text is text, whatever it begins with."""
    held = [[_held(value) if isinstance(value, str) else value for value in row] for row in rows]
    return workbook_bytes([Sheet("bill", held, dict.fromkeys(_MONEY, "0.00"))])


def _order_rows(order: OrderRecord, lines: Sequence[BillRecord], last: set[int]) -> list[list[Cell]]:
    goods: list[list[Cell]] = [
        [
            order.supplier,
            line.part,
            line.quantity,
            line.packs,
            line.pack,
            line.sold_by,
            line.unit_price,
            line.line,
            # One figure for all purchases of the part: on each of its lines it would be counted twice.
            line.left_over if id(line) in last else None,
        ]
        for line in lines
    ]
    return goods + [_charge(order.supplier, text, amount) for text, amount in charges_of(order)]


def _charge(supplier: str, text: str, amount: float) -> list[Cell]:
    return [supplier, text, None, None, None, None, None, amount, None]


def _written(value: Cell, index: int) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return guarded(value)
    return format(value, ".2f" if index in _MONEY else ".12g")


def _held(text: str) -> str:
    """Return the text with a space where it has what no workbook holds."""
    if not unheld(text):
        return text
    return re.sub("_(?=x)", "_ ", "".join(" " if unicodedata.category(c) in {"Cc", "Cn"} else c for c in text))
