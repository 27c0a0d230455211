"""The best kit by its goods: each light bounded by itself, then one program for all, checked exactly and refined.

A light alone, at prices that are never more than its share of a kit's, gives a bound on that share. What is left of a
cap over the bounds of the others is all that a light may come to: few of its columns are left by that. Where cost and
mass are both short, the same is done for a sum of both (a gram counts as so many cents), which neither does alone.
"""

import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

import numpy as np

from optimise.columns.dearer import Offers, Together
from optimise.model import goods
from optimise.model.choice import Choice
from optimise.model.formulation import rank_terms
from optimise.model.heuristic import choice_of, value_of
from optimise.model.kit import KitEvaluation, evaluate_kit, sharing
from optimise.model.kit_prices import Bounds, at_least, for_bounds, usable_offers, with_weight
from optimise.model.kit_program import Block, KitProgram, Terms, kit_program
from optimise.model.problem import Market, Problem, build_market, repriced
from optimise.model.refinement import CannotRefineError
from optimise.model.screening import screened
from optimise.model.shops import line_in
from optimise.model.solver import Outcome, Status
from optimise.model.state import (
    GAPS,
    ORDERS,
    Line,
    Progress,
    SolverError,
    State,
    TimeUpError,
    canonical,
    cells_of,
    hair,
    keeps,
    preferred,
    refine_line,
    step,
)
from optimise.model.weights import SCALES, limits_of
from optimise.parts import Catalogue, Fuse, Supplier
from optimise.parts.buying import OWN
from optimise.scenario import KitLight, Scenario

MANY = 1500
"""Columns of all lights above which a better kit is first looked for among fewer."""

FEW = 40
"""Sets of suppliers from which a first guess is made."""

ROUNDS = 4
"""Rounds in which owned parts are made to count at the shop's price."""

NARROW = (0.02, 0.1, 0.3, 1.0)
"""Shares over its bound that each light may come to while no kit is known, tried in turn."""

BOTH = "cost"
"""The scale on which a sum of cost and mass is counted, at prices that have both in them."""

Lines = tuple[tuple[Line, ...], ...]
"""Columns by light."""


