"""The table of a study: safe in a spreadsheet, sorted, the same in CSV and in Parquet."""

import csv
import io
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from optimise.model.search import best_build
from optimise.parts import read_catalogue
from optimise.report.record import Record, make_record
from optimise.report.results import COLUMNS, Row, counted, ordered, to_csv, to_parquet
from optimise.report.spreadsheet import RISKY
from optimise.scenario import read_scenario

ROOT = Path(__file__).parents[2]


@cache
def record() -> Record:
    catalogue = replace(read_catalogue(ROOT / "catalogue"), suppliers=())
    result = best_build(catalogue, read_scenario(ROOT / "scenarios" / "drawing-class.toml"), "cost")
    return make_record(result, result.objective, "0" * 64)


def renamed(**parts: str) -> Record:
    choice = record().choice
    assert choice is not None
    of = {"emitter": parts.get("emitter", choice.emitter)}
    channels = [channel.model_copy(update=of) for channel in choice.channels]
    return record().model_copy(update={"choice": choice.model_copy(update={**parts, "channels": channels})})


def impossible() -> Record:
    update = {"status": "impossible", "choice": None, "figures": {}, "conflict": []}
    return record().model_copy(update=update)


def read(rows: list[Row]) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(to_csv(rows), newline="")))


def test_a_row_tells_the_build() -> None:
    (row,) = read([Row("job", "shop", "cost", record())])
    figures, choice = record().figures, record().choice
    assert choice is not None
    assert [row[name] for name in ("scenario", "catalogue", "objective", "status")] == [
        "job",
        "shop",
        "cost",
        "optimal",
    ]
    assert row["cost"] == f"{figures['cost'].value:.2f}"
    assert float(row["mass [kg]"]) == figures["mass"].value
    assert float(row["power [W]"]) == figures["power"].value
    assert float(row["illuminance [lx]"]) == figures["illuminance"].value
    assert row["emitter"] == choice.emitter
    assert int(row["emitters"]) == sum(c.number * c.series * c.parallel for c in choice.channels)
    assert row["drivers"] == "1 " + choice.channels[0].driver
    assert (row["runtime [h]"], row["battery"], row["batteries"]) == ("", "", "0")
    assert (float(row["bound"]), float(row["gap"])) == (figures["cost"].value, 0.0)
    assert "seconds" not in to_csv([Row("job", "shop", "cost", record())])


def test_failed_and_impossible_cases_are_rows() -> None:
    rows = read([Row("a", "c", "cost", None), Row("b", "c", "cost", impossible())])
    assert [row["status"] for row in rows] == ["failed", "impossible"]
    assert all(row[column.header] == "" for row in rows for column in COLUMNS[5:-3])
    assert rows[0]["bound"] == rows[0]["currency"] == ""


@pytest.mark.parametrize("sign", RISKY)
def test_text_that_a_spreadsheet_would_run_is_text(sign: str) -> None:
    cell = f'{sign}HYPERLINK("x","y"),1'
    (row,) = read([Row(cell, cell, "cost", renamed(emitter=cell, panel=cell, battery=cell, mount=cell))])
    for name in ("scenario", "catalogue", "emitter", "panel", "battery", "mount"):
        assert row[name] == f"'{cell}"
    for name, value in row.items():
        assert not value.startswith(RISKY), name


def test_negative_numbers_stay_numbers() -> None:
    figures = {**record().figures, "power": record().figures["power"].model_copy(update={"value": -2.5})}
    (row,) = read([Row("a", "c", "cost", record().model_copy(update={"figures": figures}))])
    assert row["power [W]"] == "-2.5"


def test_the_order_of_solving_leaves_no_trace() -> None:
    rows = [Row(s, c, o, None) for s in ("b", "a") for c in ("y", "x") for o in ("mass", "cost")]
    assert ordered(rows) == ordered(rows[::-1])
    assert [(row.scenario, row.catalogue, row.objective) for row in ordered(rows)][:3] == [
        ("a", "x", "cost"),
        ("a", "x", "mass"),
        ("a", "y", "cost"),
    ]


def test_counts_in_words() -> None:
    rows = [Row("a", "c", "cost", None), Row("b", "c", "cost", record()), Row("d", "c", "cost", record())]
    assert counted(rows) == "3 cases: 2 optimal, 1 failed"
    assert counted(rows[:1]) == "1 case: 1 failed"


def test_parquet_holds_what_the_csv_holds() -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    rows = [
        Row("=a", "c", "cost", renamed(emitter="-1")),
        Row("b", "c", "cost", impossible()),
        Row("d", "c", "cost", None),
    ]
    packed = to_parquet(rows)
    assert packed is not None
    table = parquet.read_table(io.BytesIO(packed))
    assert table.column_names == [column.header for column in COLUMNS]
    for kept, written in zip(table.to_pylist(), read(rows), strict=True):
        for column in COLUMNS:
            value, text = kept[column.header], written[column.header]
            if value is None:
                assert text == ""
            elif column.kind is str:
                assert text.removeprefix("'") == value
            else:
                assert column.kind(text) == value


def test_no_parquet_without_its_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert to_parquet([Row("a", "c", "cost", None)]) is None
