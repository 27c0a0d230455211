"""Photometric files (ANSI/IES LM-63): reading one into a table of intensity, with every fault told by line.

Source of the form: ANSI/IESNA LM-63-2002, definitions and order of the lines; the codes of type and units, the
ranges of angles, −1 lumen for absolute photometry and what other editions do differently are from memory.
"""

import hashlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optimise.parts.faults import Collector, Fault, quoted

MAX_BYTES = 4 * 1024 * 1024
MAX_LABELS = 10_000
"""Lines that may stand before TILT=."""
MAX_ANGLES = 1_000
MAX_VALUES = 250_000
MAX_FAULTS = 20
"""Faults of one file after which reading stops."""
MAX_INTENSITY = 1e12

FOOT = 0.3048
"""m, international foot."""

Kind = Literal["A", "B", "C"]
_KINDS: dict[int, Kind] = {1: "C", 2: "B", 3: "A"}
_UNITS = {1: FOOT, 2: 1.0}
_EDITIONS = (1986, 1991, 1995, 2002, 2019)
_BALLAST_LAMP = 1995
"""The last edition whose second factor multiplies intensities; later it is kept free, or says how the file was made."""

_ID = re.compile(r"IES(?:NA)?:\s*LM-63-([0-9]{4})", re.IGNORECASE)
_WORD = re.compile(r"[^\s,]+", re.ASCII)
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_ANGLE = 1e-3
"""How far, °, an angle may be off the end of a range that the form asks for."""


@dataclass(frozen=True, eq=False)
class Photometry:
    """A table of intensity as measured, all factors of its file applied. Equal where the files were."""

    kind: Kind
    """Type of photometry: planes about the axis of the beam (C), about a horizontal (B) or vertical (A) axis."""
    vertical: NDArray[np.float64]
    """Angles in degrees, rising, shape (V,)."""
    horizontal: NDArray[np.float64]
    """Angles in degrees, rising, shape (H,); what is not listed follows by symmetry."""
    candela: NDArray[np.float64]
    """Intensities in cd, shape (H, V)."""
    lumens: float | None = None
    """Rated flux of all lamps of the file, lm; None for absolute photometry."""
    watts: float = 0.0
    opening: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Width, length and height of the luminous opening, m; negative for one that is round that way."""
    edition: int = 2002
    tilt: bool = False
    """Whether the file has a table of lamp output over tilt (which is not used: a part's flux is stated)."""
    name: str = ""
    digest: str = field(default="")
    """SHA-256 of the file, or of the table where it comes from none."""

    def __post_init__(self) -> None:
        for name in ("vertical", "horizontal", "candela"):
            array = np.array(getattr(self, name), dtype=np.float64)
            array.setflags(write=False)
            object.__setattr__(self, name, array)
        if not self.digest:
            table = [self.kind.encode(), *(getattr(self, n).tobytes() for n in ("vertical", "horizontal", "candela"))]
            object.__setattr__(self, "digest", hashlib.sha256(b"\0".join(table)).hexdigest())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Photometry) and self.digest == other.digest

    def __hash__(self) -> int:
        return hash(self.digest)


class _StopError(Exception):
    """Reading cannot go on; the reason is told already."""


@dataclass
class _Reader:
    """The numbers of a file behind its line TILT=, each with its line."""

    name: str
    faults: Collector
    words: Iterator[tuple[int, str]]
    line: int
    told: int = 0

    def tell(self, what: str, read: str, allowed: str, mend: str = "", line: int | None = None) -> None:
        self.faults.add(Fault(self.name, self.line if line is None else line, what, read, allowed, mend))
        self.told += 1
        if self.told >= MAX_FAULTS:
            raise _StopError

    def number(self, what: str) -> float:
        """Return the next number, NaN after telling that it is none."""
        found = next(self.words, None)
        if found is None:
            self.tell(what, "the end of the file", "a number", "Numbers are missing: compare the counts of angles.")
            raise _StopError
        self.line, word = found
        value = float(word) if len(word) <= 40 and _NUMBER.fullmatch(word) else float("nan")
        if not np.isfinite(value):
            self.tell(what, quoted(word), "a number")
            return float("nan")
        return value

    def checked(self, what: str, allowed: str, holds: Callable[[float], bool], mend: str = "") -> float:
        """Return the next number; where it is none or `holds` is not true of it, tell so and return NaN."""
        value = self.number(what)
        if np.isfinite(value) and not holds(value):
            self.tell(what, f"{value:g}", allowed, mend)
            return float("nan")
        return value

    def count(self, what: str, most: int) -> int:
        """Return the next number as a count; what follows cannot be read without it."""
        value = self.checked(what, f"a whole number from 1 to {most}", lambda v: v == int(v) and 1 <= v <= most)
        if np.isnan(value):
            raise _StopError
        return int(value)

    def many(self, what: str, number: int) -> tuple[NDArray[np.float64], int]:
        """Return so many numbers, and the line of the first."""
        values = np.empty(number)
        first = self.line
        for index in range(number):
            values[index] = self.number(what)
            first = self.line if index == 0 else first
        return values, first


