"""The command check: a catalogue turned into its other form, whole or not at all."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from optimise.cli import main

ROOT = Path(__file__).parents[1]
CATALOGUE = str(ROOT / "catalogue")


def check(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["check", *map(str, arguments)])


def said(result: Result) -> str:
    return " ".join(result.stderr.split())


def test_there_and_back_as_a_person_does_it(tmp_path: Path) -> None:
    book, back, again = tmp_path / "mine.xlsx", tmp_path / "back", tmp_path / "again.xlsx"
    assert check(CATALOGUE, "--convert", book).exit_code == 0
    assert "sound" in check(book).stdout
    assert check(book, "--convert", back).exit_code == 0
    assert check(back, "--convert", again).exit_code == 0
    assert again.read_bytes() == book.read_bytes()
    assert {path.name for path in tmp_path.iterdir()} == {"mine.xlsx", "back", "again.xlsx"}
    scenario = str(ROOT / "scenarios" / "orchard-night.toml")
    builds = [
        CliRunner().invoke(main, ["build", scenario, "--catalogue", str(path), "--draws", "0"])
        for path in (CATALOGUE, book, back)
    ]
    assert {result.exit_code for result in builds} == {0}
    assert len({result.stdout.split("\nProof")[0] for result in builds}) == 1


def test_what_is_there_is_never_written_over(tmp_path: Path) -> None:
    book, folder = tmp_path / "mine.xlsx", tmp_path / "folder"
    book.write_text("mine", encoding="utf-8")
    result = check(CATALOGUE, "--convert", book)
    assert (result.exit_code, book.read_text(encoding="utf-8")) == (2, "mine")
    assert "is there already. Nothing was written." in said(result)
    book.unlink()
    assert check(CATALOGUE, "--convert", book).exit_code == 0
    folder.mkdir()
    (folder / "mine.txt").write_text("mine", encoding="utf-8")
    result = check(book, "--convert", folder)
    assert result.exit_code == 2
    assert "holds files already" in said(result)
    assert [path.name for path in folder.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize(
    ("paths", "target", "reason"),
    [
        ((CATALOGUE, CATALOGUE), "a.xlsx", "name one catalogue"),
        ((ROOT / "scenarios" / "orchard-night.toml",), "a.xlsx", "name one catalogue"),
        ((CATALOGUE,), "folder", "does not end in .xlsx"),
        ((CATALOGUE,), "none/a.xlsx", "there is no folder"),
    ],
)
def test_a_target_that_does_not_fit_is_refused(
    tmp_path: Path, paths: tuple[object, ...], target: str, reason: str
) -> None:
    result = check(*paths, "--convert", tmp_path / target)
    assert result.exit_code == 2
    assert reason in said(result)
    assert result.stdout == ""
    assert not any(tmp_path.iterdir())


def test_an_unsound_catalogue_is_not_converted(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "offers.csv").write_text("part\n", encoding="utf-8")
    result = check(tmp_path / "folder", "--convert", tmp_path / "a.xlsx")
    assert result.exit_code == 2
    assert "emitters.csv" in result.stderr
    assert not (tmp_path / "a.xlsx").exists()
