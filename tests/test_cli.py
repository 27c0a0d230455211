"""The command as a person uses it: exit codes, streams, files, one clear report."""

import csv
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result
from few_parts import write_few_parts, write_job

from optimise.cli import main
from optimise.report.record import json_schema

ROOT = Path(__file__).parents[1]
ORCHARD = str(ROOT / "scenarios" / "orchard-night.toml")
CATALOGUE = str(ROOT / "catalogue")


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    assert run("start", str(tmp_path / "mine")).exit_code == 0
    return tmp_path / "mine"


def test_build_answers_with_zero_and_says_all(copy: Path) -> None:
    job = copy / "scenarios" / "pottery-studio.toml"
    job.write_text(job.read_text(encoding="utf-8").replace('"1100 lx"', '"150 lx"'), encoding="utf-8")  # a quick one
    result = run("build", str(job), "--catalogue", str(copy / "catalogue"))
    assert result.exit_code == 0
    for word in ("The proven cheapest build", "To buy", "Figures", "Margins", "Proof", "Cautions", "Notes", "Mains:"):
        assert word in result.stdout
    assert result.stderr == ""


def test_json_to_standard_output_is_the_record_alone() -> None:
    result = run("build", ORCHARD, "--catalogue", CATALOGUE, "--json", "-")
    record = json.loads(result.stdout)
    jsonschema.validate(record, json.loads(json_schema()))
    assert record["schema"] == "rushlight-record/1"
    assert record["status"] == "optimal"
    names = {"cost", "mass", "power", "illuminance", "runtime", "board_temperature", "voltage_drop", "current"}
    assert names <= record["figures"].keys()
    assert all(margin["left"] >= -1e-9 for margin in record["margins"])
    assert record["figures"]["cost"]["value"] == pytest.approx(sum(order["total"] for order in record["orders"]))
    goods = sum(order["goods"] for order in record["orders"])
    assert goods == pytest.approx(sum(line["line"] for line in record["bill"]))
    assert record["proof"]["gap"] == 0
    assert record["proof"]["bound"] == pytest.approx(record["figures"]["mass"]["value"])
    assert set(record["inputs"]["catalogue"]) == {path.name for path in (ROOT / "catalogue").glob("*.csv")}
    assert record["inputs"]["scenario"] == hashlib.sha256(Path(ORCHARD).read_bytes()).hexdigest()


def test_json_to_a_file_prints_as_well(tmp_path: Path) -> None:
    target = tmp_path / "record.json"
    result = run("build", ORCHARD, "--catalogue", CATALOGUE, "--json", str(target))
    assert result.exit_code == 0
    assert "The proven lightest build" in result.stdout
    assert json.loads(target.read_text(encoding="utf-8"))["objective"] == "mass"
    assert [path.name for path in tmp_path.iterdir()] == ["record.json"]


def test_objective_may_be_given() -> None:
    record = json.loads(run("build", ORCHARD, "--catalogue", CATALOGUE, "--objective", "cost", "--json", "-").stdout)
    assert record["objective"] == "cost"
    assert record["figures"]["cost"]["value"] < 106.85


def record_of(*arguments: str) -> dict[str, Any]:
    """Return the record of a build that answers, without its seconds."""
    result = run("build", *arguments, "--json", "-")
    assert result.exit_code == 0
    read: dict[str, Any] = json.loads(result.stdout)
    jsonschema.validate(read, json.loads(json_schema()))
    read["proof"]["seconds"] = 0
    return read


@pytest.mark.long
def test_worst_case_holds_at_the_bad_end_and_shows_what_is_stated() -> None:
    job = str(ROOT / "scenarios" / "pottery-studio.toml")
    usual, worst = (record_of(job, "--catalogue", CATALOGUE, *more) for more in ((), ("--worst-case",)))
    assert (usual["worst_case"], worst["worst_case"]) == (False, True)
    assert min(m["worst"]["left"] for m in usual["margins"] if m["worst"]) < 0
    assert all(m["left"] >= -1e-9 for m in worst["margins"])
    moved = [m for m in worst["margins"] if m["worst"]]
    assert moved
    for m in moved:
        assert m["worst"] == {key: m[key] for key in ("required", "achieved", "left")}
        assert m["best"]["left"] > m["left"]
        assert m["share"] == 1.0
    assert worst["tolerances"]["share"] == 1.0 > usual["tolerances"]["share"]
    # What must hold in a worse case cannot cost less, and money has no tolerance.
    assert worst["figures"]["cost"]["value"] > usual["figures"]["cost"]["value"]
    assert worst["nominal"]["cost"] == worst["figures"]["cost"]
    assert worst["nominal"]["illuminance"]["value"] > worst["figures"]["illuminance"]["value"]
    assert worst["nominal"]["mass"]["value"] < worst["figures"]["mass"]["value"]
    assert any(note.startswith("Tolerance not stated for ") for note in worst["notes"])
    assert not any("not stated for" in note for note in usual["notes"])
    assert worst["inputs"]["catalogue"] == usual["inputs"]["catalogue"]


