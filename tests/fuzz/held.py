"""What must hold of every reading, whatever stands in the file: a value or told faults, and nothing else."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from optimise.parts import Fault, InputError

LONGEST = 3000
"""Signs of a fault in words: the list of what is allowed may be long, what was read is cut."""
LONGEST_READ = 400
MOST_FAULTS = 20_000

_LIBRARIES = (sys.prefix, sys.base_prefix, str(Path(__file__).parents[2] / "optimise"))


class BrokenError(Exception):
    """The property does not hold; the first word is the kind of break."""


class Judge(Protocol):
    """Reads an input once, and raises where the property does not hold."""

    def __call__(self, data: bytes, *, watch: bool = True) -> tuple[str, ...]:
        """Return the kinds of fault that were told, none where the input was taken."""


def told_well(faults: tuple[Fault, ...]) -> None:
    """Raise `BrokenError` where a fault could act on a terminal, drown it, or says nothing."""
    if not faults:
        raise BrokenError("no-faults: refused without a reason")
    if len(faults) > MOST_FAULTS:
        raise BrokenError(f"many-faults: {len(faults)}")
    for fault in faults:
        text = str(fault)
        if not text.isprintable():
            raise BrokenError(f"control-sign: {text[:300]!r}")
        if len(text) > LONGEST or len(fault.read) > LONGEST_READ or len(fault.column) > LONGEST_READ:
            raise BrokenError(f"long-fault: {len(text)} signs: {text[:200]!r}")
        if not fault.read or not fault.allowed or not fault.file:
            raise BrokenError(f"empty-fault: {text[:200]!r}")


def within(read: Callable[[bytes], object], folder: Path) -> Judge:
    """Return what reads an input and holds it to the property, files that are opened on the way included.

    Only what lies in `folder` may be opened, by no way that leads through `..`; libraries may still be imported.
    """
    allowed = (str(folder), *_LIBRARIES)

    def judge(data: bytes, *, watch: bool = True) -> tuple[str, ...]:
        _watching.allowed = allowed if watch else None
        try:
            read(data)
        except InputError as error:
            told_well(error.faults)
            return tuple(fault.allowed[:40] for fault in error.faults[:8])
        finally:
            _watching.allowed = None
            if _watching.opened:
                names = ", ".join(sorted(set(_watching.opened)))
                _watching.opened.clear()
                raise BrokenError(f"outside: {names[:300]}")
        return ()

    return judge


class _Watching:
    """Hears of every file that is opened; Python never lets go of such a hook, so there is one."""

    allowed: tuple[str, ...] | None = None
    """How the names of what may be opened begin; None while nothing is watched."""

    def __init__(self) -> None:
        self.opened: list[str] = []
        sys.addaudithook(self._heard)

    def _heard(self, event: str, arguments: tuple[Any, ...]) -> None:
        if self.allowed is not None and event == "open" and not isinstance(arguments[0], int):
            name = arguments[0].decode("latin-1") if isinstance(arguments[0], bytes) else str(arguments[0])
            if not name.startswith(self.allowed) or "/../" in name or name.endswith("outside.ies"):
                self.opened.append(name)


_watching = _Watching()
