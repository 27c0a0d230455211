"""Where the demonstration files are: inside an installed package, or beside the package in a checkout."""

import shutil
from pathlib import Path

FOLDERS = ("catalogue", "scenarios")


def demonstration_folder() -> Path:
    """Return the folder that holds the demonstration's `catalogue` and `scenarios`."""
    here = Path(__file__).parent
    installed = here / "demonstration_files"
    return installed if installed.is_dir() else here.parent


def copy_demonstration(target: Path) -> list[Path]:
    """Copy the demonstration files into `target`, which must not hold them yet; return what was written.

    Everything is copied beside the target and renamed into it, so that nothing is left half-written.
    Raises FileExistsError where one of the folders is there already, and OSError where writing fails.
    """
    for name in FOLDERS:
        if (target / name).exists():
            raise FileExistsError(target / name)
    target.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    for name in FOLDERS:
        beside = target / f".{name}.part"
        if beside.exists():
            shutil.rmtree(beside)
        try:
            shutil.copytree(demonstration_folder() / name, beside)
            beside.rename(target / name)
        finally:
            shutil.rmtree(beside, ignore_errors=True)
        written += sorted(path for path in (target / name).rglob("*") if path.is_file())
    return written
