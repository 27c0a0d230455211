"""Exposure and illuminance."""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers


def exposure_illuminance(f_number: ArrayLike, time: ArrayLike, iso: ArrayLike, constant: ArrayLike = 250.0) -> Array:
    """Return the illuminance, lx, for a right exposure: E = C N² / (t S).

    time in s; constant C in lx s (ISO 2720 leaves a range, 250 is usual for a flat receptor); all broadcast.
    Raises ValueError where an argument is not above 0. Source: ISO 2720:1974, incident-light meters.
    """
    n = numbers("f_number", f_number, above=0.0)
    t = numbers("time", time, above=0.0)
    s = numbers("iso", iso, above=0.0)
    return np.asarray(numbers("constant", constant, above=0.0) * n * n / (t * s))


def stops(illuminance: ArrayLike, reference: ArrayLike) -> Array:
    """Return how many stops `illuminance` is above `reference`: log2 of their ratio.

    Raises ValueError where one is not above 0.
    """
    e = numbers("illuminance", illuminance, above=0.0)
    return np.asarray(np.log2(e / numbers("reference", reference, above=0.0)))
