"""What the lights of a kit come to at least, each by itself, and the columns that are left of each by that.

A light alone, at prices that are never more than its share of a kit's, gives a bound on that share. What is left of a
cap over the bounds of the others is all that a light may come to: few of its columns are left by that. Where cost and
mass are both short, the same is done for a sum of both (a gram counts as so many cents), which neither does alone.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from optimise.columns.dearer import Offers, Together
from optimise.model import goods
from optimise.model.choice import Choice
from optimise.model.heuristic import value_of
from optimise.model.kit import KitEvaluation, evaluate_kit
from optimise.model.kit_prices import with_weight
from optimise.model.kit_program import Terms
from optimise.model.market import Market, repriced
from optimise.model.problem import Problem
from optimise.model.reserve import line_in
from optimise.model.screening import screened
from optimise.model.state import Line, State, cells_of, hair, keeps, preferred, seconds_until, step
from optimise.model.weights import SCALES, limits_of
from optimise.parts import Catalogue
from optimise.scenario import KitLight, Scenario

BOTH = "cost"
"""The scale on which a sum of cost and mass is counted, at prices that have both in them."""

Lines = tuple[tuple[Line, ...], ...]
"""Columns by light."""


@dataclass
class KitMemory:
    """What all searches for a kit share."""

    catalogue: Catalogue
    """At what is paid."""
    scenario: Scenario
    objective: str
    deadline: float | None
    threads: int
    solver: Any
    power_counts: bool = False
    """Whether losses in leads count."""
    problems: list[dict[int, Problem]] = field(default_factory=list)
    """Columns of each light by emitter."""
    lows: dict[tuple[int, str], tuple[float, Choice]] = field(default_factory=dict)
    """What each light weighs or draws at least, from whomever it is bought, with the build."""
    cents_per_gram: float = 0.0
    """The price of a gram that was found to hold a kit to its mass; 0 where none is known yet."""

    def seconds_left(self) -> float | None:
        """Return the seconds left, or None without a limit. Raises `TimeUpError` where none are."""
        return seconds_until(self.deadline)


@dataclass
class KitLightState:
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

    @property
    def count(self) -> int:
        """How many equal ones."""
        return self.entry.count

    def low(self, scale: str) -> float:
        """Return what one of it comes to at least."""
        return self.lows.get(scale, 0.0)


@dataclass(frozen=True)
class Summed:
    """Prices in which a gram counts as so many cents, and what each light comes to at least at them."""

    cents_per_gram: float
    markets: tuple[Market, ...]
    lows: tuple[float, ...]


class KitBounds:
    """The lights of a kit at the prices of a shop."""

    def __init__(
        self,
        house: KitMemory,
        terms: Terms,
        catalogue: Catalogue,
        order: tuple[str, ...],
        lights: list[KitLightState],
        credit: float,
    ) -> None:
        self.house, self.terms, self.catalogue, self.order, self.lights = house, terms, catalogue, order, lights
        self.scenario, self.credit = terms.scenario, credit
        self.best: KitEvaluation | None = None
        self.rounds = self.columns = self.kept = 0
        self.any_will_do = False
        self.sum: Summed | None = None

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

    def _alone(self, light: KitLightState, scale: str, caps: Mapping[str, float]) -> bool:
        """Find what a light comes to at least by itself; whether it can be built."""
        if scale in light.lows:
            return True
        if scale != "cost" and scale != self.order[0] and (light.number, scale) in self.house.lows:
            # What it weighs or draws does not depend on who sells: the least of all shops is a bound in each.
            light.lows[scale], light.starts[scale] = self.house.lows[light.number, scale]
            return True
        own = limits_of(light.plain.scenario)
        most = {name: min(own[name], (caps[name] + self._back(name)) / light.count) for name in SCALES}
        found = self._least(light, light.plain, scale, most)
        if found is None:
            return False
        light.lows[scale] = lowest(scale, value_of(found, scale))
        light.starts[scale] = found.choice
        self.house.lows.setdefault((light.number, scale), (light.lows[scale], found.choice))
        return True

    def _least(self, light: KitLightState, market: Market, scale: str, caps: Mapping[str, float]) -> Any:
        given = None if light.given is None else [line_in(market, line) for line in light.given]
        state = self._state(light, market, scale)
        state.given, state.ties = given, False
        goods.run(state, caps)
        self.rounds += state.rounds
        self.columns += state.columns
        return state.best

    def _weighed(self, caps: Mapping[str, float]) -> Summed | None:
        """Return prices of cost and mass together, at which lights that are best by them just keep the cap on mass.

        The price of a gram is halved between too low, where the lights that cost least weigh too much, and too high.
        """
        known = self.house.cents_per_gram
        low, high = 0.0, 0.0
        found: Summed | None = None
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

    def _at(self, rate: float) -> tuple[Summed | None, float]:
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
        return Summed(rate, tuple(markets), tuple(lows)), milligrams

    def _least_sum(self) -> float:
        """Return what all lights come to at least at prices of cost and mass together."""
        assert self.sum is not None
        return sum(light.count * low for light, low in zip(self.lights, self.sum.lows, strict=True))

    def _share(self, light: KitLightState, scale: str, caps: Mapping[str, float]) -> float | None:
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
        self, light: KitLightState, state: State, mine: Mapping[str, float], caps: Mapping[str, float], scale: str
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
                # Cells cut before are not taken over: where fewer columns were left, boards were never as hot.
                found.append(Line(line.emitter, problem, kept, cells_of([], problem, kept)))
        return found

    def _sum_caps(self, light: KitLightState, caps: Mapping[str, float]) -> dict[str, float]:
        """Return what a light may come to at prices of cost and mass together."""
        assert self.sum is not None
        others = self._least_sum() - light.count * self.sum.lows[light.number]
        return {"cost": (self._most_sum(caps) - others) / light.count, "mass": math.inf, "power": math.inf}

    def _most_sum(self, caps: Mapping[str, float]) -> float:
        """Return what a kit within caps comes to at the most at prices of cost and mass together."""
        assert self.sum is not None
        return caps["cost"] + self.credit + self.sum.cents_per_gram * caps["mass"] / 1e3

    def _state(self, light: KitLightState, market: Market, scale: str) -> State:
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


def size_of(lights: Sequence[State] | None) -> int:
    """Return the number of columns of all lights."""
    return sum(line.kept.size for state in lights or () for line in state.lines)


def together_of(offers: Offers, scenario: Scenario) -> Together:
    """Return of what the lights of a kit are bought together."""
    lengths = frozenset(entry.job.power.lead_length for entry in scenario.kit)
    return Together(offers, sum(entry.count for entry in scenario.kit), lengths)


def lowest(scale: str, value: float) -> float:
    """Return a bound surely below what a light comes to that was found best by a search for one scale."""
    return max(value - step(scale, value) - hair(scale, value), 0.0)
