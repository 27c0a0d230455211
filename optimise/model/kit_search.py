"""The best kit at what arrives at the door: the branching on suppliers over searches for kits by their goods."""

import time
from dataclasses import dataclass, field
from typing import Any

from optimise.model.choice import Evaluation
from optimise.model.heuristic import value_of
from optimise.model.kit import KitEvaluation
from optimise.model.kit_house import KitHouse
from optimise.model.search import Ending, Proof, run_orders
from optimise.model.state import ORDERS, Progress, TimeUpError, hair, step
from optimise.model.weights import limits_of
from optimise.parts import Catalogue
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
    aim = objective or scenario.search.objective
    limit = time_limit if time_limit is not None else scenario.search.time_limit
    in_force = scenario.search.model_copy(update={"objective": aim, "time_limit": limit})
    scenario = scenario.model_copy(update={"search": in_force})
    deadline = None if limit is None else began + limit
    progress("building columns")
    house = KitHouse(as_paid(catalogue, scenario), scenario, aim, deadline, threads, solver)
    search = _State(house, ORDERS[aim])
    try:
        # One figure after the other: that of two ties which weighs less is looked for once, not in every shop.
        run_orders(house, search, limits_of(scenario), [(scale,) for scale in search.order])
        status: Ending = "impossible" if search.best is None else "optimal"
    except (TimeUpError, KeyboardInterrupt):
        status = "optimal" if search.settled else "stopped" if search.best is None else "feasible"
    return KitResult(status, search.best, _proof_of(search, status, began), house.catalogue, scenario, aim)


def any_kit(catalogue: Catalogue, scenario: Scenario, deadline: float | None = None) -> KitEvaluation | None:
    """Return some kit that passes the exact check, or None where it is proven that there is none.

    Raises `TimeUpError` past `deadline` (of time.monotonic).
    """
    in_force = scenario.search.model_copy(update={"objective": "cost"})
    scenario = scenario.model_copy(update={"search": in_force})
    house = KitHouse(as_paid(catalogue, scenario), scenario, "cost", deadline, 1, None)
    search = _State(house, ("cost",), any_will_do=True)
    run_orders(house, search, limits_of(scenario))
    return search.best


def _proof_of(search: _State, status: Ending, began: float) -> Proof:
    aim, bound, gap = search.house.objective, None, None
    if search.best is not None:
        value = value_of(search.best, aim)
        low = value if status == "optimal" else min(search.lows.get(0, 0.0), value)
        if aim == "power":
            low = min(low, value - step(aim, value) - hair(aim, value))
        bound = low / {"cost": 100.0, "mass": 1e6, "power": 1.0}[aim]
        gap = 0.0 if value <= low else (value - low) / value
    return Proof(bound, gap, search.rounds, search.columns, search.kept_columns, time.monotonic() - began)