def read_photometry(data: bytes, name: str, faults: Collector) -> Photometry | None:
    """Return the table of a photometric file, or None after adding its faults.

    data: the bytes of the file; name: how faults call it.
    """
    if len(data) > MAX_BYTES:
        faults.add(Fault(name, read=f"{len(data)} bytes", allowed=f"at most {MAX_BYTES}"))
        return None
    if b"\0" in data:
        faults.add(Fault(name, read="a file that is not text", allowed="a photometric file (ANSI/IES LM-63)"))
        return None
    # A keyword may name a maker with any sign in it, and the numbers are plain ASCII in every edition.
    lines = re.split(r"\r\n|\n|\r", data.decode("latin-1").rstrip("\x1a\r\n\t "))
    before = len(faults.faults)
    edition = _edition(lines[0], name, faults)
    place = _tilt_line(lines, name, faults)
    if place is None or edition is None:
        return None
    reader = _Reader(name, faults, _words(lines, place + 1), place + 1)
    try:
        tilt = _tilt(lines[place], reader)
        table = _table(reader, edition, tilt, hashlib.sha256(data).hexdigest())
    except _StopError:
        return None
    return table if len(faults.faults) == before else None


def _words(lines: list[str], first: int) -> Iterator[tuple[int, str]]:
    for number, line in enumerate(islice(lines, first, None), first + 1):
        for match in _WORD.finditer(line):
            yield number, match[0]


def _edition(line: str, name: str, faults: Collector) -> int | None:
    text = line.strip()
    if text.upper() == "IESNA91":
        return 1991
    match = _ID.fullmatch(text)
    if match and int(match[1]) in _EDITIONS:
        return int(match[1])
    if match or text.upper().startswith(("IESNA:", "IES:", "IESNA9")):
        known = "IESNA91, IESNA:LM-63-1995, IESNA:LM-63-2002 or IES:LM-63-2019"
        mend = "A file of 1986 has no such line."
        faults.add(Fault(name, 1, "", quoted(text), known, mend))
        return None
    return 1986


def _tilt_line(lines: list[str], name: str, faults: Collector) -> int | None:
    for index, line in enumerate(lines[:MAX_LABELS]):
        if re.match(r"\s*TILT\s*=", line, re.IGNORECASE):
            return index
    read = "no line TILT=" if len(lines) <= MAX_LABELS else f"no line TILT= in the first {MAX_LABELS} lines"
    allowed = "TILT=NONE or TILT=INCLUDE before the numbers"
    faults.add(Fault(name, None, "", read, allowed, "Is it a photometric file (ANSI/IES LM-63)?"))
    return None


def _tilt(line: str, reader: _Reader) -> bool:
    """Read what follows TILT=; return whether it is a table."""
    said = line.split("=", 1)[1].strip()
    if said.upper() == "NONE":
        return False
    if said.upper() != "INCLUDE":
        allowed = "NONE, or INCLUDE with the table in the file itself"
        mend = "Put the table of the other file behind TILT=INCLUDE, or write TILT=NONE: the flux is the part's own."
        reader.tell("TILT", quoted(said), allowed, mend)
        raise _StopError
    reader.checked("lamp-to-luminaire geometry", "1, 2 or 3", lambda v: v in (1, 2, 3))
    pairs = reader.count("number of tilt angles", MAX_ANGLES)
    angles, first = reader.many("tilt angle", pairs)
    _rising(reader, "tilt angles", angles, first)
    for _ in range(pairs):
        reader.checked("tilt multiplier", "at least 0", lambda v: v >= 0)
    return True


