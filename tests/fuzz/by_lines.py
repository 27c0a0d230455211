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
    """Fuzz one reader for so many runs, or so long, with inputs of at most `longest` bytes; return figures of the run.

    Of some inputs the shortest is changed more often: it costs less, and shows as much.
    """
    resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
    starts = [path.read_bytes() for path in sorted(seeds.glob("*"))]
    finder = Finder(name, work, starts)
    hasten()
    lines: set[tuple[str, int]] = set()
    told: set[str] = set()
    _watch(lines)
    corpus: list[bytes] = []

    def tried(data: bytes) -> bool:
        before = len(lines), len(told)
        told.update(finder.once(data))
        return (len(lines), len(told)) != before

    for data in [*starts, *(path.read_bytes() for path in sorted((work / "corpus").glob("*")))]:
        tried(data)
        corpus.append(data)
    rng = random.Random(seed)
    done, began = len(corpus), time.monotonic()
    while done < runs and (not seconds or time.monotonic() - began < seconds):
        finder.arm()
        for _ in range(500):
            data = corpus[
                rng.randrange(len(corpus)) if rng.random() < 0.7 else len(corpus) - 1 - rng.randrange(len(corpus)) // 8
            ]
            if rng.random() < 0.75:
                data = min(data, rng.choice(corpus), rng.choice(corpus), key=len)
            for _ in range(rng.choice((1, 1, 1, 2, 3))):
                data = mutated(data, rng, finder.reader.words, corpus[rng.randrange(len(corpus))])[:longest]
            done += 1
            if tried(data):
                corpus.append(data)
                (work / "corpus" / hashlib.sha256(data).hexdigest()[:16]).write_bytes(data)
    finder.disarm()
    return {"runs": done, "taken": finder.taken, "lines": len(lines), "told": len(told), "kept": len(corpus)}


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
