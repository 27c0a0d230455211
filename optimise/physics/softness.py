"""Softness: how wide the edge of a shadow is, and how large a light looks from the subject."""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers

CORNEA = 0.0078
"""Radius of the front of the cornea, m, as textbooks of visual optics take it (a mirror of 3.9 mm focal length)."""


def penumbra_width(size: ArrayLike, distance: ArrayLike, behind: ArrayLike) -> Array:
    """Return the width, m, over which the shadow of a straight edge goes from full light to none: s · b / a.

    size: of the lit face across the edge, m, at least 0; distance: from the face to the edge, above 0; behind: from the
    edge to the background, at least 0, both m; face, edge and background are parallel; all broadcast.
    Raises ValueError outside the domain.
    Source: similar triangles; radiography's geometric unsharpness, f = F (M − 1) with M = (a + b) / a (Curry et al.,
    Christensen's Physics of Diagnostic Radiology, seen second-hand).
    """
    s = numbers("size", size, least=0.0)
    a = numbers("distance", distance, above=0.0)
    return np.asarray(s * numbers("behind", behind, least=0.0) / a)


def apparent_angle(size: ArrayLike, distance: ArrayLike) -> Array:
    """Return the angle, degrees, under which a face is seen from a point before its centre: 2 atan(s / 2d).

    size and distance in m, size at least 0, distance above 0; they broadcast. Raises ValueError outside the domain.
    """
    s = numbers("size", size, least=0.0)
    return np.asarray(np.degrees(2.0 * np.arctan(s / (2.0 * numbers("distance", distance, above=0.0)))))


def corneal_image(size: ArrayLike, distance: ArrayLike, radius: ArrayLike = CORNEA) -> Array:
    """Return the size, m, of the image of a face in an eye, the catch-light: s r / (2 d + r).

    size, distance, radius in m, size at least 0, the others above 0; they broadcast. Paraxial: for a face seen under
    a wide angle it is somewhat too large. Raises ValueError outside the domain. Source: the mirror equation 1/d +
    1/d' = −2/r of a convex mirror and its magnification −d'/d (any textbook of optics).
    """
    s = numbers("size", size, least=0.0)
    d = numbers("distance", distance, above=0.0)
    r = numbers("radius", radius, above=0.0)
    return np.asarray(s * r / (2.0 * d + r))
