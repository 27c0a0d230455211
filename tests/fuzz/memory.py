"""Files in memory: what a reader is to read is handed to the one function of the package that opens files."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from optimise.parts import text

FILES: dict[str, bytes] = {}
"""Bytes by path; a path that is not among them is read off the disk."""

_PLACE = Path("/in-memory")


def put(name: str, data: bytes) -> Path:
    """Return the path at which a reader will find data."""
    path = _path(name)
    FILES[str(path)] = data
    return path


@cache
def _path(name: str) -> Path:
    return _PLACE / name


@contextmanager
def in_memory() -> Iterator[None]:
    """Have readers find `FILES`, as long as the context lasts."""
    on_disk = text.bytes_of

    def bytes_of(path: Path) -> tuple[bytes | None, int]:
        data = FILES.get(str(path))
        return on_disk(path) if data is None else (data, len(data))

    text.bytes_of = bytes_of
    try:
        yield
    finally:
        text.bytes_of = on_disk
