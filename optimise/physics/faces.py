"""Light from a lit face of finite size: exact configuration factors, not the inverse-square law."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers


def corner_factor(width: ArrayLike, height: ArrayLike, distance: ArrayLike) -> Array:
    """Return the configuration factor from a plane element to a parallel rectangle, normal through its corner.

    width, height: signed lengths in m (the sign carries through, so that corners can be summed); distance
    in m, above 0; all broadcast. Raises ValueError where the distance is not above 0, or a length not finite.
    Source: Howell, A Catalog of Radiation Heat Transfer Configuration Factors, B-3 (number from memory;
    geometry also in Tregenza & Sharples, Daylight Algorithms, 3.14).
    """
    d = numbers("distance", distance, above=0.0)
    a = numbers("width", width) / d
    b = numbers("height", height) / d
    root_a, root_b = np.sqrt(1.0 + a * a), np.sqrt(1.0 + b * b)
    return np.asarray((a / root_a * np.arctan(b / root_a) + b / root_b * np.arctan(a / root_b)) / (2.0 * np.pi))


def face_factor(
    width: ArrayLike, height: ArrayLike, distance: ArrayLike, dx: ArrayLike = 0.0, dy: ArrayLike = 0.0
) -> Array:
    """Return the configuration factor F from a plane element to a parallel rectangle width × height.

    The element lies `distance` m before the face and (dx, dy) m off its centre. A face of uniform luminance
    L gives E = π L F. All arguments broadcast.
    F lies between 0 and 1 (far off axis within rounding of 0). Raises ValueError outside the domain.
    Source: sum of four `corner_factor`s with sign.
    """
    w = numbers("width", width, above=0.0)
    h = numbers("height", height, above=0.0)
    x, y = numbers("dx", dx), numbers("dy", dy)
    right, left = w / 2.0 - x, w / 2.0 + x
    top, bottom = h / 2.0 - y, h / 2.0 + y
    total: Any = 0.0
    for across in (right, left):
        for up in (top, bottom):
            total = total + corner_factor(across, up, distance)
    return np.asarray(total)


def lux_per_lumen(
    width: ArrayLike,
    height: ArrayLike,
    distance: ArrayLike,
    exponent: ArrayLike = 1.0,
    dx: float = 0.0,
    dy: float = 0.0,
) -> Array:
    """Return the illuminance, lx, for each lumen that leaves a uniformly lit face of width × height.

    Every point of the face radiates I(t) ∝ cos^exponent t. For exponent 1 (Lambertian) the closed form
    F / (width · height); else Gauss-Legendre quadrature over the face, in patches no larger than half the
    distance, of a narrow beam over what sends light there (`lit_part`). All arguments broadcast. Raises ValueError
    outside the domain, and where a side of such a face is more than `NEAREST` times the distance.
    Source: E = ∫ L cos² t / r² dA with L from the flux; far limit (m + 1) / (2π distance²).
    """
    w, h, d, m = np.broadcast_arrays(
        numbers("width", width, above=0.0),
        numbers("height", height, above=0.0),
        numbers("distance", distance, above=0.0),
        numbers("exponent", exponent, above=0.0),
    )
    result = np.asarray(face_factor(w, h, d, dx, dy) / (w * h))
    beamed = np.flatnonzero(m.ravel() != 1.0)
    if beamed.size:
        flat = result.ravel().copy()
        for index in beamed:
            side, rise, far, power = (float(a.ravel()[index]) for a in (w, h, d, m))
            flat[index] = _quadrature(side, rise, far, power, dx, dy)
        result = flat.reshape(result.shape)
    return result


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)


def lit_part(side: float, distance: float, exponent: float, foot: float) -> tuple[float, float]:
    """Return the part of a side, m, off which a cos^exponent sends more than 1e-20 of the most there is.

    distance: of the point, and foot: where it stands along the side, m. Empty (two equal ends) where there is none.
    Raises ValueError where side, distance or exponent is not above 0.
    Source: cos t = 1 / √(1 + r²/d²) to the power exponent + 2, the greatest that intensity, cosine and distance come
    to.
    """
    w, d = float(numbers("side", side, above=0.0)), float(numbers("distance", distance, above=0.0))
    power = float(numbers("exponent", exponent, above=0.0)) + 2.0
    middle = float(numbers("foot", foot))
    # Of a wide beam it is all of any side.
    reach = d * float(np.sqrt(np.expm1(min(2.0 * _FAINT / power, 60.0))))
    low, high = max(-w / 2.0, middle - reach), min(w / 2.0, middle + reach)
    return (low, high) if low < high else (0.0, 0.0)


_FAINT = -float(np.log(1e-20))
MANY = 100
"""Patches along a side beyond which it is looked at where `lit_part` says."""
NEAREST = 250.0
"""Times the distance of a point that a side of a face may be long at the most."""


def check_near(width: float, height: float, distance: float) -> None:
    """Raise ValueError where a point is too near to a face to look at it patch by patch; all in m."""
    if max(width, height) > NEAREST * distance:
        raise ValueError(f"a side must be at most {NEAREST:g} times the distance")


def _rule(side: float, distance: float, narrowness: float, exponent: float, foot: float) -> tuple[Array, Array]:
    low, high = -side / 2.0, side / 2.0
    if 2.0 * side / distance * narrowness > MANY:
        low, high = lit_part(side, distance, exponent, foot)
    patches = max(1, int(np.ceil(2.0 * (high - low) / distance * narrowness)))
    edge = (high - low) / patches
    centres = (np.arange(patches) + 0.5) * edge + low
    nodes = (centres[:, None] + _NODES[None, :] * edge / 2.0).ravel()
    return nodes, np.tile(_WEIGHTS * edge / 2.0, patches)


def _quadrature(w: float, h: float, d: float, m: float, dx: float, dy: float) -> float:
    narrowness = max(1.0, np.sqrt(m) / 2.0)
    check_near(w, h, d)
    x, weight_x = _rule(w, d, narrowness, m, dx)
    y, weight_y = _rule(h, d, narrowness, m, dy)
    square = (x[:, None] - dx) ** 2 + (y[None, :] - dy) ** 2 + d * d
    cosine = d / np.sqrt(square)
    integrand = (m + 1.0) / (2.0 * np.pi) * cosine ** (m + 1.0) / square
    return float(weight_x @ integrand @ weight_y / (w * h))
