"""Take into the corpus what reaches branches that nothing in it does: `python -m tests.fuzz.choose READER`.

Needs Python 3.12 or newer. Of what runs kept under --work, the few inputs with the most new branches are taken.
"""

import argparse
import hashlib
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import CodeType
from typing import Any

from .__main__ import CORPUS
from .finder import Finder, hasten

Branches = frozenset[tuple[str, int, str, int, int]]
"""File, first line and name of the code, where it parts, and where it went on."""


def main() -> None:
    """Add what was chosen to the corpus of a reader, and tell how many branches that gains."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.choose", description=__doc__)
    parser.add_argument("reader", choices=sorted(path.name for path in CORPUS.iterdir()))
    parser.add_argument("--most", type=int, default=8, help="inputs to add")
    parser.add_argument("--longest", type=int, default=700, help="bytes of an input, at most")
    parser.add_argument("--work", type=Path, default=Path(".fuzz"), help="where runs kept what they found")
    given = parser.parse_args()
    work, place = given.work / given.reader, CORPUS / given.reader
    seeds = sorted(place.iterdir())
    (work / "found").mkdir(parents=True, exist_ok=True)
    finder = Finder(given.reader, work, [path.read_bytes() for path in seeds])
    hasten()
    branches_of = _watched(finder)
    reached = frozenset().union(*(branches_of(path.read_bytes()) for path in seeds))
    kept = {path.read_bytes() for path in sorted((work / "corpus").glob("*"))}
    pool = {data: branches_of(data) for data in sorted(kept, key=lambda data: (len(data), data))}
    small = {data: branches for data, branches in pool.items() if len(data) <= given.longest}
    before, (end, _) = len(reached), Counter(path.suffix for path in seeds).most_common(1)[0]
    for _ in range(given.most):
        data = max(small, key=lambda data: (len(small[data] - reached), -len(data)), default=b"")
        if not small.get(data, reached) - reached:
            break
        reached |= small[data]
        (place / f"reached-{hashlib.sha256(data).hexdigest()[:8]}{end}").write_bytes(data)
    print(f"{given.reader}: {before} branches, now {len(reached)} of {len(reached.union(*pool.values()))}")


def _watched(finder: Finder) -> Callable[[bytes], Branches]:
    """Return what reads an input and tells the branches of the package that it took."""
    monitoring: Any = getattr(sys, "monitoring", None)
    if monitoring is None:
        sys.exit("This needs Python 3.12 or newer.")
    taken: set[tuple[str, int, str, int, int]] = set()

    def branched(code: CodeType, at: int, to: int) -> Any:
        if "/optimise/" not in code.co_filename:
            return monitoring.DISABLE
        taken.add((code.co_filename, code.co_firstlineno, code.co_name, at, to))
        return None

    monitoring.use_tool_id(monitoring.COVERAGE_ID, "fuzz")
    monitoring.register_callback(monitoring.COVERAGE_ID, monitoring.events.BRANCH, branched)
    monitoring.set_events(monitoring.COVERAGE_ID, monitoring.events.BRANCH)

    def branches_of(data: bytes) -> Branches:
        taken.clear()
        finder.once(data)
        return frozenset(taken)

    return branches_of


if __name__ == "__main__":
    main()
