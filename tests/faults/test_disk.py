"""A full disk, a folder that may not be written to: a clear line, the code for no answer, old files whole."""

import os
import resource
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from optimise.cli import main
from optimise.report import whole
from optimise.report.whole import whole_folder, write_folder, write_whole
from tests.faults.world import POSIX, WORKS, everything_in, files_of, half_in, in_a_fork, invoke

FULL = OSError(28, "No space left on device")


class Failing:
    """A file that is open, with a step of it failing."""

    def __init__(self, file: Any, step: str) -> None:
        self.file, self.step = file, step

    def __enter__(self) -> "Failing":
        return self

    def __exit__(self, *_: object) -> None:
        self.file.close()
        if self.step == "close":
            raise FULL

    def write(self, data: bytes) -> None:
        self.file.write(data[: len(data) // 2] if self.step == "write" else data)
        if self.step == "write":
            raise FULL

    def flush(self) -> None:
        self.file.flush()
        if self.step == "flush":
            raise FULL

    def fileno(self) -> int:
        number: int = self.file.fileno()
        return number


def fail(*_: object, **__: object) -> None:
    raise FULL


def full_when_renamed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Path, "replace", fail)
    monkeypatch.setattr(Path, "rename", fail)


@pytest.fixture(params=["make", "write", "flush", "fsync", "close", "chmod", "rename"])
def full_at(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """The disk is full at one step of writing."""
    step: str = request.param
    if step == "make":
        monkeypatch.setattr(whole.tempfile, "mkstemp", fail)
        monkeypatch.setattr(whole.tempfile, "mkdtemp", fail)
    elif step in {"fsync", "chmod"}:
        monkeypatch.setattr({"fsync": os, "chmod": Path}[step], step, fail)
    elif step == "rename":
        full_when_renamed(monkeypatch)
    else:
        from_number, from_path = os.fdopen, Path.open
        monkeypatch.setattr(whole.os, "fdopen", lambda *a, **k: Failing(from_number(*a, **k), step))
        monkeypatch.setattr(Path, "open", lambda *a, **k: Failing(from_path(*a, **k), step))
    return step


def test_a_file_is_the_old_one_or_the_new_one(full_at: str, tmp_path: Path) -> None:
    with (tmp_path / "r.json").open("wb") if full_at not in {"write", "flush", "close"} else _plain(tmp_path) as file:
        file.write(b"old")
    with pytest.raises(OSError, match="No space"):
        write_whole(tmp_path / "r.json", "new")
    assert everything_in(tmp_path) == {"r.json"}
    assert (tmp_path / "r.json").stat().st_size == 3


@contextmanager
def _plain(folder: Path) -> Iterator[Any]:
    number = os.open(folder / "r.json", os.O_WRONLY | os.O_CREAT)

    class Plain:
        def write(self, data: bytes) -> None:
            os.write(number, data)

    yield Plain()
    os.close(number)


def test_a_folder_is_there_whole_or_not_at_all(full_at: str, tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No space"):
        write_folder(tmp_path / "parts", {"a.csv": "a", "b.csv": b"b"})
    assert everything_in(tmp_path) == set()


def test_a_folder_that_came_to_be_there_meanwhile_is_kept(tmp_path: Path) -> None:
    def late() -> None:
        with whole_folder(tmp_path / "parts") as beside:
            (beside / "a.csv").write_text("new", encoding="utf-8")
            write_folder(tmp_path / "parts", {"a.csv": "old"})

    with pytest.raises(FileExistsError) as told:
        late()
    assert told.value.filename == str(tmp_path / "parts")
    assert files_of(tmp_path) == {"parts/a.csv": b"old"}
    assert everything_in(tmp_path) == {"parts", "parts/a.csv"}


def test_a_disk_that_knows_no_fsync_is_written_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def unable(number: int) -> None:
        raise OSError(22, "Invalid argument")

    monkeypatch.setattr(os, "fsync", unable)
    write_whole(tmp_path / "r.json", "new")
    assert files_of(tmp_path) == {"r.json": b"new"}


@POSIX
def test_a_link_stays_and_what_it_leads_to_is_written(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "r.json").write_text("old", encoding="utf-8")
    (tmp_path / "link.json").symlink_to("there/r.json")
    write_whole(tmp_path / "link.json", "new")
    assert (tmp_path / "link.json").is_symlink()
    assert files_of(tmp_path / "there") == {"r.json": b"new"}


@POSIX
def test_a_pipe_or_a_device_is_given_the_file_and_stays(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    reader = subprocess.Popen(["cat", str(tmp_path / "pipe")], stdout=subprocess.PIPE)
    write_whole(tmp_path / "pipe", "new")
    assert reader.communicate(timeout=60)[0] == b"new"
    assert (tmp_path / "pipe").is_fifo()
    if Path("/dev/full").is_char_device():
        with pytest.raises(OSError, match="No space"):
            write_whole(Path("/dev/full"), "new")
        assert Path("/dev/full").is_char_device()


def test_files_of_the_demonstration_that_do_not_fit_are_told_with_a_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "copyfile", fail)
    done = CliRunner().invoke(main, ["start", str(tmp_path / "new")])
    assert done.exit_code == 4
    assert done.stderr == f"{tmp_path / 'new'}: No space left on device; nothing usable was written.\n"
    assert everything_in(tmp_path) == set()


QUICK = {
    *("build", "sheet", "measure --form", "prices", "check --convert to a folder", "start", "start --template"),
}
EACH = pytest.mark.parametrize(
    "name", [name if name in QUICK else pytest.param(name, marks=pytest.mark.long) for name in WORKS]
)


@EACH
def test_a_full_disk_ends_a_command_with_a_line(
    name: str, workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    work = WORKS[name]
    for written in work.writes if not work.keeps else ():
        if "." in written:
            (tmp_path / written).write_text("old", encoding="utf-8")
    before = files_of(tmp_path)
    full_when_renamed(monkeypatch)
    done = invoke(work, workshop, tmp_path)
    assert done.exit_code == 4, done.output
    assert "No space left on device" in " ".join(done.stderr.split())
    assert "Traceback" not in done.output
    assert files_of(tmp_path) == before
    assert not half_in(tmp_path)


@contextmanager
def without_rights(folder: Path) -> Iterator[None]:
    """Have this process be held to the rights of a folder that no one may write to."""
    folder.chmod(0o555)
    root = os.geteuid() == 0
    try:
        if root:
            os.seteuid(65534)
        yield
    finally:
        if root:
            os.seteuid(0)
        folder.chmod(0o755)


@POSIX
@EACH
def test_a_folder_that_may_not_be_written_to_is_told(name: str, workshop: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="faults-") as folder:
        for number, ready in enumerate((True, False)):
            out = Path(folder) / str(number)
            out.mkdir()
            Path(folder).chmod(0o755)
            if ready:  # once with all rights: what a command loads when it runs is loaded then
                assert invoke(WORKS[name], workshop, out).exit_code == 0
                continue
            with without_rights(out):
                done = invoke(WORKS[name], workshop, out)
            assert done.exit_code == (2 if name == "study" else 4), done.output
            assert "Permission denied" in " ".join(done.stderr.split())
            assert everything_in(out) == set()


def limited(does: Callable[[], object], most: int) -> int:
    """Do something in a process whose files may have so many bytes at most."""

    def inside() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
        does()

    return in_a_fork(inside)


@POSIX
def test_a_real_limit_of_the_size_of_files_leaves_the_old_one(tmp_path: Path) -> None:
    write_whole(tmp_path / "r.json", "old")

    def does() -> None:
        try:
            write_whole(tmp_path / "r.json", "x" * 100_000)
        except OSError as error:
            raise SystemExit(7 if error.strerror == "File too large" else 8) from None

    assert limited(does, 4096) == 7
    assert files_of(tmp_path) == {"r.json": b"old"}
    assert everything_in(tmp_path) == {"r.json"}


@pytest.mark.long
@POSIX
@pytest.mark.parametrize("name", WORKS)
def test_a_disk_that_is_really_full(name: str, workshop: Path, tmp_path: Path) -> None:
    """A disk in memory of 64 KiB, of which all but a few KiB are taken."""
    disk = tmp_path / "disk"
    disk.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "none", str(disk)], capture_output=True)
    if made.returncode:
        pytest.skip("no disk may be mounted here")
    try:
        (disk / "kept").write_bytes(b"x" * 56 * 1024)
        (disk / "out").mkdir()
        done = invoke(WORKS[name], workshop, disk / "out")
        small = WORKS[name].line[0] in {"measure", "prices"} or name == "build --bill" or name == "build --bill-each"
        if done.exit_code == 0:
            assert small or name in {"trade --csv", "check --convert to a workbook", "build --bill xlsx"}, name
        else:
            assert done.exit_code == 4, done.output
            assert "No space left on device" in " ".join(done.stderr.split())
            told = files_of(disk / "out")
            assert not {path for path in told if not path.startswith("out/records/")}, told
        assert not half_in(disk / "out")
    finally:
        subprocess.run(["umount", str(disk)], check=True)
