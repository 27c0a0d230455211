"""`build` with a kit: one answer, one bill, one record; what is refused; why there is none."""

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from few_parts import write_few_parts, write_job

from optimise.cli import main
from optimise.report.kit import KitRecord

KIT = """
[[kit]]
name = "key"

[[kit]]
name = "fill <b>"
count = 2

[kit.light]
illuminance = "40 lx"
"""


@pytest.fixture
def job(tmp_path: Path) -> tuple[str, ...]:
    folder = write_few_parts(tmp_path / "parts", charges=False)
    path = write_job(tmp_path / "job.toml", 60.0)
    path.write_text(path.read_text(encoding="utf-8") + KIT, encoding="utf-8")
    return str(path), "--catalogue", str(folder)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, arguments)


def changed(job: tuple[str, ...], old: str, new: str) -> None:
    path = Path(job[0])
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_a_kit_is_built_bought_and_told(job: tuple[str, ...], tmp_path: Path) -> None:
    told = run("build", *job, "--json", str(tmp_path / "kit.json"), "--bill", str(tmp_path / "bill.csv"))
    assert told.exit_code == 0, told.output
    assert "proven lightest kit" in told.output
    assert "3 lights" in told.output
    assert "fill <b>, 2 equal ones" in told.output
    assert "batteries that may fly" in told.output
    record = KitRecord.model_validate(json.loads((tmp_path / "kit.json").read_text(encoding="utf-8")))
    assert [(light.name, light.count) for light in record.lights] == [("key", 1), ("fill <b>", 2)]
    assert "cost" not in record.lights[0].figures
    mass = sum((light.figures["mass"].value or 0.0) * light.count for light in record.lights)
    assert record.figures["mass"].value == pytest.approx(mass)
    assert record.figures["cost"].value == pytest.approx(sum(order.total for order in record.orders))
    needed = {line.part: line.quantity for line in record.bill}
    assert needed[record.lights[0].choice.emitter] >= record.lights[0].choice.emitters
    rows = list(csv.reader((tmp_path / "bill.csv").read_text(encoding="utf-8").splitlines()))
    assert float(rows[-1][7]) == pytest.approx(record.figures["cost"].value)


@pytest.mark.long
def test_a_kit_is_the_same_with_more_threads(job: tuple[str, ...]) -> None:
    first, second = (json.loads(run("build", *job, "--json", "-", "--threads", n).stdout) for n in ("1", "2"))
    first["proof"]["seconds"] = second["proof"]["seconds"] = 0.0
    assert first == second


def test_a_kit_that_is_too_dear_names_the_budget(job: tuple[str, ...]) -> None:
    changed(job, 'budget = "450 EUR"', 'budget = "120 EUR"')
    told = run("build", *job)
    assert told.exit_code == 3
    assert "no kit" in told.output
    assert "budget" in told.output
    assert "Traceback" not in told.output


def test_a_light_that_cannot_be_built_is_named(job: tuple[str, ...]) -> None:
    changed(job, 'illuminance = "40 lx"', 'illuminance = "90000 lx"')
    told = run("build", *job)
    assert told.exit_code == 3
    assert "fill <b> cannot even be built alone" in told.output
    assert "illuminance" in told.output


@pytest.mark.parametrize("options", [("--alternatives", "2"), ("--different", "battery"), ("--without", "larkmoor")])
def test_a_kit_has_no_alternatives(job: tuple[str, ...], options: tuple[str, ...]) -> None:
    told = run("build", *job, *options)
    assert told.exit_code == 2
    assert "kit" in told.output


@pytest.mark.parametrize("command", [("trade", "mass", "runtime"), ("why",)])
def test_commands_of_one_light_say_so(job: tuple[str, ...], command: tuple[str, ...]) -> None:
    told = run(command[0], *job, *command[1:])
    assert told.exit_code == 2
    assert "key kit" in told.output


def test_a_kit_is_checked(job: tuple[str, ...]) -> None:
    assert run("check", job[0]).exit_code == 0
    changed(job, "count = 2", "count = 2.5")
    told = run("check", job[0])
    assert told.exit_code == 2
    assert "kit[2].count" in told.output


@pytest.mark.parametrize("limit", ["0.01", "0.6", "1.5"])
def test_a_kit_stopped_early_says_how_far_it_is_proven(job: tuple[str, ...], limit: str, tmp_path: Path) -> None:
    told = run("build", *job, "--time-limit", limit, "--json", str(tmp_path / "kit.json"))
    record = json.loads((tmp_path / "kit.json").read_text(encoding="utf-8"))
    assert told.exit_code == (0 if record["lights"] else 4)
    assert record["status"] in {"optimal", "feasible", "stopped"}
    if record["lights"]:
        assert record["proof"]["bound"] <= record["figures"]["mass"]["value"] * (1 + 1e-12)
