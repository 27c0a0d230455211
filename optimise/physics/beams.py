"""Beams of the form I(t) = I0 cos^m t."""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

SHARPEST = 0.01
"""deg: the narrowest beam whose exponent floating point still tells."""


def beam_exponent(full_width: ArrayLike) -> Array:
    """Return the exponent m of the beam whose intensity falls to half at full_width / 2 off axis.

    full_width: full width at half maximum, deg, from `SHARPEST` to below 180, any shape.
    Raises ValueError outside that domain.
    m = ln 0.5 / ln cos(full_width / 2); 120° gives m = 1, the Lambertian emitter.
    Source: definition of the half-maximum width applied to the cosine-power model.
    """
    width = numbers("full_width", full_width, least=SHARPEST)
    if np.any(width >= 180.0):
        raise ValueError("full_width must be less than 180")
    return np.asarray(np.log(0.5) / np.log(np.cos(np.radians(width / 2.0))))


def axial_intensity(flux: ArrayLike, exponent: ArrayLike) -> Array:
    """Return the intensity on the axis, cd, of a beam of `flux` lm: I0 = flux (m + 1) / 2π.

    Raises ValueError where flux is negative or the exponent not above 0.
    Source: integral of I0 cos^m t over the half-space.
    """
    phi = numbers("flux", flux, least=0.0)
    m = numbers("exponent", exponent, above=0.0)
    return np.asarray(phi * (m + 1.0) / (2.0 * np.pi))


def widened_beam(full_width: ArrayLike, spread: ArrayLike) -> Array:
    """Return the full width, deg, of a beam behind a diffuser that spreads a narrow beam to `spread`.

    Widths add as the root of squares (convolution of two bell-shaped distributions, an approximation; no
    published source), and never exceed the Lambertian 120° unless the bare beam already does. Raises ValueError where
    one is not above 0.
    """
    bare = numbers("full_width", full_width, above=0.0)
    added = numbers("spread", spread, above=0.0)
    return np.asarray(np.maximum(bare, np.minimum(np.hypot(bare, added), 120.0)))


def gridded(exponent: ArrayLike, grid: ArrayLike, ahead: ArrayLike) -> tuple[Array, Array]:
    """Return exponent and share of the light that a grid of black cells lets through of a face's beam.

    exponent: of the bare face, above 0; grid: full width at half maximum, deg, to which it narrows diffuse light, from
    `SHARPEST` to below 180; ahead: share of the light straight ahead that it lets through, above 0, at most 1; all
    broadcast.
    Raises ValueError outside the domain.
    Source: cells take light and gather none, so that on the axis the intensity stays I0 but for `ahead`; with beams of
    the form cos^m, I0 = flux (m + 1) / 2π before and after gives the share ahead · (m + 1) / (m' + 1).
    """
    m = numbers("exponent", exponent, above=0.0)
    open_ = numbers("ahead", ahead, above=0.0, most=1.0)
    narrowed = np.maximum(m, beam_exponent(grid))
    return np.asarray(narrowed), np.asarray(open_ * (m + 1.0) / (narrowed + 1.0))


def point_factors(
    x: ArrayLike, y: ArrayLike, distance: ArrayLike, exponent: ArrayLike, dx: float = 0.0, dy: float = 0.0
) -> Array:
    """Return the lux per lumen that each emitter at (x, y) gives at the point (dx, dy, distance).

    x, y: places on the panel in m from its centre; distance in m, above 0; all broadcast together.
    The receiving plane is parallel to the panel. E = I0 cos^m t · cos t / r².
    Raises ValueError outside the domain. Source: inverse-square and cosine law (CIE e-ILV, illuminance).
    """
    d = numbers("distance", distance, above=0.0)
    m = numbers("exponent", exponent, above=0.0)
    square = (numbers("x", x) - numbers("dx", dx)) ** 2 + (numbers("y", y) - numbers("dy", dy)) ** 2 + d**2
    cosine = d / np.sqrt(square)
    return np.asarray((m + 1.0) / (2.0 * np.pi) * cosine ** (m + 1.0) / square)
