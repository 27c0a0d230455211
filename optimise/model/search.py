"""The best build at what arrives at the door: a branching on suppliers over searches that count goods alone.

Where nobody charges for delivery or asks for a least order, a build costs what its goods cost (`goods`). Elsewhere the
search goes over *shops*: whom nothing is bought from, and who surely gets an order, on which terms. Within a shop goods
alone are counted, with a constant for the orders that are sure: never more than the truth. The best build of a shop is
then bought for true (`parts.basket`); where it costs more, the shop is split on a supplier that it uses.
"""

import heapq
import math
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from optimise.model import goods
from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.heuristic import value_of
from optimise.model.kept import everything
from optimise.model.problem import Market, build_market, hung_on, repriced
from optimise.model.state import Line, Progress, State, TimeUpError, hair, step
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Supplier
from optimise.parts.basket import charges
from optimise.parts.buying import OWN
from optimise.scenario import Scenario
from optimise.scenario.model import Objective
from optimise.scenario.terms import as_paid

EXACT = 2
"""The stage of a shop in which goods and top-ups are both counted."""

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
    aim = objective or scenario.search.objective
    limit = time_limit if time_limit is not None else scenario.search.time_limit
    # The objective decides which losses count, so the columns are built for the one in force.
    in_force = scenario.search.model_copy(update={"objective": aim, "time_limit": limit})
    scenario = scenario.model_copy(update={"search": in_force})
    progress("building columns")
    market = build_market(as_paid(catalogue, scenario), scenario)
    search = State(market, aim, threads, None if limit is None else began + limit, progress, solver)
    try:
        run(search, limits_of(scenario))
        status: Ending = "impossible" if search.best is None else "optimal"
    except (TimeUpError, KeyboardInterrupt):
        # The objective may be proven already, with only ties left open.
        status = "optimal" if search.settled else "stopped" if search.best is None else "feasible"
    return Result(status, search.best, proof_of(search, status, began), market, aim)


def proof_of(search: State, status: Ending, began: float) -> Proof:
    """Return how far the answer of a search is proven that began then (of time.monotonic)."""
    best, bound, gap = search.best, None, None
    scale = {"cost": 100.0, "mass": 1e6, "power": 1.0}[search.objective]
    if best is not None:
        value = value_of(best, search.objective)
        open_ = min(search.lows.values(), default=math.inf)
        low = value if status == "optimal" else min(max(open_, 0.0), value)
        if search.objective == "power":
            low = min(low, value - step("power", value) - hair("power", value))
        bound = low / scale
        gap = 0.0 if value <= low else (value - low) / value
    return Proof(
        bound=bound,
        gap=gap,
        rounds=search.rounds,
        columns=search.columns + len(search.market.supplies) + len(search.market.mounts),
        kept=search.kept_columns,
        seconds=time.monotonic() - began,
    )


def run(search: State, caps: Mapping[str, float]) -> None:
    """Leave in `search.best` the best build within `caps` (cents, mg, W) by `search.order`; None where there is none.

    The scales that are not in the order only keep their caps. Raises `TimeUpError` past the deadline; what is
    proven by then stands in `search.settled`.
    """
    if not search.market.charged:
        goods.run(search, caps)
        return
    settled = dict(caps)
    for order in _stages(search.order):
        _Orders(search, order, settled).go()
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
    _Orders(search, ("cost",), caps).go()
    return search.best


@dataclass(frozen=True)
class _Shop:
    """Builds bought from nobody who is `out`, and surely from those who are `paid` or `free` for their delivery."""

    low: float = 0.0
    """What the first figure of the order comes to at least."""
    out: frozenset[str] = frozenset()
    paid: frozenset[str] = frozenset()
    free: frozenset[str] = frozenset()
    lines: tuple[Line, ...] | None = field(default=None, compare=False)
    """The columns that its builds can have, as far as known from the shop that it was split from."""
    hint: Choice | None = field(default=None, compare=False)
    """The choice at which the shop was split off: likely one of its builds as well."""
    stage: int = 0
    """0: goods of whom delivery is free from count as worth that value in all; 1: at their prices; 2: exactly both."""

    @property
    def used(self) -> frozenset[str]:
        """Who surely gets an order."""
        return self.paid | self.free