@dataclass
class KitHouse:
    """A kit, and what its searches share."""

    catalogue: Catalogue
    """At what is paid."""
    scenario: Scenario
    objective: str
    deadline: float | None
    threads: int
    progress: Progress
    solver: Any
    problems: list[dict[int, Problem]] = field(default_factory=list)
    lows: dict[tuple[int, str], tuple[float, Choice]] = field(default_factory=dict)
    """What each light weighs or draws at least, from whomever it is bought, with the build."""
    cents_per_gram: float = 0.0
    """The price of a gram that was found to hold a kit to its mass; 0 where none is known yet."""

    def __post_init__(self) -> None:
        """Build what does not depend on the shops."""
        caps = limits_of(self.scenario)
        self.offers = usable_offers(self.catalogue, self.scenario)
        self.power_counts = self.objective == "power" or math.isfinite(caps["power"]) or any(sharing(self.scenario))
        self.credited: frozenset[str] = frozenset()
        prices = at_least(self.catalogue, self.offers, self.scenario, self.credited)
        pairs = zip(prices.catalogues, self.scenario.kit, strict=True)
        self.markets = [build_market(mine, self.job(entry)) for mine, entry in pairs]
        self.problems = [{} for _ in self.markets]
        self._choose_credit()

    def _choose_credit(self) -> None:
        """Have those parts count at the shop's price of which the lights, each by itself, take more than are owned."""
        best, tried = -math.inf, self.credited
        for _ in range(ROUNDS):
            before, self.credited = self.credited, tried
            first = self.open(self.catalogue, self.scenario, (), ("cost",), None)()
            if not first.bounded(limits_of(self.scenario)):
                return
            if first.least("cost") < best:
                self.credited = before
                return
            best = first.least("cost")
            tried = self.credited | self._overdrawn([light.starts["cost"] for light in first.lights])
            if tried == self.credited:
                return

    def _overdrawn(self, choices: Sequence[Choice]) -> frozenset[str]:
        """Return the owned parts of which these lights take more than there are."""
        kit = evaluate_kit(choices, self.catalogue, self.scenario)
        owned = {line.part for line in kit.bill if line.purchase.offer.supplier == OWN}
        return frozenset(line.part for line in kit.bill if line.part in owned and line.purchase.offer.supplier != OWN)

    def job(self, entry: KitLight) -> Scenario:
        """Return the job of a light at the prices of bounds."""
        return for_bounds(self.scenario, entry, power_counts=self.power_counts)

    def open(
        self, catalogue: Catalogue, scenario: Scenario, orders: tuple[Supplier, ...], order: tuple[str, ...], lines: Any
    ) -> Callable[[], "KitGoods"]:
        """Return what makes searches of a shop."""
        known: list[tuple[list[_Light], float]] = []
        offers = usable_offers(catalogue, scenario)

        def make() -> KitGoods:
            if not known:
                prices = at_least(catalogue, offers, scenario, self.credited)
                together = together_of(offers, scenario)
                known.append((list(self._lights(prices, together, lines)), prices.credit))
            return KitGoods(self, Terms(scenario, offers, orders), catalogue, order, *known[0])

        return make

    def _lights(self, prices: Bounds, together: Together, lines: Lines | None) -> Iterator["_Light"]:
        for number, (entry, mine) in enumerate(zip(self.scenario.kit, prices.catalogues, strict=True)):
            job, market = self.job(entry), self.markets[number]
            yield _Light(
                number=number,
                entry=entry,
                plain=repriced(market, mine, job),
                market=repriced(market, mine, job, together=together),
                given=None if lines is None else lines[number],
            )

    def evaluate(self, choice: Sequence[Choice], catalogue: Catalogue, scenario: Scenario) -> KitEvaluation:
        """Return all figures of a kit."""
        return evaluate_kit(choice, catalogue, scenario)

    def guesses(self, order: tuple[str, ...]) -> Iterator[tuple[Choice, ...]]:
        """Yield what the lights are best made of, each by itself, from all suppliers, and from few of them."""
        caps = limits_of(self.scenario)
        first = self.open(self.catalogue, self.scenario, (), order, None)()
        if not first.bounded(caps):
            return
        yield from first.starts()
        names = sorted({offer.supplier for rows in self.offers.values() for offer in rows} - {OWN})
        few = [set(some) for number in (1, 2, 3) for some in combinations(names, number)]
        for chosen in few[:FEW]:
            self.seconds_left()
            offers = {
                part: mine
                for part, rows in self.offers.items()
                if (mine := tuple(offer for offer in rows if offer.supplier in chosen | {OWN}))
            }
            shop = self.open(replace(self.catalogue, offers=offers, suppliers=()), self.scenario, (), order, None)()
            found = shop.quickly(caps)
            if found is not None:
                yield found

    def seconds_left(self) -> float | None:
        """Return the seconds left, or None without a limit. Raises `TimeUpError` where none are."""
        left = None if self.deadline is None else self.deadline - time.monotonic()
        if left is not None and left <= 0.0:
            raise TimeUpError
        return left


@dataclass
class _Light:
    """One entry of the kit at the prices of a shop."""

    number: int
    entry: KitLight
    plain: Market
    """At the prices of bounds."""
    market: Market
    """The same, where a part gives way only as it may in a kit."""
    given: Sequence[Line] | None
    """Columns looked up before; None: all."""
    lows: dict[str, float] = field(default_factory=dict)
    """What one of it comes to at least, by scale, as far as looked for."""
    starts: dict[str, Choice] = field(default_factory=dict)
    """The build that comes to that."""
    tangents: list[Any] = field(default_factory=list)
    lines: dict[int, Line] = field(default_factory=dict)
    """With the cells cut so far, by emitter."""

    @property
    def count(self) -> int:
        """How many equal ones."""
        return self.entry.count

    def low(self, scale: str) -> float:
        """Return what one of it comes to at least."""
        return self.lows.get(scale, 0.0)


