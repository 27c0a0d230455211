"""Whether single emitters show on a diffuser: the ripple of the light that falls on it from a regular grid of them."""

import numpy as np

from optimise.physics.arrays import Array, numbers

_CELL = 17
"""Places along a quarter of a cell at which the light is looked at."""


def grid_illuminance(
    x: Array, y: Array, pitch_x: float, pitch_y: float, depth: float, exponent: float, rings: int | None = None
) -> Array:
    """Return the illuminance, lx for 1 lm of each emitter, at places on a plane before an endless grid of emitters.

    x, y: places from below an emitter, m, of one shape; pitch_x, pitch_y: of the grid, depth: from the emitters to the
    plane, m, above 0; exponent of their beams (1 is Lambertian), above 0. rings: of emitters summed one by one, at
    least 1; the rest is counted as evenly spread, and None takes so many that it is good to 1e-6. Raises ValueError.
    Source: inverse-square and cosine law, I0 cos^m t · cos t / r², summed with a smooth edge; what the edge leaves out
    is integrated over the plane, as if spread evenly.
    """
    across = float(numbers("pitch_x", pitch_x, above=0.0))
    up = float(numbers("pitch_y", pitch_y, above=0.0))
    d = float(numbers("depth", depth, above=0.0))
    m = float(numbers("exponent", exponent, above=0.0))
    places = np.stack(np.broadcast_arrays(numbers("x", x), numbers("y", y)))
    if rings is None:
        rings = int(np.ceil(6.0 + 6.0 * d / min(across, up)))
    if rings < 1:
        raise ValueError("rings must be at least 1")
    radius = rings * max(across, up)
    column = np.arange(-np.ceil(radius / across) - 1, np.ceil(radius / across) + 2) * across
    row = np.arange(-np.ceil(radius / up) - 1, np.ceil(radius / up) + 2) * up
    intensity = (m + 1.0) / (2.0 * np.pi)
    total = np.zeros(places.shape[1:])
    for one in row:
        square = (places[0][..., None] - column) ** 2 + (places[1][..., None] - one) ** 2
        # A smooth edge: a sharp one would let the sum jump as emitters pass it.
        share = _edge(np.sqrt(square) / radius)
        total += intensity * d ** (m + 1.0) * (share / (square + d * d) ** ((m + 3.0) / 2.0)).sum(axis=-1)
    return np.asarray(total + _outside(intensity, d, m, radius) / (across * up))


def _edge(distance: Array) -> Array:
    """Return 1 well within a radius, 0 beyond it, and a smooth step over its outer half."""
    t = np.clip(2.0 - 2.0 * distance, 0.0, 1.0)
    return np.asarray(t * t * t * (t * (6.0 * t - 15.0) + 10.0))


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)


def _outside(intensity: float, d: float, m: float, radius: float) -> float:
    """Return the integral over the plane of what `_edge` leaves out of one emitter's light."""
    r = radius * (0.75 + 0.25 * _NODES)
    light = intensity * d ** (m + 1.0) / (r * r + d * d) ** ((m + 3.0) / 2.0)
    step = float(((1.0 - _edge(r / radius)) * light * 2.0 * np.pi * r * _WEIGHTS).sum() * radius / 4.0)
    beyond = 2.0 * np.pi * intensity * d ** (m + 1.0) / (m + 1.0) / (radius * radius + d * d) ** ((m + 1.0) / 2.0)
    return step + float(beyond)


def dot_ripple(pitch_x: float, pitch_y: float, depth: float, exponent: float = 1.0) -> float:
    """Return (greatest − least) / (greatest + least) of the light on a diffuser before an endless grid of emitters.

    Arguments and errors as those of `grid_illuminance`. For a Lambertian sheet it is the ripple of its luminance as
    well; near the edges of a real board, and for the light that walls throw back, it is more or less than this.
    """
    x, y = np.meshgrid(np.linspace(0.0, pitch_x / 2.0, _CELL), np.linspace(0.0, pitch_y / 2.0, _CELL))
    light = grid_illuminance(x, y, pitch_x, pitch_y, depth, exponent)
    return float((light.max() - light.min()) / (light.max() + light.min()))


def depth_for(pitch_x: float, pitch_y: float, ripple: float, exponent: float = 1.0) -> float:
    """Return the least depth, m, from which on the ripple of a grid's light on a diffuser is at most `ripple`.

    ripple: above 0, below 1; the others as those of `dot_ripple`, whose value falls with the depth. To 1e-5 of itself.
    Raises ValueError outside the domain.
    """
    wanted = float(numbers("ripple", ripple, above=0.0))
    if wanted >= 1.0:
        raise ValueError("ripple must be less than 1")
    near, far = 0.02 * min(pitch_x, pitch_y), max(pitch_x, pitch_y)
    while dot_ripple(pitch_x, pitch_y, far, exponent) > wanted:
        near, far = far, 2.0 * far
    while far - near > 1e-5 * far:
        middle = (near + far) / 2.0
        if dot_ripple(pitch_x, pitch_y, middle, exponent) > wanted:
            near = middle
        else:
            far = middle
    return far
