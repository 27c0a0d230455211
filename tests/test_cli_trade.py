"""`trade`, `why` and the alternatives of `build` as a person uses them."""

import csv
import io
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result
from few_parts import write_few_parts, write_job
from rich.console import Console

from optimise.cli import main
from optimise.report.front import FrontRecord
from optimise.report.front_page.page import front_page
from optimise.report.reasons import ReasonsRecord, print_reasons
from optimise.report.record import Record, json_schema


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("few")
    return write_few_parts(folder / "parts"), write_job(folder / "job.toml")


def valid(text: str, model: type[FrontRecord] | type[ReasonsRecord] | type[Record]) -> dict[str, Any]:
    found = json.loads(text)
    jsonschema.validate(found, json.loads(json_schema(model)))
    return dict(found)


def printed(text: str) -> str:
    """Return what a person would have read of an answer given as JSON."""
    console = Console(record=True, width=100, file=io.StringIO())
    print_reasons(console, ReasonsRecord.model_validate_json(text))
    return console.export_text()


def test_trade_shows_a_table_and_writes_whole_records(files: tuple[Path, Path], tmp_path: Path) -> None:
    parts, job = files
    files_of = {kind: tmp_path / f"f.{kind}" for kind in ("json", "csv", "html")}
    options = ["--json", files_of["json"], "--csv", files_of["csv"], "--page", files_of["html"]]
    made = run("trade", job, "cost", "mass", "--catalogue", parts, *options)
    assert made.exit_code == 0, made.output
    assert "Cost against mass:" in made.stdout
    assert "proven complete" in made.stdout
    front = valid((tmp_path / "f.json").read_text(), FrontRecord)
    points = front["points"]
    assert front["complete"]
    assert len(points) == front["points_found"] >= 3
    page = files_of["html"].read_text(encoding="utf-8")
    assert page == front_page(FrontRecord.model_validate(front))
    assert page.count("<article") == len(points)
    costs = [point["values"]["cost"] for point in points]
    masses = [point["values"]["mass"] for point in points]
    assert costs == sorted(costs)
    assert masses == sorted(masses, reverse=True)
    for point in points:
        record = Record.model_validate(point["record"])
        assert record.choice is not None
        assert record.figures["cost"].value == point["values"]["cost"]
        assert all(margin.left >= -1e-9 for margin in record.margins)
    rows = list(csv.DictReader((tmp_path / "f.csv").read_text(encoding="utf-8").splitlines()))
    assert [float(row["cost"]) for row in rows] == costs
    best = json.loads(run("build", job, "--catalogue", parts, "--objective", "cost", "--json", "-").stdout)
    assert best["choice"] == points[0]["record"]["choice"]


def test_trade_thins_and_says_so(files: tuple[Path, Path]) -> None:
    parts, job = files
    made = run("trade", job, "mass", "runtime", "--catalogue", parts, "--points", "3", "--enough", "3 h")
    assert made.exit_code == 0
    assert "Thinned evenly to 3; the whole front has" in made.stdout
    assert "Half an hour more, " in made.stdout


def test_enough_bounds_what_counts(files: tuple[Path, Path]) -> None:
    parts, job = files
    made = run("trade", job, "cost", "illuminance", "--catalogue", parts, "--enough", "150 lx", "--json", "-")
    front = valid(made.stdout, FrontRecord)
    reached = [point["values"]["illuminance"] for point in front["points"]]
    assert front["complete"]
    assert reached[-1] == 150.0
    assert all(value < 150.0 for value in reached[:-1])
    assert front["points"][-1]["record"]["figures"]["illuminance"]["value"] >= 150.0
    assert front["axes"][1]["enough"] == 150.0


def test_three_figures_may_be_traded(files: tuple[Path, Path]) -> None:
    parts, job = files
    made = run("trade", job, "cost", "mass", "panel_size", "--catalogue", parts)
    assert made.exit_code == 0
    assert "Cost, mass, panel size:" in made.stdout


def test_a_front_is_the_same_byte_for_byte_but_for_seconds(files: tuple[Path, Path]) -> None:
    parts, job = files
    texts = []
    for threads in ("1", "2"):
        made = run("trade", job, "cost", "mass", "--catalogue", parts, "--json", "-", "--threads", threads)
        front = json.loads(made.stdout)
        front["seconds"] = 0
        for point in front["points"]:
            point["record"]["proof"]["seconds"] = 0
        texts.append(json.dumps(front))
    assert texts[0] == texts[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["cost"], "two or three different figures"),
        (["cost", "cost"], "two or three different figures"),
        (["cost", "mass", "--points", "1"], "--points"),
        (["cost", "runtime", "--enough", "3 lx"], "one of the figures traded of which more is better (runtime)"),
        (["cost", "mass", "--enough", "3 h"], "none is"),
        (["cost", "mass", "--json", "nowhere/f.json"], "there is no folder nowhere"),
        (["cost", "mass", "--csv", "nowhere/f.csv"], "there is no folder nowhere"),
        (["cost", "mass", "--page", "nowhere/f.html"], "there is no folder nowhere"),
        (["cost", "mass", "--page", "f.html", "--csv", "./f.html"], "f.html is asked for twice"),
        (["cost", "speed"], "speed"),
    ],
)
def test_wrong_arguments_are_two(files: tuple[Path, Path], arguments: list[str], words: str) -> None:
    parts, job = files
    made = run("trade", job, *arguments, "--catalogue", parts)
    assert made.exit_code == 2
    assert words in " ".join(made.stderr.split())
    assert made.stdout == ""