@dataclass(frozen=True)
class _Sum:
    """Prices in which a gram counts as so many cents, and what each light comes to at least at them."""

    cents_per_gram: float
    markets: tuple[Market, ...]
    lows: tuple[float, ...]


class KitGoods:
    """A search for a kit at the prices of a shop."""

    def __init__(
        self,
        house: KitHouse,
        terms: Terms,
        catalogue: Catalogue,
        order: tuple[str, ...],
        lights: list[_Light],
        credit: float,
    ) -> None:
        self.house, self.terms, self.catalogue, self.order, self.lights = house, terms, catalogue, order, lights
        self.scenario, self.credit = terms.scenario, credit
        self.best: KitEvaluation | None = None
        self.rounds = self.columns = self.kept = 0
        self.any_will_do = False
        self.sum: _Sum | None = None

    @property
    def low(self) -> float:
        """What the first figure comes to at least."""
        return max(self.least(self.order[0]), 0.0)

    def least(self, scale: str) -> float:
        """Return what all lights come to at least on a scale, less what is given back."""
        return sum(light.count * light.low(scale) for light in self.lights) - self._back(scale)

    def _back(self, scale: str) -> float:
        """Return what is given back of what lights come to by themselves."""
        return self.credit if scale == "cost" else 0.0

    @property
    def effort(self) -> tuple[int, int, int]:
        """How many solves, columns, and columns after screening."""
        return self.rounds, self.columns, self.kept

    def run(self, caps: Mapping[str, float]) -> None:
        """Leave the best kit within caps in `best`; None where there is none."""
        if not self.bounded(caps):
            return
        settled = dict(caps)
        for scale in self.order:
            self._make_least(scale, settled)
            if self.best is None:
                return
            value = value_of(self.best, scale)
            settled[scale] = min(settled[scale], value + hair(scale, value))
        if self.order[-1] == ORDERS[self.house.objective][-1]:
            self._break_ties(settled)

    def likely(self, caps: Mapping[str, float]) -> KitEvaluation | None:
        """Return a good kit within caps, or None where it is proven that there is none."""
        if not self.bounded(caps):
            return None
        if self.best is None:
            self.any_will_do = True
            self._make_least(self.order[0], dict(caps))
        return self.best

    def within(self, caps: Mapping[str, float]) -> Lines:
        """Return all columns that kits within caps can have, by light."""
        states = self._states(self.order[0], caps) if self.bounded(caps) else None
        return tuple(() for _ in self.lights) if states is None else tuple(tuple(s.lines) for s in states)

    def bounded(self, caps: Mapping[str, float]) -> bool:
        """Work out what each light comes to at least; whether that leaves room for any kit within caps."""
        scales = [self.order[0], *(s for s in SCALES if s != self.order[0] and math.isfinite(caps[s]))]
        for scale in scales:
            for light in self.lights:
                if not self._alone(light, scale, caps):
                    return False
        if any(self._share(light, scale, caps) is None for light in self.lights for scale in scales):
            return False
        for scale in scales:
            self._offer([light.starts[scale] for light in self.lights], caps)
        if self.best is None and self._heavy(caps):
            self.sum = self._weighed(caps)
        return self.sum is None or self._least_sum() <= self._most_sum(caps)

    def _heavy(self, caps: Mapping[str, float]) -> bool:
        """Whether lights that cost least weigh too much, or those that weigh least cost too much."""
        if not all(math.isfinite(caps[scale]) for scale in ("cost", "mass")):
            return False
        cheap, slim = (
            evaluate_kit([light.starts[scale] for light in self.lights], self.catalogue, self.scenario)
            for scale in ("cost", "mass")
        )
        return cheap.milligrams > caps["mass"] and slim.cents > caps["cost"]

    def starts(self) -> Iterator[tuple[Choice, ...]]:
        """Yield what the lights are best made of, each by itself, by each figure that was looked at."""
        for scale in (*SCALES, "sum"):
            if all(scale in light.starts for light in self.lights):
                yield tuple(light.starts[scale] for light in self.lights)

    def quickly(self, caps: Mapping[str, float]) -> tuple[Choice, ...] | None:
        """Return a good build of each light by itself, quickly found; None where one has none."""
        found: list[Choice] = []
        for light in self.lights:
            own = limits_of(light.plain.scenario)
            state = self._state(light, light.plain, self.order[0])
            best = goods.find_likely(state, {name: min(own[name], caps[name] / light.count) for name in SCALES})
            if best is None:
                return None
            found.append(best.choice)
        return tuple(found)

    def _alone(self, light: _Light, scale: str, caps: Mapping[str, float]) -> bool:
        """Find what a light comes to at least by itself; whether it can be built."""
        if scale in light.lows:
            return True
        if scale != "cost" and scale != self.order[0] and (light.number, scale) in self.house.lows:
            # What it weighs or draws does not depend on who sells: the least of all shops is a bound in each.
            light.lows[scale], light.starts[scale] = self.house.lows[light.number, scale]
            return True
        own = limits_of(light.plain.scenario)
        found = self._least(light, light.plain, scale, {s: min(own[s], caps[s] / light.count) for s in SCALES})
        if found is None:
            return False
        light.lows[scale] = lowest(scale, value_of(found, scale))
        light.starts[scale] = found.choice
        self.house.lows.setdefault((light.number, scale), (light.lows[scale], found.choice))
        return True

    def _least(self, light: _Light, market: Market, scale: str, caps: Mapping[str, float]) -> Any:
        given = None if light.given is None else [line_in(market, line) for line in light.given]
        state = self._state(light, market, scale)
        state.given = given
        goods.run(state, caps)
        self.rounds += state.rounds
        self.columns += state.columns
        return state.best

    def _weighed(self, caps: Mapping[str, float]) -> _Sum | None:
        """Return prices of cost and mass together, at which lights that are best by them just keep the cap on mass.

        The price of a gram is halved between too low, where the lights that cost least weigh too much, and too high.
        """
        known = self.house.cents_per_gram
        low, high = 0.0, 0.0
        found: _Sum | None = None
        for _ in range(1 if known else 8):
            rate = known or (0.5 * (low + high) if high else max(2.0 * low, 1.0))
            tried, milligrams = self._at(rate)
            if tried is None:
                break
            found = tried
            self._offer([light.starts["sum"] for light in self.lights], caps)
            if milligrams > caps["mass"]:
                low = rate
            else:
                high = rate
            if high and high - low < 0.2 * high:
                break
        self.house.cents_per_gram = 0.0 if found is None else found.cents_per_gram
        return found

    def _at(self, rate: float) -> tuple[_Sum | None, float]:
        """Return the bounds at a price of a gram, and what their builds weigh."""
        markets, lows, milligrams = [], [], 0.0
        for light in self.lights:
            job = light.plain.scenario
            prices = with_weight(light.plain.catalogue, rate)
            own = {**limits_of(job), "cost": math.inf}
            found = self._least(light, repriced(light.plain, prices, job), BOTH, own)
            if found is None:
                return None, 0.0
            light.starts["sum"] = found.choice
            markets.append(repriced(light.plain, prices, job, together=together_of(self.terms.offers, self.scenario)))
            lows.append(lowest("cost", float(found.cents)))
            milligrams += light.count * found.milligrams
        return _Sum(rate, tuple(markets), tuple(lows)), milligrams

    def _least_sum(self) -> float:
        """Return what all lights come to at least at prices of cost and mass together."""
        assert self.sum is not None
        return sum(light.count * low for light, low in zip(self.lights, self.sum.lows, strict=True))

    def _share(self, light: _Light, scale: str, caps: Mapping[str, float]) -> float | None:
        """Return the most that one of a light may come to within caps of the kit; None where that is not enough."""
        others = sum(other.count * other.low(scale) for other in self.lights if other is not light)
        share = (caps[scale] + self._back(scale) - others) / light.count
        return None if share < light.low(scale) else share

    def _offer(self, choice: Sequence[Choice], caps: Mapping[str, float]) -> None:
        found = evaluate_kit(choice, self.catalogue, self.scenario)
        if not (found.passes and keeps(found, caps)):
            return
        if self.best is None or preferred(found, self.best, self.order) < 0:
            self.best = found

    def _no_worse(self, scale: str, caps: Mapping[str, float]) -> dict[str, float]:
        """Return the caps of kits that are no worse than the best one known."""
        within = dict(caps)
        if self.best is not None:
            value = value_of(self.best, scale)
            within[scale] = min(within[scale], value + hair(scale, value))
        return within

    def _make_least(self, scale: str, caps: Mapping[str, float]) -> None:
        if self.best is None:
            tried = -1
            for share in NARROW:
                states = self._near(scale, caps, share)
                size = size_of(states)
                if states is not None and size != tried:
                    self._solve_all(states, scale, caps)
                tried = size
                if self.best is not None:
                    break
        while self.best is not None and not self.any_will_do:
            lights = self._states(scale, self._no_worse(scale, caps))
            if lights is None:
                return
            if size_of(lights) <= MANY:
                break
            before = value_of(self.best, scale)
            lows = max(self.least(scale), 0.0)
            near = None if before <= lows else self._near(scale, caps, 0.3 * (before - lows) / max(lows, 1.0))
            if near is None:
                break
            self._solve_all(near, scale, caps)
            if value_of(self.best, scale) > before - step(scale, before):
                break
        if self.any_will_do and self.best is not None:
            return
        lights = self._states(scale, self._no_worse(scale, caps))
        if lights is not None:
            self._solve_all(lights, scale, caps)

    def _near(self, scale: str, caps: Mapping[str, float], share: float) -> list[State] | None:
        """Return each light with the columns of builds within a share over its bound; None where there are none."""
        tight = [light.low(scale) * (1.0 + share) + 1.0 for light in self.lights]
        return self._states(scale, self._no_worse(scale, caps), tight)

    def _states(
        self, scale: str, caps: Mapping[str, float], tight: Sequence[float] | None = None
    ) -> list[State] | None:
        """Return each light with the columns that it may have in a kit within caps; None where one has none."""
        states: list[State] = []
        for light in self.lights:
            shares = {name: self._share(light, name, caps) for name in SCALES}
            if any(share is None for share in shares.values()):
                return None
            own = limits_of(light.plain.scenario)
            mine = {name: min(share, own[name]) for name, share in shares.items() if share is not None}
            if tight is not None:
                mine[scale] = min(mine[scale], tight[light.number])
            state = self._state(light, light.market, scale)
            state.given = None if light.given is None else [line_in(light.market, line) for line in light.given]
            state.lines = self._lines(light, state, mine, caps, scale)
            if not state.lines:
                return None
            states.append(state)
        self.kept = max(self.kept, size_of(states))
        return states

    def _lines(
        self, light: _Light, state: State, mine: Mapping[str, float], caps: Mapping[str, float], scale: str
    ) -> list[Line]:
        found: list[Line] = []
        for line in goods.lines_within(state, mine):
            self.house.seconds_left()
            problem, kept = line.problem, line.kept
            if self.sum is not None:
                weighed = line_in(self.sum.markets[light.number], line)
                _, left = screened(weighed.problem, weighed.kept, self._sum_caps(light, caps), [BOTH])
                kept = kept.only(left.channels, left.heads)
                kept = kept.take(supplies=np.isin(kept.supplies, left.supplies))
            if kept.possible:
                problem, kept = screened(problem, kept, mine, [scale])
            if kept.possible:
                known = light.lines.setdefault(line.emitter, Line(line.emitter, problem, kept))
                known.cells = cells_of(known.cells, problem, kept)
                found.append(Line(line.emitter, problem, kept, known.cells))
        return found

    def _sum_caps(self, light: _Light, caps: Mapping[str, float]) -> dict[str, float]:
        """Return what a light may come to at prices of cost and mass together."""
        assert self.sum is not None
        others = self._least_sum() - light.count * self.sum.lows[light.number]
        return {"cost": (self._most_sum(caps) - others) / light.count, "mass": math.inf, "power": math.inf}

    def _most_sum(self, caps: Mapping[str, float]) -> float:
        """Return what a kit within caps comes to at the most at prices of cost and mass together."""
        assert self.sum is not None
        return caps["cost"] + self.credit + self.sum.cents_per_gram * caps["mass"] / 1e3

    def _state(self, light: _Light, market: Market, scale: str) -> State:
        return State(
            market,
            scale,  # type: ignore[arg-type]
            self.house.threads,
            self.house.deadline,
            lambda text: None,
            self.house.solver,
            order=(scale,),
            problems=self.house.problems[light.number],
            tangents=light.tangents if market is light.market else [],
        )

    def _solve_all(self, lights: Sequence[State], scale: str, caps: Mapping[str, float]) -> None:
        """Look for a kit that is better on a scale than the best one, among the columns of these lights."""
        while True:
            within = dict(caps)
            if self.best is not None:
                value = value_of(self.best, scale)
                within[scale] = min(within[scale], value - step(scale, value))
            k = self._program(lights, within, scale)
            gap = math.inf if self.any_will_do else GAPS[scale]
            outcome = self._solve(k, gap)
            if outcome.status is Status.IMPOSSIBLE:
                return
            if outcome.status is Status.NOTHING:
                raise TimeUpError
            better = self._judged(k, outcome, lights, within)
            if outcome.status is Status.FEASIBLE:
                raise TimeUpError
            if better is not None:
                value = value_of(better, scale)
                if self.any_will_do:
                    return
                if outcome.objective >= value - max(gap, step(scale, value) + hair(scale, value)):
                    return

    def _program(self, lights: Sequence[State], caps: Mapping[str, float], objective: str) -> KitProgram:
        lows = [light.lows for light in self.lights]
        return kit_program(lights, self.terms, caps, objective, lows, power_counts=self.house.power_counts)

    def _solve(self, k: KitProgram, gap: float) -> Outcome:
        self.rounds += 1
        outcome = k.solve(gap, self.house.seconds_left, self.house.threads, self.house.solver)
        if outcome.status is Status.FAILED:
            raise SolverError("the solver failed")
        return outcome

    def _judged(
        self, k: KitProgram, outcome: Outcome, lights: Sequence[State], caps: Mapping[str, float]
    ) -> KitEvaluation | None:
        """Take the kit of an outcome if it holds, and cut what flattered it; return it where it keeps the caps."""
        blocks = k.chosen(outcome)
        kit = evaluate_kit([_choice(block, outcome) for block in blocks], self.catalogue, self.scenario)
        if kit.passes and keeps(kit, caps):
            self.best = kit
            return kit
        self._refine(k, outcome, blocks, lights, kit)
        return None

    def _refine(
        self, k: KitProgram, outcome: Outcome, blocks: Sequence[Block], lights: Sequence[State], kit: KitEvaluation
    ) -> None:
        changed = False
        for block, state, found in zip(blocks, lights, kit.lights, strict=True):
            f, light, line = block.formulation, self.lights[block.light], block.line
            exact = found.figures["lead_loss"][0] or 0.0
            counted = math.inf if block.loss is None else k.program.value(outcome, block.loss)
            flattered = exact > counted + hair("power", found.watts) / 4
            _, supply, _, _ = f.read(outcome)
            known = any(t.supply == supply and t.load == found.apparent for t in state.tangents)
            if found.passes and (not flattered or known):
                continue
            if block.loss is not None:
                f.scales["power"] = {block.loss: 1.0}
            refine_line(state, line, f, outcome, replace(found, watts=exact))
            light.tangents[:] = state.tangents
            light.lines[line.emitter].cells = line.cells
            changed = True
        if not changed:
            failed = [m.name for m in kit.margins if not m.holds] + list(kit.missing)
            raise CannotRefineError(f"the exact check refuses a kit for: {', '.join(failed) or 'its figures'}")

    def _break_ties(self, caps: Mapping[str, float]) -> None:
        """Among kits that tie in all figures, take the one whose part codes come first, light by light."""
        lights = self._states(self.order[0], caps)
        assert lights is not None, "the best kit is within its own figures"
        for number in range(len(lights)):
            for what in ("emitters", "cells", "supplies", "mounts", "channels"):
                self._first_by(lights, number, what, caps)
        self._smallest_fuses()

    def _first_by(self, lights: Sequence[State], number: int, what: str, caps: Mapping[str, float]) -> None:
        """Keep the first emitter, head, supply or channels that a light can have."""
        while True:
            k = self._program(lights, caps, "")
            mine = [block for block in k.blocks if block.light == number]
            if what == "emitters":
                ranks = {block.used: float(block.line.emitter) for block in mine}
            else:
                ranks = rank_terms(mine[0].formulation, what)
            if what != "channels" and len(set(ranks.values())) <= 1:
                return
            k.program.minimise(ranks)
            outcome = self._solve(k, 1e-4)
            if outcome.status is Status.NOTHING:
                raise TimeUpError
            if outcome.status is not Status.OPTIMAL:
                raise SolverError(f"no kit ties with the best one ({outcome.status.value})")
            block = k.chosen(outcome)[number]
            if self._judged(k, outcome, lights, caps) is not None:
                _fix(lights[number], block, what, outcome)
                return

    def _smallest_fuses(self) -> None:
        """Give each light the smallest fuse that costs and weighs the same and still carries the load."""
        for light in self.lights:
            assert self.best is not None
            choices = list(self.best.choice)
            chosen = self.catalogue.find(Fuse, choices[light.number].fuse)
            for fuse in sorted(light.market.parts.fuses, key=lambda fuse: (fuse.rating, fuse.part)):
                if fuse.supply == chosen.supply and fuse.rating < chosen.rating:
                    choices[light.number] = replace(choices[light.number], fuse=fuse.part)
                    found = evaluate_kit(choices, self.catalogue, self.scenario)
                    figures = found.cents, found.milligrams
                    if found.passes and figures == (self.best.cents, self.best.milligrams):
                        self.best = found
                        break


