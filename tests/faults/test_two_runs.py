"""Two runs at once in one folder: both files whole, or one of the two refused; neither harms the other."""

import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from optimise import demonstration
from optimise.cli import main
from optimise.demonstration import copy_demonstration, demonstration_folder
from optimise.report.study_folder import StudyFolder
from optimise.report.whole import write_folder, write_whole
from tests.faults.world import POSIX, WORKS, everything_in, files_of, half_in, invoke, line_of, whole_of

ROOT = Path(__file__).parents[2]


def test_of_two_that_write_one_file_the_last_one_has_it_whole(tmp_path: Path) -> None:
    texts = [str(number) * 50_000 for number in range(4)]

    def write(text: str) -> None:
        for _ in range(20):
            write_whole(tmp_path / "r.json", text)

    writers = [threading.Thread(target=write, args=(text,)) for text in texts]
    write_whole(tmp_path / "r.json", texts[0])
    for writer in writers:
        writer.start()
    while any(writer.is_alive() for writer in writers):
        assert (tmp_path / "r.json").read_text(encoding="utf-8") in texts
    assert everything_in(tmp_path) == {"r.json"}


def test_of_two_that_make_one_folder_one_has_it_whole_and_the_other_is_told(tmp_path: Path) -> None:
    refused = []

    def write(name: str) -> None:
        try:
            write_folder(tmp_path / "parts", {f"{name}{number}.csv": name for number in range(20)})
        except FileExistsError:
            refused.append(name)

    writers = [threading.Thread(target=write, args=(name,)) for name in "ab"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert len(refused) == 1
    (won,) = {"a", "b"} - set(refused)
    assert files_of(tmp_path) == {f"parts/{won}{number}.csv": won.encode() for number in range(20)}
    assert everything_in(tmp_path) == {"parts", *files_of(tmp_path)}


def test_of_two_starts_one_is_told_and_the_other_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second begins when the first has copied all and named nothing yet."""
    real, told = demonstration.shutil.copytree, []

    def copied(source: Path, *rest: Any, **more: Any) -> Any:
        made = real(source, *rest, **more)
        if Path(source).name == "scenarios" and not told:
            told.append("first")
            told.append(str(len(copy_demonstration(tmp_path / "new"))))
        return made

    monkeypatch.setattr(demonstration.shutil, "copytree", copied)
    done = CliRunner().invoke(main, ["start", str(tmp_path / "new")])
    assert done.exit_code == 2
    assert "is there already; nothing was written" in " ".join(done.stderr.split())
    whole = {
        f"{name}/{path}": content
        for name in ("catalogue", "scenarios")
        for path, content in files_of(demonstration_folder() / name).items()
    }
    assert files_of(tmp_path / "new") == whole
    assert int(told[1]) == len(whole)
    assert not half_in(tmp_path)


@POSIX
def test_a_study_holds_its_folder_and_clears_away_nothing_of_another(workshop: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    first = StudyFolder(out)
    with first.opened():
        half = out / "records" / ".job60--shop--mass.json.abc"
        half.write_text("{", encoding="utf-8")
        done = invoke(WORKS["study"], workshop, tmp_path)
        assert done.exit_code == 4
        assert "another study is at work there; nothing was solved. Try again" in " ".join(done.stderr.split())
        assert half.exists()
    with first.opened():
        assert not half.exists(), "what a run left that is over is cleared away"


@POSIX
def test_where_there_are_no_locks_a_study_works_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import fcntl

    def unable(*_: object) -> None:
        raise OSError(9, "Bad file descriptor")

    monkeypatch.setattr(fcntl, "flock", unable)
    with StudyFolder(tmp_path / "out").opened():
        assert (tmp_path / "out" / "records").is_dir()


def started(line: Sequence[str]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "optimise", *line], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT
    )


@pytest.mark.long
@pytest.mark.parametrize("apart", [0.0, 0.05, 0.2])
@pytest.mark.parametrize("name", WORKS)
def test_real_pairs(name: str, apart: float, workshop: Path, tmp_path: Path) -> None:
    work = WORKS[name]
    alone = tmp_path / "alone"
    alone.mkdir()
    assert invoke(work, workshop, alone).exit_code == 0
    out = tmp_path / "both"
    out.mkdir()
    first = started(line_of(work, workshop, out))
    time.sleep(apart)
    second = started(line_of(work, workshop, out))
    codes, said = [], ""
    for process in (first, second):
        printed = process.communicate(timeout=300)
        said += printed[1]
        codes.append(process.returncode)
    assert "Traceback" not in said
    assert 0 in codes, said
    # The other one may come too late (2), be refused while the first is at work (4), or have nothing to write (4).
    assert set(codes) <= {0, 2, 4}, said
    if not work.keeps and name != "study":
        assert codes == [0, 0], said
    assert whole_of(name, files_of(out)) == whole_of(name, files_of(alone))
    assert not half_in(out)


@pytest.mark.long
@POSIX
@pytest.mark.parametrize("workers", ["1", "2"])
def test_real_studies_of_several_jobs_in_one_folder(workers: str, workshop: Path, tmp_path: Path) -> None:
    line = ["study", str(workshop / "jobs"), "--catalogue", str(workshop / "shop"), "--workers", workers]
    line += ["--objective", "cost", "--objective", "mass", "--objective", "power", "--out", str(tmp_path / "out")]
    processes = [started(line) for _ in range(3)]
    said = [process.communicate(timeout=300)[1] for process in processes]
    codes = sorted(process.returncode for process in processes)
    assert codes[0] == 0, said
    assert set(codes) <= {0, 4}
    assert "Traceback" not in "".join(said)
    table = (tmp_path / "out" / "results.csv").read_text(encoding="utf-8").splitlines()
    assert len(table) == 7
    assert len([path for path in files_of(tmp_path / "out") if path.startswith("records/")]) == 6
