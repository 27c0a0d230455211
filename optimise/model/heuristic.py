"""A quick good build, found by trying one kind of channel on every head; it is checked exactly before use."""

from collections.abc import Iterator
from itertools import islice

import numpy as np

from optimise.columns.expand import Floats, Ints, ceil_of
from optimise.columns.heads import NO_DIFFUSER
from optimise.columns.supplies import MAINS
from optimise.model.bounds import load_prices_of
from optimise.model.choice import ChannelChoice, Choice, Evaluation, Weighed
from optimise.model.even import even_multiples
from optimise.model.exact import evaluate
from optimise.model.kept import Kept, least_load
from optimise.model.light import crowded
from optimise.model.problem import Problem
from optimise.model.stacks import layers_of
from optimise.model.weights import Weighing, limits_of, weigh

TRIALS = 60
"""Choices that are put to the exact check before giving up."""

MANY = 400_000
"""Pairs of channel and head above which only promising ones are paired."""

HEADS = 40
"""Heads that are then looked at."""

MARGINS = (1.0, 1.01, 1.03, 1.08)
"""Lumens over the optimistic need, tried in turn: the need is counted on the coldest board."""


def choice_of(problem: Problem, head: int, supply: int, mount: int | None, numbers: list[tuple[int, int]]) -> Choice:
    """Return a choice by the indices of its columns; `numbers` are (channel, how many) pairs."""
    parts, c, h, s = problem.parts, problem.channels, problem.heads, problem.supplies
    battery = int(s.battery[supply])
    diffuser = int(h.diffuser[head])
    sheets = layers_of(None if diffuser == NO_DIFFUSER else parts.diffusers[diffuser])
    codes = [parts.emitters[int(problem.kinds[i])].part for i, _ in numbers]
    # Of a mixture both kinds are there.
    first = parts.emitters[h.emitter[head]].part if problem.mix is None else min(e.part for e in parts.emitters)
    return Choice(
        emitter=first,
        channels=tuple(
            sorted(
                ChannelChoice(
                    driver=parts.drivers[c.driver[i]].part,
                    series=int(c.series[i]),
                    parallel=int(c.parallel[i]),
                    current=float(c.current[i]),
                    number=number,
                    emitter="" if code == first else code,
                )
                for (i, number), code in zip(numbers, codes, strict=True)
            )
        ),
        panel=parts.panels[h.panel[head]].part,
        diffuser=sheets[0].part if sheets else None,
        battery=None if battery == MAINS else parts.batteries[battery].part,
        battery_series=int(s.series[supply]),
        battery_parallel=int(s.parallel[supply]),
        cable=parts.cables[s.cable[supply]].part,
        fuse=parts.fuses[s.fuse[supply]].part,
        connector=parts.connectors[s.connector[supply]].part,
        mount=None if mount is None else parts.mounts[problem.market.mounts[mount]].part,
        second_diffuser=sheets[1].part if len(sheets) > 1 else None,
    )


def value_of(evaluation: Weighed, objective: str) -> float:
    """Return the figure of an evaluation that an objective makes least, in cents, mg or W."""
    return {
        "cost": float(evaluation.cents),
        "mass": float(evaluation.milligrams),
        "power": evaluation.watts,
    }[objective]


def lesser(best: Evaluation | None, found: Evaluation | None, objective: str) -> Evaluation | None:
    """Return the better of two builds that pass, either of which may be missing; the first where they tie."""
    if best is None or found is None:
        return found if best is None else best
    return found if value_of(found, objective) < value_of(best, objective) else best


def quick_build(problem: Problem, kept: Kept, objective: str) -> Evaluation | None:
    """Return the best of a few likely builds that pass the exact check, or None."""
    if not kept.possible:
        return None
    best: Evaluation | None = None
    for scale in dict.fromkeys((objective, "cost", "mass")):
        best = lesser(best, _try(problem, kept, scale), objective)
        if best is not None and scale == objective:
            return best
    return best


