"""The command prices: a list in, rows of offers out, whole or not at all. All names are invented."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from price_lists import MAP

from optimise.cli import main


@pytest.fixture
def files(tmp_path: Path) -> Path:
    (tmp_path / "map.toml").write_text(MAP, encoding="utf-8")
    (tmp_path / "list.csv").write_text("each,code\n1.50,A1\n2,B2\n", encoding="utf-8")
    return tmp_path


def prices(folder: Path, out: str = "offers.csv") -> Result:
    named = [str(folder / name) for name in ("list.csv", "map.toml", out)]
    return CliRunner().invoke(main, ["prices", named[0], "--mapping", named[1], "--out", named[2]])


def test_offers_are_written_and_what_was_left_out_is_said(files: Path) -> None:
    result = prices(files)
    assert result.exit_code == 0
    assert (files / "offers.csv").read_text(encoding="utf-8") == "part,supplier,price [EUR]\nBAR,north,1.50\n"
    said = " ".join(result.stdout.split())
    assert "offers: 1; rows skipped, since [parts] lacks their codes: 1." in said
    assert "Codes of [parts] that the list lacks: Z9." in said
    again = prices(files)
    assert again.exit_code == 2
    assert "is there already" in " ".join(again.stderr.split())


def test_a_fault_leaves_nothing_written(files: Path) -> None:
    (files / "list.csv").write_text('each,code\n"1,50",A1\n', encoding="utf-8")
    result = prices(files)
    assert result.exit_code == 2
    assert 'list.csv line 2, column "each"' in result.stderr
    assert {path.name for path in files.iterdir()} == {"list.csv", "map.toml"}


def test_a_folder_that_is_not_there_is_refused(files: Path) -> None:
    result = prices(files, "none/offers.csv")
    assert result.exit_code == 2
    assert "there is no folder" in " ".join(result.stderr.split())
