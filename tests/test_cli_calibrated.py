"""Measured figures in `trade` and `why`, and the page of a front made of its record."""

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from few_parts import write_few_parts, write_job
from sheets import demonstration

from optimise.cli import main
from optimise.model.exact import evaluate
from optimise.parts.figures import with_measured
from optimise.report.front import FrontRecord
from optimise.report.reasons import ReasonsRecord
from optimise.report.record_parts import choice_of
from optimise.scenario import read_scenario

FIGURES = """schema = "rushlight-calibration/1"
[[figure]]
part = "LED-BAR9-5692"
figure = "flux"
value = "1008 lm"
stated = "1120 lm"
low = "970 lm"
high = "1050 lm"
readings = 3
"""
NOTE = (
    "Calibrated: the flux of LED-BAR9-5692 is 1008 lm as measured, between 970 lm and 1050 lm (in the catalogue: 1120"
)


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments], env={"COLUMNS": "140"})


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path]:
    folder = tmp_path_factory.mktemp("few")
    (folder / "c.toml").write_text(FIGURES, encoding="utf-8")
    parts = {"LED-BAR9-5692", "DRV-D12-CCA105-45", "PAN-FOAM-50x50", "DIF-FILM-HALF", "BAT-LI14-068"}
    parts |= {"FLEX-2x0.5", "FUSE-B32-3", "CON-DC5", "MNT-HANDLE-2"}
    return write_few_parts(folder / "parts", parts=parts), write_job(folder / "job.toml", 100.0), folder / "c.toml"


def test_a_front_is_of_the_measured_light_and_its_record_gives_its_page(
    files: tuple[Path, Path, Path], tmp_path: Path
) -> None:
    parts, job, figures = files
    stored, page = tmp_path / "f.json", tmp_path / "f.html"
    options = ["--catalogue", parts, "--json", stored, "--page", page]
    made = run("trade", job, "mass", "cost", *options, "--calibration", figures)
    assert made.exit_code == 0, made.output
    assert NOTE in words(made.stdout)
    front = FrontRecord.model_validate_json(stored.read_text(encoding="utf-8"))
    assert front.inputs.calibration == hashlib.sha256(figures.read_bytes()).hexdigest()
    assert all(any(NOTE in note for note in point.record.notes) for point in front.points)
    # Its builds are as bright as the exact check finds them with emitters of that flux.
    altered = [with_measured(e, 1008.0) if e.part == "LED-BAR9-5692" else e for e in demonstration().emitters]
    parts_as_measured = replace(demonstration(), emitters=tuple(altered))
    scenario = read_scenario(job)
    for record in (point.record for point in front.points):
        assert record.choice is not None
        lux = evaluate(choice_of(record.choice), parts_as_measured, scenario).lux
        assert record.figures["illuminance"].value == pytest.approx(lux, rel=1e-9)
    written = page.read_text(encoding="utf-8")
    assert NOTE in written
    assert front.inputs.calibration in written
    again = tmp_path / "again.html"
    assert run("sheet", stored, "--out", again).exit_code == 0
    assert again.read_bytes() == page.read_bytes()
    for option in ("--svg", "--tiles"):
        refused = run("sheet", stored, "--out", tmp_path / "no.html", option, tmp_path / "no.svg")
        assert refused.exit_code == 2
        assert f"{option}: f.json is of a front, which has no board" in words(refused.stderr)
    assert not list(tmp_path.glob("no.*"))
    assert run("measure", stored, "--lux", "1 lx at 1 m").exit_code == 2


@pytest.mark.long
def test_why_is_asked_of_the_measured_light(files: tuple[Path, Path, Path]) -> None:
    parts, job, figures = files
    made = run("why", job, "--catalogue", parts, "--calibration", figures, "--json", "-")
    assert made.exit_code == 0, made.output
    reasons = ReasonsRecord.model_validate_json(made.stdout)
    assert reasons.inputs.calibration == hashlib.sha256(figures.read_bytes()).hexdigest()
    assert any(NOTE in note for note in reasons.notes)
    assert json.loads(made.stdout)["best"]["inputs"]["calibration"] == reasons.inputs.calibration
    built = json.loads(run("build", job, "--catalogue", parts, "--calibration", figures, "--json", "-").stdout)
    assert reasons.best is not None
    assert reasons.best.figures["illuminance"].value == built["figures"]["illuminance"]["value"]


@pytest.mark.parametrize("command", [["trade", "mass", "cost"], ["why"]])
def test_figures_that_cannot_be_are_told(files: tuple[Path, Path, Path], tmp_path: Path, command: list[str]) -> None:
    parts, job, _ = files
    (tmp_path / "c.toml").write_text(FIGURES.replace("LED-BAR9-5692", "LED-BAR9"), encoding="utf-8")
    made = run(command[0], job, *command[1:], "--catalogue", parts, "--calibration", tmp_path / "c.toml")
    assert made.exit_code == 2
    assert "c.toml, key figure[1].part" in words(made.stderr)


def test_bill_and_record_never_share_a_file(files: tuple[Path, Path, Path], tmp_path: Path) -> None:
    parts, job, _ = files
    both = tmp_path / "both.csv"
    made = run("build", job, "--catalogue", parts, "--json", both, "--bill", both)
    assert made.exit_code == 2
    assert "both.csv is asked for twice" in words(made.stderr)
    assert not both.exists()
