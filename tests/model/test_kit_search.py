"""How a search for a kit ends, and what it proves, with its steps played by hand (invented parts)."""

import math
import time
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
import small_kits
from random_shops import offer

from optimise.model import kit_search as module
from optimise.model.kit_search import _first_of_ties, any_kit, best_kit
from optimise.model.state import TimeUpError
from optimise.parts import Supplier

PARTS = small_kits.traded()
KIT = small_kits.kit((1.0, 1), mass=9.0)


def kit_like(cents: int = 500, milligrams: int = 70, watts: float = 3.0, **rest: Any) -> Any:
    return SimpleNamespace(cents=cents, milligrams=milligrams, watts=watts, **rest)


def played(monkeypatch: pytest.MonkeyPatch, **steps: Any) -> list[Any]:
    """Have the branching on suppliers do `steps`: set attributes of the search, or raise."""
    asked: list[Any] = []

    def run_orders(house: Any, search: Any, caps: dict[str, float], stages: Any = None) -> None:
        asked.append((house, search, caps, stages))
        for name, value in steps.items():
            if name != "raises":
                setattr(search, name, value)
        if "raises" in steps:
            raise steps["raises"]

    monkeypatch.setattr(module, "run_orders", run_orders)
    monkeypatch.setattr(module.KitHouse, "choose_credit", lambda self: asked.append("credit"))
    monkeypatch.setattr(
        module, "_first_of_ties", lambda house, best, order: kit_like(best.cents, best.milligrams, tie=order)
    )
    return asked


def test_a_search_that_ends_is_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = played(monkeypatch, best=kit_like(), rounds=4, columns=5, kept_columns=6, lows={0: 400.0})
    told: list[str] = []
    began = time.monotonic()
    result = best_kit(PARTS, KIT, "mass", threads=3, solver="other", progress=told.append)
    assert (result.status, result.scenario.search.objective, result.objective) == ("optimal", "mass", "mass")
    assert result.evaluation is not None
    assert result.evaluation.tie == ("mass", "cost")  # type: ignore[attr-defined]
    assert told == ["building columns"]
    assert asked[0] == "credit"
    house, search, caps, stages = asked[1]
    assert (house.threads, house.solver, house.objective, house.deadline) == (3, "other", "mass", None)
    assert caps == {"cost": math.inf, "mass": pytest.approx(9e6, abs=1.0), "power": math.inf}
    # One figure after the other.
    assert stages == [("mass",), ("cost",)]
    assert search.order == ("mass", "cost")
    assert not search.any_will_do
    # 70 mg, proven: what was known before does not count any more.
    proof = result.proof
    assert proof.bound == pytest.approx(70e-6)
    assert proof.gap == 0.0
    assert (proof.rounds, proof.columns, proof.kept) == (4, 5, 6)
    assert 0.0 < proof.seconds <= time.monotonic() - began
    assert result.catalogue is PARTS


def test_a_search_begins_with_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = played(monkeypatch)
    proof = best_kit(PARTS, KIT).proof
    assert (proof.rounds, proof.columns, proof.kept) == (0, 0, 0)
    house, search, _, stages = asked[1]
    assert (house.threads, house.solver, stages) == (1, None, [("cost",), ("mass",)])
    assert (search.any_will_do, search.best, search.lows, search.settled, search.given) == (False, None, {}, 0, None)


def test_no_kit_is_impossible(monkeypatch: pytest.MonkeyPatch) -> None:
    played(monkeypatch)
    result = best_kit(PARTS, KIT)
    assert (result.status, result.evaluation, result.proof.bound, result.proof.gap) == ("impossible", None, None, None)


