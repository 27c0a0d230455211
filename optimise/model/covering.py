"""The least weight of channels that give a number of lumens: a bound by a knapsack of few, optimistic steps.

Lumens are counted in whole steps. A channel's are rounded up and a head's need is met by the same count, so no
real set of channels is missed; how many whole drivers it takes, and what so many of one driver cost, is kept,
which a bound by the lumen alone gives away.

A total has shape (prices of load, steps + 1): the least weight of channels for 0, 1, 2 … steps of light.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimise.columns.expand import Floats, Ints


@dataclass(frozen=True)
class Group:
    """The channels of one driver."""

    steps: Ints
    """Lumens of each channel, in steps, rounded up."""
    weight: Floats
    """Weight of each channel without its driver, shape (prices of load, channels)."""
    first: Floats
    """What 0, 1, 2 … of the driver weigh, as far as that is followed piece by piece."""
    more: float
    """What each piece more weighs at least; infinite where there are no more."""


def price_in_pieces(prices: Floats, layers: int, worth: float = 1.0) -> tuple[Floats, float]:
    """Return (first, more) of a `Group` from what 0, 1, 2 … pieces weigh (infinite where they cannot be had).

    Up to `layers` pieces are followed one by one if that says more than one price for all of them: if that price,
    the least for a piece in any number, is below `worth` times what so many pieces cost.
    """
    there = int(np.isfinite(prices).sum()) - 1
    number = np.arange(1, there + 1)
    if there < 1:
        return prices[:1], np.inf
    each = float((prices[1 : there + 1] / number).min())
    if there == len(prices) - 1 and prices[min(layers, there)] * worth <= each * min(layers, there) * (1 + 1e-12):
        return prices[:1], each
    known = min(layers, there)
    later = number[known:]
    more = np.inf if not len(later) else float(((prices[later] - prices[known]) / (later - known)).min())
    return prices[: known + 1], more


def least_covering(groups: Sequence[Group], prices: int, steps: int) -> Floats:
    """Return a lower bound of the weight of channels for 0 … `steps` steps of light, by price of load.

    Shape (prices, steps + 1); infinite where nothing can be lit.
    """
    total = np.full((prices, steps + 1), np.inf)
    total[:, 0] = 0.0
    least = np.full((prices, steps + 1), np.inf)
    special = [group for group in groups if len(group.first) > 1]
    plain = [group for group in groups if len(group.first) == 1 and np.isfinite(group.more)]
    if plain:
        used = np.concatenate([group.steps for group in plain])
        weight = np.concatenate([group.weight + group.more for group in plain], axis=1)
        for price in range(prices):
            np.minimum.at(least[price], used, weight[price])
    total = alone = _closed(total, least)
    for group in special:
        number = np.arange(1, len(group.first))
        cheapest = min(float((group.first[1:] / number).min()), group.more)
        # Any channel that those bought at one price undercut, however cheap its driver may be, is of no use.
        useful = np.any(group.weight + cheapest < alone[:, group.steps], axis=0)
        if useful.any():
            total = _with(total, Group(group.steps[useful], group.weight[:, useful], group.first, group.more))
    return total


def _closed(total: Floats, least: Floats) -> Floats:
    """Return the total when entries may be used any number of times.

    least: of the shape of `total`, the least weight of one entry by its steps; entry 0 is not used.
    """
    total = total.copy()
    prices, size = total.shape
    nothing_yet = bool(np.isinf(total[:, 1:]).all())
    after = np.minimum.accumulate(least[:, ::-1], axis=1)[:, ::-1]
    useful = np.flatnonzero((least[:, 1:-1] < after[:, 2:]).any(axis=0)) + 1
    if np.isfinite(least[:, -1]).any():
        useful = np.append(useful, size - 1)
    # The best by the step first: most of the others are then no better than some of those.
    for u in useful[np.argsort(least[:, useful].min(axis=0) / useful, kind="stable")].tolist():
        weight = least[:, u, None]
        if nothing_yet and np.all(total[:, u, None] <= weight):
            continue  # some of those before do as much for no more
        total[:, 1:u] = np.minimum(total[:, 1:u], weight + total[:, :1])
        rows = -(-size // u)
        chain = np.full((prices, rows * u), np.inf)
        chain[:, :size] = total
        chain = chain.reshape(prices, rows, u)
        rising = weight[:, :, None] * np.arange(rows)[None, :, None]
        chain = np.minimum.accumulate(chain - rising, axis=1) + rising
        total = chain.reshape(prices, rows * u)[:, :size]
    return total


def _with(total: Floats, group: Group) -> Floats:
    """Return the total when 0, 1, 2 … of one more driver may be used."""
    size = total.shape[1]
    steps = np.unique(group.steps)
    least = np.stack([group.weight[:, group.steps == s].min(axis=1) for s in steps], axis=1)
    after = np.minimum.accumulate(least[:, ::-1], axis=1)[:, ::-1]
    useful = np.append((least[:, :-1] < after[:, 1:]).any(axis=0), True)
    steps, least = steps[useful], least[:, useful]
    lightest = least.min(axis=1)
    back = np.maximum(np.arange(size)[None, :] - steps[:, None], 0)
    best, layer = total.copy(), total
    for n in range(1, len(group.first)):
        if not np.any(group.first[n] + n * lightest < best[:, -1]):
            return best  # so many cost more than lighting everything otherwise
        layer = (layer[:, back] + least[:, :, None]).min(axis=1)
        best = np.minimum(best, layer + group.first[n])
    if np.isfinite(group.more):
        each = np.full_like(total, np.inf)
        each[:, steps] = least + group.more
        best = np.minimum(best, _closed(layer, each) + group.first[-1])
    best[:, 0] = total[:, 0]
    return best