def test_worst_case_is_labelled_where_it_is_printed() -> None:
    result = run("build", ORCHARD, "--catalogue", CATALOGUE, "--worst-case")
    assert result.exit_code == 0
    said = " ".join(result.stdout.split())
    for words in (
        "The proven lightest build at the bad end of all tolerances: ",
        "figure at the bad end as stated",
        "Margins, at the bad end of all tolerances",
        "Margins over the tolerances",
        "Of 1000 made lights (drawn from seed 1), 100.0% keep every limit.",
        "within the limits, at the bad end of all tolerances",
    ):
        assert words in said


def test_worst_case_that_no_build_meets_is_three(tmp_path: Path) -> None:
    # As bright as the lightest build is as stated, on no more than it weighs: a lot that is off keeps one of the two.
    parts = str(write_few_parts(tmp_path / "parts"))
    figures = record_of(str(write_job(tmp_path / "plain.toml")), "--catalogue", parts)["figures"]
    limit = f'mass = "{figures["mass"]["value"] + 1e-6:.7f} kg"'
    job = (str(write_job(tmp_path / "job.toml", limits=limit)), "--catalogue", parts)
    assert record_of(*job)["status"] == "optimal"
    result = run("build", *job, "--worst-case", "--json", str(tmp_path / "r.json"))
    assert result.exit_code == 3
    said = " ".join(result.stdout.split())
    assert "keeps every limit of the scenario at the bad end of all tolerances." in said
    assert "Where a tolerance is not stated, the figure is taken as exact." in said
    record = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))
    jsonschema.validate(record, json.loads(json_schema()))
    assert (record["worst_case"], record["nominal"], record["tolerances"]) == (True, None, None)
    assert "mass" in {item["limit"] for item in record["conflict"]}


def test_draws_and_their_start_may_be_given() -> None:
    first, again, other = (record_of(ORCHARD, "--catalogue", CATALOGUE, "--seed", n) for n in ("5", "5", "6"))
    assert first == again
    assert first["tolerances"]["seed"] == 5
    assert other["tolerances"]["share"] != first["tolerances"]["share"]
    few = record_of(ORCHARD, "--catalogue", CATALOGUE, "--draws", "10")["tolerances"]
    assert few["draws"] == 10
    assert few["share"] * 10 == pytest.approx(round(few["share"] * 10))


def test_no_draws_leave_the_ends_alone() -> None:
    result = run("build", ORCHARD, "--catalogue", CATALOGUE, "--draws", "0")
    assert result.exit_code == 0
    assert "Margins over the tolerances" in result.stdout
    assert "made lights" not in result.stdout
    read = record_of(ORCHARD, "--catalogue", CATALOGUE, "--draws", "0")
    assert (read["tolerances"]["draws"], read["tolerances"]["share"]) == (0, None)
    assert any(m["worst"] for m in read["margins"])
    assert all(m["share"] is None for m in read["margins"])


@pytest.mark.parametrize("option", [("--draws", "-1"), ("--draws", "100001"), ("--seed", "-1"), ("--seed", "x")])
def test_draws_out_of_range_are_bad_input(option: tuple[str, str]) -> None:
    result = run("build", ORCHARD, "--catalogue", CATALOGUE, *option)
    assert result.exit_code == 2
    assert option[0] in result.stderr
    assert result.stdout == ""


