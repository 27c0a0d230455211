"""A small sound catalogue on disk, with all that is hostile beside it; an input gives other content to its files."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from optimise.parts import catalogue

from . import memory
from .bundle import unpacked

SOUND = Path(__file__).parent / "sound"


class Tables:
    """The catalogue of a folder; tables that no input has changed are read once, which is most of the time saved."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._read: dict[str, Any] = {}
        shutil.copytree(SOUND, folder, dirs_exist_ok=True)
        self._names = {str(path.relative_to(folder)) for path in folder.rglob("*.*") if path.is_file()}
        _make_hostile(folder)

    @contextmanager
    def changed(self, data: bytes, *others: str) -> Iterator[None]:
        """Have the files of an input in place of the sound ones as long as the context lasts; `others` change too."""
        files = {name: content for name, content in unpacked(data) if name in self._names}
        changed = {*files, *others}
        kept = {str(self.folder / name): content for name, content in files.items()}
        memory.FILES.update(kept)
        plain = catalogue.read_table

        def read(source: Any, table: str, kind: Any, faults: Any) -> Any:
            if f"{table}.csv" in changed:
                return plain(source, table, kind, faults)
            if table not in self._read:
                self._read[table] = plain(source, table, kind, faults)
            return self._read[table]

        catalogue.read_table = read
        try:
            yield
        finally:
            catalogue.read_table = plain
            for name in kept:
                del memory.FILES[name]


def _make_hostile(folder: Path) -> None:
    """Put beside the tables what a cell may name and nothing may open."""
    outside = folder.parent / "outside.ies"
    outside.write_text("not to be read")
    links = {"out.ies": outside, "up": folder.parent, "zero.ies": Path("/dev/zero"), "round.ies": folder / "round.ies"}
    for name, target in links.items():
        if not (folder / name).is_symlink():
            (folder / name).symlink_to(target)
    (folder / "folder.ies").mkdir(exist_ok=True)
    if not (folder / "pipe.ies").exists():
        os.mkfifo(folder / "pipe.ies")
