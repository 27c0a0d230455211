"""A solver that knows nothing, fails, raises, runs out of memory or dies: a line, the code for no answer, no file."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import highspy
import pytest
from click.testing import Result

from optimise.cli import main
from optimise.model import solver
from tests.faults.world import POSIX, WORKS, everything_in, in_a_fork, invoke, line_of, silent

WORDS = highspy.HighsModelStatus


def build(workshop: Path, out: Path) -> Result:
    return invoke(WORKS["build"], workshop, out)


def says(word: Any, *, point: bool = False) -> Callable[..., None]:
    """Return a solve that comes to a word of HiGHS's, without a point unless the real one is kept."""
    real = solver._solve

    def solve(problem: Any, *rest: Any, **settings: Any) -> None:
        real(problem, *rest, **settings)
        found = problem.solverModel
        info = found.getInfo()
        problem.solverModel = SimpleNamespace(
            getModelStatus=lambda: word,
            getInfo=lambda: SimpleNamespace(
                primal_solution_status=2 if point else 0,
                objective_function_value=info.objective_function_value,
                mip_dual_bound=info.mip_dual_bound,
            ),
            getSolution=lambda: SimpleNamespace(value_valid=point, col_value=found.getSolution().col_value),
        )

    return solve


@pytest.mark.parametrize(
    "word",
    [
        *(pytest.param(getattr(WORDS, name), id=name) for name in ("kUnknown", "kTimeLimit", "kMemoryLimit")),
        *(
            pytest.param(getattr(WORDS, name), id=name, marks=pytest.mark.long)
            for name in ("kInterrupt", "kIterationLimit")
        ),
    ],
)
def test_a_solver_that_knows_nothing_is_no_proof(
    word: Any, workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A build found before is told as one that is not proven; "impossible" and "proven" are never said.
    monkeypatch.setattr(solver, "_solve", says(word))
    done = build(workshop, tmp_path)
    assert "proven" not in done.stdout.replace("not proven", "").split("Proof")[0]
    assert "Impossible" not in done.stdout
    assert "Traceback" not in done.output
    assert (done.exit_code, "not proven" in done.stdout) in {(0, True), (4, False)}, done.output


@pytest.mark.parametrize(
    "word", [pytest.param(getattr(WORDS, name), id=name) for name in ("kSolveError", "kNotset", "kOptimal")]
)
def test_a_solver_that_fails_is_told_and_nothing_is_written(
    word: Any, workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Of an optimum without a point (kOptimal) there is nothing to build either.
    monkeypatch.setattr(solver, "_solve", says(word))
    done = build(workshop, tmp_path)
    assert done.exit_code == 4, done.output
    assert "Stopped: the solver failed" in done.stderr
    assert done.stdout == ""
    assert not everything_in(tmp_path)


def raising(error: Exception) -> Callable[..., None]:
    def run(*_: object) -> None:
        raise error

    return run


FAULTS = {
    "an error of its own": (RuntimeError("no basis"), "the solver failed: RuntimeError: no basis"),
    "memory": (MemoryError(), "there is not enough memory"),
    "threads": (RuntimeError("can't start new thread"), "there is not enough memory"),
}


@pytest.mark.parametrize("name", FAULTS)
@pytest.mark.parametrize("where", ["before its thread", "in its thread"])
def test_a_solver_that_raises_is_told(
    name: str, where: str, workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    error, told = FAULTS[name]
    method = {"before its thread": "startSolve", "in its thread": "run"}[where]
    owner = solver._Silent if where == "before its thread" else highspy._core._Highs
    monkeypatch.setattr(owner, method, raising(error), raising=where != "before its thread")
    done = build(workshop, tmp_path)
    assert done.exit_code == 4, done.output
    assert told in " ".join(done.stderr.split())
    assert done.stdout == ""
    assert not everything_in(tmp_path)


SHORT = """
import pathlib, resource, sys
from optimise.cli import main

more = int(sys.argv.pop(1)) * 2**20
now = int(pathlib.Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (now + more,) * 2)
main()
"""
"""The command, which has so many MiB more than it has once it is loaded."""


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs /proc")
@pytest.mark.long
@pytest.mark.parametrize("more", [0, 1, 2, 4, 6, 8, 12, 16, 24, 32])
def test_a_real_want_of_memory_is_a_line_and_a_code(more: int, tmp_path: Path) -> None:
    root = Path(__file__).parents[2]
    catalogue, job = root / "catalogue", root / "scenarios" / "orchard-night.toml"
    line = ["build", str(job), "--catalogue", str(catalogue), "--json", str(tmp_path / "r.json")]
    done = subprocess.run([sys.executable, "-c", SHORT, str(more), *line], capture_output=True, text=True, cwd=root)
    if done.returncode == 0 and more > 8:
        return  # it was enough
    assert done.returncode == 4, done.stderr
    assert "Stopped: " in done.stderr
    assert "memory" in done.stderr or "cannot be loaded" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert everything_in(tmp_path) == set()


@POSIX
def test_a_solver_that_takes_the_process_with_it_leaves_the_old_record(workshop: Path, tmp_path: Path) -> None:
    (tmp_path / "r.json").write_text("old", encoding="utf-8")

    def does() -> None:
        solver._solve = lambda *_, **__: os.kill(os.getpid(), 9)
        with silent():
            main(line_of(WORKS["build"], workshop, tmp_path))

    assert in_a_fork(does) == -9
    assert everything_in(tmp_path) == {"r.json"}
    assert (tmp_path / "r.json").read_text(encoding="utf-8") == "old"
