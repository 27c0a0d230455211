"""Rows of figures that no other row beats: what is no better in any of them may go."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def unbeaten(figures: Floats) -> Ints:
    """Return the rows that no other row beats or equals in every column (less is better), in their order.

    figures: shape (rows, columns). Of equal rows the first is kept.
    """
    order = np.lexsort(figures.T[::-1])  # a row can only be beaten by one before it
    ranked = figures[order]
    kept: list[Ints] = []
    for start in range(0, len(order), 256):
        block = ranked[start : start + 256]
        left = np.arange(start, start + len(block))
        if kept:
            # What is beaten at all is beaten by a row that is kept.
            left = left[~_beaten(ranked[np.concatenate(kept)], block)]
        own = ranked[left]
        earlier = np.arange(len(left))[:, None] < np.arange(len(left))[None, :]
        kept.append(left[~np.any(_covers(own, own) & earlier, axis=0)])
    return np.sort(order[np.concatenate(kept)]) if kept else np.zeros(0, dtype=np.int64)


def first_unbeaten(beats: np.ndarray) -> np.ndarray:
    """Return the mask of what stays. beats[i, j]: i can replace j; of two that beat each other the first stays."""
    return first_unbeaten_of(len(beats), lambda rows, columns: beats[np.ix_(rows, columns)])


def first_unbeaten_of(number: int, beats: Callable[[Ints, Ints], np.ndarray], block: int = 1024) -> np.ndarray:
    """Return what `first_unbeaten` does of so many, some at a time: all pairs of very many would take too much room.

    beats: tells which of the first (rows) can replace which of the second (columns).
    """
    everything = np.arange(number)
    stays = np.ones(number, dtype=bool)
    for start in range(0, number, block):
        mine = everything[start : start + block]
        better, worse = beats(everything, mine), beats(mine, everything).T
        earlier = everything[:, None] < mine[None, :]
        stays[mine] = ~(better & (~worse | earlier)).any(axis=0)
    return stays


def _beaten(front: Floats, block: Floats) -> np.ndarray:
    beaten = np.zeros(len(block), dtype=bool)
    for start in range(0, len(front), 1024):
        beaten |= _covers(front[start : start + 1024], block).any(axis=0)
    return beaten


def _covers(first: Floats, second: Floats) -> np.ndarray:
    """Return which row of the first (rows) is no worse than which of the second (columns) in every figure."""
    covered = np.ones((len(first), len(second)), dtype=bool)
    for column in range(first.shape[1]):
        covered &= first[:, None, column] <= second[None, :, column]
    return covered
