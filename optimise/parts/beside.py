"""Files that a table names: beside the tables or below them, and never anywhere else."""

import re
from collections.abc import Callable
from pathlib import Path, PurePosixPath
from typing import Any, TypeVar

from optimise.parts.faults import Collector, Fault, nearest, quoted
from optimise.parts.sources import Source
from optimise.parts.tables import Table
from optimise.parts.text import stays_within

MAX_NAME = 200
ALLOWED = "a file in the catalogue's folder or below it, as light/name.csv"
_MEND = "Copy the file there; a path is parted by /, and '..' is not followed."
_T = TypeVar("_T")

_DRIVE = re.compile(r"[A-Za-z]:")


def file_beside(folder: Path, name: str) -> Path | None:
    """Return the file that `name` means within `folder`, or None where the name or a link leads out of it.

    Steps are parted by / on every system. Nothing is opened; the file need not be there.
    """
    steps = PurePosixPath(name)
    if not 0 < len(name) <= MAX_NAME or not name.isprintable() or "\\" in name or _DRIVE.match(name):
        return None
    if steps.is_absolute() or ".." in steps.parts or not steps.parts:
        return None
    path = folder / steps
    return path if stays_within(folder, path) else None


def files_named(
    table: Table[Any], column: str, source: Source, read: Callable[[Path, str, Collector], _T | None], faults: Collector
) -> dict[str, _T]:
    """Return what is read from the files that a column of `emitters` names, by the name as it stands in the cell.

    Each file is read once, however it is written; what has no file, or none within the folder, is a fault of its cell.
    """
    found: dict[str, _T] = {}
    known: dict[str, _T | None] = {}
    for line in table.lines:
        name = getattr(line.row, column)
        if name is None:
            continue
        reason = _not_there(source.beside, name)
        if reason is not None:
            told, mend = f"{quoted(name)}, {reason[0]}", reason[1]
            faults.add(Fault(source.file("emitters"), line.number, f"column {column}", told, ALLOWED, mend))
            continue
        plain = plain_name(name)
        if plain not in known:
            known[plain] = read(source.beside / plain, plain, faults)
        content = known[plain]
        if content is not None:
            found[name] = content
    return found


def plain_name(name: str) -> str:
    """Return a name without steps that lead nowhere: one for each file."""
    return str(PurePosixPath(name))


def _not_there(folder: Path, name: str) -> tuple[str, str] | None:
    """Return why there is no file of a name in a folder, and how to mend that; None where there is one."""
    path = file_beside(folder, name)
    if path is None:
        return "a name that leads out of the folder", _MEND
    if path.is_file():
        return None
    if path.exists():
        return "which is no plain file", ""
    hint = nearest(path.name, (other.name for other in path.parent.iterdir())) if path.parent.is_dir() else ""
    return "which is not there", hint or _MEND
