"""The knapsack bound against looking at every set of channels, and never above any real set."""

from itertools import combinations_with_replacement
from random import Random

import numpy as np
import pytest

from optimise.model.covering import Group, least_covering, price_in_pieces

STEPS = 12


def random_groups(rng: Random, prices: int) -> list[tuple[Group, list[float]]]:
    """Return groups with the whole list of what so many of their driver cost."""
    groups = []
    for _ in range(rng.randint(1, 3)):
        number = rng.randint(1, 3)
        table, paid = [0.0], 0.0
        for _ in range(6):
            paid += rng.choice([0.0, 1.0, 4.0, 7.0])
            table.append(paid)
        if rng.random() < 0.3:
            each = rng.choice([2.0, 5.0])
            table = [each * n for n in range(7)]
        known = np.array(table)
        if rng.random() < 0.3:
            known[rng.randint(2, 6) :] = np.inf
        first, more = price_in_pieces(known, rng.choice([0, 1, 3, 6]))
        steps = np.array([rng.randint(1, 8) for _ in range(number)])
        weight = np.array([[float(rng.randint(1, 20)) for _ in range(number)] for _ in range(prices)])
        groups.append((Group(steps, weight, first, more), known.tolist()))
    return groups


def by_looking(groups: list[tuple[Group, list[float]]], price: int, most: int) -> np.ndarray:
    """Return the least weight for 0 … STEPS steps over all sets of at most `most` channels."""
    best = np.full(STEPS + 1, np.inf)
    items = [(g, i) for g, (group, _) in enumerate(groups) for i in range(len(group.steps))]
    for number in range(most + 1):
        for chosen in combinations_with_replacement(items, number):
            pieces = [sum(1 for g, _ in chosen if g == k) for k in range(len(groups))]
            if any(n >= len(table) for n, (_, table) in zip(pieces, groups, strict=True)):
                continue
            weight = sum(table[n] for n, (_, table) in zip(pieces, groups, strict=True))
            weight += sum(groups[g][0].weight[price, i] for g, i in chosen)
            reach = min(sum(int(groups[g][0].steps[i]) for g, i in chosen), STEPS)
            best[: reach + 1] = np.minimum(best[: reach + 1], weight)
    return best


@pytest.mark.parametrize("seed", range(60))
def test_no_set_of_channels_weighs_less(seed: int) -> None:
    rng = Random(seed)
    groups = random_groups(rng, 2)
    bound = least_covering([group for group, _ in groups], 2, STEPS)
    for price in range(2):
        least = by_looking(groups, price, 4)
        assert np.all(bound[price] <= least + 1e-9)
        assert bound[price, 0] == 0.0
        assert np.all(bound[price, 1:] >= bound[price, :-1])


@pytest.mark.parametrize("seed", range(40))
def test_the_bound_is_exact_where_prices_are_followed_to_the_end(seed: int) -> None:
    rng = Random(1000 + seed)
    groups = []
    for group, table in random_groups(rng, 1):
        known = np.array([table[0], table[1], table[2] if np.isfinite(table[2]) else table[1] + 1.0])
        groups.append((Group(group.steps + 2, group.weight, known, np.inf), known.tolist()))
    bound = least_covering([group for group, _ in groups], 1, STEPS)
    # At most two of each driver: six channels are all that there can be.
    assert bound[0] == pytest.approx(by_looking(groups, 0, 2 * len(groups)))


@pytest.mark.parametrize(
    ("prices", "layers", "first", "more"),
    [
        ([0, 5, 10, 15], 3, [0], 5.0),
        ([0, 0, 0, 12, 24], 3, [0, 0, 0, 12], 12.0),
        ([0, 4, 8, 12, 15, 15], 3, [0, 4, 8, 12], 1.5),
        ([0, 5, np.inf, np.inf], 3, [0, 5], np.inf),
        ([0, np.inf], 3, [0], np.inf),
        ([0, 4, 8, 9], 0, [0], 3.0),
    ],
)
def test_prices_in_pieces(prices: list[float], layers: int, first: list[float], more: float) -> None:
    known = price_in_pieces(np.array(prices, dtype=np.float64), layers)
    assert known[0].tolist() == first
    assert known[1] == more
