"""A supplier's own price list, in columns of any order, into rows of offers by the rules of a catalogue."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from optimise.parts.columns import columns_of
from optimise.parts.faults import Collector, Fault, nearest, quoted
from optimise.parts.offers import MONEY_COLUMNS, Offer
from optimise.parts.price_map import PriceMap
from optimise.parts.tables import Cells, read_table
from optimise.parts.text import csv_rows, csv_text, read_text

_COLUMNS = columns_of(Offer)
_SPACES = " \u00a0\u202f"
"""What stands for a space between thousands: the plain one, and the two that do not break."""


@dataclass(frozen=True)
class Offers:
    """A price list, read."""

    text: str
    """Rows of offers as CSV, with a header."""
    rows: int
    skipped: int
    """Rows whose code the mapping does not list."""
    absent: tuple[str, ...]
    """Their codes in the mapping that are in no row of the list."""


def read_price_list(path: Path, mapping: PriceMap) -> Offers:
    """Read a price list as its mapping says. Raises `InputError` with all faults of the list."""
    faults = Collector()
    text = read_text(path, path.name, faults, mapping.encoding)
    faults.stop_if_any()
    assert text is not None
    listed = _Listed(path.name, text, mapping)
    table = read_table(listed, "offers", Offer, faults)
    if not faults.faults and not table.lines:
        mend = f"{listed.skipped} rows were skipped, since [parts] does not list their codes." if listed.skipped else ""
        faults.add(Fault(path.name, read="no row of an offer", allowed="at least one row", mend=mend))
    if faults.faults:
        faults.faults = [_in_their_words(fault, mapping) for fault in faults.faults]
        faults.stop_if_any()
    absent = () if mapping.parts is None else tuple(sorted(mapping.parts.keys() - listed.seen))
    return Offers(csv_text([listed.header, *listed.written]), len(listed.written), listed.skipped, absent)


def _in_their_words(fault: Fault, mapping: PriceMap) -> Fault:
    name = fault.column.removeprefix("column ")
    return replace(fault, column=f"column {quoted(mapping.columns[name])}") if name in mapping.columns else fault


class _Listed:
    """A price list as the source of one table, offers, with the lines of the list."""

    def __init__(self, name: str, text: str, mapping: PriceMap) -> None:
        self._name = name
        self._text = text
        self._map = mapping
        self._wanted = [column for column in _COLUMNS if column in mapping.columns]
        self.header = ["part", "supplier", *(self._head(column) for column in self._wanted if column != "part")]
        self.written: list[list[str]] = []
        self.skipped = 0
        self.seen: set[str] = set()

    def _head(self, column: str) -> str:
        unit = self._map.currency if column in MONEY_COLUMNS else self._map.units.get(column)
        return column if unit is None else f"{column} [{unit}]"

    def file(self, table: str) -> str:
        """Return the name of the list, whatever table is asked for."""
        return self._name

    def rows(
        self, table: str, faults: Collector, days: frozenset[str] = frozenset()
    ) -> Iterator[tuple[int, Cells | None]] | None:
        """Return rows of offers; numbers that do not fit the stated separators are faults of cells."""
        found = csv_rows(self._text, self._name, faults, self._map.delimiter, comments=False)
        lines = ((n, row) for n, row in found if row is None or any(cell.strip() for cell in row))
        number, header = next(lines, (0, []))
        if header is None:
            return None
        places = self._places(number, [cell.strip() for cell in header], faults)
        return None if places is None else self._offers(number, len(header), lines, places, faults)

    def _places(self, number: int, header: list[str], faults: Collector) -> dict[str, int] | None:
        before = len(faults.faults)
        for column in self._wanted:
            theirs = self._map.columns[column]
            times = header.count(theirs)
            if times != 1:
                read = "no such column" if times == 0 else f"the column {times} times"
                allowed = f"the column once, since [columns] names it for {column}"
                mend = nearest(theirs, header) if times == 0 else ""
                faults.add(Fault(self._name, number or None, f"column {quoted(theirs)}", read, allowed, mend))
        if len(faults.faults) > before:
            return None
        return {column: header.index(self._map.columns[column]) for column in self._wanted}

    def _offers(
        self,
        number: int,
        width: int,
        lines: Iterator[tuple[int, list[str] | None]],
        places: dict[str, int],
        faults: Collector,
    ) -> Iterator[tuple[int, Cells | None]]:
        yield number, self.header
        for line, row in lines:
            if row is None:
                yield line, None
                return
            if any(cell.strip() for cell in row[width:]):
                allowed = f"at most {width}, one for each header"
                faults.add(Fault(self._name, line, read=f"{len(row)} cells", allowed=allowed))
                continue
            texts = {column: row[i].strip() if i < len(row) else "" for column, i in places.items()}
            if self._map.parts is not None:
                theirs = texts["part"]
                self.seen.add(theirs)
                if theirs not in self._map.parts:
                    self.skipped += 1
                    continue
                texts["part"] = self._map.parts[theirs]
            cells = [self._number(texts[c], c, line, faults) if _is_number(c) else texts[c] for c in texts]
            made = dict(zip(texts, cells, strict=True))
            whole = [made["part"], self._map.supplier, *(made[c] for c in self._wanted if c != "part")]
            if (whole[0] or "").startswith("#"):
                # A row of a catalogue that starts so is a comment, and the offer would be lost without a word.
                allowed = "a code that does not start with #"
                mend = "Give it another one under [parts]."
                faults.add(Fault(self._name, line, "column part", quoted(whole[0] or ""), allowed, mend))
                whole[0] = None
            if None not in whole:
                self.written.append([cell or "" for cell in whole])
            yield line, whole

    def _number(self, text: str, column: str, line: int, faults: Collector) -> str | None:
        """Return a number with a decimal point; None after adding a fault where it is not as the mapping says."""
        if not text:
            return ""
        plain = plain_number(text, self._map.decimal, self._map.thousands)
        if plain is None:
            apart = (
                f', "{self._map.thousands}" between thousands' if self._map.thousands else ", nothing between thousands"
            )
            allowed = f'a plain number with "{self._map.decimal}" before decimals{apart}'
            mend = "Correct the cell, or what the mapping says of decimal, thousands and units."
            faults.add(Fault(self._name, line, f"column {column}", quoted(text), allowed, mend))
        return plain


def _is_number(column: str) -> bool:
    return column in MONEY_COLUMNS or _COLUMNS[column].measure is not None


def plain_number(text: str, decimal: str, thousands: str) -> str | None:
    """Return a number as digits and a decimal point, or None where it is not written with these separators.

    thousands: what stands between groups of three digits, or "" for nothing; groups are whole or not used at all.
    """
    apart = f"[{_SPACES}]" if thousands == " " else re.escape(thousands)
    grouped = rf"[0-9]{{1,3}}(?:{apart}[0-9]{{3}})+" if thousands else "(?!)"
    match = re.fullmatch(rf"([+-]?)({grouped}|[0-9]+)(?:{re.escape(decimal)}([0-9]+))?", text)
    if match is None:
        return None
    whole = re.sub("[^0-9]", "", match[2])
    sign = "-" if match[1] == "-" else ""
    return f"{sign}{whole}" if match[3] is None else f"{sign}{whole}.{match[3]}"
