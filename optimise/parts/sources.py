"""Where a catalogue's tables are: a folder of CSV files, or one workbook with a sheet for each."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from optimise.parts.faults import Collector, Fault
from optimise.parts.tables import Cells
from optimise.parts.text import csv_rows, read_text
from optimise.parts.workbooks import Book, open_book


class Folder:
    """A folder of CSV files; any other file in it is not looked at."""

    def __init__(self, path: Path) -> None:
        self.path = path

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
        text = read_text(self.path / name, name, faults)
        return None if text is None else csv_rows(text, name, faults)

    @property
    def beside(self) -> Path:
        """The folder that the files lie in which its cells name."""
        return self.path

    def prints(self, tables: list[str]) -> dict[str, str]:
        """Return the SHA-256 of the files of these tables, by name."""
        files = [self.path / self.file(table) for table in tables]
        return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files if path.is_file()}


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
        text = read_text(self.offers, self.offers.name, faults)
        return None if text is None else csv_rows(text, self.offers.name, faults)

    @property
    def beside(self) -> Path:
        """The folder that the files lie in which its cells name."""
        return self.source.beside

    def prints(self, tables: list[str]) -> dict[str, str]:
        """Return the SHA-256 of the files of these tables; that of the offers by the name it stands in for."""
        prints = self.source.prints([table for table in tables if table != "offers"])
        if self.offers.is_file():
            prints["offers.csv"] = hashlib.sha256(self.offers.read_bytes()).hexdigest()
        return prints


Source = Folder | Book | OtherOffers
"""Where a catalogue's tables are."""
