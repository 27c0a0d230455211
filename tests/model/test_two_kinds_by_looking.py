"""The least weight of two kinds that share the light, against looking at every split, in fractions."""

import math
from fractions import Fraction
from random import Random

import numpy as np
import pytest

from optimise.model.two_kinds import TwoKinds

STEPS = 14


def tables(rng: Random) -> tuple[np.ndarray, np.ndarray]:
    """Return what each kind weighs for 0 … STEPS steps at two prices of load: more light never weighs less."""
    drawn = [[[rng.randint(0, 9) for _ in range(STEPS + 1)] for _ in range(2)] for _ in range(2)]
    first, second = (np.cumsum(np.array(rows, dtype=np.float64), axis=1) for rows in drawn)
    return first, second


def splits(needed: int, low: Fraction, high: Fraction) -> list[tuple[int, int]]:
    """Return (steps of the first, steps of the second) for lights of more than `needed` − 1 steps and up to `needed`.

    Each is there with a step at least; each gives at least its least share. What both must give may come to a step
    more than is needed, as both are rounded up.
    """
    least = [max(1, math.ceil(share * (needed - 1))) for share in (1 - high, low)]
    if sum(least) >= needed:
        return [(least[0], least[1])]
    return [(n, needed - n) for n in range(1, needed) if n >= least[0] and needed - n >= least[1]]


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(
    ("low", "high"), [("1/4", "1/2"), ("0", "1"), ("1/3", "1/3"), ("1/10", "9/10"), ("3/5", "4/5")]
)
def test_the_least_is_that_of_the_best_split(seed: int, low: str, high: str) -> None:
    rng = Random(seed)
    first, second = tables(rng)
    both = TwoKinds(first, second, float(Fraction(low)), float(Fraction(high)))
    needed = np.array([rng.randint(1, STEPS) for _ in range(5)])
    ways = {n: splits(n, Fraction(low), Fraction(high)) for n in needed.tolist()}
    wanted = [[min(first[p, a] + second[p, b] for a, b in ways[n]) for n in needed.tolist()] for p in range(2)]
    assert both.least(needed).tolist() == wanted
    given = np.array([1, 3, 6])
    for kind in (False, True):
        # Beside a channel that gives so many steps its own kind needs so many fewer, the other one as many as before.
        beside = both.rest(needed, given, second=kind)
        assert beside.shape == (2, 3, 5)
        for p in range(2):
            for g, steps in enumerate(given.tolist()):
                for i, n in enumerate(needed.tolist()):
                    rest = min(
                        first[p, a] + second[p, max(b - steps, 0)]
                        if kind
                        else first[p, max(a - steps, 0)] + second[p, b]
                        for a, b in ways[n]
                    )
                    assert beside[p, g, i] == rest


def test_shares_of_a_head_of_nine_steps_by_hand() -> None:
    # More than 8 steps, of which the second kind gives 25 % to 50 %: 2 at least, and the first 4 at least.
    first = np.array([[0.0, 1, 2, 3, 40, 50, 60, 70, 80, 90]])
    second = np.array([[0.0, 1, 200, 300, 400, 500, 600, 700, 800, 900]])
    assert TwoKinds(first, second, 0.25, 0.5).least(np.array([9])).tolist() == [[70.0 + 200.0]]
    # A single step: each kind is there all the same.
    assert TwoKinds(first, second, 0.25, 0.5).least(np.array([1])).tolist() == [[1.0 + 1.0]]
