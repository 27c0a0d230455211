"""What is wrong with an input, told so that a person can mend it.

InputError
    carries every `Fault` of a reading, never only the first.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches

_SHEET = ", sheet "


def sheet_of(workbook: str, sheet: str) -> str:
    """Return how a sheet of a workbook is named where a file could stand."""
    return f"{workbook}{_SHEET}{sheet}"


def at(file: str, row: int) -> str:
    """Return a place in words: the line of a file, or the row of a sheet."""
    return f"{file}, row {row}" if _SHEET in file else f"{file} line {row}"


@dataclass(frozen=True, order=True)
class Fault:
    """One thing wrong with one place of one file."""

    file: str
    row: int | None = None
    """Line of the file as an editor counts, or row of a sheet; None where the fault is the whole file's."""
    column: str = ""
    """Column of a table, or key of a scenario."""
    read: str = ""
    allowed: str = ""
    mend: str = ""

    @property
    def place(self) -> str:
        """Where it is, in words."""
        place = self.file if self.row is None else at(self.file, self.row)
        return f"{place}, {self.column}" if self.column else place

    def __str__(self) -> str:
        text = f"{self.place}: read {self.read}; allowed: {self.allowed}."
        return f"{text} {self.mend}" if self.mend else text


class InputError(Exception):
    """The input cannot be used; `faults` holds all reasons, sorted by place."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(
            sorted(set(faults), key=lambda f: (f.file, f.row if f.row is not None else 0, f.column, f.read))
        )
        super().__init__("\n".join(str(fault) for fault in self.faults))


@dataclass
class Collector:
    """Gathers the faults of one reading, so that all are told at once."""

    faults: list[Fault] = field(default_factory=list)

    def add(self, fault: Fault) -> None:
        """Keep one fault."""
        self.faults.append(fault)

    def stop_if_any(self) -> None:
        """Raise `InputError` with all faults kept so far, if there are any."""
        if self.faults:
            raise InputError(self.faults)


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a hint that names the known word nearest to an unknown one, or ''."""
    match = get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"Did you mean {quoted(match[0], 80)}?" if match else ""


def quoted(text: str, most: int = 60) -> str:
    """Quote what was read for a message: control signs shown as escapes, long text cut."""
    shown = text if len(text) <= most else text[: most - 1] + "…"
    return '"' + "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in shown) + '"'
