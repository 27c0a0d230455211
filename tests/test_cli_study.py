"""The command `study` as a person uses it: one clear report, one table, and on after any stop."""

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import jsonschema
import openpyxl
import pytest
from click.testing import CliRunner, Result

import optimise.study_cases
from optimise import cli_study
from optimise.cli import main
from optimise.model.solver import SolverError
from optimise.report import record as record_module
from optimise.report import study_folder
from optimise.report.record import json_schema
from optimise.studies.batch import Answer
from optimise.study_cases import StudyCase, solve_case
from tests.few_parts import write_few_parts, write_job

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_few_parts(tmp_path_factory.mktemp("few") / "shop")


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("jobs")
    write_job(folder / "dim.toml", 60.0)
    write_job(folder / "usual.toml", 120.0)
    write_job(folder / "glaring.toml", 4000.0)
    return folder


def study(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["study", *(str(argument) for argument in arguments)])


def rows(out: Path) -> list[dict[str, str]]:
    with (out / "results.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def written(out: Path) -> set[str]:
    return {str(path.relative_to(out)) for path in out.rglob("*") if path.is_file()}


@pytest.fixture
def solved(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return a list that gets the name of each case solved in this process."""
    names: list[str] = []

    def noted(case: StudyCase) -> Answer:
        names.append(case.name)
        return solve_case(case)

    monkeypatch.setattr(cli_study, "solve_case", noted)
    return names


def test_every_scenario_on_every_catalogue_for_every_objective(shop: Path, jobs: Path, tmp_path: Path) -> None:
    dearer = write_few_parts(tmp_path / "dearer", dearer=100)
    out = tmp_path / "new" / "out"
    command = [jobs, "--catalogue", shop, "--catalogue", dearer, "--objective", "cost", "--objective", "mass"]
    result = study(*command, "--out", out, "--workers", 2)
    assert result.exit_code == 0, result.stderr
    assert result.stderr == ""
    table = rows(out)
    keys = [(row["scenario"], row["catalogue"], row["objective"]) for row in table]
    assert keys == [
        (job, catalogue, objective)
        for job in ("dim", "glaring", "usual")
        for catalogue in ("dearer", "shop")
        for objective in ("cost", "mass")
    ]
    assert {row["status"] for row in table if row["scenario"] == "glaring"} == {"impossible"}
    assert {row["conflict"] for row in table if row["scenario"] == "glaring"} == {"illuminance"}
    assert {row["status"] for row in table if row["scenario"] != "glaring"} == {"optimal"}
    cost = {key: float(row["cost"]) for key, row in zip(keys, table, strict=True) if row["cost"]}
    assert cost["usual", "dearer", "cost"] > cost["usual", "shop", "cost"]
    assert cost["usual", "shop", "mass"] > cost["usual", "shop", "cost"]
    assert "12 cases: 8 optimal, 4 impossible." in result.stdout
    assert "results.csv" in result.stdout


def test_records_are_those_of_a_build(shop: Path, jobs: Path, tmp_path: Path) -> None:
    study(jobs / "dim.toml", "--catalogue", shop, "--out", tmp_path / "out")
    single = tmp_path / "single.json"
    CliRunner().invoke(main, ["build", str(jobs / "dim.toml"), "--catalogue", str(shop), "--json", str(single)])
    one, other = (
        json.loads(path.read_text(encoding="utf-8"))
        for path in (single, tmp_path / "out" / "records" / "dim--shop--mass.json")
    )
    jsonschema.validate(other, json.loads(json_schema()))
    one["proof"]["seconds"] = other["proof"]["seconds"]
    assert one == other


def test_a_scenario_has_its_own_objective(shop: Path, jobs: Path, tmp_path: Path, solved: list[str]) -> None:
    # The file, its folder, and another way to it: the same scenario three times is one.
    ways = jobs / "dim.toml", jobs, jobs / ".." / jobs.name / "dim.toml"
    result = study(*ways, "--catalogue", shop, "--out", tmp_path, "--workers", 1)
    assert result.exit_code == 0
    assert sorted(solved) == ["dim--shop--mass", "glaring--shop--mass", "usual--shop--mass"]


def test_same_bytes_for_any_number_of_workers(shop: Path, jobs: Path, tmp_path: Path) -> None:
    for workers in (1, 2):
        study(jobs, "--catalogue", shop, "--out", tmp_path / str(workers), "--workers", workers)
    first, second = (written(tmp_path / str(workers)) for workers in (1, 2))
    assert first == second
    for name in first:
        if name.startswith("results."):
            assert (tmp_path / "1" / name).read_bytes() == (tmp_path / "2" / name).read_bytes()


def test_nothing_is_solved_twice(shop: Path, jobs: Path, tmp_path: Path, solved: list[str]) -> None:
    command = (jobs, "--catalogue", shop, "--out", tmp_path, "--workers", 1)
    assert study(*command).exit_code == 0
    before = {name: (tmp_path / name).read_bytes() for name in written(tmp_path)}
    assert len(solved) == 3
    result = study(*command)
    assert result.exit_code == 0
    assert len(solved) == 3
    assert "3 kept from an earlier run" in result.stdout
    assert {name: (tmp_path / name).read_bytes() for name in written(tmp_path)} == before


@pytest.mark.parametrize(
    "change", ["scenario", "catalogue", "time limit", "objective", "version", "record", "worst case"]
)
def test_what_has_changed_is_solved_again(
    change: str, shop: Path, tmp_path: Path, solved: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = tmp_path / "mine"
    shutil.copytree(shop, mine)
    write_job(tmp_path / "jobs" / "one.toml", 60.0)
    write_job(tmp_path / "jobs" / "two.toml", 80.0)
    out = tmp_path / "out"
    command: list[object] = [tmp_path / "jobs", "--catalogue", shop, "--catalogue", mine, "--out", out, "--workers", 1]
    assert study(*command).exit_code == 0
    every = {"one--mine--mass", "one--shop--mass", "two--mine--mass", "two--shop--mass"}
    assert set(solved) == every
    solved.clear()
    again = every
    if change == "scenario":
        write_job(tmp_path / "jobs" / "two.toml", 80.0, title="Another title")
        again = {"two--mine--mass", "two--shop--mass"}
    elif change == "catalogue":
        with (mine / "offers.csv").open("a", encoding="utf-8") as file:
            file.write("LED-BAR9-5692,own,,,,1,,\n")
        again = {"one--mine--mass", "two--mine--mass"}
    elif change == "time limit":
        command += ["--time-limit", 500]
    elif change == "objective":
        command += ["--objective", "cost", "--objective", "mass"]
        again = {name.replace("mass", "cost") for name in every}
    elif change == "version":
        monkeypatch.setattr(optimise.study_cases, "__version__", "9.9.9")
        monkeypatch.setattr(record_module, "__version__", "9.9.9")
    elif change == "worst case":
        other = out / "records" / "one--shop--mass.json"
        text = other.read_text(encoding="utf-8")
        other.write_text(text.replace('"worst_case": false', '"worst_case": true'), encoding="utf-8")
        again = {"one--shop--mass"}
    else:
        torn = out / "records" / "one--shop--mass.json"
        torn.write_text(torn.read_text(encoding="utf-8")[:-40], encoding="utf-8")
        again = {"one--shop--mass"}
    assert study(*command).exit_code == 0
    assert set(solved) == again
    solved.clear()
    assert study(*command).exit_code == 0
    assert solved == []


def test_files_of_one_name_do_not_collide(shop: Path, tmp_path: Path) -> None:
    shutil.copytree(shop, tmp_path / "else" / "shop")
    for folder, lux in (("may", 60.0), ("june", 160.0)):
        write_job(tmp_path / folder / "job.toml", lux)
    result = study(
        tmp_path / "may", tmp_path / "june", "--catalogue", shop, "--catalogue", tmp_path / "else" / "shop",
        "--out", tmp_path / "out",
    )  # fmt: skip
    assert result.exit_code == 0
    table = rows(tmp_path / "out")
    assert {row["scenario"] for row in table} == {"may/job", "june/job"}
    assert {row["catalogue"] for row in table} == {f"{shop.parent.name}/shop", "else/shop"}
    masses = {(row["scenario"], row["mass [kg]"]) for row in table}
    assert len(masses) == 2
    assert len(list((tmp_path / "out" / "records").iterdir())) == 4


def test_a_name_that_is_a_formula_is_text(shop: Path, tmp_path: Path) -> None:
    write_job(tmp_path / "=1+1.toml", 60.0)
    result = study(tmp_path / "=1+1.toml", "--catalogue", shop, "--out", tmp_path / "out")
    assert result.exit_code == 0
    assert rows(tmp_path / "out")[0]["scenario"] == "'=1+1"


def test_all_faults_of_all_files_at_once_and_nothing_written(shop: Path, jobs: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken"
    shutil.copytree(shop, broken)
    text = (broken / "panels.csv").read_text(encoding="utf-8")
    (broken / "panels.csv").write_text(text.replace("PAN-AL-30x30", "PAN-FOAM-50x50"), encoding="utf-8")
    for name in ("a", "b"):
        write_job(tmp_path / name / "job.toml", limits='bugdet = "20 EUR"')
    dollars = write_job(tmp_path / "dollars.toml")
    dollars.write_text(dollars.read_text(encoding="utf-8").replace("450 EUR", "450 USD"), encoding="utf-8")
    (tmp_path / "empty").mkdir()
    result = study(
        jobs, tmp_path / "a", tmp_path / "b", dollars, tmp_path / "empty", tmp_path / "none.toml",
        "--catalogue", shop, "--catalogue", broken, "--catalogue", tmp_path / "nowhere", "--out", tmp_path / "out",
    )  # fmt: skip
    assert result.exit_code == 2
    told = " ".join(result.stderr.split())
    for words in (
        f"{tmp_path / 'a' / 'job.toml'} line",
        f"{tmp_path / 'b' / 'job.toml'} line",
        'Did you mean "budget"?',
        f"{dollars} with {shop}, key buying.rates",
        f"{tmp_path / 'empty'}",
        f"{tmp_path / 'none.toml'}",
        f"{broken / 'panels.csv'} line",
        "every code once",
        f"{tmp_path / 'nowhere'}",
    ):
        assert "".join(words.split()) in "".join(told.split()), words
    assert "Traceback" not in result.stderr
    assert result.stdout == ""
    assert not (tmp_path / "out").exists()


def test_a_workbook_is_a_catalogue_as_any_other(shop: Path, tmp_path: Path) -> None:
    book = tmp_path / "shop.xlsx"
    assert CliRunner().invoke(main, ["check", str(shop), "--convert", str(book)]).exit_code == 0
    job = write_job(tmp_path / "job.toml", 60.0)
    assert study(job, "--catalogue", shop, "--catalogue", book, "--out", tmp_path / "out").exit_code == 0
    one, other = rows(tmp_path / "out")
    assert {row.pop("catalogue") for row in (one, other)} == {"shop", "shop.xlsx"}
    assert one == other
    sheets = openpyxl.load_workbook(book)
    sheets["panels"]["A3"].value = "=1"
    sheets.save(book)
    told = study(job, "--catalogue", book, "--out", tmp_path / "other").stderr
    assert "".join(f"{book}, sheet panels, row 3, column part".split()) in "".join(told.split())


@pytest.mark.parametrize("what", ["a file", "other files", "below a file"])
def test_a_folder_that_is_not_for_studies_is_refused(what: str, shop: Path, jobs: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    if what == "other files":
        out.mkdir()
        (out / "results.csv").write_text("mine", encoding="utf-8")
    else:
        out.write_text("mine", encoding="utf-8")
        out = out / "below" if what == "below a file" else out
    result = study(jobs, "--catalogue", shop, "--out", out)
    assert result.exit_code == 2
    assert "--out" in result.stderr
    assert "nothing was solved" in result.stderr
    mine = tmp_path / "out" / "results.csv" if what == "other files" else tmp_path / "out"
    assert mine.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    "options",
    [
        ("--workers", "0"),
        ("--time-limit", "0"),
        ("--objective", "beauty"),
        ("--workers", "2", "--dask", "tcp://a:1"),
        (),
    ],
)
def test_wrong_options_are_two(options: tuple[str, ...], shop: Path, jobs: Path, tmp_path: Path) -> None:
    scenarios = [jobs] if options else []
    result = study(*scenarios, "--catalogue", shop, "--out", tmp_path / "out", *options)
    assert result.exit_code == 2
    assert not (tmp_path / "out").exists()


def test_a_case_that_fails_is_a_row_and_tried_again(
    shop: Path, jobs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = optimise.study_cases.best_build

    def sometimes(catalogue, scenario, objective):  # type: ignore[no-untyped-def]
        if scenario.light.illuminance == 60.0:
            raise SolverError("the solver failed")
        return real(catalogue, scenario, objective)

    command = (jobs, "--catalogue", shop, "--out", tmp_path, "--workers", 1)
    monkeypatch.setattr(optimise.study_cases, "best_build", sometimes)
    result = study(*command)
    assert result.exit_code == 4
    assert "dim--shop--mass failed: SolverError: the solver failed" in result.stderr
    assert {row["scenario"]: row["status"] for row in rows(tmp_path)} == {
        "dim": "failed",
        "glaring": "impossible",
        "usual": "optimal",
    }
    assert not (tmp_path / "records" / "dim--shop--mass.json").exists()
    monkeypatch.setattr(optimise.study_cases, "best_build", real)
    result = study(*command)
    assert result.exit_code == 0
    assert "2 kept from an earlier run" in result.stdout
    assert {row["status"] for row in rows(tmp_path)} == {"optimal", "impossible"}


def test_a_full_disk_keeps_what_is_answered(
    shop: Path, jobs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, times = study_folder.write_whole, iter(range(100))

    def once(path: Path, content: str | bytes) -> None:
        if next(times):
            raise OSError(28, "No space left on device", str(path))
        real(path, content)

    command = (jobs, "--catalogue", shop, "--out", tmp_path, "--workers", 1)
    monkeypatch.setattr(study_folder, "write_whole", once)
    result = study(*command)
    assert result.exit_code == 4
    assert "was not written: No space left on device. 1 of 3 cases are answered" in result.stderr
    assert len(written(tmp_path)) == 1
    monkeypatch.setattr(study_folder, "write_whole", real)
    result = study(*command)
    assert result.exit_code == 0
    assert "1 kept from an earlier run" in result.stdout


def test_no_time_is_four_or_an_honest_answer(shop: Path, jobs: Path, tmp_path: Path) -> None:
    result = study(jobs, "--catalogue", shop, "--out", tmp_path, "--workers", 1, "--time-limit", "0.001")
    found = {row["status"] for row in rows(tmp_path)}
    assert found <= {"stopped", "feasible", "impossible", "optimal"}
    assert result.exit_code == (4 if "stopped" in found else 0)


def command_line(*arguments: object) -> list[str]:
    start = "from optimise.cli import main; main()"
    return [sys.executable, "-c", start, "study", *(str(argument) for argument in arguments)]


def started(*arguments: object) -> subprocess.Popen[str]:
    """Start the command in a process group of its own, as a terminal would."""
    return subprocess.Popen(
        command_line(*arguments), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def wait_for_a_record(process: subprocess.Popen[str], out: Path) -> None:
    until = time.monotonic() + 120
    while not list(out.glob("records/[!.]*.json")):
        assert process.poll() is None, "it ended before there was a record"
        assert time.monotonic() < until, "there is no record"
        time.sleep(0.002)


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("many")
    for number in range(10):
        write_job(folder / f"job{number}.toml", 60.0 + 15.0 * number)
    return folder


@pytest.fixture(scope="module")
def uninterrupted(shop: Path, many: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("whole")
    assert study(many, "--catalogue", shop, "--out", out, "--workers", 2).exit_code == 0
    return out


@POSIX
@pytest.mark.parametrize("workers", [2])
def test_after_a_kill_it_goes_on(shop: Path, many: Path, uninterrupted: Path, tmp_path: Path, workers: int) -> None:
    out = tmp_path / "out"
    command = (many, "--catalogue", shop, "--out", out, "--workers", workers)
    process = started(*command)
    wait_for_a_record(process, out)
    process.send_signal(signal.SIGKILL)
    process.communicate(timeout=60)
    before = {path: path.stat().st_mtime_ns for path in (out / "records").glob("[!.]*.json")}
    assert 1 <= len(before) < 10
    assert not (out / "results.csv").exists()
    # As if the kill had come while a record was being written.
    (out / "records" / ".job9--shop--mass.json.abc").write_text("{", encoding="utf-8")
    result = study(*command)
    assert result.exit_code == 0
    assert f"{len(before)} kept from an earlier run" in result.stdout
    assert {path: path.stat().st_mtime_ns for path in before} == before
    assert written(out) == written(uninterrupted)
    for name in ("results.csv", "results.parquet"):
        if (uninterrupted / name).exists():
            assert (out / name).read_bytes() == (uninterrupted / name).read_bytes()


@POSIX
def test_a_kill_leaves_no_process(shop: Path, many: Path, tmp_path: Path) -> None:
    process = started(many, "--catalogue", shop, "--out", tmp_path / "out", "--workers", 2)
    wait_for_a_record(process, tmp_path / "out")
    process.send_signal(signal.SIGKILL)
    process.communicate(timeout=60)
    until = time.monotonic() + 60
    while time.monotonic() < until:
        try:
            os.killpg(process.pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    os.killpg(process.pid, signal.SIGKILL)
    raise AssertionError("processes of the study lived on")


@POSIX
@pytest.mark.parametrize("workers", [1])
def test_ctrl_c_keeps_what_is_answered(shop: Path, many: Path, tmp_path: Path, workers: int) -> None:
    out = tmp_path / "out"
    process = started(many, "--catalogue", shop, "--out", out, "--workers", workers)
    wait_for_a_record(process, out)
    os.killpg(process.pid, signal.SIGINT)
    stdout, stderr = process.communicate(timeout=60)
    assert process.returncode == 4, stderr
    assert stdout == ""
    kept = list((out / "records").iterdir())
    assert 1 <= len(kept) < 10
    assert f"Stopped. {len(kept)} of 10 cases are answered" in stderr
    assert "the same command goes on" in stderr
    assert len(stderr.strip().splitlines()) == 1
    # A search that is interrupted has an answer of a kind; that must not be taken for the case's.
    assert {json.loads(path.read_text(encoding="utf-8"))["status"] for path in kept} == {"optimal"}
    assert written(out) == {f"records/{path.name}" for path in kept}


@POSIX
def test_a_terminal_sees_how_far_it_is(shop: Path, jobs: Path, tmp_path: Path) -> None:
    import pty

    mine, theirs = pty.openpty()
    command = command_line(jobs, "--catalogue", shop, "--out", tmp_path / "out", "--workers", 1)
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "100"}
    with (tmp_path / "stdout").open("wb") as stdout:
        process = subprocess.Popen(command, stdout=stdout, stderr=theirs, env=environment)
    os.close(theirs)
    seen = b""
    while True:
        try:
            part = os.read(mine, 65536)
        except OSError:  # as Linux tells that the other end is closed
            break
        if not part:
            break
        seen += part
    os.close(mine)
    assert process.wait(timeout=60) == 0
    printed = (tmp_path / "stdout").read_text(encoding="utf-8")
    assert b"solving" in seen
    assert b"/3" in seen
    assert "solving" not in printed
    assert "\x1b" not in printed
    assert "3 cases: 2 optimal, 1 impossible." in printed


def test_other_commands_do_not_pay_for_studies() -> None:
    code = "import sys, optimise.cli; print(*sorted({'joblib', 'distributed', 'dask', 'pyarrow'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == ""


def test_no_library_of_clusters_is_told(
    shop: Path, jobs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    monkeypatch.delitem(sys.modules, "optimise.studies.cluster", raising=False)
    result = study(jobs, "--catalogue", shop, "--out", tmp_path / "out", "--dask", "tcp://127.0.0.1:1")
    assert result.exit_code == 2
    assert "rushlight[cluster]" in result.stderr
    assert not (tmp_path / "out").exists()
