"""Lower bounds of every build that uses a column, a head with a supply, or an emitter at all.

Every bound is a sum of least possible shares: what the head, the lumens, the supply and the mount cost (or
weigh, or draw) at the very least. A column goes only where its bound is *above* a limit or the incumbent, so
builds that tie with the best stay in.

For a head that needs N lumens and a supply that delivers L, a build weighs at least

    head + supply − λ L + least weight of channels for N, each load charged λ + mount

for every λ ≥ 0 (Lagrange's bound for the row of the load). A few λ are tried, read off the prices that
supplies ask for a volt-ampere. Where a build must have some of certain channels, the least weight is that with the
lightest of them and what the rest needs.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise, product

import numpy as np

from optimise.columns.expand import Floats, Ints, ceil_of
from optimise.model.covering import Group, least_covering
from optimise.model.kept import Kept, by_bearing, least_pieces
from optimise.model.light import HAIR, base_of, slope_of
from optimise.model.mix import Mix
from optimise.model.problem import Problem
from optimise.model.two_kinds import TwoKinds
from optimise.model.weights import Weighing


@dataclass(frozen=True)
class Grain:
    """How finely is bounded: a coarse bound is quick, and does most of the work."""

    steps: int
    """Steps into which the greatest need is divided."""
    prices: int
    """Multipliers of the load that are tried."""
    layers: int
    """Pieces of a driver whose price is followed one by one."""
    worth: float
    """How far the least price of a driver must fall below its price in small numbers for these to be followed."""
    groups: int
    """Kinds of supply, by the drivers they feed, up to which each is bounded by itself."""
    alike: float
    """Heads whose boards warm up with their heat within this factor are bounded together; infinite: all are, and
    what heat takes away is not counted."""


COARSE = Grain(steps=96, prices=4, layers=3, worth=0.8, groups=1, alike=np.inf)
FINE = Grain(steps=384, prices=6, layers=6, worth=1.0, groups=6, alike=1.6)

FAR = 2.0
"""How far beyond the cap what a number of pieces costs is still looked at: a build of more weighs more than that."""

PAIRS = 4_000_000
"""Heads times supplies above which they are bounded one by one, not in pairs."""


def bounded(problem: Problem, kept: Kept, weighing: Weighing, cap: float, grain: Grain) -> Kept:
    """Return the columns of one kind of emitter whose least possible build weighs at most `cap`.

    `Kept.low` is then what any build weighs at least that was dropped.
    """
    low = kept.low
    most = cap * (1 + HAIR) + HAIR
    supply = weighing.supply[kept.supplies] + weighing.mount
    # The exact check forgives a load a hair too great, and a dear volt-ampere would make much of it.
    deliverable = problem.supplies.deliverable[kept.supplies] * (1 + 2 * HAIR)
    load_prices = load_prices_of(deliverable, supply, grain.prices)
    after = supply[:, None] - load_prices[None, :] * deliverable[:, None]
    channels = np.zeros(len(kept.channels), dtype=bool)
    heads = np.zeros(len(kept.heads), dtype=bool)
    supplies = np.zeros(len(kept.supplies), dtype=bool)
    for able, fed in _groups(problem, kept, grain):
        if not kept.must[able].any():
            continue
        for unit, slope, mine in _alike(problem, kept, weighing, most, grain):
            least_after = after[fed].min(axis=0)
            left = most - least_after - weighing.head[kept.heads[mine]].min()
            borne = able[problem.borne(kept.channels[able], kept.heads[mine[:1]])]
            over = _over(problem, weighing, load_prices, unit, kept.channels[borne], left)
            low = min(low, most + over[over > 0.0].min(initial=np.inf))
            light = borne[over <= 0.0]
            if not kept.must[light].any():
                continue
            body = _Body(problem, kept, weighing, most, load_prices, unit, slope, light, mine, grain)
            by_head = (body.heads + least_after).max(axis=1)
            lit = by_head <= most
            low = min(low, by_head[~lit].min(initial=np.inf))
            if not lit.any():
                continue
            by_supply = (body.heads[lit].min(axis=0) + after[fed]).max(axis=1)
            near = by_supply <= most
            low = min(low, by_supply[~near].min(initial=np.inf))
            if lit.sum() * near.sum() <= PAIRS:
                pairs = np.full((int(lit.sum()), int(near.sum())), -np.inf)
                for k in range(len(load_prices)):
                    np.maximum(pairs, body.heads[lit, k, None] + after[None, fed[near], k], out=pairs)
                good = pairs <= most
                lights, feeds = good.any(axis=1), good.any(axis=0)
                low = min(low, pairs[~lights].min(initial=np.inf), pairs[:, ~feeds].min(initial=np.inf))
                lit[lit], near[near] = lights, feeds
            if not lit.any():
                continue
            heads[mine[lit]] = True
            supplies[fed[near]] = True
            least_after = after[fed[near]].min(axis=0)
            by_channel = body.with_one(lit, least_after)
            low = min(low, by_channel[by_channel > most].min(initial=np.inf))
            channels[light] |= by_channel <= most
    # Of so many pieces as cost more than that nothing is said.
    low = min(low, FAR * most) if weighing.money > 0.0 and problem.mix is None else low
    return replace(kept.take(channels=channels, heads=heads, supplies=supplies), low=float(low))


class _Body:
    """The least weight of head and channels, where an emitter weighs `unit` cents a piece."""

    def __init__(
        self,
        problem: Problem,
        kept: Kept,
        weighing: Weighing,
        most: float,
        load_prices: Floats,
        unit: float,
        slope: float,
        able: np.ndarray,
        mine: Ints,
        grain: Grain,
    ) -> None:
        c = problem.channels
        index = kept.channels[able]
        need, flux = kept.need[mine], kept.flux[able]
        if slope > 0.0 and problem.mix is None:
            every = np.full(len(mine), slope)
            base = base_of(problem, kept.heads[mine], kept.board[mine], kept.top[mine], every)
            # Where heat takes nearly all, a straight line under the need says less than the coldest board.
            if np.all(base > 0.5 * need):
                need, flux = base, np.maximum(flux - slope * c.heat[index], 1e-3 * flux)
        step = float(need.max()) / grain.steps
        self.steps = np.clip(ceil_of(flux / step * (1 - HAIR)), 1, grain.steps)
        self.needed = np.clip(ceil_of(need / step * (1 - HAIR)), 1, grain.steps)
        self.head = weighing.head[kept.heads[mine]]
        self.two: TwoKinds | None = None
        if problem.mix is not None:
            self._of_two(problem, problem.mix, weighing, load_prices, index, grain)
            return
        weight, alone = _weights(problem, weighing, load_prices, unit, index)
        groups: list[Group] = []
        more = np.zeros(len(index))
        room = int(problem.capacity[kept.heads[mine]].max())
        driver, count = c.driver[index], c.count[index]
        order = np.argsort(driver, kind="stable")
        for its in np.split(order, np.flatnonzero(np.diff(driver[order])) + 1):
            first, each = np.zeros(1), 0.0
            if weighing.money > 0.0:
                buying = problem.market.driver_buying[int(driver[its[0]])]
                number = max(_payable(room // int(count[its].min()), buying.unit * weighing.money, most), 1)
                first, each, step_up = buying.in_pieces(number, grain.layers, grain.worth)
                first, each, more[its] = weighing.money * first, weighing.money * each, weighing.money * step_up
            groups.append(Group(self.steps[its], weight[:, its], first, each))
        self.covering = least_covering(groups, len(load_prices), grain.steps)
        self.own = weight + more[None, :]
        self.must = kept.must[able]
        self.all_but_one = self.forced = self.covering
        if not self.must.all() or kept.forced_least > 1:
            for _ in range(kept.forced_least):
                self.all_but_one, self.forced = self.forced, self._with_one_that_must_be(self.forced)
        # So much light, and so many pieces where dots or an open board ask for them.
        self.by_piece = (alone / count).min(axis=1)
        self.count, self.fewest = count, kept.fewest[mine]
        lit = np.maximum(self.forced[:, self.needed].T, self.fewest[:, None] * self.by_piece[None, :])
        self.heads = self.head[:, None] + lit

    def _with_one_that_must_be(self, others: Floats) -> Floats:
        """Return the least weight of channels for 0, 1, 2 … steps of light, one that must be there beside others."""
        steps = np.arange(others.shape[1])
        lightest = np.full_like(others, np.inf)
        for price, own in enumerate(self.own):
            np.minimum.at(lightest[price], self.steps[self.must], own[self.must])
        total = np.full_like(others, np.inf)
        for given in np.unique(self.steps[self.must]).tolist():
            rest = others[:, np.maximum(steps - given, 0)]
            np.minimum(total, lightest[:, given, None] + rest, out=total)
        return np.maximum(total, others)

    def _of_two(
        self, problem: Problem, mix: Mix, weighing: Weighing, load_prices: Floats, index: Ints, grain: Grain
    ) -> None:
        """Bound a mixture. Both kinds may share a pack of drivers, so each is at its lowest price by the piece."""
        c = problem.channels
        pieces = problem.piece_cost[index] * c.count[index]
        own = weighing.channel[index] + weighing.money * (pieces + problem.driver_unit[index])
        self.own = own[None, :] + load_prices[:, None] * c.apparent[index][None, :]
        self.second = mix.kind[index] == 1
        coverings = [
            least_covering([Group(self.steps[its], self.own[:, its], np.zeros(1), 0.0)], len(load_prices), grain.steps)
            for its in (~self.second, self.second)
        ]
        self.two = TwoKinds(coverings[0], coverings[1], mix.low, mix.high)
        self.heads = self.head[:, None] + self.two.least(self.needed).T

    def _with_one_of_two(self, two: TwoKinds, lit: np.ndarray, least_after: Floats) -> Floats:
        distinct, place = np.unique(self.steps, return_inverse=True)
        needed, which = np.unique(self.needed[lit], return_inverse=True)
        head = np.full(len(needed), np.inf)
        np.minimum.at(head, np.ravel(which), self.head[lit])
        first, second = ((two.rest(needed, distinct, second=s) + head).min(axis=2) for s in (False, True))
        beside = np.where(self.second[None, :], second[:, np.ravel(place)], first[:, np.ravel(place)])
        return np.asarray((self.own + beside + least_after[:, None]).max(axis=0))

    def with_one(self, lit: np.ndarray, least_after: Floats) -> Floats:
        """Return for each channel the least weight of a build that has one of it, on any of the heads `lit`."""
        if self.two is not None:
            return self._with_one_of_two(self.two, lit, least_after)
        few = np.all(self.fewest[lit] <= 1)
        count = np.ones_like(self.count) if few else self.count
        (distinct, pieces), place = np.unique(np.stack([self.steps, count]), axis=1, return_inverse=True)
        # Of heads that need as much only the lightest counts.
        wanted = np.stack([self.needed[lit], self.fewest[lit]])
        (needed, fewest), which = np.unique(wanted, axis=1, return_inverse=True)
        head = np.full(len(needed), np.inf)
        np.minimum.at(head, np.ravel(which), self.head[lit])
        left = np.maximum(needed[None, :] - distinct[:, None], 0)
        least = np.zeros((1, 1, 1))
        if not few:
            least = np.maximum(fewest[None, :] - pieces[:, None], 0)[None, :, :] * self.by_piece[:, None, None]

        def after(covering: Floats) -> Floats:
            rest = (np.maximum(covering[:, left], least) + head[None, None, :]).min(axis=2)
            return np.asarray(rest[:, np.ravel(place)])

        rest = after(self.forced)
        if self.forced is not self.covering:
            rest[:, self.must] = after(self.all_but_one)[:, self.must]
        return np.asarray((self.own + rest + least_after[:, None]).max(axis=0))


def _weights(
    problem: Problem, weighing: Weighing, load_prices: Floats, unit: float, index: Ints
) -> tuple[Floats, Floats]:
    """Return what channels weigh at each price of the load, shape (prices, channels): without drivers, and with."""
    c = problem.channels
    own = weighing.channel[index] + weighing.money * unit * c.count[index]
    weight = own[None, :] + load_prices[:, None] * c.apparent[index][None, :]
    return weight, weight + weighing.money * problem.driver_unit[index]


def _over(problem: Problem, weighing: Weighing, load_prices: Floats, unit: float, index: Ints, left: Floats) -> Floats:
    """Return by how much channels by themselves weigh more than is left for them, at some price of the load; or 0."""
    if problem.mix is not None:
        return np.zeros(len(index))
    over = _weights(problem, weighing, load_prices, unit, index)[1] - left[:, None]
    return np.asarray(over.max(axis=0, initial=0.0))


def _payable(number: int, each: float, most: float) -> int:
    """Return how many of so many pieces can be in a build that weighs no more than `FAR` times the cap."""
    return number if not each or each * number <= FAR * most else max(math.ceil(FAR * most / each), 0)


def _alike(
    problem: Problem, kept: Kept, weighing: Weighing, most: float, grain: Grain
) -> Iterator[tuple[float, float, Ints]]:
    """Yield (least price of an emitter, lumens that a watt takes away, heads) for heads that are alike in both.

    Their boards bear the heat of the same channels.
    """
    unit = _units(problem, kept, weighing, most)
    if not np.isfinite(grain.alike):
        unit = np.where(np.isfinite(unit), unit.min(), np.inf)
    slope = np.zeros(len(unit))
    if np.isfinite(grain.alike):
        slope = slope_of(problem, kept.heads, kept.board, kept.top)
    for value, group in product(np.unique(unit[np.isfinite(unit)]), by_bearing(problem, kept)):
        left = group[unit[group] == value]
        left = left[np.argsort(slope[left], kind="stable")]
        while len(left):
            least = float(slope[left[0]])
            alike = slope[left] <= (grain.alike * least if np.isfinite(grain.alike) else 0.0)
            yield float(value), least, left[alike]
            left = left[~alike]


def _units(problem: Problem, kept: Kept, weighing: Weighing, cap: float) -> Floats:
    """Return the least price of an emitter for the number that each head needs at least; 0 of two kinds."""
    if weighing.money == 0.0 or problem.mix is not None:
        return np.zeros(len(kept.heads))
    number = least_pieces(problem, kept)
    buying = problem.emitter_buying[0]
    most = _payable(int(problem.capacity[kept.heads].max()), buying.unit * weighing.money, cap)
    prices = buying.prices(most)
    each = np.append(prices[1:] / np.arange(1, most + 1), np.inf)
    from_here_on = np.minimum.accumulate(each[::-1])[::-1]
    return np.asarray(from_here_on[np.clip(number, 1, most + 1) - 1])


def _groups(problem: Problem, kept: Kept, grain: Grain) -> list[tuple[Ints, Ints]]:
    """Return (channels that can be fed, supplies) for each group of kept supplies that feed the same drivers."""
    driver = problem.channels.driver[kept.channels]
    distinct, place = np.unique(driver, return_inverse=True)
    groups = problem.market.groups(distinct, kept.supplies)
    if len(groups) > grain.groups:
        able = np.asarray(np.stack([drivers for drivers, _ in groups]).any(axis=0))
        groups = [(able, np.arange(len(kept.supplies)))]
    found = [(np.flatnonzero(able[place]), fed) for able, fed in groups]
    return [(able, fed) for able, fed in found if len(able)]


def load_prices_of(deliverable: Floats, weight: Floats, number: int) -> Floats:
    """Return a few multipliers for the load: 0, and slopes of the lower hull of weight over load."""
    known = np.isfinite(weight)
    deliverable, weight = deliverable[known], weight[known]
    order = np.lexsort((weight, deliverable))
    # Only what no stronger supply undercuts can be on the hull.
    light = np.minimum.accumulate(weight[order][::-1])[::-1] >= weight[order]
    hull: list[tuple[float, float]] = []
    for x, y in zip(deliverable[order][light].tolist(), weight[order][light].tolist(), strict=True):
        while len(hull) >= 2 and (hull[-1][1] - hull[-2][1]) * (x - hull[-2][0]) >= (y - hull[-2][1]) * (
            hull[-1][0] - hull[-2][0]
        ):
            hull.pop()
        hull.append((x, y))
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(hull) if b[0] > a[0]]
    rising = np.unique(np.array([0.0, *(slope for slope in slopes if slope > 0.0)]))
    # The bound holds for any multiplier; a handful, spread over the hull, does nearly all there is to do.
    return np.asarray(rising[np.unique(np.linspace(0, len(rising) - 1, number).round().astype(np.int64))])
