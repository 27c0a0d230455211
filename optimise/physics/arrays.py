"""Array types and the one guard that every function of this package uses."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


LARGEST = 1e30
"""No figure of a light is beyond it in size, and what formulas make of figures within it is finite."""
SMALLEST = 1e-30
"""What must be above 0 is no less, so that nothing is divided by a number that is only just none."""


def numbers(
    name: str, values: ArrayLike, *, least: float | None = None, above: float | None = None, most: float | None = None
) -> Array:
    """Return `values` as a float array after checking its domain.

    Raises ValueError, naming the argument, where a value is not finite or beyond `LARGEST` in size, is less than
    `least`, is not more than `above` (by `SMALLEST`, where that is 0), or is more than `most`.
    """
    array = np.asarray(values, dtype=np.float64)
    if not array.size:
        return array
    # One pass for all that is sound: no comparison holds for what is no number.
    low, high = float(array.min()), float(array.max())
    if not (low >= -LARGEST and high <= LARGEST):
        raise ValueError(f"{name} must be finite" + f", within {LARGEST:g}" * bool(np.isfinite(array).all()))
    if least is not None and low < least:
        raise ValueError(f"{name} must be at least {least:g}")
    if above is not None and (low <= above or (above == 0.0 and low < SMALLEST)):
        raise ValueError(f"{name} must be more than {above:g}")
    if most is not None and high > most:
        raise ValueError(f"{name} must be at most {most:g}")
    return array