def size_of(lights: Sequence[State] | None) -> int:
    """Return the number of columns of all lights."""
    return sum(line.kept.size for state in lights or () for line in state.lines)


def together_of(offers: Offers, scenario: Scenario) -> Together:
    """Return of what the lights of a kit are bought together."""
    lengths = frozenset(entry.job.power.lead_length for entry in scenario.kit)
    return Together(offers, sum(entry.count for entry in scenario.kit), lengths)


def _choice(block: Block, outcome: Outcome) -> Choice:
    index, supply, mount, numbers = block.formulation.read(outcome)
    problem = block.formulation.problem
    return canonical(choice_of(problem, block.formulation.cells[index].head, supply, mount, numbers), problem.catalogue)


def _fix(state: State, block: Block, what: str, outcome: Outcome) -> None:
    """Leave a light what came first."""
    line, f = block.line, block.formulation
    index, supply, _, numbers = f.read(outcome)
    if what == "emitters":
        state.lines = [line]
    if what == "cells":
        head = line.cells[index].head
        line.cells = [cell for cell in line.cells if cell.head == head]
    if what == "supplies":
        line.kept = line.kept.take(supplies=line.kept.supplies == supply)
    if what == "channels":
        line.kept = line.kept.take(channels=np.isin(line.kept.channels, [channel for channel, _ in numbers]))


def lowest(scale: str, value: float) -> float:
    """Return a bound surely below what a light comes to that was found best by a search for one scale."""
    return max(value - step(scale, value) - hair(scale, value), 0.0)
