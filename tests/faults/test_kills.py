"""Kill, terminate and Ctrl-C at any moment: old files whole, no half one under a final name, the next run well.

By default each step at which writing may be stopped is stopped at, one by one; the long tests stop whole commands at
random moments (ROUNDS for each command and signal).
"""

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from optimise.demonstration import copy_demonstration
from optimise.report.whole import write_folder, write_whole
from tests.faults.world import POSIX, WORKS, everything_in, files_of, half_in, in_a_fork, line_of, whole_of

pytestmark = POSIX
ROOT = Path(__file__).parents[2]
ROUNDS = 8
STEPS = {"open", "os.rename", "os.chmod", "os.remove", "os.rmdir", "os.mkdir", "tempfile.mkstemp", "tempfile.mkdtemp"}
"""Events of Python's own audit (PEP 578) that tell of a change of the disk to come."""


def stopped_at(step: int, does: Callable[[], object], *, by_key: bool) -> int:
    """Do something in another process, which is stopped as it is about to take a step; return how it ended."""

    def inside() -> None:
        left = step

        def hear(event: str, _: tuple[object, ...]) -> None:
            nonlocal left
            if event in STEPS:
                left -= 1
                if left == 0 and by_key:
                    raise KeyboardInterrupt
                if left == 0:
                    os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(hear)
        try:
            does()
        except KeyboardInterrupt:
            raise SystemExit(4) from None

    return in_a_fork(inside)


WRITERS: dict[str, tuple[Callable[[Path], object], int]] = {
    "file": (lambda folder: write_whole(folder / "r.json", "new" * 9000), 1),
    "folder": (lambda folder: write_folder(folder / "parts", {"a.csv": "a" * 9000, "b.csv": "b"}), 1),
    "start": (lambda folder: copy_demonstration(folder / "new"), 17),
    "start in a folder": (lambda folder: copy_demonstration(folder), 17),
}
"""By name: what writes, and every how manyth of its steps is stopped at."""

LEFT = {"r", "parts", "new", "catalogue", "scenarios"}
"""What a kill may leave has one of these names behind a dot."""


@pytest.mark.parametrize("by_key", [False, True], ids=["kill", "Ctrl-C"])
@pytest.mark.parametrize("name", WRITERS)
def test_at_every_step_what_is_there_is_whole(name: str, by_key: bool, tmp_path: Path) -> None:
    does, every = WRITERS[name]
    whole = tmp_path / "whole"
    whole.mkdir()
    does(whole)
    new = files_of(whole)
    assert not half_in(whole)
    step, stops = 1, 0
    while True:
        out = tmp_path / str(step)
        out.mkdir()
        if name == "file":
            (out / "r.json").write_text("old", encoding="utf-8")
        code = stopped_at(step, lambda out=out: does(out), by_key=by_key)  # type: ignore[misc]
        if code == 0:
            break
        assert code == (4 if by_key else -signal.SIGKILL)
        stops, step = stops + 1, step + every
        found = files_of(out)
        folders = {path.split("/")[-2] if "/" in path else "" for path in found}
        if name == "file":
            assert found == {"r.json": b"old"} or found == new
        elif name == "start":
            assert found in ({}, new)
        else:
            # A folder is there with all its files, or not at all.
            assert found == {path: text for path, text in new.items() if set(path.split("/")[:-1]) & folders}
        left = [path for path in everything_in(out) if Path(path).name.startswith(".")]
        assert not (by_key and left), "what is stopped by a key clears up"
        assert all(Path(path).name.split(".")[1] in LEFT for path in left), left
        if name == "file" or not found:
            does(out)
            assert files_of(out) == new, "the next run is well"
    assert stops >= 3


