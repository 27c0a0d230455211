"""Output that closes early, is full or has not our signs; keys, memory, files that go: a line and a code."""

import io
import json
import math
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TextIO

import click
import pytest
from click.testing import CliRunner

from optimise import __main__, cli_check, cli_reprice
from optimise.cli import main
from optimise.cli_guard import LOOK_ALIKE, Guarded, guarded_output, output_failed
from tests.faults.world import POSIX, WORKS, line_of


@contextmanager
def streams(out: Any) -> Iterator[io.StringIO]:
    """Have output go there, and yield what is said on standard error; a fixture would be undone before the test."""
    usual, text = (sys.stdout, sys.stderr), io.StringIO()
    sys.stdout, sys.stderr = out, text
    try:
        yield text
    finally:
        sys.stdout, sys.stderr = usual


@contextmanager
def pipe_without_reader() -> Iterator[TextIO]:
    theirs, mine = os.pipe()
    os.close(theirs)
    with open(mine, "w", encoding="utf-8") as file:  # noqa: PTH123 - a descriptor
        yield file


def code_of(*arguments: str) -> int:
    with pytest.raises(SystemExit) as end:
        main(list(arguments))
    assert isinstance(end.value.code, int)
    return end.value.code


@POSIX
def test_a_reader_that_goes_does_not_keep_the_record_from_being_written(workshop: Path, tmp_path: Path) -> None:
    with pipe_without_reader() as pipe, streams(pipe) as said:
        assert code_of(*line_of(WORKS["build"], workshop, tmp_path)) == 4
    assert json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))["status"] == "optimal"
    assert said.getvalue().split() == ["Record:", str(tmp_path / "r.json")]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
@pytest.mark.parametrize("line", [("--help",), ("manual",), ("check", "{W}/shop"), ("sheet", "{W}/built.json")])
def test_output_that_is_full_is_told(line: tuple[str, ...], workshop: Path) -> None:
    line = tuple(word.replace("{W}", str(workshop)) for word in line)
    with Path("/dev/full").open("w", encoding="utf-8") as full, streams(full) as said:
        assert code_of(*line, *(("--out", "-") if line[0] == "sheet" else ())) == 4
    assert said.getvalue() == "Standard output was not written: No space left on device.\n"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_complaints_that_no_one_can_hear_leave_the_code(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        monkeypatch.setattr(sys, "stderr", full)
        assert code_of("check", str(tmp_path / "nothing")) == 2


def test_no_output_at_all_is_none_of_our_business(workshop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", None)
    monkeypatch.setattr(sys, "stdout", None)
    assert code_of("check", str(workshop / "shop")) == 0


@POSIX
def test_who_watches_prices_ends_when_no_one_reads(workshop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cli_reprice, "LOOK_EVERY", math.nan)  # nothing to wait for: it would end with a fault
    line = ("reprice", str(workshop / "built.json"), "--no-spans", "--catalogue", str(workshop / "shop"), "--watch")
    with pipe_without_reader() as pipe, streams(pipe) as said:
        assert code_of(*line) == 4
    assert "Watching" not in said.getvalue()


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_signs_that_a_terminal_has_not_are_told_by_others(encoding: str, tmp_path: Path) -> None:
    target = tmp_path / "said"
    with target.open("w", encoding=encoding) as file, streams(file), guarded_output():
        print("2 × 3 ≥ 5 °C, 1 Ω, naïve ☂")
    told = target.read_text(encoding=encoding)
    expected = {"ascii": "2 x 3 >= 5 deg C, 1 ohm, na?ve ?", "latin-1": "2 × 3 >= 5 °C, 1 ohm, naïve ?"}
    assert told.strip() == expected.get(encoding, expected["latin-1"])


def test_what_stands_for_a_sign_is_in_every_set_of_signs() -> None:
    assert all(other.isascii() and not sign.isascii() for sign, other in LOOK_ALIKE.items())


def run(*arguments: object, encoding: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "optimise", *(str(argument) for argument in arguments)]
    return subprocess.run(
        command, capture_output=True, env=os.environ | {"PYTHONIOENCODING": encoding}, cwd=Path(__file__).parents[2]
    )


def test_a_record_is_the_same_whatever_the_terminal_can_show(workshop: Path, tmp_path: Path) -> None:
    line = line_of(WORKS["measure"], workshop, tmp_path)
    done = run(*line[:-1], "-", encoding="ascii")
    assert done.returncode == 0, done.stderr
    assert CliRunner().invoke(main, line).exit_code == 0
    written = (tmp_path / "m.json").read_bytes()
    assert done.stdout == written
    assert not written.isascii()
    assert done.stderr == b""


STOPS = {
    "Ctrl-C": (KeyboardInterrupt(), "Stopped before there was an answer."),
    "memory": (MemoryError(), "Stopped: there is not enough memory for this."),
    "disk": (OSError(5, "Input/output error", "a.csv"), "Stopped: 'a.csv': Input/output error."),
    "folder": (OSError(2, "No such file or directory"), "Stopped: No such file or directory."),
    "library": (ImportError("no module"), "Stopped: a part of rushlight cannot be loaded: ImportError: no module."),
}


@pytest.mark.parametrize("name", STOPS)
def test_what_stops_a_command_is_a_line_and_a_code(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    fault, line = STOPS[name]

    def stop(*_: object) -> None:
        raise fault

    monkeypatch.setattr(cli_check, "read_all", stop)
    done = CliRunner().invoke(main, ["check", "shop"])
    assert (done.exit_code, done.stderr, done.stdout) == (4, f"{line}\n", "")


@pytest.mark.parametrize("fault", [KeyboardInterrupt(), MemoryError(), ImportError("no pulp")])
def test_what_stops_the_loading_is_a_line_and_a_code(
    fault: BaseException, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    real = __import__

    def stop(name: str, *rest: Any) -> Any:
        if name == "optimise.cli":
            raise fault
        return real(name, *rest)

    monkeypatch.setattr("builtins.__import__", stop)
    with pytest.raises(SystemExit) as end:
        __main__.run()
    assert end.value.code == 4
    told = capsys.readouterr().err
    assert told.startswith("Stopped")
    assert len(told.splitlines()) == 1


def test_a_fault_of_ours_is_not_hidden() -> None:
    @click.command()
    def wrong() -> None:
        raise ValueError("a fault of ours")

    group = Guarded("tool")
    group.add_command(wrong)
    assert isinstance(CliRunner().invoke(group, ["wrong"]).exception, ValueError)
    assert not output_failed()


@POSIX
def test_a_folder_that_is_gone_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, workshop: Path) -> None:
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()
    done = CliRunner().invoke(main, ["check", "shop"])
    assert done.exit_code == 2
    assert "shop" in done.stderr
    done = CliRunner().invoke(main, ["sheet", str(workshop / "built.json"), "--out", "s.html"])
    assert done.exit_code == 4
    assert "No such file or directory" in done.stderr
