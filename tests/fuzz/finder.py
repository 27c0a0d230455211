"""One reader under an engine: every input is judged, and breaks are kept one of a kind while the run goes on."""

import difflib
import gc
import hashlib
import signal
import time
import traceback
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from types import FrameType

from optimise.parts import faults

from . import readers
from .held import BrokenError, within
from .memory import in_memory

MOST_KINDS = 200
LONGEST = 20.0
"""Seconds after which a reading counts as hanging; the machine may be busy with other things."""


@lru_cache(10_000)
def _remembered(word: str, known: tuple[str, ...], n: int, cutoff: float) -> list[str]:
    return difflib.get_close_matches(word, known, n, cutoff)


def hasten() -> None:
    """Have `difflib` remember what it found: mutations write the same words again, and it took an eighth of a run."""

    def remembered(word: str, known: Sequence[str], n: int, cutoff: float) -> list[str]:
        return _remembered(word, tuple(known), n, cutoff)

    faults.get_close_matches = remembered


class Finder:
    """A reader, and what was found to break it."""

    def __init__(self, name: str, work: Path, seeds: list[bytes]) -> None:
        self.found = work / "found"
        folder = readers.folder_for(name, str(work.resolve()))
        self.reader = readers.reader(name, folder)
        self.taken = 0
        self.kinds: set[str] = set()
        self._memory = in_memory()
        self._memory.__enter__()  # for as long as the process runs
        self._judge = within(self.reader.read, folder)
        self._began = time.monotonic()
        for seed in seeds:  # what is imported on the way is no part of a reading
            self._judge(seed, watch=False)
        gc.freeze()  # what is loaded stays: to look through it again and again took a tenth of the time
        signal.signal(signal.SIGALRM, self._late)

    def once(self, data: bytes) -> tuple[str, ...]:
        """Read an input; return what was told of it, kind by kind, as a sign of where the reader has been."""
        self._began = time.monotonic()
        try:
            kinds = self._judge(data)
        except Exception as error:  # whatever it is: that is what is looked for
            self._keep(data, error)
            return (_kind(error),)
        self.taken += not kinds
        return kinds

    def arm(self) -> None:
        """Have a reading that hangs told; to be called now and then."""
        signal.alarm(int(LONGEST) + 1)

    def disarm(self) -> None:
        """Have nothing told any more: an alarm that goes off while Python ends would end it as a failure."""
        signal.alarm(0)

    def _late(self, number: int, frame: FrameType | None) -> None:
        if time.monotonic() - self._began > LONGEST:
            raise TimeoutError(f"no answer after {LONGEST:g} s")
        self.arm()

    def _keep(self, data: bytes, error: Exception) -> None:
        kind = _kind(error)
        if kind in self.kinds or len(self.kinds) >= MOST_KINDS:
            return
        self.kinds.add(kind)
        mark = hashlib.sha256(kind.encode()).hexdigest()[:12]
        told = "".join(traceback.format_exception(error)[-12:])
        (self.found / mark).write_bytes(data)
        (self.found / f"{mark}.txt").write_text(f"{kind}\n{told}", encoding="utf-8", errors="replace")


def _kind(error: BaseException) -> str:
    """Return what tells one kind of break from another: the error, and where in the package it came from."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "/optimise/" in f.filename]
    place = f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    told = str(error).split(":")[0] if isinstance(error, BrokenError) else ""
    return f"{type(error).__name__} {told} {place}"
