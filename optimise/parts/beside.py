"""Files that a table names: beside the tables or below them, and never anywhere else."""

import re
from pathlib import Path, PurePosixPath

MAX_NAME = 200
ALLOWED = "a file in the catalogue's folder or below it, as spectra/name.csv"

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
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError):  # a link onto itself, which older Pythons tell as a RuntimeError
        return None
    return path if inside else None
