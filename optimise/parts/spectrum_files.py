"""Spectra from files: IES TM-27 spectral XML (.spdx), or two columns of CSV (wavelength in nm, value)."""

import hashlib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from optimise.parts.faults import Collector, Fault, InputError, quoted
from optimise.parts.spectral_xml import spectral_data
from optimise.parts.text import csv_rows, decoded, read_data
from optimise.parts.units import UnitError, read_number

MAX_BYTES = 4 * 1024 * 1024
MAX_POINTS = 20_000
LEAST_POINTS = 20
SHORTEST, LONGEST = 100.0, 5000.0
"""nm: anything outside is another unit."""
FIRST, LAST = 400.0, 700.0
"""nm: what a spectrum must cover at least, since a camera and an eye see it."""
LEAST, MOST = 1e-30, 1e30
"""Of values: sums and products of what lies between stay numbers."""
NOISE = 0.01
"""Share of the peak by which a measured value may be below nothing: it then counts as nothing."""
MOST_TOLD = 50
"""Faults of one file that are told one by one."""

ENDINGS = (".spdx", ".csv")


@dataclass(frozen=True)
class Spectrum:
    """A spectral power distribution as it stands in a file, in any unit of power for a length of wave.

    Two are equal where their files are.
    """

    name: str
    digest: str
    """SHA-256 of the file."""
    wavelengths: tuple[float, ...] = field(repr=False, compare=False)
    """nm, rising, from 400 nm or below to 700 nm or above."""
    values: tuple[float, ...] = field(repr=False, compare=False)
    """As many, none below 0, one at least above."""

    @property
    def largest_step(self) -> float:
        """The widest gap between wavelengths from 400 nm to 700 nm, nm."""
        return max(b - a for a, b in pairwise(self.wavelengths) if b > FIRST and a < LAST)

    @property
    def cut(self) -> bool:
        """Whether it ends within 380 nm to 780 nm where it is still above 1 % of its peak."""
        least = NOISE * max(self.values)
        return (self.wavelengths[0] > 380.0 and self.values[0] > least) or (
            self.wavelengths[-1] < 780.0 and self.values[-1] > least
        )


@dataclass(frozen=True)
class Reading:
    """One line of a spectrum as text, before anything of it is believed."""

    line: int
    wavelength: str
    value: str


def read_spectrum(path: Path, name: str, faults: Collector) -> Spectrum | None:
    """Return the spectrum of a file, or None after adding every fault of it, by line.

    name: what faults call the file. Neither form can make this read another file, go on the network, or grow.
    """
    if path.suffix.lower() not in ENDINGS:
        allowed = "a spectrum: IES TM-27 (.spdx), or two columns of CSV (.csv)"
        faults.add(Fault(name, read=f"a file that ends in {quoted(path.suffix)}", allowed=allowed))
        return None
    data = read_data(path, name, faults)
    if data is None:
        return None
    if len(data) > MAX_BYTES:
        mend = "Leave out what is no data."
        faults.add(Fault(name, read=f"{len(data)} bytes", allowed=f"at most {MAX_BYTES}", mend=mend))
        return None
    text = decoded(data, name, faults)
    if text is None:
        return None
    digest = hashlib.sha256(data).hexdigest()
    own = Collector()
    with suppress(InputError):  # more faults than are kept at all
        points = _points(_readings(path, text, name, own), name, own)
        if not own.faults:
            _check(points, name, own)
    told = sorted(own.faults, key=lambda fault: fault.row or 0)
    faults.faults += told[:MOST_TOLD]
    if len(told) > MOST_TOLD:
        mend = "Mend those above first."
        faults.add(Fault(name, read=f"{len(told) - MOST_TOLD} faults more", allowed="a sound spectrum", mend=mend))
    if told:
        return None
    values = tuple(max(value, 0.0) for _, _, value in points)
    return Spectrum(name, digest, tuple(wave for _, wave, _ in points), values)


