"""Where the demonstration files are: inside an installed package, or beside the package in a checkout."""

import errno
import shutil
from contextlib import ExitStack
from pathlib import Path

from optimise.report.whole import whole_folder

FOLDERS = ("catalogue", "scenarios")


def demonstration_folder() -> Path:
    """Return the folder that holds the demonstration's `catalogue` and `scenarios`."""
    here = Path(__file__).parent
    installed = here / "demonstration_files"
    return installed if installed.is_dir() else here.parent


def copy_demonstration(target: Path) -> list[Path]:
    """Copy the demonstration files into `target`, which must not hold them yet; return what was written.

    Raises FileExistsError where one of the folders is there already, and OSError where writing fails; then neither is
    there. A kill leaves both or neither in a new folder; in one that is there it may leave the first alone.
    """
    for name in FOLDERS:
        if (target / name).exists():
            raise FileExistsError(target / name)
    target.parent.mkdir(parents=True, exist_ok=True)
    with ExitStack() as places:
        new = None if target.exists() else places.enter_context(whole_folder(target))
        for name in FOLDERS:
            beside = places.enter_context(whole_folder(target / name)) if new is None else new / name
            try:
                shutil.copytree(demonstration_folder() / name, beside, dirs_exist_ok=True)
            except shutil.Error as error:
                # It tries all files, and gives a list of what failed in place of a reason.
                reason = str(error.args[0][0][2])
                raise OSError(errno.EIO, reason.partition("] ")[2].partition(":")[0] or reason) from None
    return [path for name in FOLDERS for path in sorted((target / name).rglob("*")) if path.is_file()]
