"""Writing a folder of files so that no one ever sees half of it."""

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path


def unfit_folder(folder: Path) -> str:
    """Return why no folder may be made there, or ''; an empty one may be there. Raises OSError: it is unreadable."""
    if not folder.parent.is_dir():
        return f"there is no folder {folder.parent}"
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        return f"{folder} is a file"
    if folder.is_dir() and any(folder.iterdir()):
        return f"{folder} holds files already"
    return ""


def write_folder(folder: Path, files: Mapping[str, str | bytes]) -> None:
    """Write files into a new folder (or an empty one): beside its place, then renamed. Raises OSError."""
    beside = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}."))
    try:
        for name, content in files.items():
            (beside / name).write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        mask = os.umask(0)
        os.umask(mask)
        beside.chmod(0o777 & ~mask)
        if folder.exists():
            folder.rmdir()
        beside.rename(folder)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
