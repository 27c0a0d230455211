"""An engine that costs next to nothing (Python 3.12 and newer): lines never run before, faults never told before.

Each line of the package is watched until it has run once, by sys.monitoring, and then no more.
"""

import hashlib
import json
import random
import resource
import sys
import time
from pathlib import Path
from types import CodeType
from typing import Any

from .finder import Finder, hasten
from .mutation import mutated


def drive(
    name: str, work: Path, seeds: Path, runs: int, seconds: float, seed: int, longest: int = 20_000
) -> dict[str, object]:
    """Fuzz one reader for so many runs, or so long; return figures of the run. longest: bytes of an input, at most."""
    resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
    starts = [path.read_bytes() for path in sorted(seeds.glob("*"))]
    finder = Finder(name, work, starts)
    hasten()
    lines: set[tuple[str, int]] = set()
    told: set[str] = set()
    _watch(lines)
    corpus: list[bytes] = []
    sound: list[bytes] = []

    def tried(data: bytes, *, keep: bool = False) -> bool:
        before = len(lines), len(told)
        kinds = finder.once(data)
        told.update(kinds)
        new = (len(lines), len(told)) != before
        if new or keep:
            corpus.append(data)
            if not kinds:
                sound.append(data)
        return new

    for data in [*starts, *(path.read_bytes() for path in sorted((work / "corpus").glob("*")))]:
        tried(data, keep=True)
    rng = random.Random(seed)
    done, began = len(corpus), time.monotonic()
    while done < runs and (not seconds or time.monotonic() - began < seconds):
        finder.arm()
        for _ in range(500):
            data = _chosen(corpus, sound, rng)
            for _ in range(rng.choice((1, 1, 1, 2, 3))):
                data = mutated(data, rng, finder.reader.words, corpus[rng.randrange(len(corpus))])[:longest]
            done += 1
            if tried(data):
                (work / "corpus" / hashlib.sha256(data).hexdigest()[:16]).write_bytes(data)
    finder.disarm()
    return {"runs": done, "taken": finder.taken, "lines": len(lines), "told": len(told), "kept": len(corpus)}


def _chosen(corpus: list[bytes], sound: list[bytes], rng: random.Random) -> bytes:
    """Return the input to change: often one that was taken, which few are, or a late one, and rather a short one."""
    if sound and rng.random() < 0.3:
        return min(rng.choice(sound), rng.choice(sound), key=len)
    last = len(corpus)
    data = corpus[rng.randrange(last) if rng.random() < 0.7 else last - 1 - rng.randrange(last) // 8]
    return min(data, rng.choice(corpus), rng.choice(corpus), key=len) if rng.random() < 0.75 else data


def _watch(lines: set[tuple[str, int]]) -> None:
    """Have every line of the package that runs for the first time put into `lines`."""
    monitoring: Any = getattr(sys, "monitoring", None)
    if monitoring is None:
        sys.exit("This engine needs Python 3.12 or newer; or take --engine atheris.")

    def ran(code: CodeType, line: int) -> Any:
        if "/optimise/" in code.co_filename:
            lines.add((code.co_filename, line))
        return monitoring.DISABLE

    monitoring.use_tool_id(monitoring.COVERAGE_ID, "fuzz")
    monitoring.register_callback(monitoring.COVERAGE_ID, monitoring.events.LINE, ran)
    monitoring.set_events(monitoring.COVERAGE_ID, monitoring.events.LINE)


if __name__ == "__main__":
    place, seeds = Path(sys.argv[2]), Path(sys.argv[3])
    figures = drive(sys.argv[1], place, seeds, int(sys.argv[4]), float(sys.argv[5]), *map(int, sys.argv[6:]))
    print("figures:", json.dumps(figures))
