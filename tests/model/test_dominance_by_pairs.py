"""Which columns another column replaces, against comparing every pair figure by figure. All figures are invented."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

import numpy as np
import pytest
from random_shops import offer
from small_worlds import SHEETS, STEADY, WARM, job, parts_of, world

from optimise.columns.channels import Channels
from optimise.columns.dearer import Together
from optimise.columns.heads import NO_DIFFUSER
from optimise.columns.supplies import MAINS
from optimise.model import dominance
from optimise.model.dominance import drop_beaten
from optimise.model.kept import Kept, everything
from optimise.model.mix import Mix
from optimise.model.pieces import buying_of
from optimise.model.problem import Problem
from optimise.model.stacks import stack_of
from optimise.parts import Driver, Offer, Supplier
from optimise.parts.buying import Want, price_of
from optimise.scenario.points import Point

DRIVER = parts_of().drivers[0]
DRIVERS = tuple(DRIVER.model_copy(update={"part": f"d{n}", "mass": mass}) for n, mass in enumerate((0.1, 0.1, 0.2)))
COOLER = STEADY.model_copy(update={"part": "h"})
VEIL = SHEETS[1].model_copy(update={"part": "veil", "spread": 1.0})
THREE = (*SHEETS, SHEETS[1].model_copy(update={"part": "gauze"}), stack_of(*SHEETS), VEIL)
POINTS = (Point(name="a", across=0.1, illuminance=5.0), Point(name="b", up=0.1, illuminance_max=900.0))
CHANNELS, HEADS, SUPPLIES = 16, 8, 12


@dataclass(frozen=True)
class Asked:
    """What decides which figures count."""

    limited: bool = False
    dots: bool = False
    mixed: bool = False
    power: bool = False
    orders: bool = False
    together: bool = False

    @property
    def named(self) -> bool:
        """Whether it matters from whom a part is bought."""
        return self.orders or self.together


def base(asked: Asked) -> Problem:
    look: dict[str, object] = {"dots_max": 0.9} if asked.dots else {}
    parts = parts_of(WARM, STEADY, COOLER, drivers=DRIVERS)
    panels = tuple(panel.model_copy(update={"depth": 0.1}) for panel in parts.panels)
    scenario = job(*POINTS if asked.limited else POINTS[:1], look=look)
    if asked.power:
        scenario = scenario.model_copy(update={"limits": scenario.limits.model_copy(update={"power": 500.0})})
    return world(replace(parts, panels=panels), scenario)


KNOWN: dict[Asked, Problem] = {}


def made(rng: Random, asked: Asked) -> tuple[Problem, Kept]:
    """Return a problem whose columns have few different figures, so that many replace each other."""
    STANDS_IN.clear()
    if asked not in KNOWN:
        KNOWN[asked] = base(asked)
    plain = KNOWN[asked]

    def few(number: int, *values: float) -> np.ndarray:
        return np.array([rng.choice(values or (1.0, 1.0, 2.0)) for _ in range(number)])

    kind = np.array([rng.randrange(2 if asked.mixed else 3) for _ in range(CHANNELS)])
    channels = Channels(
        emitter=np.zeros(CHANNELS, dtype=np.int64) if asked.mixed else kind,
        driver=np.array([rng.randrange(3) for _ in range(CHANNELS)]),
        series=few(CHANNELS).astype(np.int64),
        parallel=few(CHANNELS, 1, 1, 1, 2).astype(np.int64),
        current=few(CHANNELS),
        flux=few(CHANNELS),
        rise=few(CHANNELS),
        heat=few(CHANNELS),
        power=few(CHANNELS),
        apparent=few(CHANNELS),
    )
    # Of the first emitter no head is open, of the second none has a sheet, unless all must have.
    sheets = {
        e: [NO_DIFFUSER, *range(5)][e == 0 or asked.dots : 1 if e == 1 and not asked.dots else 6] for e in range(3)
    }
    kinds = [0] if asked.mixed or asked.dots else [0, 1, 2]
    places = [(e, panel, sheet) for e in kinds for panel in (0, 1) for sheet in sheets[e]]
    places = sorted(rng.sample(places, HEADS))
    emitter, panel, diffuser = (np.array(each) for each in zip(*places, strict=True))
    heads = replace(
        plain.heads.take(np.zeros(HEADS, dtype=np.int64)),
        emitter=emitter,
        panel=panel,
        diffuser=diffuser,
        lux_per_lumen=few(HEADS),
        spots=np.array([few(len(plain.market.targets)) for _ in range(HEADS)]),
    )
    battery = few(SUPPLIES, 0, 0, 1, MAINS).astype(np.int64)
    supplies = replace(
        plain.supplies.take(np.zeros(SUPPLIES, dtype=np.int64)),
        battery=battery,
        series=np.where(battery == MAINS, 0, few(SUPPLIES, 1, 1, 2)).astype(np.int64),
        parallel=np.ones(SUPPLIES, dtype=np.int64),
        cable=few(SUPPLIES, 0, 1).astype(np.int64),
        fuse=few(SUPPLIES, 0, 1).astype(np.int64),
        connector=few(SUPPLIES, 0, 1).astype(np.int64),
        cost=few(SUPPLIES).astype(np.int64),
        mass=np.ones(SUPPLIES, dtype=np.int64) if asked.named else few(SUPPLIES).astype(np.int64),
        deliverable=few(SUPPLIES, *((1.0,) if asked.named else ())),
        nominal=few(SUPPLIES, 12.0, 24.0),
        resistance=few(SUPPLIES, 0.1, 0.4),
    )

    def offers(code: str) -> tuple[Offer, ...]:
        rows = [offer(code, shop, rng.choice([10, 10, 20])) for shop in ("north", "south") if rng.random() < 0.8]
        if rng.random() < 0.4:
            rows = [row for row in rows if row.supplier != "north"]
            rows.append(offer(code, "north", 10, stock=rng.choice([1.0, 3.0])))
        if asked.together and code in {driver.part for driver in DRIVERS} and rng.random() < 0.5:
            # A pair for what others ask for one: beside other lights it is never the dearer.
            rows = [offer(code, "north", 10, pack=2.0)]
        return tuple(rows)

    parts = plain.market.parts
    twice = {
        name: (part, part.model_copy(update={"part": part.part + "2"}))
        for name, part in (
            ("batteries", parts.batteries[0]),
            ("fuses", parts.fuses[0]),
            ("connectors", parts.connectors[0]),
        )
    }
    parts = replace(parts, diffusers=THREE, **twice)  # type: ignore[arg-type]
    codes = [
        p.part
        for some in (parts.drivers, parts.batteries, parts.cables, parts.fuses, parts.connectors, THREE)
        for p in some
    ]
    parts = replace(parts, offers={code: offers(code) for code in codes})
    market = replace(
        plain.market,
        parts=parts,
        supplies=supplies,
        orders=(Supplier(supplier="north", delivery=100),) if asked.orders else (),
        together=Together(parts.offers, 2, frozenset({1.0})) if asked.together else None,
        driver_buying=tuple(buying_of(Want(d.part, 1), parts.offers[d.part]) for d in parts.drivers),
    )
    feeds = np.array([[asked.named or rng.random() < 0.8 for _ in range(SUPPLIES)] for _ in range(3)])
    market.__dict__["_window"] = np.arange(SUPPLIES), feeds
    market.__dict__["earthed"] = np.array([rng.random() < 0.7 for _ in range(SUPPLIES)])
    problem = replace(
        plain,
        market=market,
        parts=parts,
        channels=channels,
        heads=heads,
        channel_cost=np.zeros(CHANNELS),
        channel_mass=np.zeros(CHANNELS),
        head_cost=few(HEADS),
        head_mass=few(HEADS),
        mix=Mix(kind, ((0.2, 0.5),)) if asked.mixed else None,
    )
    problem.__dict__["density"] = few(CHANNELS, 1.0, 2.0, 3.0)
    problem.__dict__["bears"] = few(HEADS, 1.5, 2.0, 9.0)
    kept = everything(problem)
    kept = replace(kept, flux=channels.flux[kept.channels])
    return problem, kept


def left_by(columns: list[int], replaces: Callable[[int, int], bool], order: Callable[[int], object]) -> list[int]:
    """Return what stays: what nothing replaces, but for equals, of which the first in order stays."""
    stays = []
    for j in columns:
        gone = any(
            replaces(i, j) and (not replaces(j, i) or (order(i), columns.index(i)) < (order(j), columns.index(j)))  # type: ignore[operator]
            for i in columns
            if i != j
        )
        if not gone:
            stays.append(j)
    return stays


def stands_in(problem: Problem, one: Want, other: Want) -> bool:
    """Whether each supplier of the other sells the one for no more; beside other lights, by the rule for these."""
    if one == other:
        return True
    if problem.market.together is not None:
        return bool(problem.market.together.singles([one, other], problem.parts.offers)[0, 1])
    key = one, other
    if key not in STANDS_IN:
        STANDS_IN[key] = _stands_in(problem, one, other)
    return STANDS_IN[key]


STANDS_IN: dict[tuple[Want, Want], bool] = {}
"""Of the problem made last."""


def _stands_in(problem: Problem, one: Want, other: Want) -> bool:
    for shop in ("north", "south"):
        asks = [
            price_of([o for o in problem.parts.offers.get(want.part, ()) if o.supplier == shop], want)
            for want in (one, other)
        ]
        if asks[1] is not None and (asks[0] is None or asks[0] > asks[1]):
            return False
    return True


def supplies_left(problem: Problem, kept: Kept, asked: Asked) -> list[int]:
    s, m, parts = problem.supplies, problem.market, problem.parts
    kind, feeds = m.__dict__["_window"]
    drivers = sorted(set(problem.channels.driver[kept.channels].tolist()))
    assert kind.tolist() == list(range(SUPPLIES))

    def cheaper(i: int, j: int) -> bool:
        if not asked.named:
            return bool(s.cost[i] <= s.cost[j])
        packs = [(int(s.battery[k]), int(s.series[k] * s.parallel[k])) for k in (i, j)]
        if packs[0] != packs[1]:
            wants = [Want("", 0) if b == MAINS else Want(parts.batteries[b].part, n) for b, n in packs]
            # How many batteries may fly is counted over all lights.
            if asked.together or packs[1][1] != 1 or not stands_in(problem, *wants):
                return False
        length = problem.scenario.power.lead_length
        pairs = [
            [Want(parts.cables[int(s.cable[k])].part, 1, length) for k in (i, j)],
            [Want(parts.fuses[int(s.fuse[k])].part, 1) for k in (i, j)],
            [Want(parts.connectors[int(s.connector[k])].part, 1) for k in (i, j)],
        ]
        return all(stands_in(problem, *pair) for pair in pairs)

    def replaces(i: int, j: int) -> bool:
        loss = [s.resistance[k] / s.nominal[k] ** 2 for k in (i, j)]
        return bool(
            all(feeds[d, i] or not feeds[d, j] for d in drivers)
            and cheaper(i, j)
            and s.mass[i] <= s.mass[j]
            and s.deliverable[i] >= s.deliverable[j]
            and (m.earthed[i] or not m.earthed[j])
            and (not asked.power or loss[0] <= loss[1])
        )

    return left_by(kept.supplies.tolist(), replaces, lambda _: 0)


def heads_left(problem: Problem, kept: Kept, asked: Asked) -> list[int]:
    h, sheets = problem.heads, problem.parts.diffusers

    def replaces(i: int, j: int) -> bool:
        if h.emitter[i] != h.emitter[j] or h.panel[i] != h.panel[j] or NO_DIFFUSER in (h.diffuser[i], h.diffuser[j]):
            return False
        one, other = sheets[h.diffuser[i]], sheets[h.diffuser[j]]
        if asked.dots and (one.spread or 0.0) != (other.spread or 0.0):
            return False
        if asked.named:
            # Two sheets neither replace any nor give way.
            wants = [Want(sheet.part, 1, size=(0.8, 0.25), sheet=(1.0, 1.0)) for sheet in (one, other)]
            if 3 in (h.diffuser[i], h.diffuser[j]) or not stands_in(problem, *wants):
                return False
        return bool(
            problem.head_cost[i] <= problem.head_cost[j]
            and problem.head_mass[i] <= problem.head_mass[j]
            and h.lux_per_lumen[i] >= h.lux_per_lumen[j]
            and h.spots[i, 0] >= h.spots[j, 0]
            and (not asked.limited or h.spots[i, 1] <= h.spots[j, 1])
        )

    return left_by(kept.heads.tolist(), replaces, lambda _: 0)


def channels_left(problem: Problem, kept: Kept, asked: Asked) -> list[int]:
    """Return the channels that stay beside the heads and supplies that are kept."""
    c, h, m = problem.channels, problem.heads, problem.market
    _, feeds = m.__dict__["_window"]
    drivers: tuple[Driver, ...] = problem.parts.drivers
    open_ = {int(h.emitter[i]) for i in kept.heads.tolist() if h.diffuser[i] == NO_DIFFUSER or asked.dots}
    offers = problem.parts.offers

    def buys(d: int, e: int) -> bool:
        """Whether so many of one driver never cost more than of the other."""
        if d == e:
            return True
        if problem.market.together is not None:
            return bool(problem.market.together.lots([Want(drivers[k].part, 1) for k in (d, e)], offers)[0, 1])
        mine, its = offers[drivers[d].part], offers[drivers[e].part]
        if asked.orders:
            # Each supplier of the other has the one without end, for no more than the other's least.
            return all(
                any(
                    o.supplier == shop
                    and o.stock is None
                    and o.price <= min(x.price for x in its if x.supplier == shop)
                    for o in mine
                )
                for shop in {x.supplier for x in its}
            )
        least = min((o.price for o in mine), default=None)
        endless = any(o.stock is None and o.price == least for o in mine)
        other = min((x.price for x in its), default=None)
        return least is not None and endless and (other is None or least <= other)

    def refused(i: int) -> int:
        return sum(1 for bears in set(problem.bears[kept.heads].tolist()) if problem.density[i] > bears)

    def replaces(i: int, j: int) -> bool:
        if problem.kinds[i] != problem.kinds[j]:
            return False
        d, e = int(c.driver[i]), int(c.driver[j])
        alike = asked.mixed or asked.limited
        if alike and (c.flux[i], c.rise[i], c.heat[i]) != (c.flux[j], c.rise[j], c.heat[j]):
            return False
        if int(problem.kinds[i]) in open_ and c.count[i] != c.count[j]:
            return False
        return bool(
            all(feeds[d, s] or not feeds[e, s] for s in kept.supplies.tolist())
            and buys(d, e)
            and c.count[i] <= c.count[j]
            and c.flux[i] >= c.flux[j]
            and all(getattr(c, name)[i] <= getattr(c, name)[j] for name in ("rise", "heat", "power", "apparent"))
            and drivers[d].mass <= drivers[e].mass
            and refused(i) <= refused(j)
        )

    return sorted(left_by(kept.channels.tolist(), replaces, lambda i: (int(c.driver[i]), int(c.parallel[i]))))


CASES = [
    Asked(),
    Asked(limited=True),
    Asked(dots=True),
    Asked(mixed=True),
    Asked(power=True),
    Asked(orders=True),
    Asked(orders=True, dots=True, power=True),
    Asked(limited=True, mixed=True),
    Asked(together=True),
]


@pytest.mark.parametrize("asked", CASES, ids=str)
@pytest.mark.parametrize("seed", [0, 5, 8])
def test_what_stays_is_what_nothing_replaces(seed: int, asked: Asked) -> None:
    problem, kept = made(Random(seed), asked)
    found = drop_beaten(problem, kept)
    assert found.supplies.tolist() == supplies_left(problem, kept, asked)
    assert found.heads.tolist() == heads_left(problem, kept, asked)
    beside = replace(kept, heads=found.heads, supplies=found.supplies)
    assert found.channels.tolist() == channels_left(problem, beside, asked)


@pytest.mark.parametrize("seed", [3, 7, 15, 22])
def test_too_many_are_not_compared(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    problem, kept = made(Random(seed), Asked())
    found = drop_beaten(problem, kept)
    assert len(found.supplies) < SUPPLIES
    kinds = [int((problem.kinds == kind).sum()) for kind in (0, 1, 2)]
    assert len(set(kinds)) > 1
    for large in (SUPPLIES, SUPPLIES - 1, *kinds, min(kinds) - 1):
        monkeypatch.setattr(dominance, "LARGE", large)
        some = drop_beaten(problem, kept)
        assert (len(some.supplies) < SUPPLIES) == (large >= SUPPLIES)
        beside = replace(kept, heads=some.heads, supplies=some.supplies)
        stays = channels_left(problem, beside, Asked())
        wanted = [i for i in range(CHANNELS) if i in stays or kinds[problem.kinds[i]] > large]
        assert some.channels.tolist() == wanted
    nothing = kept.take(heads=np.array([], dtype=np.int64))
    assert drop_beaten(problem, nothing) is nothing


def test_rounding_tells_nothing_apart() -> None:
    # One channel of each driver, alike but for what floating point makes of 0.3; none gets warmer than its board.
    problem, kept = made(Random(3), Asked())
    ones, two = np.ones(2), kept.take(channels=np.array([0, 1]))
    flux = np.array([0.3, 0.1 + 0.2])
    c = problem.channels.take(np.array([0, 1]))
    same = replace(
        c,
        emitter=np.zeros(2, dtype=np.int64),
        driver=np.array([0, 0]),
        series=np.ones(2, dtype=np.int64),
        parallel=np.ones(2, dtype=np.int64),
        flux=flux,
        rise=np.zeros(2),
        heat=flux[::-1],
        power=ones,
        apparent=ones,
    )
    alike = replace(problem, channels=same)
    alike.__dict__["density"], alike.__dict__["bears"] = ones, problem.bears
    assert drop_beaten(alike, two).channels.tolist() == [0]
    # A millionth is no rounding.
    other = replace(alike, channels=replace(same, flux=np.array([0.3, 0.3 * (1.0 + 1e-6)])))
    other.__dict__["density"], other.__dict__["bears"] = ones, problem.bears
    assert drop_beaten(other, two).channels.tolist() == [1]
