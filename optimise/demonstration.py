"""Where the demonstration files are: inside an installed package, or beside the package in a checkout."""

import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path

FOLDERS = ("catalogue", "scenarios")


def demonstration_folder() -> Path:
    """Return the folder that holds the demonstration's `catalogue` and `scenarios`."""
    here = Path(__file__).parent
    installed = here / "demonstration_files"
    return installed if installed.is_dir() else here.parent


def write_new(target: Path, name: str, make: Callable[[Path], object]) -> None:
    """Have `make` write a file or a folder beside its place in `target`, then rename it into place.

    Nothing is left half-written. Raises FileExistsError where it is there already, and OSError where writing fails.
    """
    if (target / name).exists():
        raise FileExistsError(target / name)
    target.mkdir(parents=True, exist_ok=True)
    beside = target / f".{name}.part"
    _gone(beside)
    try:
        make(beside)
        beside.rename(target / name)
    finally:
        _gone(beside)


def _gone(path: Path) -> None:
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


def copy_demonstration(target: Path) -> list[Path]:
    """Copy the demonstration files into `target`, which must not hold them yet; return what was written.

    Raises FileExistsError where one of the folders is there already, and OSError where writing fails.
    """
    for name in FOLDERS:
        if (target / name).exists():
            raise FileExistsError(target / name)
    written: list[Path] = []
    for name in FOLDERS:
        write_new(target, name, partial(shutil.copytree, demonstration_folder() / name))
        written += sorted(path for path in (target / name).rglob("*") if path.is_file())
    return written
