"""What the documents say is what the code does."""

import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from optimise.cli import main
from optimise.report.front import FrontRecord
from optimise.report.kit import KitRecord
from optimise.report.measured import MeasuredRecord
from optimise.report.reasons import ReasonsRecord
from optimise.report.record import Record, json_schema
from optimise.report.record_parts import RecordModel
from optimise.report.repricing import RepriceRecord
from optimise.scenario import read_scenario
from optimise.scenario.reference import scenario_reference

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SHELL = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)


def test_readme_opens_with_one_paragraph_and_two_commands() -> None:
    blocks = README.split("\n\n")
    assert blocks[0] == "# Rushlight"
    assert not blocks[1].startswith(("#", "-", "|", "`"))
    assert len(SHELL) == 2
    assert all(len(block.strip().splitlines()) == 1 for block in SHELL)


def test_ci_runs_the_readme_test_command() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert SHELL[1].strip() in script


def test_readme_has_every_scenario_key() -> None:
    marked = README.split("<!-- keys -->\n")[1].split("<!-- end of keys -->")[0]
    assert marked == scenario_reference()


def test_readme_scenario_is_sound(tmp_path: Path) -> None:
    example = re.search(r"```toml\n(title.*?)```", README, flags=re.DOTALL)
    assert example is not None
    (tmp_path / "example.toml").write_text(example[1], encoding="utf-8")
    scenario = read_scenario(tmp_path / "example.toml")
    assert scenario.light.exposure_time == pytest.approx(0.02)


def test_readme_example_is_what_the_command_prints(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    scenario = str(ROOT / "scenarios" / "orchard-night.toml")
    result = CliRunner().invoke(main, ["build", scenario, "--catalogue", str(ROOT / "catalogue")])
    assert result.exit_code == 0
    printed = "\n".join(line.rstrip() for line in result.output.splitlines())
    example = re.search(r"```text\n(.*?)```", README, flags=re.DOTALL)
    assert example is not None
    assert example[1].strip() in printed


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_command_has_help_and_stands_in_the_readme(name: str) -> None:
    command: click.Command = main.commands[name]
    assert command.help
    assert f"rushlight {name}" in README


@pytest.mark.parametrize(
    ("name", "model"),
    [
        ("record", Record),
        ("front", FrontRecord),
        ("reasons", ReasonsRecord),
        ("reprice", RepriceRecord),
        ("kit", KitRecord),
        ("measured", MeasuredRecord),
    ],
)
def test_published_schema_is_that_of_the_record(name: str, model: type[RecordModel]) -> None:
    published = (ROOT / "optimise" / "report" / f"{name}.schema.json").read_text(encoding="utf-8")
    assert published == json_schema(model)


def test_top_level_holds_only_what_was_agreed() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    allowed |= {"optimise", "catalogue", "tests", "scenarios", "dist", "build"}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - {"uv.lock"} <= allowed
