"""Put faults into a package one at a time and see which of them a test notices: `python -m tests.mutation --help`."""

import argparse
import json
import math
import os
import random
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import libcst as cst

from tests.mutation import covering, scores
from tests.mutation.mutants import ROOT, Mutant, files_of, mutants_of, source_with
from tests.mutation.trial import Bench, at_work, stem


def planned(mutant: Mutant, known: covering.Covering, most: float, own: float = math.inf) -> list[str]:
    """Return the tests of a mutant: those of its package and of what is published, then all others.

    Both begin with those that are named for its module, then go by how fast they are; the first part ends where `own`
    seconds are spent, the second where `most` are.
    """
    package, name = Path(mutant.file).parts[1], Path(mutant.file).stem

    def rank(test: str) -> tuple[bool, float, str]:
        return name not in stem(test)[1], known.seconds.get(test, 1.0), test

    near, others = [], []
    for test in sorted(known.of(mutant), key=rank):
        folder, file = stem(test)
        mine = folder == "published" or (folder == package and (package != "model" or name in file))
        (near if mine else others).append(test)
    return [*_within(near, known, own), *_within(others, known, most)]


def _within(tests: Sequence[str], known: covering.Covering, seconds: float) -> Iterator[str]:
    for test in tests:
        seconds -= known.seconds.get(test, 1.0)
        if seconds < 0.0:
            break
        yield test


def _work(
    bench: Bench,
    plans: Sequence[tuple[Mutant, list[str]]],
    modules: dict[str, cst.Module],
    options: argparse.Namespace,
) -> None:
    for number, (mutant, tests) in enumerate(plans):
        if time.time() > options.until:
            print(f"{len(plans) - number} left for another run")
            return
        began = time.monotonic()
        outcome, by = bench.tried(mutant.file, source_with(modules[mutant.file], mutant), tests)
        record = dict(zip(scores.KEY, mutant.key, strict=True)) | {
            "line": mutant.lines[0],
            "outcome": outcome,
            "by": by,
            "tests": len(tests),
            "seconds": round(time.monotonic() - began, 2),
        }
        with options.results.open("a", encoding="utf-8") as out:
            out.write(json.dumps(record, ensure_ascii=False) + "\n")
    for test in sorted(bench.unfit):
        print(f"left out, fails by itself: {test}")


def _left(drawn: Sequence[Mutant], options: argparse.Namespace) -> list[Mutant]:
    """Return the mutants that are to be tried in this run."""
    done, reasons = scores.last(options.results), scores.explained()
    if options.again:
        return [m for m in drawn if m.key not in reasons and done.get(m.key, {}).get("outcome") == "survived"]
    return [m for m in drawn if m.key not in reasons and m.key not in done]


def main() -> None:
    """Run what the options ask for, and print the score of all that is known."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--package", default="physics", choices=["physics", "columns", "model"])
    parser.add_argument("--module", action="append", help="only of these, by the name of the file without .py")
    parser.add_argument("--sample", type=int, help="only so many, drawn at random")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--again", action="store_true", help="try once more those that survived and are not explained")
    parser.add_argument("--most", type=float, default=20.0, help="seconds of tests from elsewhere for one mutant")
    parser.add_argument("--own", type=float, default=math.inf, help="the same of those of its own package")
    parser.add_argument("--minutes", type=float, default=1e6, help="stop after so long; the next run goes on")
    parser.add_argument("--database", type=Path, action="append", help="of coverage, .coverage where none is named")
    parser.add_argument("--junit", type=Path, action="append", help="times of tests, .junit.xml where none is named")
    parser.add_argument("--results", type=Path)
    parser.add_argument("--score", action="store_true", help="try nothing, print the score")
    parser.add_argument("--survivors", action="store_true", help="list those that survived and are not explained")
    options = parser.parse_args()
    os.chdir(ROOT)
    options.until = time.time() + 60.0 * options.minutes
    options.results = options.results or ROOT / "tests/mutation/results" / f"{options.package}.jsonl"
    files = [f for f in files_of(options.package) if not options.module or Path(f).stem in options.module]
    parsed = {file: mutants_of(file) for file in files}
    drawn = [mutant for _, found in parsed.values() for mutant in found]
    if options.sample:
        drawn = sorted(random.Random(options.seed).sample(drawn, min(options.sample, len(drawn))), key=lambda m: m.file)
    if not options.score:
        known = covering.read(options.database or [ROOT / ".coverage"], options.junit or [ROOT / ".junit.xml"])
        plans = [(mutant, planned(mutant, known, options.most, options.own)) for mutant in _left(drawn, options)]
        needed = sorted({test.split("::")[0] for _, tests in plans for test in tests})
        modules = {file: module for file, (module, _) in parsed.items()}
        if needed:
            at_work(needed, known.seconds, lambda bench: _work(bench, plans, modules, options))
    done, reasons = scores.last(options.results), scores.explained()
    if options.survivors:
        for mutant in drawn:
            if mutant.key not in reasons and done.get(mutant.key, {}).get("outcome") == "survived":
                print(f"{mutant.file}:{mutant.lines[0]} [{mutant.nth}] {mutant.before}  ->  {mutant.after}")
    scores.show(drawn, done, reasons)


if __name__ == "__main__":
    main()
