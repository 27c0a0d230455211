"""In which order wires go through emitters on a board, and how long they are at the least.

Wires are straight from terminal to terminal; what ends, bends and the way to the driver take is not counted. A piece
with a length has a terminal at each end, one without has both in its middle.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from optimise.physics.arrays import Array, numbers


def serpentine(x: Array, y: Array, upright: bool) -> np.ndarray:
    """Return the order in which a wire goes through places row by row, every other row backwards; shape (places,).

    upright: column by column instead. Places within 1 nm are in one row. Raises ValueError where one is not finite.
    """
    x, y = numbers("x", x), numbers("y", y)
    along, across = np.round(y if upright else x, 9), np.round(x if upright else y, 9)
    line = np.unique(across, return_inverse=True)[1].ravel()
    return np.lexsort((np.where(line % 2 == 0, along, -along), line))


def string_wire(x: Array, y: Array, length: float, lying: bool) -> tuple[float, Array, Array]:
    """Return the least wire of pieces in series in this order, m, and the terminals at its two ends, shape (2,).

    Each piece may be turned end for end. lying: whether its length runs along x (else along y). Raises ValueError where
    a place is not finite, or the length below 0.
    """
    ends = _ends(x, y, length, lying)
    # By how the last piece lies: the least so far, and how the first one lay then.
    least, first = np.zeros(2), np.array([0, 1])
    for before, after in pairwise(ends):
        step = np.linalg.norm(before[::-1][:, None, :] - after[None, :, :], axis=2)  # out of one, into the next
        total = least[:, None] + step
        way = np.round(total, 9).argmin(axis=0)
        least, first = total[way, [0, 1]], first[way]
    last = int(np.round(least, 9).argmin())
    return float(least[last]), ends[0, first[last]], ends[-1, 1 - last]


def _ends(x: Array, y: Array, length: float, lying: bool) -> Array:
    """Return the two ends of pieces, shape (pieces, 2, 2): x and y of each."""
    half = np.array([length / 2.0, 0.0] if lying else [0.0, length / 2.0])
    numbers("length", length, least=0.0)
    middle = np.column_stack([numbers("x", x), numbers("y", y)])
    return np.stack([middle - half, middle + half], axis=1)


def run_wire(strings: Sequence[tuple[float, Array, Array]]) -> tuple[float, tuple[bool, ...]]:
    """Return the least wire of strings in parallel, m, and which of them are fed from their other end.

    strings: as `string_wire` gives them, in the order in which one wire joins their positive and one their negative
    ends; both wires are led to where a positive and a negative end are nearest to each other.
    """
    poles = np.array([(start, end) for _, start, end in strings])
    either = np.stack([poles, poles[:, ::-1]])  # by turned, string, pole
    least, ways = np.zeros(2), list[np.ndarray]()
    for before, after in pairwise(np.swapaxes(either, 0, 1)):
        step = np.linalg.norm(before[:, None] - after[None, :], axis=3).sum(axis=2)
        total = least[:, None] + step
        # The first one wins a tie unless the second is shorter by more than rounding.
        way = (total[1] < total[0] - 1e-9).astype(np.int64)
        least = total[way, [0, 1]]
        ways.append(way)
    turned = [int(least[1] < least[0] - 1e-9)]
    for way in reversed(ways):
        turned.append(int(way[turned[-1]]))
    closing = float(np.linalg.norm(poles[:, 0] - poles[:, 1], axis=1).min())
    wire = sum(own for own, _, _ in strings) + float(least.min()) + closing
    # All turned the other way is as short: the first one stays as it is.
    return wire, tuple(one != turned[-1] for one in reversed(turned))