class _Orders:
    """The branching on suppliers: for one order of figures, of which cost is the first or does not count."""

    def __init__(self, search: State, order: tuple[str, ...], caps: Mapping[str, float]) -> None:
        self.search, self.order, self.caps, self.market = search, order, dict(caps), search.market
        self.most = self.market.scenario.limits.suppliers_max
        selling = {offer.supplier for rows in self.market.parts.offers.values() for offer in rows} - {OWN}
        known = {supplier.supplier: supplier for supplier in self.market.catalogue.suppliers}
        self.sellers = {name: known.get(name, Supplier(supplier=name)) for name in sorted(selling)}
        self.problems = {} if search.problems is None else search.problems

    def go(self) -> None:
        """Leave the best build in the search: none within the caps, or as good as the one there, is better."""
        search = self.search
        queue = [(0.0, 0, _Shop())]
        number = 0
        while queue:
            _, _, shop = heapq.heappop(queue)
            search.seconds_left()
            for low, part in self._look(shop):
                number += 1
                heapq.heappush(queue, (low, number, part))
            if search.any_will_do and search.best is not None:
                return

    def _look(self, shop: _Shop) -> list[tuple[float, _Shop]]:
        """Look for a build of a shop that may be better; return the shops that are left to look at, likely ones first.

        Any build shows that a shop is not empty. Only where all its orders are settled is the best of it asked for.
        """
        charge = self._charge(shop)
        if self._caps(charge)["cost"] < 0.0:
            return []
        catalogue, scenario = self._terms(shop, charge)
        found = None
        if shop.hint is not None and shop.stage < EXACT:
            found = evaluate(shop.hint, catalogue, scenario)
            caps = self._caps(charge).items()
            found = found if found.passes and all(value_of(found, name) <= cap for name, cap in caps) else None
        if found is None:
            sub = self._state(shop, charge, catalogue, scenario)
            found = self._found(sub, charge, proven=shop.stage == EXACT)
        parts = None if found is None else self._left(shop, found, charge)
        if parts is None and found is not None and shop.stage < EXACT and not self.search.any_will_do:
            sub = self._state(shop, charge, catalogue, scenario)
            found = self._found(sub, charge, proven=True)
            parts = None if found is None else self._left(shop, found, charge)
        if found is None or not parts:
            return []
        if shop.lines is None and self.search.given is None and self.search.best is not None:
            # What the parts of this shop can have is looked up once, within the best build as it is bought.
            wide = self._state(shop, charge, catalogue, scenario)
            lines = goods.lines_within(wide, self._caps(charge))
            self._count(wide)
            parts = [replace(part, lines=lines) for part in parts]
        return [(float(found.cents + charge), replace(part, hint=found.choice)) for part in parts]

    def _found(self, sub: State, charge: int, *, proven: bool) -> Evaluation | None:
        """Return the best build of a shop by its goods, or any good one; None where there is none."""
        try:
            if proven:
                goods.run(sub, self._caps(charge))
                return sub.best
            return goods.find_likely(sub, self._caps(charge))
        except (TimeUpError, KeyboardInterrupt):
            if sub.best is not None:
                self._offer(evaluate(sub.best.choice, self.market.catalogue, self.market.scenario))
            raise
        finally:
            if not self.search.lows:
                self.search.lows = {0: sub.low}  # of the first shop: all builds are in it
            self._count(sub)

    def _count(self, sub: State) -> None:
        self.search.rounds += sub.rounds
        self.search.columns = max(self.search.columns, sub.columns)
        self.search.kept_columns = max(self.search.kept_columns, sum(line.kept.size for line in sub.lines))

    def _left(self, shop: _Shop, found: Evaluation, charge: int) -> list[_Shop] | None:
        """Return the shops that a shop with this build in it falls into; None where it is bought for no more there."""
        true = evaluate(found.choice, self.market.catalogue, self.market.scenario)
        self._offer(true)
        undecided = [
            order.supplier
            for order in found.orders
            if order.supplier in self.sellers and order.supplier not in shop.used and self._matters(order.supplier)
        ]
        if shop.stage == EXACT or (
            self._inside(true) and (true.cents <= found.cents + charge or "cost" not in self.order)
        ):
            return None
        if undecided:
            name = max(undecided, key=lambda name: (self.sellers[name].delivery, self.sellers[name].order_min, name))
            return self._split(shop, name)
        return [replace(shop, stage=1 if shop.free and shop.stage == 0 else EXACT)]

    def _matters(self, name: str) -> bool:
        return self.most is not None or charges([self.sellers[name]])

    def _split(self, shop: _Shop, name: str) -> list[_Shop]:
        """Return the shops without a supplier, with a paid delivery of his, and with a free one."""
        seller, out = self.sellers[name], shop.out
        parts = [replace(shop, out=out | {name}, stage=0)]
        if self.most is not None and len(shop.used) >= self.most:
            return parts
        if self.most is not None and len(shop.used) + 1 == self.most:
            out = out | (set(self.sellers) - shop.used - {name})
        parts.append(replace(shop, out=out, paid=shop.paid | {name}, stage=0))
        over = seller.delivery_free_over
        if over is not None and seller.delivery and over <= self._caps(0)["cost"]:
            parts.append(replace(shop, out=out, free=shop.free | {name}, stage=0))
        return parts

    def _threshold(self, shop: _Shop, name: str) -> int:
        """Return the value to which an order is topped up."""
        seller = self.sellers[name]
        free = (seller.delivery_free_over or 0) if name in shop.free else 0
        return max(seller.order_min, free)

    def _charge(self, shop: _Shop) -> int:
        """Return the cents that come to the goods of every build of a shop."""
        if shop.stage == EXACT:
            return 0
        delivery = sum(self.sellers[name].delivery for name in shop.paid)
        return delivery + sum(self._threshold(shop, name) for name in self._worthless(shop))

    def _worthless(self, shop: _Shop) -> frozenset[str]:
        """Return the suppliers whose goods count as worth their threshold in all, whatever is bought."""
        return shop.free if shop.stage == 0 else frozenset()

    def _caps(self, charge: int) -> dict[str, float]:
        """Return the caps of goods alone that builds keep which may be better than the best one.

        Where one figure alone is made least, a build must be better by it; else one as good may be better by the next.
        """
        caps, best = dict(self.caps), self.search.best
        if best is not None and not self.search.any_will_do:
            first = self.order[0]
            value = value_of(best, first)
            caps[first] = min(caps[first], value + (hair if len(self.order) > 1 else _less)(first, value))
        caps["cost"] -= charge
        return caps

    def _state(self, shop: _Shop, charge: int, catalogue: Catalogue, scenario: Scenario) -> State:
        """Return a search of a shop, by its goods."""
        orders = tuple(supplier for supplier in catalogue.suppliers if charges([supplier]))
        market, search = repriced(self.market, catalogue, scenario, orders), self.search
        lines = search.given if shop.lines is None else shop.lines
        return State(
            market,
            search.objective,
            search.threads,
            search.deadline,
            search.progress,
            search.solver,
            order=self.order,
            problems=self.problems,
            admits=search.admits,
            given=None if lines is None else [_line_in(market, line) for line in lines],
        )

    def _terms(self, shop: _Shop, charge: int) -> tuple[Catalogue, Scenario]:
        """Return what a shop has on offer, and the scenario with what its goods may cost."""
        worthless = self._worthless(shop)
        offers = {
            code: tuple(
                offer.model_copy(update={"price": 0}) if offer.supplier in worthless else offer
                for offer in rows
                if offer.supplier not in shop.out
            )
            for code, rows in self.market.parts.offers.items()
        }
        scenario = self.market.scenario
        budget, most = scenario.limits.budget, self.most
        sellers: tuple[Supplier, ...] = ()
        if shop.stage == EXACT:
            sellers = tuple(self._seller(shop, name) for name in self.sellers if name not in shop.out)
        else:
            most = None
        limits = scenario.limits.model_copy(
            update={"budget": None if budget is None else budget - charge, "suppliers_max": most}
        )
        catalogue = replace(self.market.catalogue, offers=offers, suppliers=sellers)
        return catalogue, scenario.model_copy(update={"limits": limits})

    def _seller(self, shop: _Shop, name: str) -> Supplier:
        """Return what a supplier charges on the terms of a shop."""
        if name in shop.paid:
            return self.sellers[name].model_copy(update={"delivery_free_over": None})
        if name in shop.free:
            least = self._threshold(shop, name)
            return Supplier(supplier=name, order_min=least)
        return self.sellers[name]

    def _inside(self, found: Evaluation) -> bool:
        """Whether a build passes and keeps the caps."""
        return found.passes and all(
            value_of(found, name) <= cap + hair(name, abs(cap)) for name, cap in self.caps.items()
        )

    def _offer(self, found: Evaluation) -> None:
        """Take a build if it is better than the best one, or as good with earlier part codes."""
        if not self._inside(found):
            return
        self.search.seen(found)
        best = self.search.best
        if best is None:
            self.search.best = found
            return
        for scale in self.order:
            new, old = value_of(found, scale), value_of(best, scale)
            if abs(new - old) > hair(scale, old):
                self.search.best = found if new < old else best
                return
        self.search.best = min(found, best, key=lambda each: _codes(each.choice))


def _less(scale: str, value: float) -> float:
    return -step(scale, value)


def _line_in(market: Market, line: Line) -> Line:
    """Return a line that was screened before, at the prices of another market."""
    problem = hung_on(line.problem, market)
    kept = everything(problem).only(line.kept.channels, line.kept.heads)
    return Line(line.emitter, problem, kept)


def _codes(choice: Choice) -> tuple[Any, ...]:
    supply = (choice.battery or "~", choice.battery_series, choice.battery_parallel)
    lead = (choice.cable, choice.fuse, choice.connector, choice.mount or "")
    return (choice.emitter, choice.panel, choice.diffuser or "~", supply, lead, choice.channels)
