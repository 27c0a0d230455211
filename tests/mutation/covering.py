"""Which tests run a line, and how long each takes: from a coverage database with a context for each test, and JUnit."""

import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from coverage import CoverageData

from tests.mutation.mutants import ROOT, Mutant


@dataclass(frozen=True)
class Covering:
    """What a coverage run knows: by file and line the tests, by test the seconds."""

    tests: dict[str, dict[int, set[str]]]
    seconds: dict[str, float]
    stale: frozenset[str]

    def of(self, mutant: Mutant) -> list[str]:
        """Return the tests that run a mutant's lines; of what runs on import, all that run its function or its file."""
        lines = self.tests.get(mutant.file, {})
        if mutant.file not in self.stale:
            for within in (mutant.lines, mutant.statement, mutant.whole):
                found = set().union(*(lines.get(line, ()) for line in within))
                if found:
                    return sorted(found)
            if mutant.whole and not any(line in lines for line in mutant.statement):
                return []
        found = set().union(*lines.values())
        # What runs on import alone is noticed through those that import it.
        return sorted(found or set().union(*(tests for user in _users(mutant.file) for tests in self._lines(user))))

    def _lines(self, file: str) -> list[set[str]]:
        return list(self.tests.get(file, {}).values())


def _users(file: str) -> list[str]:
    """Return the files that import from a file's module."""
    wanted = f"from {file.removesuffix('.py').replace('/', '.')} import"
    paths = (path for path in (ROOT / "optimise").rglob("*.py") if wanted in path.read_text(encoding="utf-8"))
    return sorted(path.relative_to(ROOT).as_posix() for path in paths)


def read(databases: Sequence[Path], junits: Sequence[Path]) -> Covering:
    """Return what databases of `pytest --cov --cov-context=test` and the files of `--junit-xml` say together.

    A source that was changed after a database was made is stale: its mutants get all tests of its file.
    """
    tests: dict[str, dict[int, set[str]]] = {}
    stale = set()
    for database in databases:
        data = CoverageData(basename=str(database))
        data.read()
        made = database.stat().st_mtime
        for measured in data.measured_files():
            path = Path(measured)
            file = path.relative_to(ROOT).as_posix()
            lines = tests.setdefault(file, {})
            for line, contexts in data.contexts_by_lineno(measured).items():
                lines.setdefault(line, set()).update(name.rsplit("|", 1)[0] for name in contexts if name)
            if path.exists() and path.stat().st_mtime > made:
                stale.add(file)
    seconds: dict[str, float] = {}
    for junit in junits:
        for case in ElementTree.parse(junit).getroot().iter("testcase"):
            file = case.get("classname", "").replace(".", "/") + ".py"
            seconds[f"{file}::{case.get('name')}"] = float(case.get("time", 0.0))
    return Covering(tests, seconds, frozenset(stale))