def test_an_impossible_front_is_three(files: tuple[Path, Path], tmp_path: Path) -> None:
    job, page = write_job(tmp_path / "bright.toml", 90_000.0), tmp_path / "f.html"
    made = run("trade", job, "cost", "mass", "--catalogue", files[0], "--page", page)
    assert made.exit_code == 3
    assert "there is no front" in made.stdout
    assert "there is no front" in page.read_text(encoding="utf-8")


def test_why_not_names_the_smallest_changes(files: tuple[Path, Path], tmp_path: Path) -> None:
    parts, job = files
    cheapest = json.loads(run("build", job, "--catalogue", parts, "--objective", "cost", "--json", "-").stdout)
    cost = cheapest["figures"]["cost"]["value"]
    text = job.read_text(encoding="utf-8").replace('"450 EUR"', f'"{cost - 4:.2f} EUR"')
    poor = tmp_path / "poor.toml"
    poor.write_text(text, encoding="utf-8")
    made = run("why", poor, "--catalogue", parts, "--json", "-")
    assert made.exit_code == 3
    reasons = valid(made.stdout, ReasonsRecord)
    assert reasons["status"] == "impossible"
    assert reasons["complete"]
    mends = {mend["limit"]: mend for mend in reasons["mends"]}
    assert mends["budget"]["needed"] == f"{cost:.2f} EUR"
    assert mends["budget"]["change"] == "+4.00 EUR"
    assert mends["budget"]["record"]["choice"]["emitter"] == cheapest["choice"]["emitter"]
    assert {item["limit"] for item in reasons["conflict"]} >= {"budget"}
    told = printed(made.stdout)
    assert "One of these changes alone makes it possible" in told
    assert f"{cost:.2f} EUR" in told


def test_why_of_a_possible_job_says_what_binds(files: tuple[Path, Path]) -> None:
    parts, job = files
    made = run("why", job, "--catalogue", parts, "--json", "-")
    assert made.exit_code == 0
    reasons = valid(made.stdout, ReasonsRecord)
    eases = {ease["limit"]: ease for ease in reasons["eases"]}
    assert reasons["status"] == "possible"
    assert eases["mount"]["saves"] > 0.0
    assert eases["budget"]["saves_given_up"] == 0.0
    assert all(0.0 <= ease["saves"] <= ease["saves_given_up"] + 1e-9 for ease in eases.values())
    told = printed(made.stdout)
    assert "These limits bind" in told
    assert "Giving these up alone saves nothing" in told


def test_why_without_time_says_so(files: tuple[Path, Path]) -> None:
    made = run("why", files[1], "--catalogue", files[0], "--time-limit", "0.000001")
    assert made.exit_code == 4
    assert "Stopped: it is not known yet" in made.stdout


def test_build_tells_alternatives(files: tuple[Path, Path], tmp_path: Path) -> None:
    parts, job = files
    target = tmp_path / "r.json"
    options = ["--alternatives", "2", "--different", "battery", "--without", "larkmoor", "--json", target]
    made = run("build", job, "--catalogue", parts, *options)
    assert made.exit_code == 0, made.output
    assert "Alternatives" in made.stdout
    record = valid(target.read_text(), Record)
    asked = [other["asked"] for other in record["alternatives"]]
    assert asked == ["next best", "next best", "other battery", "without larkmoor"]
    first = record["alternatives"][0]["record"]
    assert first["figures"]["mass"]["value"] > record["figures"]["mass"]["value"]
    assert any("heavier" in line for line in record["alternatives"][0]["worse"])
    other = record["alternatives"][2]["record"]
    assert other["choice"]["battery"] != record["choice"]["battery"]


def test_alternatives_beyond_what_is_asked_are_not_told(files: tuple[Path, Path]) -> None:
    parts, job = files
    made = run("build", job, "--catalogue", parts, "--different", "battery", "--within", "0.001")
    assert made.exit_code == 0
    assert "other battery: there is none within" in made.stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--without", "LED-BAR9-569"], "did you mean LED-BAR9-5692?"),
        (["--within", "5"], "say which alternatives"),
        (["--different", "mood"], "mood"),
        (["--alternatives", "0"], "--alternatives"),
    ],
)
def test_wrong_wishes_for_alternatives_are_two(files: tuple[Path, Path], arguments: list[str], words: str) -> None:
    made = run("build", files[1], "--catalogue", files[0], *arguments)
    assert made.exit_code == 2
    assert words in " ".join(made.stderr.split())


def test_a_front_counts_what_is_paid_in_other_currencies_too(files: tuple[Path, Path], tmp_path: Path) -> None:
    parts, job = tmp_path / "parts", tmp_path / "job.toml"
    parts.mkdir()
    for path in files[0].glob("*.csv"):
        (parts / path.name).write_bytes(path.read_bytes())
    comment, header, *rows = (parts / "offers.csv").read_text(encoding="utf-8").splitlines()
    rows = [f"{row},GBP" if row.startswith("BAT-LI14-068,") else f"{row}," for row in rows]
    (parts / "offers.csv").write_text("\n".join([comment, f"{header},currency", *rows]) + "\n", encoding="utf-8")
    rates = '\n[buying]\nrates = { GBP = "2.00 EUR" }\n'
    job.write_text(files[1].read_text(encoding="utf-8") + rates, encoding="utf-8")
    built = run("build", job, "--catalogue", parts, "--json", "-")
    lightest = valid(built.stdout, Record)
    assert lightest["choice"]["battery"] == "BAT-LI14-068"
    traded = valid(run("trade", job, "mass", "cost", "--catalogue", parts, "--json", "-").stdout, FrontRecord)
    least = min(traded["points"], key=lambda point: point["record"]["figures"]["mass"]["value"])
    assert least["record"]["figures"]["cost"] == lightest["figures"]["cost"]
    budget = next(margin for margin in lightest["margins"] if margin["name"] == "budget")
    assert budget["achieved"] == lightest["figures"]["cost"]["value"]
