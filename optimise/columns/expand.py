"""Building long columns from ranges without a Python loop for each."""

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def expand(low: Ints, high: Ints) -> tuple[Ints, Ints]:
    """Return (index, value): every whole number of low[i] … high[i] with the index i it belongs to."""
    number = np.maximum(high - low + 1, 0)
    index = np.repeat(np.arange(len(low)), number)
    first = np.repeat(np.cumsum(number) - number, number)
    return index, low[index] + np.arange(len(index)) - first


def floor_of(values: Floats) -> Ints:
    """Round down to whole numbers, forgiving what floating point takes from an exact quotient."""
    return np.floor(np.minimum(values, 1e9) * (1.0 + 1e-12) + 1e-12).astype(np.int64)


def ceil_of(values: Floats) -> Ints:
    """Round up to whole numbers, forgiving what floating point adds to an exact quotient."""
    return np.ceil(np.minimum(values, 1e9) * (1.0 - 1e-12) - 1e-12).astype(np.int64)
