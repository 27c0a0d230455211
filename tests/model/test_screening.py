"""Screening and dominance leave the best build in, and nothing but the input decides which build it is."""

import csv
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from random import Random

import numpy as np
import pulp
import pytest
from comparison import NODES, compare
from oracle import OBJECTIVES, drawn_case

import optimise
from optimise.columns import supplies
from optimise.model import goods, screening
from optimise.model import kept as kept_module
from optimise.model.bounds import COARSE, Grain, bounded
from optimise.model.kept import Kept
from optimise.model.market import Market
from optimise.model.pairs import pairs_of
from optimise.model.problem import Problem
from optimise.model.search import Result, best_build
from optimise.model.state import State
from optimise.model.weights import Weighing
from optimise.parts import Catalogue, read_catalogue
from optimise.parts.columns import Row, columns_of
from optimise.parts.kinds import TABLES
from optimise.parts.offers import MONEY_COLUMNS

# Numbers of the comparison with all builds, which has looked at their builds already.
CASES = [(number, ("battery", "mains")[number % 2]) for number in range(10, 35)]
POSSIBLE = [(number, source) for number, source in CASES if number % 5 in (1, 3, 4)][:6]


def all_channels(problem: Problem, kept: Kept) -> Kept:
    return kept


def without_bounds(problem: Problem, kept: Kept, weighing: Weighing, cap: float, grain: Grain) -> Kept:
    return kept


def without_coarse(problem: Problem, kept: Kept, weighing: Weighing, cap: float, grain: Grain) -> Kept:
    return kept if grain is COARSE else bounded(problem, kept, weighing, cap, grain)


def without_fine(problem: Problem, kept: Kept, weighing: Weighing, cap: float, grain: Grain) -> Kept:
    return kept if grain is not COARSE else bounded(problem, kept, weighing, cap, grain)


def every_line(market: Market, caps: Mapping[str, float], scale: str) -> np.ndarray:
    return np.zeros(len(market.parts.emitters) + len(pairs_of(market)))


def no_build(problem: Problem, kept: Kept, objective: str) -> None:
    return None


def any_heat(problem: Problem, kept: Kept) -> np.ndarray:
    return np.asarray(problem.heads.limit[kept.heads])


def in_company(search: State, settled: Mapping[str, float]) -> bool:
    return False


def every_supply(figures: np.ndarray) -> np.ndarray:
    return np.arange(len(figures))


RULES: dict[str, list[tuple[object, str, object]]] = {
    "emitters by their parts": [(goods, "least_by_line", every_line)],
    "coarse bounds": [(screening, "bounded", without_coarse)],
    "fine bounds": [(screening, "bounded", without_fine)],
    "what fits": [(screening, "fits", all_channels)],
    "dominance": [(screening, "drop_beaten", all_channels)],
    "beaten supplies": [(supplies, "unbeaten", every_supply)],
    "warm boards": [(screening, "warm_up", all_channels)],
    "no more heat than is needed": [(kept_module, "_hottest", any_heat)],
    "the only one of its figures": [(goods, "alone", in_company)],
    "incumbents": [(goods, "quick_build", no_build), (goods, "mixed_build", no_build)],
}
EVERYTHING = [
    change for rule, changes in RULES.items() if rule not in ("fine bounds", "coarse bounds") for change in changes
]
EVERYTHING.append((screening, "bounded", without_bounds))


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize(("number", "source"), CASES[:7])
def test_the_best_is_the_same_without_a_rule(
    number: int, source: str, rule: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module, name, instead in RULES[rule]:
        assert hasattr(module, name)
        monkeypatch.setattr(module, name, instead)
    compare(number, source, OBJECTIVES[number % 3], NODES)


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(("number", "source"), CASES[:12])
def test_the_best_is_the_same_without_screening(
    number: int, source: str, objective: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module, name, instead in EVERYTHING:
        monkeypatch.setattr(module, name, instead)
    compare(number, source, objective, NODES)


@pytest.mark.long
@pytest.mark.parametrize("rule", [*RULES, "all of them"])
@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(("number", "source"), CASES)
def test_the_best_is_the_same_without_a_rule_in_many_cases(
    number: int, source: str, objective: str, rule: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module, name, instead in RULES.get(rule, EVERYTHING):
        monkeypatch.setattr(module, name, instead)
    compare(number, source, objective, NODES)


def told(result: Result) -> str:
    """Everything of a result that a record shows, but for the seconds."""
    return f"{result.status} {result.evaluation} {replace(result.proof, seconds=0.0)}"


@pytest.mark.parametrize(("number", "source"), POSSIBLE)
def test_threads_and_repetition_change_nothing(number: int, source: str) -> None:
    case, _ = drawn_case(number, source, NODES)
    objective = OBJECTIVES[number % 3]
    first, again, threaded = (
        told(best_build(case.catalogue, case.scenario, objective, threads=threads)) for threads in (1, 1, 2)
    )
    assert first.startswith("optimal"), case.name
    assert again == first, case.name
    assert threaded == first, case.name


@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize(("number", "source"), POSSIBLE)
def test_another_solver_comes_to_the_same_build(number: int, source: str, objective: str) -> None:
    other = pulp.SCIP_PY(msg=False, gapRel=0.0, gapAbs=0.0)
    case, _ = drawn_case(number, source, NODES)
    ours = best_build(case.catalogue, case.scenario, objective).evaluation
    theirs = best_build(case.catalogue, case.scenario, objective, solver=other).evaluation
    assert ours is not None, case.name
    assert theirs is not None, case.name
    assert theirs == ours, case.name


CODE = """
from dataclasses import replace
from comparison import NODES, compare
from oracle import OBJECTIVES, drawn_case
from optimise.model.search import Result, best_build
for number in {numbers}:
    case, _ = drawn_case(number, "battery", 20_000)
    found = best_build(case.catalogue, case.scenario, OBJECTIVES[number % 3])
    print(found.status, found.evaluation, replace(found.proof, seconds=0.0))
"""


@pytest.mark.long
def test_the_order_of_hashes_changes_nothing() -> None:
    here = Path(__file__).parent
    paths = os.pathsep.join([str(here), str(Path(optimise.__file__).parents[1])])
    printed = [
        subprocess.run(
            [sys.executable, "-c", CODE.format(numbers=[13, 14])],
            env={**os.environ, "PYTHONPATH": paths, "PYTHONHASHSEED": value},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for value in ("1", "2")
    ]
    assert printed[0] == printed[1]
    assert len(printed[0].splitlines()) == 2


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
    known = told(best_build(case.catalogue, case.scenario, objective))
    assert known.startswith("optimal"), case.name
    for attempt in range(2):
        folder = tmp_path / str(attempt)
        write(case.catalogue, folder, Random(number + attempt))
        assert told(best_build(read_catalogue(folder), case.scenario, objective)) == known, case.name
