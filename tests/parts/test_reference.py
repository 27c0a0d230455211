"""The page of catalogue columns is what the models say."""

import re
from pathlib import Path

import pytest
from sample_files import TABLES as SAMPLE
from sample_files import faults_of, write

from optimise.parts.columns import REQUIRED, columns_of
from optimise.parts.kinds import TABLES
from optimise.parts.reference import catalogue_reference

PAGE = Path(__file__).parents[2] / "catalogue" / "README.md"
COLUMNS = [(name, title) for name, kind in TABLES.items() for title in columns_of(kind)]


def row_of(name: str, title: str) -> list[str]:
    """Return the cells of a column's row in its table of the page."""
    section = catalogue_reference().split(f"\n## {name}.csv\n")[1].split("\n## ")[0]
    (row,) = [line for line in section.splitlines() if line.startswith(f"| `{title}` |")]
    return [cell.strip() for cell in row.strip("|").split("|")]


def test_page_of_columns_is_what_the_models_say() -> None:
    assert PAGE.read_text(encoding="utf-8") == catalogue_reference()


@pytest.mark.parametrize(("name", "title"), COLUMNS)
def test_every_column_has_its_row(name: str, title: str) -> None:
    column = columns_of(TABLES[name])[title]
    cells = row_of(name, title)
    assert len(cells) == 5
    assert cells[2].strip("*") == column.blank
    assert cells[2].startswith("**") == (column.blank == REQUIRED)
    assert cells[3]
    assert cells[4] == column.meaning


@pytest.mark.parametrize(
    ("name", "title", "unit", "allowed"),
    [
        ("emitters", "length", "`mm`", "> 0 mm"),
        ("emitters", "flux", "`lm` (or only `lumen`, `klm`, `kilolumen`)", "> 0 lm"),
        ("emitters", "flux_per_kelvin", "`%/K`", "≥ -2 %/K, ≤ 0 %/K"),
        ("emitters", "cct", "`K` (or only `kelvin`)", "≥ 1000 K, ≤ 25000 K"),
        ("emitters", "droop", "none or `%`", "≥ 0, < 0.5"),
        ("emitters", "drive", "", "`constant current` or `constant voltage` or `ballast`"),
        ("drivers", "lamps", "none", "whole, ≥ 1, ≤ 8"),
        ("panels", "metal", "", "`yes` or `no`"),
        ("panels", "material", "", "text"),
        (
            "diffusers",
            "spread",
            "`deg` (or only `degree`, `degrees`, `°`, `rad`, `radian`)",
            "≥ 1 °, ≤ 120 °, or `lambertian`",
        ),
        ("offers", "price", "currency, such as `EUR`", "≥ 0, at most two decimals"),
        ("mounts", "part", "", "at most 80 signs, no comma or semicolon"),
    ],
)
def test_unit_and_range_are_those_a_person_is_shown(name: str, title: str, unit: str, allowed: str) -> None:
    assert row_of(name, title)[1::2] == [unit, allowed]


def test_page_names_the_tables_that_must_be_there(tmp_path: Path) -> None:
    needed = []
    for name in SAMPLE:
        write(tmp_path)
        (tmp_path / f"{name}.csv").unlink()
        needed += [name for fault in faults_of(tmp_path) if fault.read == "no such file"]
    sentence = re.search(r"\n\n([^\n]*) must be there", catalogue_reference())
    assert sentence is not None
    assert re.findall(r"`(\w+)\.csv`", sentence[1]) == needed


def test_every_line_of_a_table_has_as_many_cells_as_its_head() -> None:
    rows = [line for line in catalogue_reference().splitlines() if line.startswith("|")]
    assert len(rows) == len(COLUMNS) + 2 * len(TABLES)
    assert {row.count("|") for row in rows} == {6}
