"""Writing files and folders so that no one ever sees half of one: beside their place, then renamed.

What a kill leaves behind begins with a dot and the name of what was being written, and is in no one's way.
"""

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file whole; what a link leads to is written in its place. Raises OSError.

    A device or a pipe is given the content as it is, for a file in its place would be the end of it.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    if path.exists() and not path.is_file():
        with path.open("wb") as device:
            device.write(data)
        return
    place = Path(os.path.realpath(path))
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            _settle(file)
        Path(name).chmod(0o666 & ~_mask())
        Path(name).replace(place)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def unfit_folder(folder: Path) -> str:
    """Return why no folder may be made there, or ''; an empty one may be there. Raises OSError: it is unreadable."""
    if not folder.parent.is_dir():
        return f"there is no folder {folder.parent}"
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        return f"{folder} is a file"
    if folder.is_dir() and any(folder.iterdir()):
        return f"{folder} holds files already"
    return ""


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """Yield a folder to fill, which is renamed to its place at the end: a new one, or an empty one that is there.

    Raises FileExistsError where something has come to be there meanwhile, and OSError.
    """
    beside = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}."))
    try:
        yield beside
        beside.chmod(0o777 & ~_mask())
        try:
            if folder.exists():
                folder.rmdir()
            beside.rename(folder)
        except OSError as error:
            if error.errno in {errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR}:
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(folder)) from None
            raise
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def write_folder(folder: Path, files: Mapping[str, str | bytes]) -> None:
    """Write files into a new folder (or an empty one), all or none. Raises OSError."""
    with whole_folder(folder) as beside:
        for name, content in files.items():
            with (beside / name).open("wb") as file:
                file.write(content.encode("utf-8") if isinstance(content, str) else content)
                _settle(file)


def _settle(file: BinaryIO) -> None:
    """Have what was written reach the disk: a full one may tell only now, and a rename may get there before it."""
    file.flush()
    try:
        os.fsync(file.fileno())
    except OSError as error:
        # Some places keep nothing that could be lost.
        if error.errno not in {errno.EINVAL, errno.ENOTSUP}:
            raise


def _mask() -> int:
    """Return the mask of the rights that new files do not get; there is no way to ask but to set it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
