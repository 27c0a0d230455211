"""The best build at the door against looking at every build and every way to buy it (invented parts)."""

from dataclasses import replace
from itertools import combinations
from pathlib import Path
from random import Random

import numpy as np
import pytest
from baskets import DoorOracle, assert_is, sold_by_all, with_charges
from few_parts import write_few_parts, write_job
from oracle import TooManyError
from random_catalogues import random_case
from test_screening import RULES as CHANGES

from optimise.columns import supplies
from optimise.model import one_light
from optimise.model.exact import evaluate
from optimise.model.search import best_build
from optimise.parts import Catalogue, read_catalogue
from optimise.parts.basket import least_extra
from optimise.scenario import Scenario, read_scenario

NODES = 4_000
MOST = 60_000
"""Heads times supplies up to which all builds are priced."""


def drawn(
    number: int, source: str, nodes: int = NODES, most: int = MOST, most_emitters: int = 8, *, by_all: bool = False
) -> tuple[Catalogue, Scenario, DoorOracle] | None:
    """Return a small random problem whose suppliers charge, with its oracle; None where none of a few is small."""
    rng = Random(f"door {number} {source}")
    for attempt in range(50):
        case = random_case(number, source, 1000 + attempt, most_emitters)
        catalogue = with_charges(sold_by_all(case.catalogue, rng) if by_all else case.catalogue, rng)
        limits: dict[str, int] = {}
        if rng.random() < 0.3:
            limits["suppliers_max"] = rng.choice([1, 2])
        if rng.random() < 0.2:
            limits["budget"] = rng.randint(4000, 30000)
        scenario = case.scenario.model_copy(update={"limits": case.scenario.limits.model_copy(update=limits)})
        try:
            oracle = DoorOracle(catalogue, scenario, nodes)
        except TooManyError:
            continue
        if oracle.goods.lit and len(oracle.goods.lit) * len(oracle.goods.sources) <= most:
            return catalogue, scenario, oracle
    return None


def compare(number: int, source: str, objective: str, *, by_all: bool = False) -> None:
    found = drawn(number, source, by_all=by_all)
    if found is None:
        pytest.skip("too many builds for the oracle")
    catalogue, scenario, oracle = found
    wanted = oracle.best(objective)
    result = best_build(catalogue, scenario, objective)
    assert_is(wanted, result.status, result.evaluation)


@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize(("number", "source"), [(n, s) for s in ("battery", "mains") for n in range(9)])
def test_the_best_build_at_the_door_is_found(
    number: int, source: str, objective: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_by_one(number, monkeypatch)
    compare(number, source, objective)


@pytest.mark.parametrize(("number", "source"), [(n, s) for s in ("battery", "mains") for n in range(3)])
def test_the_best_build_is_found_where_everybody_sells_everything(
    number: int, source: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(one_light, "FEW", 0)
    compare(number, source, "cost", by_all=True)


@pytest.mark.long
@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize(("number", "source"), [(n, s) for s in ("battery", "mains") for n in range(3, 100)])
def test_the_best_of_many_builds_is_found_where_everybody_sells_everything(
    number: int, source: str, objective: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(one_light, "FEW", 0)
    compare(number, source, objective, by_all=True)


def one_by_one(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have every other case go over the shops, as large ones do, where all orders would fit into one program."""
    assert one_light.FEW > 0
    if number % 2:
        monkeypatch.setattr(one_light, "FEW", 0)


def all_of_them(number: int, beats: object) -> np.ndarray:
    return np.ones(number, dtype=bool)


RULES: dict[str, list[tuple[object, str, object]]] = {
    **{rule: CHANGES[rule] for rule in ("emitters by their parts", "what fits", "dominance", "beaten supplies")},
    "incumbents": CHANGES["incumbents"],
    "the only one of its figures": CHANGES["the only one of its figures"],
    "leads that are never dearer": [
        (supplies, "first_unbeaten_of", all_of_them),
    ],
}


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("number", range(3))
def test_the_best_at_the_door_is_the_same_without_a_rule(
    number: int, rule: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module, name, instead in RULES[rule]:
        assert hasattr(module, name)
        monkeypatch.setattr(module, name, instead)
    compare(number, ("battery", "mains")[number % 2], ("cost", "mass")[number % 3 % 2])


@pytest.mark.long
@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize(("number", "source"), [(n, s) for s in ("battery", "mains") for n in range(9, 180)])
def test_the_best_build_at_the_door_is_found_for_many(
    number: int, source: str, objective: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_by_one(number, monkeypatch)
    compare(number, source, objective)


@pytest.mark.parametrize("lux", [60.0, 90.0])
def test_a_demonstration_is_the_best_over_all_sets_of_suppliers(lux: float, tmp_path: Path) -> None:
    """Each set of suppliers by itself: what goods cost there, and the least that their orders cost beyond."""
    catalogue = read_catalogue(write_few_parts(tmp_path / "parts", charges=True))
    scenario = read_scenario(write_job(tmp_path / "job.toml", lux))
    best = best_build(catalogue, scenario, "cost").evaluation
    assert best is not None
    names = [supplier.supplier for supplier in catalogue.suppliers]
    found: list[int] = []
    bounds: list[int] = []
    for chosen in (c for number in range(len(names) + 1) for c in combinations(names, number)):
        offers = {
            part: tuple(offer for offer in rows if offer.supplier in {*chosen, "own"})
            for part, rows in catalogue.offers.items()
        }
        goods = best_build(replace(catalogue, offers=offers, suppliers=()), scenario, "cost").evaluation
        if goods is not None:
            extra = sum(least_extra(s, best.cents) for s in catalogue.suppliers if s.supplier in chosen)
            bounds.append(goods.cents + extra)
            found.append(evaluate(goods.choice, catalogue, scenario).cents)
    assert min(bounds) <= best.cents <= min(found)


@pytest.mark.long
@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize(("number", "source"), [(n, s) for s in ("battery", "mains") for n in range(8)])
def test_the_best_build_at_the_door_is_found_with_two_sheets(number: int, source: str, objective: str) -> None:
    compare(number, f"{source}+stacked", objective)
