"""The command `start`: the first job by options and by questions, the empty catalogue."""

import csv
import re
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from optimise.cli import main
from optimise.parts import read_catalogue
from optimise.parts.columns import columns_of
from optimise.parts.kinds import TABLES
from optimise.scenario import read_scenario
from optimise.scenario.draft import Answers, draft, exposure_of

ANSWERS = ("--bright", "120 lx", "--distance", "2.5 m", "--source", "battery", "--runtime", "60 min")


def run(*arguments: object, said: str = "") -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments], input=said)


def test_options_write_a_job_that_can_be_built(tmp_path: Path) -> None:
    made = run("start", tmp_path, *ANSWERS, "--flying", "--budget", "300 EUR", "--mass", "4 kg", "--title", 'a "b" é')
    assert made.exit_code == 0, made.stderr
    scenario = read_scenario(tmp_path / "my-job.toml")
    assert (scenario.title, scenario.light.illuminance, scenario.light.distance) == ('a "b" é', 120.0, 2.5)
    assert (scenario.power.source, scenario.power.runtime, scenario.travel.mode) == ("battery", 3600.0, "air")
    assert (scenario.limits.budget, scenario.limits.mass, scenario.currency) == (30000, 4.0, "EUR")
    built = run("build", tmp_path / "my-job.toml", "--catalogue", tmp_path / "catalogue")
    assert built.exit_code == 0, built.stderr
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def test_a_second_job_leaves_the_catalogue_as_it_is(tmp_path: Path) -> None:
    assert run("start", tmp_path, *ANSWERS).exit_code == 0
    (tmp_path / "catalogue" / "mounts.csv").write_text("mine", encoding="utf-8")
    again = run("start", tmp_path, *ANSWERS)
    assert again.exit_code == 2
    assert "my-job.toml is there already" in again.stderr
    assert run("start", tmp_path, *ANSWERS, "--job", "second").exit_code == 0
    assert (tmp_path / "catalogue" / "mounts.csv").read_text(encoding="utf-8") == "mine"
    assert read_scenario(tmp_path / "second.toml").title == "My light"


def test_all_that_is_missing_or_wrong_is_told_at_once(tmp_path: Path) -> None:
    result = run("start", tmp_path / "new", "--source", "any", "--distance", "2 parsecs", "--budget", "much")
    assert result.exit_code == 2
    for word in ("--bright", "--runtime", "--mains-voltage", "2 parsecs", "much", "key light.distance"):
        assert word in result.stderr
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("job", ["../out", "", "/tmp/x"])
def test_a_job_lies_in_its_folder(tmp_path: Path, job: str) -> None:
    result = run("start", tmp_path / "new", *ANSWERS, "--job", job)
    assert result.exit_code == 2
    assert "--job" in result.stderr
    assert not (tmp_path / "new").exists()


def test_questions_are_asked_again_until_they_can_be_read(tmp_path: Path) -> None:
    said = ["Rain", "dark", "ISO 800, f/4, 1/50 s", "far", "3 m", "wind", "battery", "", "2 m", "perhaps", "yes"]
    result = run("start", tmp_path, "--questions", "--budget", "250 EUR", said="\n".join([*said, "", "mass", ""]))
    assert result.exit_code == 0, result.output
    scenario = read_scenario(tmp_path / "my-job.toml")
    assert (scenario.title, scenario.light.iso, scenario.light.f_number, scenario.light.shutter) == (
        "Rain",
        800.0,
        4.0,
        pytest.approx(1 / 50),
    )
    assert (scenario.light.distance, scenario.power.runtime, scenario.travel.mode) == (3.0, 3600.0, "air")
    assert (scenario.limits.budget, scenario.limits.mass, scenario.search.objective) == (25000, None, "mass")
    assert "mains voltage" not in result.output
    assert "What may all of it cost" not in result.output


def test_an_end_of_the_answers_leaves_nothing(tmp_path: Path) -> None:
    result = run("start", tmp_path / "new", "--questions", said="Rain\n")
    assert result.exit_code == 4
    assert "nothing was written" in result.stderr
    assert not (tmp_path / "new").exists()


def test_what_is_commented_out_can_be_asked_as_it_stands(tmp_path: Path) -> None:
    for answers in (
        Answers(runtime="1 h"),
        Answers(bright="ISO 400, T2.8, 180 deg, 24 fps", source="any", runtime="1 h", mains_voltage="230 V"),
    ):
        text = draft(answers)
        everything = re.sub(r"(?m)^# (\w+ = )", r"\1", text)
        assert everything.count("\n# ") < text.count("\n# ")
        (tmp_path / "job.toml").write_text(everything, encoding="utf-8")
        assert read_scenario(tmp_path / "job.toml").limits.deadline == 14 * 86400.0
        assert tomllib.loads(everything)["power"]["source"] == answers.source


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("ISO 800, f/4, 1/50 s", {"iso": "800", "f_number": "4", "shutter": "1/50 s"}),
        (
            "iso800; F2.8; 172.8°; 24 fps",
            {"iso": "800", "f_number": "2.8", "shutter_angle": "172.8 deg", "frame_rate": "24 fps"},
        ),
        ("ISO 100, T 1.4, 2", {"iso": "100", "f_number": "1.4", "shutter": "2 s"}),
    ],
)
def test_an_exposure_is_read_as_it_is_said(text: str, keys: dict[str, str]) -> None:
    assert exposure_of(text) == keys


@pytest.mark.parametrize("text", ["ISO 800, ISO 400", "ISO 800, bright", "ISO 800,", "ISO 800, f/4 1/50 s"])
def test_an_exposure_that_is_not_understood_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        exposure_of(text)


def test_an_empty_catalogue_has_every_column_and_one_example_a_kind(tmp_path: Path) -> None:
    assert run("start", tmp_path, "--template").exit_code == 0
    folder = tmp_path / "catalogue"
    for name, kind in TABLES.items():
        lines = (folder / f"{name}.csv").read_text(encoding="utf-8").splitlines()
        assert lines[0].startswith("#")
        assert "invented" in lines[0]
        header, *rows = csv.reader(lines[1:])
        assert [cell.split(" [")[0] for cell in header] == list(columns_of(kind))
        assert len(rows) == 1 or name in {"offers", "suppliers"}
    catalogue = read_catalogue(folder)
    assert len(catalogue.parts()) == len(catalogue.offers) == len(TABLES) - 2
    assert run("check", folder).exit_code == 0
    assert run("start", tmp_path, "--template").exit_code == 2
    assert run("start", tmp_path, *ANSWERS).exit_code == 0
    assert run("build", tmp_path / "my-job.toml", "--catalogue", folder).exit_code == 0


def test_an_empty_catalogue_asks_nothing(tmp_path: Path) -> None:
    result = run("start", tmp_path / "new", "--template", *ANSWERS)
    assert result.exit_code == 2
    assert not (tmp_path / "new").exists()
