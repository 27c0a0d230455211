"""Array types and the one guard that every function of this package uses."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def numbers(name: str, values: ArrayLike, *, least: float | None = None, above: float | None = None) -> Array:
    """Return `values` as a float array after checking its domain.

    Raises ValueError, naming the argument, where a value is not finite, is less than `least`, or is not
    more than `above`.
    """
    array = np.asarray(values, dtype=np.float64)
    if not np.all(np.isfinite(array)):
        raise ValueError(f"{name} must be finite")
    if least is not None and np.any(array < least):
        raise ValueError(f"{name} must be at least {least:g}")
    if above is not None and np.any(array <= above):
        raise ValueError(f"{name} must be more than {above:g}")
    return array
