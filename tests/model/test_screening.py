"""Screening and dominance leave the best build in, and nothing but the input decides which build it is."""

import csv
import os
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest
from comparison import NODES, compare
from oracle import OBJECTIVES, drawn_case

import optimise
from optimise.model import screening, search
from optimise.model.problem import Problem
from optimise.model.screening import Kept, Weights
from optimise.model.search import best_build
from optimise.parts import Catalogue, read_catalogue
from optimise.parts.columns import columns_of
from optimise.parts.kinds import MONEY_COLUMNS, TABLES, Row

# Numbers of the comparison with all builds, which has looked at their builds already.
CASES = [(number, ("battery", "mains")[number % 2]) for number in range(10, 35)]
POSSIBLE = [(number, source) for number, source in CASES if number % 5 in (1, 3, 4)][:6]


def keep_beaten(problem: Problem, kept: Kept) -> Kept:
    return kept


def keep_unbounded(problem: Problem, kept: Kept, weighing: Weights, cap: float, *, counts_cost: bool) -> Kept:
    return kept


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(("number", "source"), CASES)
def test_the_best_is_the_same_without_screening(
    number: int, source: str, objective: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(search, "drop_beaten", keep_beaten)
    monkeypatch.setattr(screening, "_bounded", keep_unbounded)
    compare(number, source, objective, NODES)


@pytest.mark.parametrize(("number", "source"), POSSIBLE)
def test_threads_and_repetition_change_nothing(number: int, source: str) -> None:
    case, _ = drawn_case(number, source, NODES)
    objective = OBJECTIVES[number % 3]
    first, again, threaded = (
        best_build(case.catalogue, case.scenario, objective, threads=threads).evaluation for threads in (1, 1, 2)
    )
    assert first is not None, case.name
    assert again is not None, case.name
    assert threaded is not None, case.name
    assert again.choice == first.choice, case.name
    assert threaded.choice == first.choice, case.name


CODE = """
from comparison import NODES, compare
from oracle import OBJECTIVES, drawn_case
from optimise.model.search import best_build
for number in {numbers}:
    case, _ = drawn_case(number, "battery", 20_000)
    found = best_build(case.catalogue, case.scenario, OBJECTIVES[number % 3]).evaluation
    print(found and found.choice)
"""


def test_the_order_of_hashes_changes_nothing() -> None:
    here = Path(__file__).parent
    paths = os.pathsep.join([str(here), str(Path(optimise.__file__).parents[1])])
    told = [
        subprocess.run(
            [sys.executable, "-c", CODE.format(numbers=[13, 14, 16])],
            env={**os.environ, "PYTHONPATH": paths, "PYTHONHASHSEED": value},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for value in ("1", "2")
    ]
    assert told[0] == told[1]
    assert len(told[0].splitlines()) == 3


def cell(value: object, name: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name in MONEY_COLUMNS:
        assert isinstance(value, int)
        return f"{value // 100}.{value % 100:02d}"
    return repr(value) if isinstance(value, float) else str(value)


def write(catalogue: Catalogue, folder: Path, rng: Random) -> None:
    """Write a catalogue as CSV files, with rows and columns in any order."""
    folder.mkdir()
    rows: dict[str, list[Row]] = {name: list(getattr(catalogue, name)) for name in TABLES if name != "offers"}
    rows["offers"] = [offer for offers in catalogue.offers.values() for offer in offers]
    for name, kind in TABLES.items():
        columns = list(columns_of(kind).values())
        rng.shuffle(columns)
        rng.shuffle(rows[name])
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            heads = []
            for column in columns:
                unit = "EUR" if column.name in MONEY_COLUMNS else column.measure.unit if column.measure else ""
                heads.append(f"{column.name} [{unit}]" if unit else column.name)
            writer.writerow(heads)
            for row in rows[name]:
                writer.writerow([cell(getattr(row, column.name), column.name) for column in columns])


@pytest.mark.parametrize(("number", "source"), POSSIBLE)
def test_the_order_of_rows_and_columns_changes_nothing(number: int, source: str, tmp_path: Path) -> None:
    case, _ = drawn_case(number, source, NODES)
    objective = OBJECTIVES[number % 3]
    choices = []
    for attempt in range(2):
        folder = tmp_path / str(attempt)
        write(case.catalogue, folder, Random(number + attempt))
        found = best_build(read_catalogue(folder), case.scenario, objective).evaluation
        assert found is not None, case.name
        choices.append(found.choice)
    known = best_build(case.catalogue, case.scenario, objective).evaluation
    assert known is not None, case.name
    assert choices == [known.choice] * 2, case.name
