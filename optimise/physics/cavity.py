"""Light in the box between a board and its diffuser: what its walls take, what is thrown back and comes again.

Board, opening and the four walls together are each taken as evenly lit and diffuse, which is an approximation: real
emitters light the near ends of walls more. What the opening throws back comes again by 1 / (1 − r R), the multiplier of
an integrating sphere, with the reflectance R that the box really shows to its opening in place of a sphere's mean.
"""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers


def opposite_factor(width: ArrayLike, height: ArrayLike, depth: ArrayLike) -> Array:
    """Return the share of diffuse light from a rectangle that falls straight on an equal one opposite.

    width, height: of both, m, above 0; depth: between them, m, above 0; all broadcast. Raises ValueError otherwise.
    Source: configuration factor of aligned parallel rectangles (Howell's catalogue C-11, number from memory; in any
    textbook of heat transfer).
    """
    d = numbers("depth", depth, above=0.0)
    x = numbers("width", width, above=0.0) / d
    y = numbers("height", height, above=0.0) / d
    root_x, root_y = np.sqrt(1.0 + x * x), np.sqrt(1.0 + y * y)
    # ln of a ratio near 1 loses digits where the box is deep: log1p of what it is above 1.
    corners = 0.5 * np.log1p(x * x * y * y / (1.0 + x * x + y * y))
    sides = x * root_y * np.arctan(x / root_y) + y * root_x * np.arctan(y / root_x)
    total = corners + sides - x * np.arctan(x) - y * np.arctan(y)
    return np.asarray(np.clip(2.0 / (np.pi * x * y) * total, 0.0, 1.0))


def box(width: ArrayLike, height: ArrayLike, depth: ArrayLike, reflectance: ArrayLike) -> tuple[Array, Array]:
    """Return what of a board's light reaches the opening of its box, and the reflectance of the box seen from there.

    width, height: of board and opening, m, above 0; depth: of the walls, m, at least 0; reflectance: of board and
    walls, 0 to 1; all broadcast. A depth of 0 is no wall: all reaches the opening. Raises ValueError otherwise.
    Source: exchange of light between the three (radiosity); what the walls do to each other is summed to the end.
    """
    w = numbers("width", width, above=0.0)
    h = numbers("height", height, above=0.0)
    deep = numbers("depth", depth, least=0.0)
    r = _share("reflectance", reflectance)
    walls = 2.0 * (w + h) * deep
    flat = deep <= 1e-9 * np.minimum(w, h)
    ahead = np.where(flat, 1.0, opposite_factor(w, h, np.where(flat, 1.0, deep)))
    # Of a wall's light: to the board, and as much to the opening.
    out = np.where(flat, 0.0, w * h * (1.0 - ahead) / np.where(flat, 1.0, walls))
    lit = r * (1.0 - ahead) / (1.0 - np.minimum(r * (1.0 - 2.0 * out), 1.0 - 1e-15))
    board = 1.0 / (1.0 - np.minimum(r * out * lit, 1.0 - 1e-15))
    reaching = board * (ahead + lit * out)
    # From the opening: the walls that it lights light the board and themselves.
    first = r * (ahead + lit * out) * board
    shown = first * ahead + lit * (1.0 + first) * out
    return np.asarray(np.minimum(reaching, 1.0)), np.asarray(np.minimum(shown, 1.0))


def box_transmittance(
    width: ArrayLike,
    height: ArrayLike,
    depth: ArrayLike,
    reflectance: ArrayLike,
    transmittance: ArrayLike,
    thrown_back: ArrayLike,
) -> Array:
    """Return the share of a board's light that leaves through a diffuser on its box.

    transmittance and thrown_back: shares of the light on the diffuser, together at most 1; the others as those of
    `box`; all broadcast. Never more than transmittance / (1 − thrown_back). Raises ValueError outside the domain.
    """
    through, back = _share("transmittance", transmittance), _share("thrown_back", thrown_back)
    if np.any(through + back > 1.0 + 1e-9):
        raise ValueError("transmittance and thrown_back must be at most 1 together")
    reaching, shown = box(width, height, depth, reflectance)
    return np.asarray(through * reaching / (1.0 - np.minimum(back * shown, 1.0 - 1e-15)))


def forward_share(back: ArrayLike, reflectance: ArrayLike) -> Array:
    """Return the share of an emitter's light that goes forward, where `back` of it goes to the board first.

    1 − back (1 − reflectance): what the board reflects goes forward as well; what of it the emitter itself stops is not
    counted. Both 0 to 1; they broadcast. Raises ValueError outside the domain.
    """
    return np.asarray(1.0 - _share("back", back) * (1.0 - _share("reflectance", reflectance)))


def _share(name: str, values: ArrayLike) -> Array:
    return numbers(name, values, least=0.0, most=1.0)
