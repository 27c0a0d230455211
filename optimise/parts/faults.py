"""What is wrong with an input, told so that a person can mend it.

InputError
    carries every `Fault` of a reading, never only the first.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

_SHEET = ", sheet "
MOST_FAULTS = 1000
"""Faults after which reading stops: nobody mends more at once, and a file may be nothing but faults."""
_MOST_WORDS = 2000
_LONGEST_WORD = 200
_LONGEST = {"column": 160, "read": 300}
"""Signs of what comes from a file as it stands: whatever is longer would drown the rest."""


def sheet_of(workbook: str, sheet: str) -> str:
    """Return how a sheet of a workbook is named where a file could stand."""
    return f"{workbook}{_SHEET}{sheet}"


def at(file: str, row: int) -> str:
    """Return a place in words: the line of a file, or the row of a sheet."""
    return f"{file}, row {row}" if _SHEET in file else f"{file} line {row}"


@dataclass(frozen=True, order=True)
class Fault:
    """One thing wrong with one place of one file.

    Whatever it tells may come from the file, so signs that would act on a terminal are shown as escapes, and what is
    long is cut. `file` alone stays as it is, to be compared; `place` and the whole as text have it tamed.
    """

    file: str
    row: int | None = None
    """Line of the file as an editor counts, or row of a sheet; None where the fault is the whole file's."""
    column: str = ""
    """Column of a table, or key of a scenario."""
    read: str = ""
    allowed: str = ""
    mend: str = ""

    def __post_init__(self) -> None:
        for name in ("column", "read", "allowed", "mend"):
            told = getattr(self, name)
            if (shown := tamed(told, _LONGEST.get(name))) is not told:
                object.__setattr__(self, name, shown)

    @property
    def place(self) -> str:
        """Where it is, in words."""
        file = tamed(self.file)
        place = file if self.row is None else at(file, self.row)
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
        """Keep one fault. Raises `InputError` with all of them where there are more than anybody mends at once."""
        self.faults.append(fault)
        if len(self.faults) >= MOST_FAULTS:
            mend = "Mend those first; what follows was not read."
            self.faults.append(replace(fault, column="", read=f"{MOST_FAULTS} faults", allowed="fewer", mend=mend))
            raise InputError(self.faults)

    def stop_if_any(self) -> None:
        """Raise `InputError` with all faults kept so far, if there are any."""
        if self.faults:
            raise InputError(self.faults)


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a hint that names the known word nearest to an unknown one, or ''.

    Each comparison takes time: of thousands of words only those count that begin alike.
    """
    words = list(known)
    if len(words) > _MOST_WORDS:
        words = [other for other in words if other[:2] == word[:2]][:_MOST_WORDS]
    match = get_close_matches(word, words, n=1, cutoff=0.6) if len(word) <= _LONGEST_WORD else []
    return f"Did you mean {quoted(match[0], 80)}?" if match else ""


def tamed(text: str, most: int | None = None) -> str:
    """Return text with control signs shown as escapes, cut where it is longer than `most` signs."""
    shown = text if most is None or len(text) <= most else text[: most - 1] + "…"
    if shown.isprintable():
        return shown
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in shown)


def quoted(text: str, most: int = 60) -> str:
    """Quote what was read for a message: control signs shown as escapes, long text cut."""
    return f'"{tamed(text, most)}"'
