"""Every case is answered once, whatever happens to its neighbours."""

import os
import signal
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from optimise.studies.batch import Answer, run


@dataclass(frozen=True)
class Toy:
    """A case that does something to its process, and leaves a mark each time that it is solved."""

    name: str
    marks: Path
    does: str = "answers"


def solve(case: Toy) -> Answer:
    with (case.marks / case.name).open("a", encoding="utf-8") as file:
        file.write(f"{os.getpid()}\n")
    if case.does == "dies":
        os.kill(os.getpid(), signal.SIGKILL)
    if case.does == "fails":
        return Answer(None, "it failed")
    return Answer(case.name.upper())


def answered(
    cases: list[Toy], workers: int | None, earlier: dict[str, str] | None = None
) -> dict[str, tuple[str, bool]]:
    found: dict[str, tuple[str, bool]] = {}

    def keep(case: Toy, answer: Answer, new: bool) -> None:
        assert case.name not in found, "a case is told once"
        found[case.name] = answer.text or answer.fault, new

    run(cases, solve, lambda case: (earlier or {}).get(case.name), keep, workers=workers)
    return found


def processes(folder: Path) -> set[int]:
    return {int(line) for path in folder.iterdir() for line in path.read_text(encoding="utf-8").split()}


@pytest.mark.parametrize("workers", [1, 2, None])
def test_every_case_is_answered(tmp_path: Path, workers: int | None) -> None:
    cases = [Toy(f"case{i}", tmp_path, "fails" if i == 3 else "answers") for i in range(9)]
    expected = {case.name: (case.name.upper(), True) for case in cases}
    expected["case3"] = ("it failed", True)
    assert answered(cases, workers) == expected
    assert all(len(path.read_text(encoding="utf-8").split()) == 1 for path in tmp_path.iterdir())


def test_one_worker_is_this_process_and_two_are_others(tmp_path: Path) -> None:
    for workers in (1, 2):
        folder = tmp_path / str(workers)
        folder.mkdir()
        answered([Toy(f"case{i}", folder) for i in range(6)], workers)
        assert (processes(folder) == {os.getpid()}) == (workers == 1)
        assert (os.getpid() in processes(folder)) == (workers == 1)


def test_what_was_answered_earlier_is_not_solved(tmp_path: Path) -> None:
    cases = [Toy(name, tmp_path) for name in ("a", "b", "c")]
    assert answered(cases, 1, {"b": "from before"}) == {"b": ("from before", False), "a": ("A", True), "c": ("C", True)}
    assert {path.name for path in tmp_path.iterdir()} == {"a", "c"}


def test_nothing_left_starts_no_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "joblib", None)
    assert answered([Toy("a", tmp_path)], 2, {"a": "A"}) == {"a": ("A", False)}


@pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals")
def test_a_case_that_ends_its_process_fails_alone(tmp_path: Path) -> None:
    cases = [Toy(f"case{i}", tmp_path, "dies" if i == 2 else "answers") for i in range(8)]
    found = answered(cases, 2)
    assert "process was ended" in found.pop("case2")[0]
    assert found == {case.name: (case.name.upper(), True) for case in cases if case.does == "answers"}


def test_an_interrupt_ends_the_study_though_a_search_took_it_for_its_own() -> None:
    told: list[str] = []

    def search(case: Toy) -> Answer:
        # As a search does that is interrupted: it ends with what it has.
        try:
            signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt:
            return Answer("half an answer")
        return Answer("whole")

    cases = [Toy(name, Path()) for name in ("a", "b")]
    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        run(cases, search, lambda case: None, lambda case, answer, new: told.append(case.name), workers=1)
    assert told == []
    assert signal.getsignal(signal.SIGINT) is before
