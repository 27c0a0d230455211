"""Likely builds of two kinds of emitter: one kind of channel of each, in numbers that give the light and the colour."""

from collections import Counter
from collections.abc import Iterator

import numpy as np

from optimise.columns.expand import Floats, Ints
from optimise.model.kept import Kept
from optimise.model.light import flux_of
from optimise.model.problem import Problem

CHANNELS = 20
"""Channels of each kind that are paired, the lightest for a lumen at each price of load."""

HEADS = 10
"""Heads that are looked at."""

NUMBERS = 24
"""Most channels of the first kind that are tried."""

INSIDE = 0.03
"""Part of a range of shares that is left at both ends: a warmer board moves the share."""

Blend = tuple[float, int, Counter[int]]
"""About what it weighs, the place of its head, and its channels by place."""


def blends(
    problem: Problem, kept: Kept, head: Floats, weight: Floats, load_prices: Floats, margin: float
) -> Iterator[Blend]:
    """Yield likely builds, those of the best head first.

    head: weights of the heads kept; weight: of the channels; margin: of lumens over the least that are needed.
    """
    assert problem.mix is not None
    load = problem.channels.apparent[kept.channels]
    kinds = problem.mix.kind[kept.channels]
    # About what a board has come to: half way to its hottest.
    middle = (float(kept.board.min()) + float(kept.top.max())) / 2.0
    hot = flux_of(problem, kept.channels, np.full(len(problem.parts.emitters), middle))
    chosen = [_chosen(np.flatnonzero(kinds == kind), kept.flux, weight, load, load_prices) for kind in (0, 1)]
    if not (len(chosen[0]) and len(chosen[1])):
        return
    rate = float((weight / np.maximum(kept.flux, 1e-300))[np.concatenate(chosen)].min())
    order = np.argsort(head + rate * kept.need, kind="stable")[:HEADS]
    number = np.arange(1, NUMBERS + 1)
    for place in order.tolist():
        need = float(kept.need[place]) * margin
        for low, high in problem.mix.shares:
            edge = INSIDE * (high - low)
            inside = low + edge, high - edge
            yield from _of_head(problem, kept, place, chosen, hot, weight, number, need, inside, float(head[place]))


def _chosen(mine: Ints, flux: Floats, weight: Floats, load: Floats, load_prices: Floats) -> Ints:
    """Return the channels of one kind that weigh least for a lumen at some price of load, and a few small ones."""
    found: list[int] = []
    for price in load_prices.tolist():
        score = (weight[mine] + price * load[mine]) / np.maximum(flux[mine], 1e-300)
        found += mine[np.argsort(score, kind="stable")[: CHANNELS // 2]].tolist()
        found += mine[np.argsort(weight[mine] + price * load[mine], kind="stable")[:2]].tolist()
    return np.array(list(dict.fromkeys(found))[: 2 * CHANNELS], dtype=np.int64)


def _of_head(
    problem: Problem,
    kept: Kept,
    place: int,
    chosen: list[Ints],
    hot: Floats,
    weight: Floats,
    number: Ints,
    need: float,
    shares: tuple[float, float],
    own: float,
) -> Iterator[Blend]:
    c, (first, second), (low, high) = problem.channels, chosen, shares
    count = c.count[kept.channels]
    head = int(kept.heads[place])
    a, b = hot[first][:, None, None], hot[second][None, :, None]
    light, other = number * a, np.maximum(b, 1e-300)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        least = np.maximum((need - light) / other, light * low / max(1.0 - low, 1e-12) / other)
        most = light * high / (1.0 - high) / other if high < 1.0 else np.full_like(least, np.inf)
    # A channel that is too hot to give light would take endlessly many; one too many for the board says as much.
    room = problem.capacity[head]
    many = np.clip(np.ceil(least * (1.0 - 1e-12)), 1.0, room + 1.0)
    pieces = number * count[first][:, None, None] + many * count[second][None, :, None]
    heat = c.heat[kept.channels]
    warm = number * heat[first][:, None, None] + many * heat[second][None, :, None]
    fits = (many <= most) & (pieces <= room) & (warm <= problem.heads.heat_max[head])
    total = number * weight[first][:, None, None] + many * weight[second][None, :, None]
    total = np.where(fits, total, np.inf)
    best = np.argsort(total, axis=None, kind="stable")[:12]
    for i, j, n in zip(*np.unravel_index(best, total.shape), strict=True):
        if np.isfinite(total[i, j, n]):
            numbers = Counter({int(first[i]): int(number[n]), int(second[j]): int(many[i, j, n])})
            yield float(total[i, j, n] + own), place, numbers
