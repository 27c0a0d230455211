"""Bounds of every column against looking at sets of channels: never above a real build, and no lower than they must be.

Problems are made of numbers: lumens are whole steps, so that nothing is lost by rounding, and a set of four channels
lights any head. What a bound says is then worked out from all sets of up to four channels.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from random import Random

import numpy as np
import pytest
from random_shops import offer
from small_worlds import STEADY, job, parts_of, world
from test_two_kinds_by_looking import splits

from optimise.columns.channels import Channels
from optimise.model import bounds
from optimise.model.bounds import Grain, bounded, load_prices_of
from optimise.model.kept import Kept
from optimise.model.mix import Mix
from optimise.model.pieces import Buying, buying_of
from optimise.model.problem import Problem
from optimise.model.weights import Weighing
from optimise.parts.buying import Want

STEPS = 12
BASE = world(parts_of(STEADY), job())
HAIR = 1e-9
SETS = np.array([some for some in product(range(5), repeat=5) if sum(some) <= 4])
"""How many of each of five channels there are, in all sets of up to four."""
Weights = Callable[[int, int, int | None], np.ndarray]


@dataclass(frozen=True)
class Made:
    """A problem of numbers."""

    problem: Problem
    kept: Kept
    weighing: Weighing
    feeds: np.ndarray
    """Which drivers (rows) may hang on which supplies."""


def made(rng: Random, *, steady: bool = True, kinds: int = 1) -> Made:
    """Return 5 channels of 2 drivers, 5 heads and 5 supplies. steady: a driver has one price, in any number.

    Of two kinds of emitter prices are steady too. The stronger a supply, the dearer each of its volt-amperes, so that
    several prices of load count.
    """
    n_channels, n_heads, n_supplies, n_drivers = 5, 5, 5, 2
    money, fed, scale = rng.random() < 0.8, rng.random() < 0.5, rng.choice([1.0, 1.0, 1.0 / 64.0])

    def whole(number: int, low: int, high: int) -> np.ndarray:
        return np.array([float(rng.randint(low, high)) for _ in range(number)])

    def among(number: int, *values: float) -> np.ndarray:
        return np.array([rng.choice(values) for _ in range(number)])

    count = np.array([rng.randint(1, 3) for _ in range(n_channels)])
    flux = among(n_channels, 3.0, 4.0, 5.0, 6.0, 8.0, 12.0)
    driver = np.array([rng.randrange(n_drivers) for _ in range(n_channels)])
    apparent = whole(n_channels, 1, 9)
    zero = np.zeros(n_channels)
    channels = Channels(
        emitter=np.zeros(n_channels, dtype=np.int64),
        driver=driver,
        series=count,
        parallel=np.ones(n_channels, dtype=np.int64),
        current=zero,
        flux=flux,
        rise=zero,
        heat=zero,
        power=apparent,
        apparent=apparent,
    )
    heads = replace(
        BASE.heads.take(np.zeros(n_heads, dtype=np.int64)),
        columns=np.full(n_heads, 12),
        rows=np.ones(n_heads, dtype=np.int64),
    )
    deliverable = np.array([6.0, 10.0, 14.0, 18.0, 30.0])
    supplies = replace(BASE.supplies.take(np.zeros(n_supplies, dtype=np.int64)), deliverable=deliverable)

    def buying(code: str, *, even: bool = steady) -> Buying:
        rows = [offer(code, "north", rng.randint(1, 9))]
        if not even:
            each = rng.randint(1, 9)
            rows = [offer(code, "own", 0, stock=float(rng.randint(1, 2))), offer(code, "north", each)]
            rows += [offer(code, "north", max(each - 3, 0), quantity_min=3.0)]
        return buying_of(Want(code, 1), rows)

    market = replace(
        BASE.market,
        supplies=supplies,
        driver_buying=tuple(buying(f"d{n}") for n in range(n_drivers)),
        emitter_buying=(buying("e", even=rng.random() < 0.4),),
    )
    feeds = np.array([[not fed or rng.random() < 0.7 for _ in range(n_supplies)] for _ in range(n_drivers)])
    feeds[:, 0] = True
    market.__dict__["_window"] = np.arange(n_supplies), feeds
    problem = replace(
        BASE,
        market=market,
        channels=channels,
        heads=heads,
        emitter_buying=market.emitter_buying,
        channel_cost=zero,
        channel_mass=zero,
        head_cost=np.zeros(n_heads),
        head_mass=np.zeros(n_heads),
    )
    problem.__dict__["density"] = among(n_channels, 1.0, 1.0, 2.0)
    problem.__dict__["bears"] = among(n_heads, 1.0, 2.0, 2.0)
    kept = Kept(
        channels=np.arange(n_channels),
        heads=np.arange(n_heads),
        supplies=np.arange(n_supplies),
        board=np.full(n_heads, 20.0),
        top=np.full(n_heads, 20.0),
        need=among(n_heads, 3.0, 4.0, 6.0, 12.0),
        flux=flux,
        fewest=np.array([rng.choice([1, 1, 2, 4]) for _ in range(n_heads)]),
    )
    weighing = Weighing(
        channel=whole(n_channels, 0, 9) * scale,
        money=rng.choice([0.5, 1.0]) * scale if money else 0.0,
        head=whole(n_heads, 0, 12) * scale,
        supply=(np.array([2.0, 4.0, 9.0, 20.0, 70.0]) + whole(n_supplies, 0, 3)) * scale,
        mount=float(rng.randint(0, 3)) * scale,
    )
    if kinds == 2:
        kind = np.array([0, 1, 0, 1, rng.randrange(2)])
        problem = replace(
            problem,
            mix=Mix(kind, ((0.25, 0.3), (0.4, 0.5))),
            emitter_buying=(buying("e", even=True), buying("f", even=True)),
        )
        problem.__dict__["density"] = np.ones(n_channels)
        problem.__dict__["bears"] = np.full(n_heads, 2.0)
    return Made(problem, kept, weighing, feeds)


def real_builds(it: Made) -> np.ndarray:
    """Return weight, place in `SETS`, head and supply (rows) of all builds of up to four channels."""
    p, k, w = it.problem, it.kept, it.weighing
    c = p.channels
    own, load, light = SETS @ w.channel, SETS @ c.apparent, SETS @ k.flux
    kind = np.zeros(5, dtype=np.int64) if p.mix is None else p.mix.kind
    for e, buying in enumerate(p.emitter_buying):
        own = own + w.money * buying.prices(40)[SETS @ np.where(kind == e, c.count, 0)]
    for d, buying in enumerate(p.market.driver_buying):
        own = own + w.money * buying.prices(40)[SETS @ np.where(c.driver == d, 1, 0)]
    can = SETS[:, np.arange(5) if k.forced is None else k.forced].sum(axis=1) >= k.forced_least
    if p.mix is not None:
        share = SETS @ np.where(kind == 1, k.flux, 0.0) / np.maximum(light, 1.0)
        can &= (share >= p.mix.low) & (share <= p.mix.high)
    found: list[np.ndarray] = []
    for h in range(len(k.heads)):
        lit = can & (light >= k.need[h]) & (SETS @ c.count >= k.fewest[h])
        lit &= SETS[:, p.density > p.bears[h]].sum(axis=1) == 0
        for s in range(len(k.supplies)):
            fed = lit & (load <= p.supplies.deliverable[s]) & (SETS[:, ~it.feeds[c.driver, s]].sum(axis=1) == 0)
            index = np.flatnonzero(fed)
            weight = own[index] + w.head[h] + w.supply[s] + w.mount
            found.append(np.stack([weight, index, np.full(len(index), h), np.full(len(index), s)]))
    return np.concatenate(found, axis=1)


def assert_holds(it: Made, cap: float, grain: Grain, builds: np.ndarray) -> Kept:
    """Assert that no real build within the cap loses a column, and that what is told of the others is so."""
    found = bounded(it.problem, it.kept, it.weighing, cap, grain)
    weight, some, head, supply = builds
    gone = np.setdiff1d(np.arange(5), found.channels)
    left_out = SETS[some.astype(np.int64)][:, gone].sum(axis=1) > 0
    left_out |= ~np.isin(head, found.heads) | ~np.isin(supply, found.supplies)
    assert (weight[left_out] > cap).all()
    assert cap < found.low <= weight[left_out].min(initial=np.inf) + 1e-6
    return found


COARSE = Grain(steps=STEPS, prices=4, layers=3, worth=0.8, groups=1, alike=np.inf)
FINE = Grain(steps=STEPS, prices=6, layers=6, worth=1.0, groups=6, alike=1.6)


def caps_of(builds: np.ndarray) -> list[float]:
    weights = np.unique(builds[0]).tolist()
    if not weights:
        return [30.0]
    # Just below a real build bounds are told apart best.
    third = weights[len(weights) // 3]
    return [weights[0] * (1.0 - 1e-6), weights[len(weights) // 8], third * (1.0 - 1e-6)]


@pytest.mark.parametrize("kinds", [1, 2])
@pytest.mark.parametrize("seed", range(8))
def test_no_real_build_loses_a_column(seed: int, kinds: int, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = Random(seed)
    it = made(rng, steady=False, kinds=kinds)
    if kinds == 1 and rng.random() < 0.4:
        forced = np.array(sorted(rng.sample(range(5), 2)))
        it = replace(it, kept=replace(it.kept, forced=forced, forced_least=rng.randint(1, 2)))
    builds = real_builds(it)
    for cap in caps_of(builds):
        monkeypatch.setattr(bounds, "PAIRS", rng.choice([0, 4_000_000]))
        assert_holds(it, cap, rng.choice([COARSE, FINE, replace(FINE, steps=7)]), builds)


def least_unit(it: Made, head: int) -> float:
    """Return the least price of an emitter in any number from that on that a head needs at least."""
    p, k = it.problem, it.kept
    if it.weighing.money == 0.0 or p.mix is not None:
        return 0.0
    each = min(count / flux for count, flux in zip(p.channels.count.tolist(), k.flux.tolist(), strict=True))
    number = max(int(np.ceil(k.need[head] * each - 1e-6)), int(k.fewest[head]))
    return min((float(p.emitter_buying[0].prices(12)[n] / n) for n in range(number, 13)), default=np.inf)


def said(it: Made, cap: float, grain: Grain, *, pairs: int) -> Kept:
    """Return what the bounds leave, as the module says they do, from all sets of up to four channels.

    pairs: of heads and supplies, up to which these are looked at together.
    """
    p, k, w = it.problem, it.kept, it.weighing
    c, most = p.channels, cap * (1.0 + HAIR) + HAIR
    supply = w.supply + w.mount
    deliverable = p.supplies.deliverable * (1.0 + 2.0 * HAIR)
    prices = load_prices_of(deliverable, supply, grain.prices)
    after = np.array([[supply[s] - price * deliverable[s] for price in prices] for s in range(len(supply))])

    def weighed(unit: float) -> np.ndarray:
        piece = p.piece_cost if p.mix is not None else np.full(len(c), unit)
        own = w.channel + w.money * (piece * c.count + p.driver_unit)
        return np.asarray(own[:, None] + c.apparent[:, None] * prices[None, :])

    units = [least_unit(it, h) for h in range(len(k.heads))]
    if not np.isfinite(grain.alike):
        units = [min(units) if unit < np.inf else unit for unit in units]
    patterns = {s: tuple(it.feeds[sorted(set(c.driver.tolist())), s]) for s in range(len(supply))}
    if len(set(patterns.values())) > grain.groups:
        groups = [({i for i in range(len(c)) if any(it.feeds[c.driver[i], s] for s in patterns)}, list(patterns))]
    else:
        like = [[s for s in patterns if patterns[s] == pattern] for pattern in set(patterns.values())]
        groups = [({i for i in range(len(c)) if it.feeds[c.driver[i], fed[0]]}, fed) for fed in like]
    bearing = [[h for h in range(len(k.heads)) if p.bears[h] == value] for value in sorted(set(p.bears.tolist()))]
    if len(bearing) == 2 and not (p.density > 1.0).any():
        bearing = [bearing[0] + bearing[1]]
    must = set(range(len(c))) if k.forced is None else set(k.forced.tolist())
    channels, heads, supplies, low = set[int](), set[int](), set[int](), [k.low]
    alike = [[h for h in some if units[h] == unit] for some in bearing for unit in sorted(set(units) - {np.inf})]
    for able, fed in groups:
        for mine in (some for some in alike if some):
            own = weighed(units[mine[0]])
            borne = {i for i in able if p.density[i] <= p.bears[mine[0]]}
            least_after = after[fed].min(axis=0)
            left = most - least_after - min(w.head[h] for h in mine)
            over = {i: float((own[i] - left).max()) if p.mix is None else 0.0 for i in borne}
            if not able & must:
                continue
            low += [most + value for value in over.values() if value > 0.0]
            light = sorted(i for i in borne if over[i] <= 0.0)
            if not set(light) & must:
                continue
            step = max(k.need[h] for h in mine) / STEPS
            steps = [round(float(k.flux[i]) / step) for i in range(len(c))]
            needed = {h: round(float(k.need[h]) / step) for h in mine}
            weights = _weights_of(it, light, own, steps)

            def of_head(
                h: int, beside: int | None, weights: Weights = weights, needed: dict[int, int] = needed
            ) -> np.ndarray:
                return weights(needed[h], int(k.fewest[h]), beside) + w.head[h]

            by_head = {h: float((of_head(h, None) + least_after).max()) for h in mine}
            lit = [h for h in mine if by_head[h] <= most]
            low += [by_head[h] for h in mine if h not in lit]
            if not lit:
                continue
            least_head = np.min([of_head(h, None) for h in lit], axis=0)
            by_supply = {s: float((least_head + after[s]).max()) for s in fed}
            near = [s for s in fed if by_supply[s] <= most]
            low += [by_supply[s] for s in fed if s not in near]
            if len(lit) * len(near) <= pairs:
                pair = {(h, s): float((of_head(h, None) + after[s]).max()) for h in lit for s in near}
                good = {key for key, value in pair.items() if value <= most}
                low += [value for (h, s), value in pair.items() if h not in {a for a, _ in good}]
                low += [value for (h, s), value in pair.items() if s not in {b for _, b in good}]
                lit, near = (
                    [h for h in lit if h in {a for a, _ in good}],
                    [s for s in near if s in {b for _, b in good}],
                )
            if not lit:
                continue
            heads |= set(lit)
            supplies |= set(near)
            least_after = after[near].min(axis=0)
            for i in light:
                beside = np.min([of_head(h, i) for h in lit], axis=0)
                value = float((own[i] + beside + least_after).max())
                if value <= most:
                    channels.add(i)
                else:
                    low.append(value)
    return replace(
        k.take(
            channels=np.array(sorted(channels), dtype=np.int64),
            heads=np.array(sorted(heads), dtype=np.int64),
            supplies=np.array(sorted(supplies), dtype=np.int64),
        ),
        low=min(low),
    )


def _weights_of(it: Made, light: list[int], own: np.ndarray, steps: list[int]) -> Weights:
    """Return what channels weigh for so many steps and pieces, by price of load: all of them, or what is beside one."""
    p, k = it.problem, it.kept
    number = SETS[:, [i for i in range(5) if i not in light]].sum(axis=1) == 0
    sets = SETS[number]
    weight, given = sets @ own, sets @ np.array(steps)

    def least(steps_asked: int, some: np.ndarray) -> np.ndarray:
        return np.asarray(weight[some & (given >= steps_asked)].min(axis=0, initial=np.inf))

    if p.mix is not None:
        kind = p.mix.kind
        alone = [sets[:, kind != which].sum(axis=1) == 0 for which in (0, 1)]
        of_kind = [[least(n, alone[which]) for n in range(STEPS + 1)] for which in (0, 1)]

        def of_two(needed: int, _: int, beside: int | None) -> np.ndarray:
            found = []
            for a, b in splits(needed, Fraction(1, 4), Fraction(1, 2)):
                first = a if beside is None or kind[beside] == 1 else max(a - steps[beside], 0)
                second = b if beside is None or kind[beside] == 0 else max(b - steps[beside], 0)
                found.append(of_kind[0][first] + of_kind[1][second])
            return np.asarray(np.min(found, axis=0))

        return of_two
    tables = [{n: least(n, np.ones(len(sets), dtype=bool)) for n in range(STEPS + 1)}]
    by_piece = np.min([own[i] / p.channels.count[i] for i in light], axis=0)
    must = [i for i in light if k.forced is None or i in k.forced]

    def one_more(others: dict[int, np.ndarray]) -> dict[int, np.ndarray]:
        least = {n: np.min([own[i] + others[max(n - steps[i], 0)] for i in must], axis=0) for n in others}
        return {n: np.maximum(others[n], least[n]) for n in others}

    if k.forced is not None or k.forced_least > 1:
        for _ in range(k.forced_least):
            tables.append(one_more(tables[-1]))

    def of_one(needed: int, fewest: int, beside: int | None) -> np.ndarray:
        if beside is None:
            return np.maximum(tables[-1][needed], fewest * by_piece)
        table = tables[-2] if len(tables) > 1 and beside in must else tables[-1]
        pieces = max(fewest - int(p.channels.count[beside]), 0)
        return np.maximum(table[max(needed - steps[beside], 0)], pieces * by_piece)

    return of_one


@pytest.mark.parametrize("kinds", [1, 2])
@pytest.mark.parametrize("seed", range(10))
def test_bounds_are_what_they_are_said_to_be(seed: int, kinds: int, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = Random(100 + seed)
    it = made(rng, kinds=kinds)
    if kinds == 1 and rng.random() < 0.6:
        forced = rng.choice([None, *(np.array(sorted(rng.sample(range(5), n))) for n in (1, 2))])
        it = replace(it, kept=replace(it.kept, forced=forced, forced_least=rng.randint(1, 2)))
    builds = real_builds(it)
    for cap in caps_of(builds):
        grain, pairs = rng.choice([COARSE, FINE, replace(FINE, groups=2)]), rng.choice([0, 4, 6, 10, 4_000_000])
        monkeypatch.setattr(bounds, "PAIRS", pairs)
        found, wanted = assert_holds(it, cap, grain, builds), said(it, cap, grain, pairs=pairs)
        for name in ("channels", "heads", "supplies"):
            assert getattr(found, name).tolist() == getattr(wanted, name).tolist(), (cap, grain, name)
        assert found.low == pytest.approx(wanted.low)


@pytest.mark.parametrize("number", [1, 3, 9])
@pytest.mark.parametrize("seed", range(4))
def test_prices_of_load_are_slopes_of_the_hull_under_all_supplies(seed: int, number: int) -> None:
    rng = Random(seed)
    deliverable = np.array([float(rng.randint(1, 30)) for _ in range(14)])
    weight = np.array([5.0 + each**2 / 8.0 + rng.randint(0, 9) for each in deliverable.tolist()])
    weight[rng.randrange(14)] = np.inf
    found = load_prices_of(deliverable, weight, number)
    known = np.isfinite(weight)
    # A supply is on the hull where some price of load makes it the lightest; prices change where two are.
    x, y = deliverable[known], weight[known]
    pairs = [(a, b) for a in range(len(x)) for b in range(len(x)) if x[b] > x[a] and y[b] > y[a]]
    slopes = [((y[b] - y[a]) / (x[b] - x[a]), a) for a, b in pairs]
    turns = sorted({round(each, 9) for each, a in slopes if np.all(y - each * x >= y[a] - each * x[a] - 1e-9)})
    every = [0.0, *turns]
    picked = {round(at) for at in np.linspace(0, len(every) - 1, number)}
    assert found.tolist() == pytest.approx([every[place] for place in sorted(picked)])
    assert found[0] == 0.0


def test_no_price_of_load_without_a_supply() -> None:
    assert load_prices_of(np.array([5.0]), np.array([np.inf]), 4).tolist() == [0.0]
    # Two of one strength: only the lighter counts.
    assert load_prices_of(np.array([5.0, 5.0, 9.0]), np.array([3.0, 1.0, 3.0]), 4).tolist() == [0.0, 0.5]
