"""A small sound catalogue on disk, with all that is hostile beside it; an input gives other content to its files."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

from optimise.parts import beside, catalogue, sources, text

from . import memory
from .bundle import unpacked

SOUND = Path(__file__).parent / "sound"


class Tables:
    """The catalogue of a folder; tables that no input has changed are read once, which is most of the time saved."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._read: dict[str, Any] = {}
        shutil.copytree(SOUND, folder, dirs_exist_ok=True)
        self._places = {str(path.relative_to(folder)): str(path) for path in folder.rglob("*.*") if path.is_file()}
        _make_hostile(folder)
        # No input changes what lies on the disk: it is looked at once.
        listed, within = sources.Folder(folder).tables(), lru_cache(1024)(text.stays_within)
        self._looked_at: list[tuple[Any, str, Any]] = [
            (sources.Folder, "tables", lambda source: list(listed)),
            (sources, "stays_within", within),
            (beside, "stays_within", within),
        ]

    @contextmanager
    def changed(self, data: bytes, *others: str) -> Iterator[None]:
        """Have the files of an input in place of the sound ones as long as the context lasts; `others` change too."""
        files = {name: content for name, content in unpacked(data) if name in self._places}
        changed = {*files, *others}
        kept = {self._places[name]: content for name, content in files.items()}
        memory.FILES.update(kept)
        read_table = catalogue.read_table

        def read(source: Any, table: str, kind: Any, faults: Any) -> Any:
            if f"{table}.csv" in changed:
                return read_table(source, table, kind, faults)
            if table not in self._read:
                self._read[table] = read_table(source, table, kind, faults)
            return self._read[table]

        stand_ins = [(catalogue, "read_table", read), *self._looked_at]
        as_it_was = [(owner, name, getattr(owner, name)) for owner, name, _ in stand_ins]
        for owner, name, stand_in in stand_ins:
            setattr(owner, name, stand_in)
        try:
            yield
        finally:
            for owner, name, plain in as_it_was:
                setattr(owner, name, plain)
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