@pytest.mark.parametrize("how", [TimeUpError(), KeyboardInterrupt()])
def test_a_search_that_is_ended_says_how_far_it_came(how: BaseException, monkeypatch: pytest.MonkeyPatch) -> None:
    played(monkeypatch, raises=how)
    result = best_kit(PARTS, KIT, "cost")
    assert (result.status, result.evaluation) == ("stopped", None)
    played(monkeypatch, raises=how, best=kit_like(), lows={0: 400.0})
    result = best_kit(PARTS, KIT, "cost")
    assert (result.status, result.proof.bound, result.proof.gap) == ("feasible", 4.0, pytest.approx(0.2))
    # Of which nothing is known comes to nothing at least.
    played(monkeypatch, raises=how, best=kit_like())
    assert best_kit(PARTS, KIT, "cost").proof.bound == 0.0
    # Where the first figure is proven, it is the best by that.
    played(monkeypatch, raises=how, best=kit_like(), lows={0: 400.0}, settled=1)
    result = best_kit(PARTS, KIT, "cost")
    assert (result.status, result.proof.bound) == ("optimal", 5.0)


def test_time_is_counted_from_the_start(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = played(monkeypatch)
    now = time.monotonic()
    best_kit(PARTS, KIT, "cost", time_limit=50.0)
    house, search, _, _ = asked[1]
    assert now + 50.0 <= house.deadline <= time.monotonic() + 50.0
    left = search.seconds_left()
    assert left is not None
    assert 40.0 < left <= 50.0
    house.deadline = now - 1.0
    with pytest.raises(TimeUpError):
        search.seconds_left()
    # A kit that passes is noted by no one: nothing is known as yet.
    search.seen(kit_like())
    assert (search.any_will_do, search.best, search.lows) == (False, None, {})
    assert (search.rounds, search.columns, search.kept_columns, search.settled) == (0, 0, 0, 0)


def test_any_kit_will_do(monkeypatch: pytest.MonkeyPatch) -> None:
    best = kit_like()
    asked = played(monkeypatch, best=best)
    assert any_kit(PARTS, KIT, 1e12) is best
    assert asked[0] == "credit"
    house, search, caps, stages = asked[1]
    assert (search.any_will_do, search.order, house.deadline, house.threads, stages) == (True, ("cost",), 1e12, 1, None)
    assert caps["mass"] == pytest.approx(9e6, abs=1.0)
    played(monkeypatch)
    assert any_kit(PARTS, KIT) is None


def test_ties_are_told_apart_among_the_suppliers_of_the_best_kit() -> None:
    """Of north and south with charges, west without, own: the best kit is bought from south, west and own."""
    sellers = tuple(
        Supplier(supplier=name, delivery=cents) for name, cents in (("north", 10), ("south", 20), ("west", 0))
    )
    offers = {"e": tuple(offer("e", name, 900) for name in ("north", "south", "west", "own"))}
    best = kit_like(500, 70, orders=[SimpleNamespace(supplier=name) for name in ("south", "west", "own")])
    asked: list[Any] = []

    class Search:
        best: Any = None

        def break_ties(self, known: Any, caps: dict[str, float]) -> None:
            asked.append((known, caps))
            self.best = "first"

    def opened(catalogue: Any, scenario: Any, orders: Any, order: Any, lines: Any) -> Any:
        asked.append((catalogue, scenario, orders, order, lines))
        return Search

    house: Any = SimpleNamespace(
        catalogue=replace(PARTS, suppliers=sellers, offers={}), offers=offers, scenario=KIT, open=opened
    )
    found: Any = _first_of_ties(house, best, ("cost", "mass"))
    assert found == "first"
    catalogue, scenario, orders, order, lines = asked[0]
    assert [row.supplier for row in catalogue.offers["e"]] == ["south", "west", "own"]
    assert (catalogue.suppliers, orders) == (sellers[1:], sellers[1:2])
    assert (scenario, order, lines) == (KIT, ("cost", "mass"), None)
    # Each figure as it is, but for what the solver may blur; a limit that is lower stays.
    assert asked[1] == (best, {"cost": 500.25, "mass": 70.25, "power": math.inf})
    best.milligrams = 9_000_001
    _first_of_ties(house, best, ("cost", "mass"))
    assert asked[3][1]["mass"] <= 9_000_001.0
