"""Where a catalogue's tables are: a folder of CSV files, or one workbook with a sheet for each."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from optimise.parts.faults import Collector, Fault
from optimise.parts.tables import Cells
from optimise.parts.text import csv_rows, decoded, read_data, stays_within
from optimise.parts.workbooks import Book, open_book


class Folder:
    """A folder of CSV files; any other file in it is not looked at."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._prints: dict[str, str] = {}

    def tables(self) -> list[str]:
        """Return the names of the tables that are there, known or not."""
        return sorted(path.stem for path in self.path.glob("*.csv"))

    def file(self, table: str) -> str:
        """Return the name of a table's file."""
        return f"{table}.csv"

    def rows(
        self, table: str, faults: Collector, days: frozenset[str] = frozenset()
    ) -> Iterator[tuple[int, Cells | None]] | None:
        """Return the rows of a file with their lines; a day is text here, in whatever column."""
        name = self.file(table)
        if not stays_within(self.path, self.path / name):
            mend = "Copy the file there."
            faults.add(
                Fault(name, read="a link that leads out of the folder", allowed="a file in the folder", mend=mend)
            )
            return None
        return _rows(self.path / name, name, faults, self._prints)

    @property
    def beside(self) -> Path:
        """The folder that the files lie in which its cells name."""
        return self.path

    def prints(self, tables: list[str]) -> dict[str, str]:
        """Return the SHA-256 of the files of these tables as they were read, by name."""
        names = [self.file(table) for table in tables]
        return {name: self._prints[name] for name in names if name in self._prints}


def _rows(
    path: Path, name: str, faults: Collector, prints: dict[str, str]
) -> Iterator[tuple[int, Cells | None]] | None:
    """Return the rows of a CSV file, its SHA-256 put into `prints`; None after adding a fault."""
    data = read_data(path, name, faults)
    if data is None:
        return None
    prints[name] = hashlib.sha256(data).hexdigest()
    text = decoded(data, name, faults)
    return None if text is None else csv_rows(text, name, faults)


def open_source(path: Path, faults: Collector) -> Folder | Book | None:
    """Return the source of a catalogue, or None after adding a fault."""
    if path.suffix.lower() == ".xlsx" and path.is_file():
        return open_book(path, faults)
    if path.is_dir():
        return Folder(path)
    read = "another file" if path.exists() else "no such folder or file"
    mend = "Name the folder or the workbook (in a build: --catalogue PATH)."
    faults.add(Fault(str(path), read=read, allowed="a folder of CSV files, or a workbook (.xlsx)", mend=mend))
    return None


class OtherOffers:
    """A source with another file of offers in place of its own."""

    def __init__(self, source: Folder | Book, offers: Path) -> None:
        self.source, self.offers = source, offers
        self._prints: dict[str, str] = {}

    def tables(self) -> list[str]:
        """Return the names of the tables that are there, known or not."""
        return sorted({*self.source.tables(), "offers"})

    def file(self, table: str) -> str:
        """Return the name of a table's file."""
        return self.offers.name if table == "offers" else self.source.file(table)

    def rows(
        self, table: str, faults: Collector, days: frozenset[str] = frozenset()
    ) -> Iterator[tuple[int, Cells | None]] | None:
        """Return the rows of a table with their lines."""
        if table != "offers":
            return self.source.rows(table, faults, days)
        return _rows(self.offers, self.offers.name, faults, self._prints)

    @property
    def beside(self) -> Path:
        """The folder that the files lie in which its cells name."""
        return self.source.beside

    def prints(self, tables: list[str]) -> dict[str, str]:
        """Return the SHA-256 of the files of these tables; that of the offers by the name it stands in for."""
        prints = self.source.prints([table for table in tables if table != "offers"])
        mark = self._prints.get(self.offers.name)
        return prints if mark is None else prints | {"offers.csv": mark}


Source = Folder | Book | OtherOffers
"""Where a catalogue's tables are."""