def _readings(path: Path, text: str, name: str, faults: Collector) -> Iterator[Reading]:
    if path.suffix.lower() == ".spdx":
        for line, wavelength, value in spectral_data(text, name, faults):
            yield Reading(line, wavelength, value)
        return
    first = True
    for number, row in csv_rows(text, name, faults):
        if row is None:
            return
        cells = [cell.strip() for cell in row]
        if not any(cells) or cells[0].startswith("#"):
            continue
        head, first = first, False
        if head and _is_header(cells):
            if "[" in cells[0] and cells[0].split("[")[1].rstrip("] ") != "nm":
                faults.add(Fault(name, number, "column 1", quoted(cells[0]), "wavelength in nm"))
            continue
        if len(cells) != 2:
            mend = "Numbers have a decimal point, and cells are parted by commas."
            read = f"{len(cells)} cell{'s' if len(cells) > 1 else ''}"
            faults.add(Fault(name, number, read=read, allowed="two: wavelength in nm, and value", mend=mend))
            continue
        yield Reading(number, *cells)


def _is_header(cells: list[str]) -> bool:
    """Whether neither of the first row's cells begins as a number does."""
    return not any(cell[:1] in "+-.0123456789" for cell in cells if cell)


def _points(readings: Iterable[Reading], name: str, faults: Collector) -> list[tuple[int, float, float]]:
    points: list[tuple[int, float, float]] = []
    for count, reading in enumerate(readings):
        if count == MAX_POINTS:
            faults.add(Fault(name, reading.line, read="more values", allowed=f"at most {MAX_POINTS}"))
            break
        numbers: list[float] = []
        for title, text in (("wavelength", reading.wavelength), ("value", reading.value)):
            try:
                numbers.append(read_number(text))
            except UnitError as error:
                allowed, mend = error.allowed, "" if text else "Write a number."
                faults.add(Fault(name, reading.line, title, quoted(text), allowed, error.mend if text else mend))
        if len(numbers) < 2:
            continue
        wavelength, value = numbers
        if not SHORTEST <= wavelength <= LONGEST:
            allowed = f"a wavelength in nm, from {SHORTEST:g} to {LONGEST:g}"
            faults.add(Fault(name, reading.line, "wavelength", quoted(reading.wavelength), allowed))
        elif abs(value) > MOST:
            faults.add(Fault(name, reading.line, "value", quoted(reading.value), f"at most {MOST:g}"))
        elif points and wavelength <= points[-1][1]:
            allowed, mend = f"more than the one before, {points[-1][1]:g}", "Sort the lines by wavelength, each once."
            faults.add(Fault(name, reading.line, "wavelength", quoted(reading.wavelength), allowed, mend))
        else:
            points.append((reading.line, wavelength, value))
    return points


def _check(points: list[tuple[int, float, float]], name: str, faults: Collector) -> None:
    if len(points) < LEAST_POINTS:
        faults.add(Fault(name, read=f"{len(points)} values", allowed=f"at least {LEAST_POINTS}"))
        return
    low, high = points[0][1], points[-1][1]
    if low > FIRST or high < LAST:
        allowed = f"from {FIRST:g} nm or below to {LAST:g} nm or above"
        faults.add(Fault(name, read=f"wavelengths from {low:g} nm to {high:g} nm", allowed=allowed))
    peak = max(value for _, wave, value in points)
    visible = [value for _, wave, value in points if FIRST <= wave <= LAST] or [0.0]
    if max(visible) < LEAST:
        allowed = f"at least {LEAST:g} somewhere from 400 nm to 700 nm"
        faults.add(Fault(name, read="values that give no light", allowed=allowed))
        return
    for line, _, value in points:
        if value < -NOISE * peak:
            allowed = f"at least 0 (noise down to −{NOISE:.0%} of the peak counts as 0)"
            faults.add(Fault(name, line, "value", f"{value:g}", allowed))
