"""Every reader of files of users, as a function of bytes: it gives a value, or raises `InputError`."""

import hashlib
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from optimise.parts import Catalogue, Collector, read_catalogue
from optimise.parts.calibration import calibrated, read_calibration
from optimise.parts.kinds import TABLES
from optimise.parts.photometry_files import read_photometric_file
from optimise.parts.price_list import read_price_list
from optimise.parts.price_map import PriceMap, read_map
from optimise.parts.spectrum_files import read_spectrum
from optimise.report.kit import read_build
from optimise.report.lamp import lamps_of
from optimise.scenario import read_scenario
from optimise.studies.readings import KINDS, read_measured

from . import base, books, words
from .memory import put


@dataclass(frozen=True)
class Reader:
    """How a reader is called with the bytes of an input, and the words that it knows."""

    read: Callable[[bytes], object]
    words: list[bytes]


def _catalogue(folder: Path) -> Callable[[bytes], object]:
    tables = base.Tables(folder / "catalogue")

    def read(data: bytes) -> object:
        with tables.changed(data):
            return read_catalogue(tables.folder)

    return read


def _offers(folder: Path) -> Callable[[bytes], object]:
    tables = base.Tables(folder / "catalogue")

    def read(data: bytes) -> object:
        with tables.changed(b"", "offers.csv"):
            return read_catalogue(tables.folder, put("offers.csv", data))

    return read


def _scenario(folder: Path) -> Callable[[bytes], object]:
    return lambda data: read_scenario(put("job.toml", data))


def _collected(read: Callable[[bytes, Collector], object]) -> Callable[[bytes], object]:
    """Return a reader that adds faults to a collector as one that raises them; nothing without a fault is a break."""

    def raising(data: bytes) -> object:
        faults = Collector()
        value = read(data, faults)
        faults.stop_if_any()
        assert value is not None, "neither a value nor a fault"
        return value

    return raising


def _photometry(folder: Path) -> Callable[[bytes], object]:
    return _collected(lambda data, faults: read_photometric_file(put("a.ies", data), "a.ies", faults))


def _spectrum(name: str) -> Callable[[Path], Callable[[bytes], object]]:
    return lambda folder: _collected(lambda data, faults: read_spectrum(put(name, data), name, faults))


def _record(folder: Path) -> Callable[[bytes], object]:
    def read(data: bytes) -> object:
        record, _ = read_build(put("record.json", data))
        return lamps_of(record, "record.json")

    return read


def _mapping(folder: Path) -> Callable[[bytes], object]:
    return lambda data: read_map(put("map.toml", data))


MAPS = (
    PriceMap("north", "EUR", ",", ".", ";", "cp1252", {"price": "Preis", "part": "Code"}, {"B/1": "BAR"}, {}),
    PriceMap("south", "EUR", ".", "", "\t", "utf-8-sig", {"part": "code", "price": "each", "stock": "left"}, None, {}),
    PriceMap(
        "north",
        "EUR",
        ",",
        " ",
        ",",
        "utf-8-sig",
        {"part": "code", "price": "each", "lead_time": "time", "until": "to", "sold_by": "by"},
        None,
        {"lead_time": "week"},
    ),
)
"""Mappings of which the first byte of an input takes one; that of a list is what follows."""


def _prices(folder: Path) -> Callable[[bytes], object]:
    return lambda data: read_price_list(put("list.csv", data[1:]), MAPS[(data or b"0")[0] % len(MAPS)])


def _calibration(folder: Path) -> Callable[[bytes], object]:
    parts = _parts(folder)

    def read(data: bytes, faults: Collector) -> Catalogue | None:
        found = read_calibration(put("figures.toml", data), faults)
        return None if found is None else calibrated(parts, found, "figures.toml", faults)

    return _collected(read)


@cache
def _parts(folder: Path) -> Catalogue:
    tables = base.Tables(folder / "catalogue")
    with tables.changed(b""):
        return read_catalogue(tables.folder)


def _readings(folder: Path) -> Callable[[bytes], object]:
    return _collected(lambda data, faults: read_measured({}, None, put("readings.toml", data), "measure", faults))


_OF_TABLES = words.of_tables(TABLES) + words.of_places()
_MAKERS: dict[str, tuple[Callable[[Path], Callable[[bytes], object]], list[bytes]]] = {
    "catalogue": (_catalogue, _OF_TABLES),
    "offers": (_offers, words.of_tables({"offers": TABLES["offers"]})),
    "workbook": (books.workbook, words.of_tables({"offers": TABLES["offers"]}) + words.OF_SHEETS),
    "sheet": (books.sheet, words.of_tables({"offers": TABLES["offers"]}) + words.OF_SHEETS),
    "scenario": (_scenario, words.of_scenarios()),
    "photometry": (_photometry, words.OF_PHOTOMETRY),
    "spectrum-csv": (_spectrum("s.csv"), words.OF_SPECTRA),
    "spectrum-xml": (_spectrum("s.spdx"), words.OF_SPECTRA),
    "record": (_record, words.of_tables(TABLES)),
    "mapping": (_mapping, words.OF_MAPS),
    "prices": (_prices, words.of_tables({"offers": TABLES["offers"]})),
    "calibration": (_calibration, words.OF_CALIBRATION),
    "readings": (_readings, [key.encode() for key in KINDS] + words.OF_READINGS),
}

NAMES = tuple(_MAKERS)
"""What can be fuzzed."""


def reader(name: str, folder: Path) -> Reader:
    """Return a reader that writes what it is to read into a folder, best one in memory."""
    folder.mkdir(parents=True, exist_ok=True)
    make, known = _MAKERS[name]
    return Reader(make(folder), known)


def shared_memory() -> Path:
    """Return where files cost least to write: a file system in memory where there is one."""
    place = Path("/dev/shm")
    return place if os.access(place, os.W_OK) else Path(tempfile.gettempdir())


def folder_for(name: str, apart: str) -> Path:
    """Return a folder for what a reader is to read; `apart` tells one run from another at the same time."""
    return shared_memory() / f"fuzz-{name}-{hashlib.sha256(apart.encode()).hexdigest()[:12]}"