def test_without_tolerances_nothing_is_said_of_them(copy: Path) -> None:
    for path in (copy / "catalogue").glob("*.csv"):
        comment, *lines = path.read_text(encoding="utf-8").splitlines()
        rows = list(csv.DictReader(lines))
        names = [name for name in rows[0] if "_tolerance" not in name]
        with path.open("w", encoding="utf-8", newline="") as file:
            file.write(comment + "\n")
            writer = csv.DictWriter(file, names, extrasaction="ignore")
            writer.writeheader()
            writer.writerows(rows)
    plain = run("build", ORCHARD, "--catalogue", str(copy / "catalogue"))
    assert plain.exit_code == 0
    assert "tolerance" not in plain.stdout
    bare, usual = (record_of(ORCHARD, "--catalogue", folder) for folder in (str(copy / "catalogue"), CATALOGUE))
    assert bare["tolerances"] is None
    assert usual["tolerances"] is not None
    # A tolerance changes what is told of a build, never an ordinary build itself.
    for key in ("status", "choice", "figures", "bill", "cautions"):
        assert bare[key] == usual[key]
    worst = record_of(ORCHARD, "--catalogue", str(copy / "catalogue"), "--worst-case")
    assert (worst["choice"], worst["figures"]) == (bare["choice"], bare["figures"])
    assert worst["nominal"] == worst["figures"]
    assert worst["tolerances"] is None


def test_impossible_is_three_and_names_the_conflict(tmp_path: Path) -> None:
    shutil.copy(ROOT / "scenarios" / "orchard-night.toml", tmp_path / "job.toml")
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(text.replace("[limits]", '[limits]\nmass = "400 g"'), encoding="utf-8")
    result = run("build", str(tmp_path / "job.toml"), "--catalogue", CATALOGUE, "--json", str(tmp_path / "r.json"))
    assert result.exit_code == 3
    assert "Impossible" in result.stdout
    record = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))
    assert record["status"] == "impossible"
    assert record["choice"] is None
    assert "mass" in {item["limit"] for item in record["conflict"]}
    jsonschema.validate(record, json.loads(json_schema()))


def test_no_time_is_four_or_an_honest_answer() -> None:
    job = str(ROOT / "scenarios" / "clock-tower.toml")
    result = run("build", job, "--catalogue", CATALOGUE, "--time-limit", "0.001", "--json", "-")
    record = json.loads(result.stdout)
    if record["status"] == "stopped":
        assert result.exit_code == 4
        assert record["choice"] is None
    else:
        assert result.exit_code == 0
        assert record["status"] == "feasible"
        assert 0 <= record["proof"]["gap"] <= 1
        assert record["proof"]["bound"] <= record["figures"]["cost"]["value"]


def test_all_faults_of_both_inputs_at_once(copy: Path) -> None:
    emitters = copy / "catalogue" / "emitters.csv"
    text = emitters.read_text(encoding="utf-8").replace("1040,0.35", "1040,-0.35")
    emitters.write_text(text, encoding="utf-8")
    job = copy / "scenarios" / "orchard-night.toml"
    job.write_text(job.read_text(encoding="utf-8").replace("distance", "distanse"), encoding="utf-8")
    result = run("build", str(job), "--catalogue", str(copy / "catalogue"), "--json", str(copy / "r.json"))
    assert result.exit_code == 2
    assert result.stdout == ""
    for word in ("emitters.csv line 3", '"-0.35"', "more than 0 A", "light.distanse", 'Did you mean "distance"?'):
        assert word in result.stderr
    assert not (copy / "r.json").exists()
    assert "Traceback" not in result.stderr


def test_a_string_that_fits_no_driver_is_told_with_its_line(copy: Path) -> None:
    emitters = copy / "catalogue" / "emitters.csv"
    lines = emitters.read_text(encoding="utf-8").splitlines()
    cells = lines[2].split(",")
    header = lines[1].split(",")
    for name, value in (("voltage [V]", "400"), ("voltage_min [V]", ""), ("voltage_max [V]", "")):
        cells[header.index(name)] = value
    lines[2] = ",".join(cells)
    emitters.write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = run("check", str(copy / "catalogue"))
    assert result.exit_code == 2
    assert "emitters.csv line 3, column voltage" in result.stderr
    assert "no string fits any driver" in result.stderr


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ('budget = "450 USD"', ("no rate for EUR", "what 1 EUR costs in USD")),
        ('suppliers = ["larkmor"]', ('"larkmor"', "larkmoor")),
    ],
)
def test_scenario_and_catalogue_must_agree(copy: Path, change: str, words: tuple[str, ...]) -> None:
    job = copy / "scenarios" / "orchard-night.toml"
    lines = job.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith(change.split(" = ")[0])]
    kept.insert(kept.index("[limits]") + 1, change)
    job.write_text("\n".join(kept), encoding="utf-8")
    result = run("build", str(job), "--catalogue", str(copy / "catalogue"))
    assert result.exit_code == 2
    for word in words:
        assert word in result.stderr


