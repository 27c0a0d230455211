"""A quick good build of several kinds of channel: a knapsack of whole steps of light, checked exactly before use.

As in `covering`, but with each channel's light rounded *down* to steps: what is put together is nearly sure to
give enough light, and what it weighs is near the least.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimise.columns.expand import Floats, Ints, ceil_of
from optimise.model.blending import blends
from optimise.model.bounds import load_prices_of
from optimise.model.choice import Choice, Evaluation
from optimise.model.even import uneven
from optimise.model.exact import evaluate
from optimise.model.heuristic import choice_of, lesser, value_of
from optimise.model.kept import Kept, by_bearing, least_load, least_pieces
from optimise.model.pieces import Buying
from optimise.model.problem import Problem
from optimise.model.weights import SCALES, limits_of, weigh

STEPS = 640
"""Steps into which the greatest need is divided."""

HEADS = 8
"""Heads tried for each price of load."""

SWAPS = 4
"""Exchanges of one channel for another that are tried on each of them."""

FRONT = 24
"""Supplies to which a build is fitted by exchanges."""

TRIALS = 24
"""Choices that are put to the exact check."""

BLENDS = 40
"""Mixtures of two kinds that are completed with a supply and a mount."""

MARGINS = (1.0, 1.012, 1.04)
"""Lumens over the optimistic need: the need is counted on the coldest board."""


@dataclass(frozen=True)
class _Plan:
    """The least weight for 0 … STEPS steps of light, and the channel that is added last for each of them."""

    least: Floats
    last: Ints
    steps: Ints

    def channels(self, needed: int) -> Counter[int]:
        """Return the channels for so many steps, as places among those kept."""
        chosen: Counter[int] = Counter()
        while needed > 0:
            channel = int(self.last[needed])
            chosen[channel] += 1
            needed -= int(self.steps[channel])
        return chosen


def mixed_build(problem: Problem, kept: Kept, objective: str) -> Evaluation | None:
    """Return the best of a few likely builds that pass the exact check, or None."""
    best: Evaluation | None = None
    for heads in by_bearing(problem, kept):
        borne = problem.borne(kept.channels, kept.heads[heads[:1]])
        best = lesser(best, _mixed_build(problem, kept.take(channels=borne, heads=heads), objective), objective)
    return best


def _mixed_build(problem: Problem, kept: Kept, objective: str) -> Evaluation | None:
    if not kept.possible:
        return None
    bench = _Bench(problem, kept, objective)
    found: dict[Choice, float] = {}
    if problem.mix is not None:
        for head, numbers in bench.blended():
            made = bench.completed(head, numbers)
            if made is not None:
                found[made[1]] = made[0]
    for head, margin, numbers in bench.likely() if problem.mix is None else ():
        for _ in range(SWAPS + 1):
            made = bench.completed(head, numbers)
            if made is not None:
                found[made[1]] = made[0]
            better = bench.swapped(head, margin, numbers)
            if better is None:
                break
            numbers = better
    best: Evaluation | None = None
    for choice in sorted(found, key=lambda choice: (found[choice], str(choice)))[:TRIALS]:
        if best is not None and found[choice] >= value_of(best, objective):
            break
        evaluation = evaluate(choice, problem.catalogue, problem.scenario)
        if evaluation.passes:
            best = lesser(best, evaluation, objective)
    return best


class _Bench:
    """A problem with the weights of one objective, on which builds are put together."""

    def __init__(self, problem: Problem, kept: Kept, objective: str) -> None:
        self.problem, self.kept, self.objective = problem, kept, objective
        c, index = problem.channels, kept.channels
        weighing = weigh(problem, objective, least_load(problem, kept))
        self.head = weighing.head[kept.heads]
        self.supply = weighing.supply[kept.supplies]
        self.deliverable = problem.supplies.deliverable[kept.supplies]
        self.caps = limits_of(problem.scenario)
        self.load, self.count = c.apparent[index], c.count[index]
        self.weight = weighing.channel[index]
        if weighing.money > 0.0:
            driver = np.array([b.prices(1)[1] for b in problem.driver_buying])[c.driver[index]]
            least = int(least_pieces(problem, kept).min())
            unit = np.array([_unit(buying, least) for buying in problem.emitter_buying])[problem.kinds[index]]
            self.weight = self.weight + weighing.money * (driver + unit * self.count)
        drivers, self.driver = np.unique(c.driver[index], return_inverse=True)
        self.feeds = problem.market.feeds(drivers, kept.supplies)
        # Supplies that no stronger one undercuts, whatever they feed: a few, light first.
        order = np.lexsort((-self.deliverable, self.supply))
        stronger = np.maximum.accumulate(self.deliverable[order])
        self.front = order[np.append(True, self.deliverable[order][1:] > stronger[:-1])][:FRONT]

    def likely(self) -> Iterator[tuple[int, float, Counter[int]]]:
        """Yield (place of head, margin, channels): the lightest by the plan of each price of load."""
        seen: set[tuple[int, frozenset[tuple[int, int]]]] = set()
        plans, step = self._plans(_load_prices(self.deliverable, self.supply))
        for plan in plans:
            for margin in MARGINS:
                needed = ceil_of(self.kept.need * margin / step)
                total = self.head + plan.least[np.minimum(needed, STEPS)]
                for place in np.argsort(total, kind="stable")[:HEADS].tolist():
                    if needed[place] > STEPS or not np.isfinite(total[place]):
                        continue
                    numbers = plan.channels(int(needed[place]))
                    key = place, frozenset(numbers.items())
                    if key not in seen:
                        seen.add(key)
                        yield place, margin, numbers

    def blended(self) -> Iterator[tuple[int, Counter[int]]]:
        """Yield (place of head, channels) of likely mixtures of two kinds of emitter."""
        prices = load_prices_of(self.deliverable, self.supply, 4)
        found = [
            blend
            for margin in MARGINS[1:]
            for blend in blends(self.problem, self.kept, self.head, self.weight, prices, margin)
        ]
        for _, place, numbers in sorted(found, key=lambda blend: blend[0])[:BLENDS]:
            yield place, numbers

    def swapped(self, head: int, margin: float, numbers: Counter[int]) -> Counter[int] | None:
        """Return the channels with one of them exchanged for the best other, or None where that is no better.

        This is where a build is fitted to the very supply: a little less light here, a little less load there.
        """
        need = float(self.kept.need[head]) * margin
        room = int(self.problem.capacity[self.kept.heads[head]])
        places = np.array(list(numbers), dtype=np.int64)
        number = np.array(list(numbers.values()), dtype=np.int64)
        flux, load, weight, pieces = (
            float(number @ figure[places]) for figure in (self.kept.flux, self.load, self.weight, self.count)
        )
        fits = load <= self.deliverable[self.front] * (1 + 1e-12)
        fits &= self.feeds[self.driver[places]][:, self.front].all(axis=0)
        best = (weight + self.supply[self.front][fits]).min(initial=np.inf)
        if flux < need:
            best = np.inf
        chosen: tuple[int, int] | None = None
        for out in places.tolist():
            others = np.array([p for p in places.tolist() if p != out or numbers[out] > 1], dtype=np.int64)
            lit = self.kept.flux >= need - (flux - self.kept.flux[out])
            lit &= self.count <= room - (pieces - self.count[out])
            lit &= self.weight - self.weight[out] + weight + self.supply[self.front].min(initial=np.inf) < best
            into = np.flatnonzero(lit)
            if not len(into):
                continue
            able = np.asarray(self.feeds[self.driver[others]][:, self.front].all(axis=0))
            able = able[None, :] & self.feeds[self.driver[into]][:, self.front]
            able &= self.load[into][:, None] + (load - self.load[out]) <= self.deliverable[self.front][None, :]
            total = (weight - self.weight[out] + self.weight[into])[:, None] + self.supply[self.front][None, :]
            total = np.where(able, total, np.inf)
            place = int(np.argmin(total.min(axis=1)))
            if total[place].min() < best * (1 - 1e-9):
                best, chosen = float(total[place].min()), (out, int(into[place]))
        if chosen is None:
            return None
        changed = numbers.copy()
        changed[chosen[0]] -= 1
        changed[chosen[1]] += 1
        return +changed

    def _plans(self, prices: Floats) -> tuple[list[_Plan], float]:
        """Return a plan for each price of load, and the lumens of a step."""
        step = float(self.kept.need.max()) * MARGINS[-1] / STEPS
        steps = np.minimum(np.floor(self.kept.flux / step * (1 - 1e-12)).astype(np.int64), STEPS)
        weight = self.weight[None, :] + prices[:, None] * self.load[None, :]
        used = np.zeros(len(steps), dtype=bool)
        for row in weight:
            order = np.lexsort((row, steps))
            # Of channels with the same number of steps only the lightest is of use, and none that more undercut.
            first = order[np.append(True, steps[order][1:] != steps[order][:-1])]
            first = first[(steps[first] > 0) & np.isfinite(row[first])]
            after = np.minimum.accumulate(row[first][::-1])[::-1]
            used[first[row[first] <= after]] = True
        places = np.flatnonzero(used)
        least = np.full((len(prices), STEPS + 1), np.inf)
        last = np.full((len(prices), STEPS + 1), -1, dtype=np.int64)
        least[:, 0] = 0.0
        own, width, every = weight[:, places], steps[places], np.arange(len(prices))
        for k in range(1, STEPS + 1 if len(places) else 0):
            with_one = own + least[:, np.maximum(k - width, 0)]
            best = with_one.argmin(axis=1)
            least[:, k], last[:, k] = with_one[every, best], places[best]
        return [_Plan(least[row], last[row], steps) for row in range(len(prices))], step

    def completed(self, place: int, numbers: Counter[int]) -> tuple[float, Choice] | None:
        """Return what a head with these channels weighs with the lightest supply and mount, and the choice."""
        problem, market, c = self.problem, self.problem.market, self.problem.channels
        head = int(self.kept.heads[place])
        places = np.array(list(numbers), dtype=np.int64)
        index, number = self.kept.channels[places], np.array(list(numbers.values()), dtype=np.int64)
        pieces = int(number @ c.count[index])
        if pieces > problem.capacity[head] or float(number @ c.heat[index]) > problem.heads.heat_max[head]:
            return None
        if uneven(problem, head, pieces):
            return None
        able = self.feeds[self.driver[places]].all(axis=0) & (self.deliverable >= float(number @ c.apparent[index]))
        if problem.head_metal[head]:
            able &= market.earthed[self.kept.supplies]
        if not able.any():
            return None
        chosen = int(self.kept.supplies[np.flatnonzero(able)[np.argmin(self.supply[able])]])
        mass = float(number @ problem.channel_mass[index]) + float(problem.head_mass[head])
        mount = None
        if problem.scenario.limits.mount:
            weight = market.mount_mass if self.objective == "mass" else market.mount_cost
            carries = np.flatnonzero(mass + market.mount_mass <= market.mount_load)
            if not len(carries):
                return None
            mount = int(carries[np.argmin(weight[carries])])
        drivers: Counter[int] = Counter()
        for driver, n in zip(c.driver[index].tolist(), number.tolist(), strict=True):
            drivers[driver] += n
        taken = number * c.count[index]
        paid = 0.0
        for kind, buying in enumerate(problem.emitter_buying):
            many = int(taken[problem.kinds[index] == kind].sum())
            paid += float(buying.prices(many)[many]) if many else 0.0
        paid += sum(float(problem.driver_buying[d].prices(n)[n]) for d, n in drivers.items())
        totals = {
            "cost": paid + float(problem.head_cost[head]) + float(problem.supplies.cost[chosen]),
            "mass": mass + float(problem.supplies.mass[chosen]),
            "power": float(number @ c.power[index]),
        }
        if mount is not None:
            totals["cost"] += float(market.mount_cost[mount])
            totals["mass"] += float(market.mount_mass[mount])
        if any(totals[scale] > self.caps[scale] for scale in SCALES):
            return None
        numbered = list(zip(index.tolist(), number.tolist(), strict=True))
        return totals[self.objective], choice_of(problem, head, chosen, mount, numbered)


def _unit(buying: Buying, number: int) -> float:
    """Return what a piece costs of so many, or of as many as can be had."""
    number = int(np.clip(number, 1, buying.most)) if buying.most else 1
    return float(buying.prices(number)[number]) / number


def _load_prices(deliverable: Floats, weight: Floats) -> Floats:
    """Return multipliers for the load from 0 to beyond what any supply asks for a volt-ampere more."""
    known = load_prices_of(deliverable, weight, 64)
    middle = float(np.median(known[known > 0.0])) if np.any(known > 0.0) else 1.0
    return np.append(0.0, middle * 2.0 ** (np.arange(-6, 7) / 2))
