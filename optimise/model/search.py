"""The best build at what arrives at the door: a branching on suppliers over searches that count goods alone.

Where nobody charges for delivery or asks for a least order, a build costs what its goods cost (`goods`). Elsewhere the
search goes over *shops*: whom nothing is bought from, and who surely gets an order, on which terms. Within a shop goods
alone are counted, with a constant for the orders that are sure: never more than the truth. The best build of a shop is
then bought for true (`parts.basket`); where it costs more, the shop is split on a supplier that it uses.
"""

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from optimise.model import goods
from optimise.model.choice import Evaluation
from optimise.model.floors import Floors, told_of
from optimise.model.heuristic import value_of
from optimise.model.house import House
from optimise.model.market import Market, build_market
from optimise.model.one_light import OneLight
from optimise.model.shops import Orders
from optimise.model.state import Progress, State, TimeUpError, hair, step
from optimise.model.weights import limits_of
from optimise.parts import Catalogue
from optimise.scenario import Scenario
from optimise.scenario.model import Objective
from optimise.scenario.terms import as_paid

Ending = Literal["optimal", "feasible", "impossible", "stopped"]


@dataclass(frozen=True)
class Proof:
    """How far the answer is proven. Bound and gap are of the objective, in its shown unit."""

    bound: float | None
    gap: float | None
    rounds: int
    columns: int
    kept: int
    seconds: float
    floors: Floors | None = None
    """What builds come to at least, where that is known beyond the bound; of use at other prices."""


@dataclass(frozen=True)
class Result:
    """What the search came to: `optimal`, `feasible`, `impossible` or `stopped`."""

    status: Ending
    evaluation: Evaluation | None
    proof: Proof
    market: Market
    objective: Objective


def best_build(
    catalogue: Catalogue,
    scenario: Scenario,
    objective: Objective | None = None,
    *,
    time_limit: float | None = None,
    threads: int = 1,
    progress: Progress = lambda text: None,
    solver: Any = None,
) -> Result:
    """Return the best build of a scenario, proven, or why there is none.

    objective: cost, mass or power (default: the scenario's); time_limit in s (default: the scenario's);
    solver: one of PuLP's to use instead of HiGHS (it is stopped by its own limits only).
    Raises RuntimeError where the solver fails or the model disagrees with the exact check in a way that
    refinement cannot mend: faults of this program, not of the input; `InputError` where a rate of exchange is missing.
    """
    began = time.monotonic()
    # The objective decides which losses count, so the columns are built for the one in force.
    scenario = in_force(scenario, objective, time_limit)
    aim, limit = scenario.search.objective, scenario.search.time_limit
    progress("building columns")
    market = build_market(as_paid(catalogue, scenario), scenario)
    search = State(market, aim, threads, None if limit is None else began + limit, progress, solver, floors={})
    try:
        run(search, limits_of(scenario))
        status: Ending = "impossible" if search.best is None else "optimal"
    except (TimeUpError, KeyboardInterrupt):
        # The objective may be proven already, with only ties left open.
        status = "optimal" if search.settled else "stopped" if search.best is None else "feasible"
    return Result(status, search.best, proof_of(search, status, began), market, aim)


def in_force(scenario: Scenario, objective: Objective | None, time_limit: float | None) -> Scenario:
    """Return a scenario with the objective and the time limit that are asked for instead of its own, if any are."""
    search = scenario.search
    changed = {
        "objective": objective or search.objective,
        "time_limit": time_limit if time_limit is not None else search.time_limit,
    }
    return scenario.model_copy(update={"search": search.model_copy(update=changed)})


def proof_of(search: State, status: Ending, began: float) -> Proof:
    """Return how far the answer of a search is proven that began then (of time.monotonic)."""
    best, bound, gap = search.best, None, None
    if best is not None:
        value = value_of(best, search.objective)
        low = value if status == "optimal" else min(search.lows.values(), default=math.inf)
        bound, gap = bound_and_gap(search.objective, value, low)
    return Proof(
        bound=bound,
        gap=gap,
        rounds=search.rounds,
        columns=search.columns + len(search.market.supplies) + len(search.market.mounts),
        kept=search.kept_columns,
        seconds=time.monotonic() - began,
        floors=None if search.floors is None else told_of(search.floors, search.market, search.objective),
    )


def bound_and_gap(objective: str, value: float, low: float) -> tuple[float, float]:
    """Return the bound in its shown unit and the gap, where the best comes to `value` and none to less than `low`."""
    low = min(max(low, 0.0), value)
    if objective == "power":
        low = min(low, value - step("power", value) - hair("power", value))
    return low / {"cost": 100.0, "mass": 1e6, "power": 1.0}[objective], 0.0 if value <= low else (value - low) / value


def run(search: State, caps: Mapping[str, float]) -> None:
    """Leave in `search.best` the best build within `caps` (cents, mg, W) by `search.order`; None where there is none.

    The scales that are not in the order only keep their caps. Raises `TimeUpError` past the deadline; what is
    proven by then stands in `search.settled`.
    """
    if not search.market.charged:
        goods.run(search, caps)
        return
    run_orders(OneLight(search), search, caps)


def run_orders(
    house: House, search: Any, caps: Mapping[str, float], stages: Sequence[tuple[str, ...]] | None = None
) -> None:
    """Leave in `search.best` the best of a house at what arrives at the door, as `run` does.

    stages: the figures that are made least together, one stage after the other.
    """
    settled = dict(caps)
    for order in stages or _stages(search.order):
        if len(order) > 1 or search.settled or not search.at_floor():
            Orders(house, search, order, settled).go()
        if search.best is None:
            return
        search.settled += len(order)
        for scale in order:
            value = value_of(search.best, scale)
            settled[scale] = min(settled[scale], value + hair(scale, value))
    search.lows.clear()


def _stages(order: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Return the figures that are made least together: those before cost one by one, cost with all after it."""
    if "cost" not in order:
        return [order]
    place = order.index("cost")
    return [*((scale,) for scale in order[:place]), order[place:]]


def possible(catalogue: Catalogue, scenario: Scenario, deadline: float | None = None) -> bool:
    """Whether any build passes the exact check. Raises `TimeUpError` past `deadline` (of time.monotonic)."""
    return any_build(catalogue, scenario, deadline) is not None


def any_build(catalogue: Catalogue, scenario: Scenario, deadline: float | None = None) -> Evaluation | None:
    """Return some build that passes the exact check, or None where it is proven that there is none.

    Raises `TimeUpError` past `deadline` (of time.monotonic).
    """
    scenario = scenario.model_copy(update={"search": scenario.search.model_copy(update={"objective": "cost"})})
    market = build_market(as_paid(catalogue, scenario), scenario)
    search = State(market, "cost", 1, deadline, lambda text: None, any_will_do=True)
    search.seconds_left()
    return find_any(search, limits_of(scenario))


def find_any(search: State, caps: Mapping[str, float]) -> Evaluation | None:
    """Return any build within `caps`, or None where it is proven that there is none. `search.any_will_do` is set."""
    if not search.market.charged:
        return goods.find_any(search, caps)
    Orders(OneLight(search), search, ("cost",), caps).go()
    return search.best