def _try(problem: Problem, kept: Kept, scale: str) -> Evaluation | None:
    for margin in MARGINS:
        for choice in islice(_likely(problem, kept, scale, margin), TRIALS // len(MARGINS)):
            evaluation = evaluate(choice, problem.catalogue, problem.scenario)
            if evaluation.passes:
                return evaluation
    return None


def _likely(problem: Problem, kept: Kept, scale: str, margin: float) -> Iterator[Choice]:
    """Yield builds of one kind of channel each, the least by `scale` first."""
    scores, heads, channels, numbers, supplies, mounts = _scored(problem, kept, scale, margin)
    for index in np.argsort(scores, kind="stable")[:TRIALS]:
        if not np.isfinite(scores[index]):
            return
        mount = int(mounts[index]) if problem.market.mounts else None
        yield choice_of(
            problem,
            int(heads[index]),
            int(supplies[index]),
            mount,
            [(int(channels[index]), int(numbers[index]))],
        )


def _scored(problem: Problem, kept: Kept, scale: str, margin: float) -> tuple[Floats, Ints, Ints, Ints, Ints, Ints]:
    c, h = problem.channels, problem.heads
    load0 = least_load(problem, kept)
    by = {name: weigh(problem, name, load0) for name in ("cost", "mass", "power")}
    caps = limits_of(problem.scenario)
    kept = _promising(problem, kept, scale, by[scale])
    feeds = _cheapest_supplies(problem, kept, by[scale].supply)
    columns: list[tuple[Floats, Ints, Ints, Ints, Ints, Ints]] = []
    e, he = c.emitter[kept.channels], h.emitter[kept.heads]
    needs_mount = problem.scenario.limits.mount
    load_order = np.argsort(_mount_weight(problem, scale), kind="stable")
    for emitter in np.unique(he):
        mine, its = np.flatnonzero(e == emitter), np.flatnonzero(he == emitter)
        ci, hi = kept.channels[mine], kept.heads[its]
        number = np.maximum(ceil_of(margin * kept.need[its][None, :] / np.maximum(kept.flux[mine][:, None], 1e-300)), 1)
        for place in np.flatnonzero(crowded(problem, hi)).tolist():
            number[:, place] = even_multiples(problem, int(hi[place]), number[:, place], c.count[ci])
        fits = number * c.count[ci][:, None] <= problem.capacity[hi][None, :]
        fits &= number * c.heat[ci][:, None] <= h.heat_max[hi][None, :]
        fits &= problem.borne(ci[:, None], hi[None, :])
        load = number * c.apparent[ci][:, None]
        supply = np.full(load.shape, -1, dtype=np.int64)
        for driver in np.unique(c.driver[ci]):
            rows = np.flatnonzero(c.driver[ci] == driver)
            for metal in (False, True):
                cells = np.ix_(rows, np.flatnonzero(problem.head_metal[hi] == metal))
                supply[cells] = feeds[int(driver), metal].at(load[cells])
        fits &= supply >= 0
        mass = number * problem.channel_mass[ci][:, None] + problem.head_mass[hi][None, :]
        mount = np.full(load.shape, 0, dtype=np.int64)
        if needs_mount:
            found = np.zeros(load.shape, dtype=bool)
            for m in load_order:
                able = ~found & (mass + problem.market.mount_mass[m] <= problem.market.mount_load[m])
                mount[able] = m
                found |= able
            fits &= found
        total = {}
        for name, w in by.items():
            own = number * w.channel[ci][:, None] if name != "cost" else _paid(problem, emitter, ci, number, fits)
            total[name] = own + w.head[hi][None, :] + w.supply[supply]
            if needs_mount and problem.market.mounts:
                total[name] = total[name] + _mount_weight(problem, name)[mount]
            fits &= total[name] <= caps[name]
        score = np.where(fits, total[scale], np.inf)
        least = np.argmin(score, axis=0)
        across = np.arange(len(its))
        columns.append(
            (
                score[least, across],
                hi,
                ci[least],
                number[least, across],
                supply[least, across],
                mount[least, across],
            )
        )
    joined = [np.concatenate([column[i] for column in columns]) for i in range(6)]
    return joined[0], joined[1], joined[2], joined[3], joined[4], joined[5]


def _promising(problem: Problem, kept: Kept, scale: str, w: Weighing) -> Kept:
    """Return a few of the heads and channels where there are very many: light ones for the lumens they need or give."""
    if len(kept.heads) * len(kept.channels) <= MANY:
        return kept
    c = problem.channels
    own = w.channel[kept.channels] if scale != "cost" else problem.channel_cost[kept.channels]
    by_head = w.head[kept.heads] + kept.need * float((own / kept.flux).min())
    heads = np.sort(np.argsort(by_head, kind="stable")[:HEADS])
    supply = w.supply[kept.supplies]
    prices = load_prices_of(problem.supplies.deliverable[kept.supplies], supply, 3)
    number = np.ceil(float(kept.need[heads[0]]) / kept.flux)
    chosen = np.zeros(len(kept.channels), dtype=bool)
    for price in prices.tolist():
        score = number * (own + price * c.apparent[kept.channels])
        chosen[np.argsort(score, kind="stable")[: MANY // HEADS // len(prices)]] = True
    return kept.take(heads=heads, channels=chosen)


def _paid(problem: Problem, emitter: int, channels: Ints, number: Ints, fits: np.ndarray) -> Floats:
    """Return what emitters and drivers really cost in these numbers, cents; infinite where `fits` is not."""
    pieces = np.where(fits, number * problem.channels.count[channels][:, None], 0)
    paid = problem.emitter_buying[emitter].prices(int(pieces.max()))[pieces]
    for driver in np.unique(problem.channels.driver[channels]):
        rows = np.flatnonzero(problem.channels.driver[channels] == driver)
        wanted = np.where(fits[rows], number[rows], 0)
        paid[rows] += problem.driver_buying[driver].prices(int(wanted.max()))[wanted]
    return np.where(fits, paid, np.inf)


def _mount_weight(problem: Problem, scale: str) -> Floats:
    return {
        "cost": problem.market.mount_cost,
        "mass": problem.market.mount_mass,
        "power": np.zeros(len(problem.market.mounts)),
    }[scale]


class _Feed:
    """For one driver: the lightest supply for a load."""

    def __init__(self, supplies: Ints, deliverable: Floats, weight: Floats) -> None:
        order = np.argsort(deliverable, kind="stable")
        self.deliverable = deliverable[order]
        back = weight[order][::-1]
        least = np.minimum.accumulate(back)
        lighter = np.flatnonzero(np.append(True, back[1:] < least[:-1])) if len(back) else np.zeros(0, dtype=np.int64)
        place = np.zeros(len(back), dtype=np.int64)
        place[lighter] = lighter
        chosen = supplies[order][::-1][np.maximum.accumulate(place)][::-1]
        self.chosen = np.append(chosen, -1)

    def at(self, load: Floats) -> Ints:
        """Return the supply for each load, −1 where none can feed it."""
        return np.asarray(self.chosen[np.searchsorted(self.deliverable, load, side="left")])


def _cheapest_supplies(problem: Problem, kept: Kept, weight: Floats) -> dict[tuple[int, bool], _Feed]:
    """Return the feed of each driver, for heads without and with metal (which want an earth on mains)."""
    feeds: dict[tuple[int, bool], _Feed] = {}
    known: dict[tuple[bytes, bool], _Feed] = {}
    distinct = np.unique(problem.channels.driver[kept.channels])
    groups = problem.market.groups(distinct, kept.supplies)
    able = np.stack([drivers for drivers, _ in groups], axis=1)
    earthed = problem.market.earthed[kept.supplies]
    for row, driver in enumerate(distinct.tolist()):
        for metal in (False, True):
            key = able[row].tobytes(), metal
            if key not in known:
                mine = [fed for fed, fits in zip((fed for _, fed in groups), able[row], strict=True) if fits]
                places = np.sort(np.concatenate(mine)) if mine else np.zeros(0, dtype=np.int64)
                usable = kept.supplies[places[earthed[places]] if metal else places]
                known[key] = _Feed(usable, problem.supplies.deliverable[usable], weight[usable])
            feeds[driver, metal] = known[key]
    return feeds
