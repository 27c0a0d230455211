"""The bill of a build as files, as a person asks for it."""

import csv
import io
import json
import re
import sys
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from optimise.cli import main

ROOT = Path(__file__).parents[1]
ORCHARD = str(ROOT / "scenarios" / "orchard-night.toml")
CATALOGUE = str(ROOT / "catalogue")


def build(*more: str, scenario: str = ORCHARD) -> Result:
    return CliRunner().invoke(main, ["build", scenario, "--catalogue", CATALOGUE, "--draws", "0", *more])


def test_all_files_tell_the_bill_of_the_record(tmp_path: Path) -> None:
    text, book, each = tmp_path / "bill.csv", tmp_path / "bill.xlsx", tmp_path / "orders"
    result = build("--bill", str(text), "--bill-each", str(each), "--json", "-")
    assert result.exit_code == 0
    record = json.loads(result.stdout)
    rows = list(csv.DictReader(io.StringIO(text.read_text(encoding="utf-8"))))
    assert rows[-1]["line [EUR]"] == f"{record['figures']['cost']['value']:.2f}"
    bought = {(line["supplier"], line["part"], str(line["packs"])) for line in record["bill"]}
    assert {(row["supplier"], row["part"], row["packs"]) for row in rows if row["packs"]} == bought
    assert sorted(path.name for path in each.iterdir()) == sorted(
        f"bill-{order['supplier']}.csv" for order in record["orders"]
    )
    assert {path.name for path in tmp_path.iterdir()} == {"bill.csv", "orders"}
    assert f"Bill: {text}" in result.stderr.replace("\n", "")
    assert build("--bill", str(book)).exit_code == 0
    sheet = openpyxl.load_workbook(book).worksheets[0]
    assert sheet.cell(sheet.max_row, 8).value == pytest.approx(record["figures"]["cost"]["value"])


def test_an_empty_folder_may_be_there_and_a_full_one_may_not(tmp_path: Path) -> None:
    each = tmp_path / "orders"
    each.mkdir()
    assert build("--bill-each", str(each)).exit_code == 0
    before = {path.name: path.read_bytes() for path in each.iterdir()}
    assert before
    result = build("--bill-each", str(each))
    assert result.exit_code == 2
    assert "holds files already" in " ".join(result.stderr.split())
    assert {path.name: path.read_bytes() for path in each.iterdir()} == before


def test_what_cannot_be_written_is_told_at_once_before_solving(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    result = build("--bill", str(tmp_path / "bill.ods"), "--bill-each", str(tmp_path / "file"))
    assert result.exit_code == 2
    said = " ".join(result.stderr.split())
    assert "must end in .csv or .xlsx. Nothing was solved." in said
    assert "--bill-each" in said
    assert "is a file. Nothing was solved." in said
    assert result.stdout == ""
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


@pytest.mark.parametrize("option", ["--bill", "--bill-each"])
def test_a_folder_that_is_not_there_is_refused(option: str, tmp_path: Path) -> None:
    result = build(option, str(tmp_path / "none" / "bill.csv"))
    assert result.exit_code == 2
    assert f"{option}: there is no folder" in result.stderr


def test_a_workbook_without_its_library_is_refused_before_solving(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    result = build("--bill", str(tmp_path / "bill.xlsx"))
    assert result.exit_code == 2
    assert "rushlight[workbook]" in result.stderr
    assert result.stdout == ""
    assert build("--bill", str(tmp_path / "bill.csv")).exit_code == 0


def test_without_a_build_there_is_no_bill(tmp_path: Path) -> None:
    text = Path(ORCHARD).read_text(encoding="utf-8")
    poor = re.sub(r"(?m)^budget = .*$", 'budget = "1 EUR"', text)
    assert poor != text
    (tmp_path / "poor.toml").write_text(poor, encoding="utf-8")
    targets = ("--bill", str(tmp_path / "b.csv"), "--bill-each", str(tmp_path / "o"))
    result = build(*targets, scenario=str(tmp_path / "poor.toml"))
    assert result.exit_code == 3
    assert "no bill was written" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["poor.toml"]