ZYGOTE = """
import json, os, signal, sys
import optimise.cli, optimise.report.sheet.page, optimise.report.front_page.page, optimise.report.measured
import optimise.report.sheet.dxf, optimise.studies.measured, joblib, openpyxl, pyarrow.parquet, ezdxf

for text in sys.stdin:
    asked = json.loads(text)
    child = os.fork()
    if not child:
        code = 1
        try:
            os.setsid()
            said = os.open(asked["said"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            pipe = os.dup(1)
            for number in (1, 2):
                os.dup2(said, number)
            sys.stdin = open(os.devnull)
            os.write(pipe, b"%d\\n" % os.getpid())
            os.close(pipe)
            optimise.cli.main(asked["line"])
        except SystemExit as end:
            code = end.code or 0
        finally:
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            os._exit(code)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
"""Has all modules loaded, and forks a process for each command that it is sent: many rounds in little time."""


class Runs:
    """Commands, one after the other, each of which may be sent a signal."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", ZYGOTE], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
        )

    def run(self, line: list[str], said: Path, after: float | None = None, number: int = 0) -> int:
        """Run a command to its end, after so many seconds with a signal; return its code."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps({"line": line, "said": str(said)}) + "\n")
        self.process.stdin.flush()
        own = int(self.process.stdout.readline())
        if after is not None:
            time.sleep(after)
            with contextlib.suppress(ProcessLookupError):
                os.kill(own, number)
        return int(self.process.stdout.readline())


@pytest.fixture(scope="module")
def runs() -> Iterator[Runs]:
    made = Runs()
    yield made
    made.process.communicate(timeout=60)


@pytest.mark.long
@pytest.mark.parametrize("sent", ["SIGKILL", "SIGINT", "SIGTERM"])
@pytest.mark.parametrize("name", [*WORKS, "study of two workers"])
def test_at_random_moments(name: str, sent: str, runs: Runs, workshop: Path, tmp_path: Path) -> None:
    work = WORKS[name.removesuffix(" of two workers")]

    def line(out: Path) -> list[str]:
        made = line_of(work, workshop, out)
        return [*made[:-1], "2"] if name.endswith("workers") else made

    alone = tmp_path / "alone"
    alone.mkdir()
    began = time.monotonic()
    assert runs.run(line(alone), tmp_path / "said") == 0, (tmp_path / "said").read_text(encoding="utf-8")
    takes = time.monotonic() - began
    new, dice = whole_of(name, files_of(alone)), random.Random(f"{name} {sent}")
    ends: list[int] = []
    for number in range(ROUNDS):
        out = tmp_path / str(number)
        out.mkdir()
        old = {path: b"old" for path in work.writes if not work.keeps and "." in path}
        for path, content in old.items():
            (out / path).write_bytes(content)
        code = runs.run(line(out), tmp_path / "said", dice.uniform(0.0, takes), getattr(signal, sent))
        said = (tmp_path / "said").read_text(encoding="utf-8")
        ends.append(code)
        allowed = {0, 4} if sent == "SIGINT" else {0, -getattr(signal, sent)}
        assert code in allowed, said
        # Python itself tells of a key that came while it tidied up, and goes on.
        assert "Traceback" not in said or "Exception ignored in" in said, said
        found = files_of(out)
        fresh = whole_of(name, {path: content for path, content in found.items() if old.get(path) != content})
        for path, content in fresh.items():
            # A search that was interrupted answers with the best that it knows: whole, if not the best there is.
            assert content == new[path] or (code == 0 and sent == "SIGINT" and path.endswith(tuple(old))), path
        assert set(old) <= set(found)
        again = runs.run(line(out), tmp_path / "said")
        said = (tmp_path / "said").read_text(encoding="utf-8")
        assert again in ({0, 2} if work.keeps else {0}), said
        if again == 2:
            assert "already" in said or "holds files" in said, said
        if again == 0 and name != "start with a job":
            assert whole_of(name, files_of(out)) == new
    print(name, sent, f"{takes:.2f} s", ends)


@pytest.mark.long
def test_ctrl_c_while_the_command_loads(tmp_path: Path) -> None:
    """A process of its own, from the start of Python: at worst Python says itself that it was interrupted."""
    dice = random.Random(3)
    silent = 0
    for _ in range(30):
        process = subprocess.Popen(
            [sys.executable, "-m", "optimise", "start", str(tmp_path / "new")],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
        )
        time.sleep(dice.uniform(0.3, 1.5))
        process.send_signal(signal.SIGINT)
        said: Any = process.communicate(timeout=60)[1]
        silent += "Traceback" not in said
        assert process.returncode in {0, 1, 2, 4, -2}, said
        if process.returncode == 4:
            assert said.startswith("Stopped")
    print(f"{silent} of 30 without a traceback")
    assert silent >= 20
