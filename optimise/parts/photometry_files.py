"""The photometric files that emitters name: found in the catalogue's folder and nowhere else, each read once."""

import hashlib
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import Any

from optimise.parts.faults import Collector, Fault, nearest, quoted
from optimise.parts.photometry import Photometry, read_photometry
from optimise.parts.sources import Source
from optimise.parts.tables import Line, Table
from optimise.parts.text import read_data

_INSIDE = "the name of a file in the catalogue's folder, such as spot.ies"


def with_photometry(emitters: Table[Any], source: Source, faults: Collector) -> tuple[Table[Any], dict[str, str]]:
    """Return the emitters with the tables of the files they name, and the SHA-256 of each file by its name.

    A file outside the folder of the catalogue, or one that cannot be read, is added to `faults`.
    """
    folder = source.folder()
    known: dict[str, Photometry | None] = {}
    prints: dict[str, str] = {}
    lines: list[Line[Any]] = []
    for line in emitters.lines:
        row = line.row
        if row.photometry is not None:
            name = str(PurePosixPath(row.photometry))
            if name not in known:
                known[name] = None
                reason = _outside(folder, row.photometry)
                if reason is not None:
                    read, mend = reason
                    faults.add(
                        Fault(source.file("emitters"), line.number, "column photometry", read, _INSIDE, mend),
                    )
                else:
                    known[name] = _read(folder / name, name, prints, faults)
            table = known[name]
            if table is not None:
                row = row.measured(table)
        lines.append(Line(line.number, row))
    return replace(emitters, lines=tuple(lines)), dict(sorted(prints.items()))


def _read(path: Path, name: str, prints: dict[str, str], faults: Collector) -> Photometry | None:
    data = read_data(path, name, faults)
    if data is None:
        return None
    prints[name] = hashlib.sha256(data).hexdigest()
    return read_photometry(data, name, faults)


def _outside(folder: Path, name: str) -> tuple[str, str] | None:
    """Return what is wrong with the place of a file and how to mend it, or None where it is a file in the folder."""
    parts = PurePosixPath(name).parts
    if not parts or ".." in parts or name.startswith("/") or "\\" in name or ":" in name:
        return quoted(name), "Put the file beside the tables, and write its name alone."
    try:
        place, home = (folder / name).resolve(), folder.resolve()
        if not place.is_relative_to(home):
            return f"{quoted(name)}, a link that leads out of the folder", "Put the file itself in its place."
        if not place.exists():
            hint = nearest(name, (path.name for path in folder.iterdir()))
            return f"{quoted(name)}, no such file", hint
        if not place.is_file():
            return f"{quoted(name)}, which is no plain file", ""
    except (OSError, RuntimeError, ValueError) as error:
        return f"{quoted(name)}, which cannot be looked at ({type(error).__name__})", ""
    return None
