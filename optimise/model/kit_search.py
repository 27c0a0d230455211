"""The best kit at what arrives at the door: the branching on suppliers over searches for kits by their goods."""

import time
from dataclasses import dataclass, field, replace
from typing import Any

from optimise.model.choice import Evaluation
from optimise.model.heuristic import value_of
from optimise.model.kit import KitEvaluation
from optimise.model.kit_house import KitHouse
from optimise.model.kit_prices import of_suppliers
from optimise.model.search import Ending, Proof, bound_and_gap, in_force, run_orders
from optimise.model.state import ORDERS, Progress, TimeUpError, hair
from optimise.model.weights import limits_of
from optimise.parts import Catalogue
from optimise.parts.basket import charges
from optimise.scenario import Scenario
from optimise.scenario.model import Objective
from optimise.scenario.terms import as_paid


@dataclass(frozen=True)
class KitResult:
    """What the search for a kit came to."""

    status: Ending
    evaluation: KitEvaluation | None
    proof: Proof
    catalogue: Catalogue
    """At what is paid."""
    scenario: Scenario
    objective: Objective


@dataclass
class _State:
    """What the search for a kit knows as it goes."""

    house: KitHouse
    order: tuple[str, ...]
    any_will_do: bool = False
    best: KitEvaluation | None = None
    lows: dict[int, float] = field(default_factory=dict)
    rounds: int = 0
    columns: int = 0
    kept_columns: int = 0
    settled: int = 0
    given: Any = None

    def seconds_left(self) -> float | None:
        """Return the seconds left. Raises `TimeUpError` where none are."""
        return self.house.seconds_left()

    def at_floor(self) -> bool:
        """Whether the best kit is known to be as good as any: that is not known before."""
        return False

    def seen(self, found: Evaluation) -> None:
        """Take note of a kit that passes: no one asks for it."""


def best_kit(
    catalogue: Catalogue,
    scenario: Scenario,
    objective: Objective | None = None,
    *,
    time_limit: float | None = None,
    threads: int = 1,
    progress: Progress = lambda text: None,
    solver: Any = None,
) -> KitResult:
    """Return the best kit of a scenario that asks for one, proven, or why there is none.

    As `search.best_build` otherwise, and it raises what that raises.
    """
    began = time.monotonic()
    scenario = in_force(scenario, objective, time_limit)
    aim, limit = scenario.search.objective, scenario.search.time_limit
    deadline = None if limit is None else began + limit
    progress("building columns")
    house = KitHouse(as_paid(catalogue, scenario), scenario, aim, deadline, threads, solver)
    search = _State(house, ORDERS[aim])
    try:
        house.choose_credit()
        # One figure after the other: that of two ties which weighs less is looked for once, not in every shop.
        run_orders(house, search, limits_of(scenario), [(scale,) for scale in search.order])
        status: Ending = "impossible" if search.best is None else "optimal"
        if search.best is not None:
            search.best = _first_of_ties(house, search.best, search.order)
    except (TimeUpError, KeyboardInterrupt):
        status = "optimal" if search.settled else "stopped" if search.best is None else "feasible"
    return KitResult(status, search.best, _proof_of(search, status, began), house.catalogue, scenario, aim)


def _first_of_ties(house: KitHouse, best: KitEvaluation, order: tuple[str, ...]) -> KitEvaluation:
    """Return of the kits of the same suppliers that tie with the best one that whose part codes come first."""
    used = {way.supplier for way in best.orders}
    suppliers = tuple(supplier for supplier in house.catalogue.suppliers if supplier.supplier in used)
    catalogue = replace(house.catalogue, offers=of_suppliers(house.offers, used), suppliers=suppliers)
    caps = limits_of(house.scenario)
    for scale in order:
        value = value_of(best, scale)
        caps[scale] = min(caps[scale], value + hair(scale, value))
    search = house.open(catalogue, house.scenario, tuple(s for s in suppliers if charges([s])), order, None)()
    search.break_ties(best, caps)
    assert search.best is not None
    return search.best


def any_kit(catalogue: Catalogue, scenario: Scenario, deadline: float | None = None) -> KitEvaluation | None:
    """Return some kit that passes the exact check, or None where it is proven that there is none.

    Raises `TimeUpError` past `deadline` (of time.monotonic).
    """
    scenario = in_force(scenario, "cost", None)
    house = KitHouse(as_paid(catalogue, scenario), scenario, "cost", deadline, 1, None)
    search = _State(house, ("cost",), any_will_do=True)
    house.choose_credit()
    run_orders(house, search, limits_of(scenario))
    return search.best


def _proof_of(search: _State, status: Ending, began: float) -> Proof:
    bound, gap = None, None
    if search.best is not None:
        value = value_of(search.best, search.house.objective)
        low = value if status == "optimal" else search.lows.get(0, 0.0)
        bound, gap = bound_and_gap(search.house.objective, value, low)
    return Proof(bound, gap, search.rounds, search.columns, search.kept_columns, time.monotonic() - began)
