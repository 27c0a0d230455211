"""Two scattering sheets one behind the other."""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers


def stacked(inner: ArrayLike, thrown_back: ArrayLike, outer: ArrayLike, outer_back: ArrayLike) -> tuple[Array, Array]:
    """Return the transmittance of two sheets together, and what they throw back to the inner side.

    inner, outer: transmittances; thrown_back, outer_back: reflectances of the same sheets; shares that broadcast. The
    light between them goes to and fro: T = T₁ T₂ / (1 − R₁ R₂), R = R₁ + T₁² R₂ / (1 − R₁ R₂). Each sheet is taken to
    do the same with light from either side, and with light that is already scattered. Where a reflectance is 0, the
    transmittance is the product. Raises ValueError outside 0 … 1, or where both reflectances are 1.
    Source: Stokes, On the intensity of the light reflected from or transmitted through a pile of plates, Proc. R. Soc.
    11 (1862) 545; Kubelka, J. Opt. Soc. Am. 44 (1954) 330, has the same for scattering layers (both from memory).
    """
    t1, r1, t2, r2 = (
        numbers(name, value, least=0.0)
        for name, value in (
            ("inner", inner),
            ("thrown_back", thrown_back),
            ("outer", outer),
            ("outer_back", outer_back),
        )
    )
    if np.any(t1 + r1 > 1.0 + 1e-9) or np.any(t2 + r2 > 1.0 + 1e-9):
        raise ValueError("transmittance and reflectance must be at most 1 together")
    again = 1.0 - r1 * r2
    if np.any(again <= 0.0):
        raise ValueError("the reflectances must not both be 1")
    return np.asarray(t1 * t2 / again), np.asarray(r1 + t1**2 * r2 / again)