def _table(reader: _Reader, edition: int, tilt: bool, digest: str) -> Photometry:
    lamps = reader.checked("number of lamps", "a whole number above 0", lambda v: v == int(v) and v >= 1)
    each = reader.checked("lumens per lamp", "more than 0, or −1 for absolute photometry", lambda v: v > 0 or v == -1)
    factor = reader.checked("candela multiplier", "more than 0", lambda v: v > 0)
    verticals = reader.count("number of vertical angles", MAX_ANGLES)
    horizontals = reader.count("number of horizontal angles", MAX_ANGLES)
    if verticals * horizontals > MAX_VALUES:
        reader.tell("number of angles", f"{verticals} × {horizontals}", f"at most {MAX_VALUES} values")
        raise _StopError
    code = reader.checked("photometric type", "1 (C), 2 (B) or 3 (A)", lambda v: v in _KINDS)
    units = reader.checked("units", "1 (feet) or 2 (metres)", lambda v: v in _UNITS)
    opening = [reader.number(f"{what} of the luminous opening") for what in ("width", "length", "height")]
    ballast = reader.checked("ballast factor", "more than 0", lambda v: v > 0)
    second = reader.number("ballast-lamp factor" if edition <= _BALLAST_LAMP else "number behind the ballast factor")
    if edition <= _BALLAST_LAMP and second <= 0:
        reader.tell("ballast-lamp factor", f"{second:g}", "more than 0")
    watts = reader.checked("input watts", "at least 0", lambda v: v >= 0)
    vertical, first_vertical = reader.many("vertical angle", verticals)
    horizontal, first_horizontal = reader.many("horizontal angle", horizontals)
    kind = _KINDS.get(int(code)) if np.isfinite(code) else None
    _check_angles(reader, kind, vertical, first_vertical, horizontal, first_horizontal)
    candela = _intensities(reader, horizontals, verticals)
    extra = next(reader.words, None)
    if extra is not None:
        many = f"{horizontals} × {verticals}"
        mend = "Compare the counts of angles with what follows."
        reader.tell("intensity", f"{quoted(extra[1])} after {many} values", "the end of the file", mend, extra[0])
    if reader.told or kind is None:
        raise _StopError
    with np.errstate(over="ignore"):
        candela = candela * factor * ballast * (second if edition <= _BALLAST_LAMP else 1.0)
    if np.any(candela > MAX_INTENSITY):
        reader.tell("intensity", f"{candela.max():g} cd with all factors", f"at most {MAX_INTENSITY:g} cd")
        raise _StopError
    ahead = candela[:, vertical < 90.0] if kind == "C" else candela
    if not np.any(ahead > 0.0):
        reader.tell("intensity", "no light ahead", "an intensity above 0 at a vertical angle below 90°")
        raise _StopError
    width, length, height = (float(size) * _UNITS[int(units)] for size in opening)
    return Photometry(
        kind=kind,
        vertical=vertical,
        horizontal=horizontal,
        candela=candela,
        lumens=None if each == -1 else float(lamps * each),
        watts=float(watts),
        opening=(width, length, height),
        edition=edition,
        tilt=tilt,
        name=reader.name,
        digest=digest,
    )


def _intensities(reader: _Reader, horizontals: int, verticals: int) -> NDArray[np.float64]:
    candela = np.empty((horizontals, verticals))
    for row in range(horizontals):
        for column in range(verticals):
            candela[row, column] = reader.checked("intensity", "at least 0 cd", lambda v: v >= 0)
    return candela


def _rising(reader: _Reader, what: str, angles: NDArray[np.float64], line: int) -> bool:
    """Tell where angles do not rise; return whether they are numbers and do."""
    if np.any(np.isnan(angles)):
        return False
    falls = np.flatnonzero(np.diff(angles) <= 0.0)
    if len(falls):
        at = int(falls[0])
        reader.tell(what, f"{angles[at + 1]:g} after {angles[at]:g}", "angles that rise", line=line)
    return not len(falls)


def _check_angles(
    reader: _Reader,
    kind: Kind | None,
    vertical: NDArray[np.float64],
    vertical_line: int,
    horizontal: NDArray[np.float64],
    horizontal_line: int,
) -> None:
    """Tell angles that do not rise or do not span a range of their type; put the ends of those that do in place."""
    spans: dict[Kind, tuple[list[tuple[float, float]], list[tuple[float, float]]]] = {
        "C": ([(0, 90), (90, 180), (0, 180)], [(0, 0), (0, 90), (0, 180), (90, 270), (0, 360)]),
        "B": ([(0, 90), (-90, 90)], [(0, 90), (-90, 90)]),
        "A": ([(0, 90), (-90, 90)], [(0, 90), (-90, 90)]),
    }
    for what, angles, line, ranges in (
        ("vertical angles", vertical, vertical_line, spans[kind or "C"][0]),
        ("horizontal angles", horizontal, horizontal_line, spans[kind or "C"][1]),
    ):
        for low, high in ranges if kind is not None else ():
            if abs(angles[0] - low) <= _ANGLE and abs(angles[-1] - high) <= _ANGLE:
                angles[0], angles[-1] = low, high
                _rising(reader, what, angles, line)
                break
        else:
            if _rising(reader, what, angles, line) and kind is not None:
                allowed = ", ".join(f"{low} alone" if low == high else f"{low} to {high}" for low, high in ranges)
                mend = f"Type {kind} photometry spans one of these ranges."
                reader.tell(what, f"{angles[0]:g} to {angles[-1]:g}", allowed, mend, line)