def test_check_finds_the_demonstration_sound() -> None:
    result = run("check", CATALOGUE, *(str(path) for path in sorted((ROOT / "scenarios").glob("*.toml"))))
    assert result.exit_code == 0
    assert result.stdout.count("sound") == 6


def test_check_of_nothing_there_is_two() -> None:
    result = run("check", "no-such-folder", "no-such-file.toml")
    assert result.exit_code == 2
    assert "no-such-folder" in result.stderr
    assert "no-such-file.toml" in result.stderr


def test_start_never_overwrites(copy: Path) -> None:
    (copy / "catalogue" / "emitters.csv").write_text("mine", encoding="utf-8")
    result = run("start", str(copy))
    assert result.exit_code == 2
    assert (copy / "catalogue" / "emitters.csv").read_text(encoding="utf-8") == "mine"


def test_record_into_a_missing_folder_is_refused_before_the_search() -> None:
    result = run("build", ORCHARD, "--catalogue", CATALOGUE, "--json", "/no/such/folder/r.json")
    assert result.exit_code == 2
    assert "there is no folder" in result.stderr


def test_markup_and_control_signs_in_a_title_are_only_text(copy: Path) -> None:
    job = copy / "scenarios" / "orchard-night.toml"
    lines = job.read_text(encoding="utf-8").splitlines()
    lines = ['title = "[red]x[/red] \\u001b[2J"' if line.startswith("title") else line for line in lines]
    job.write_text("\n".join(lines), encoding="utf-8")
    result = run("build", str(job), "--catalogue", str(copy / "catalogue"))
    assert result.exit_code == 0
    assert "[red]x[/red]" in result.stdout
    assert "\x1b" not in result.stdout


def whole(*arguments: str, **environment: str) -> str:
    """Run the command as a process of its own and return what it prints."""
    command = [sys.executable, "-c", "from optimise.cli import main; main()", *arguments]
    done = subprocess.run(
        command, check=True, capture_output=True, text=True, encoding="utf-8", env={**os.environ, **environment}
    )
    return done.stdout


def test_same_input_same_record_whatever_hashes_threads_and_row_order(copy: Path) -> None:
    def record(catalogue: Path, threads: str, hashes: str) -> dict[str, object]:
        text = whole(
            "build", ORCHARD, "--catalogue", str(catalogue), "--json", "-", "--threads", threads, PYTHONHASHSEED=hashes
        )
        read: dict[str, object] = json.loads(text)
        proof = read["proof"]
        assert isinstance(proof, dict)
        proof["seconds"] = 0
        read["inputs"] = {}  # shuffled files have other fingerprints
        return read

    first = record(copy / "catalogue", "1", "0")
    for path in (copy / "catalogue").glob("*.csv"):
        comment, header, *rows = path.read_text(encoding="utf-8").splitlines()
        path.write_text("\n".join([comment, header, *reversed(rows)]) + "\n", encoding="utf-8")
    assert record(copy / "catalogue", "2", "12345") == first


TELLING = """
import pathlib, sys
from optimise.cli import main
from optimise.model import search

begun, run = pathlib.Path(sys.argv.pop(1)), search.run

def told(*args):
    begun.touch()
    run(*args)

search.run = told
main()
"""
"""The command, which makes the file that is its first argument once the search has begun."""


@pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals")
def test_interrupt_gives_the_best_checked_build_or_none(tmp_path: Path) -> None:
    begun = tmp_path / "begun"
    command = [sys.executable, "-c", TELLING, str(begun), "build"]
    command += [str(ROOT / "scenarios" / "clock-tower.toml"), "--catalogue", CATALOGUE, "--json", "-"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    # Before the search there is nothing to answer with: however slow the machine, it is interrupted after.
    while not begun.exists() and process.poll() is None:
        time.sleep(0.01)
    assert begun.exists(), process.communicate()
    time.sleep(0.3)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    # Depending on the machine, searching or writing was interrupted, or it was already done.
    if out:
        assert process.returncode in (0, 4)
        record = json.loads(out)
        assert record["status"] in {"optimal", "feasible", "stopped"}
        assert all(margin["left"] >= -1e-9 for margin in record["margins"])
    else:
        assert process.returncode == 4
        assert err == "Stopped before there was an answer.\n"
