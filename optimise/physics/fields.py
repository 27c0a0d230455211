"""The field of light on a subject: illuminance at any point before a panel, on a surface that faces any way.

The panel lies in the plane z = 0 about the origin, its width along x and height along y; it shines towards +z. Points
have shape (points, 3) with z above 0, surfaces are given by unit normals of shape (3,) or (points, 3).
"""

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers
from optimise.physics.distributions import Beam
from optimise.physics.faces import MANY, check_near, lit_part
from optimise.physics.intensity import MeasuredBeam

FACING = np.array([0.0, 0.0, -1.0])
"""Normal of a surface parallel to the panel."""


def facing(bearing: ArrayLike = 0.0, tilt: ArrayLike = 0.0) -> Array:
    """Return the normal of a surface turned by `bearing` towards +x and leant back by `tilt` towards +y, deg.

    0 and 0 is parallel to the panel; shape of the arguments broadcast, then 3. Raises ValueError where an angle is not
    finite.
    """
    b, t = np.radians(numbers("bearing", bearing)), np.radians(numbers("tilt", tilt))
    return np.stack(np.broadcast_arrays(np.sin(b) * np.cos(t), np.sin(t) + 0.0 * b, -np.cos(b) * np.cos(t)), axis=-1)


def rectangle_factor(width: float, height: float, points: ArrayLike, normal: ArrayLike = FACING) -> Array:
    """Return the configuration factor F from plane elements to a rectangle width × height, m; shape (points,).

    Of the rectangle only what stands above the horizon of each element counts. A face of uniform luminance L gives
    E = π L F there. Raises ValueError where a side is not above 0 or a point not before the panel.
    Source: Lambert's contour integral of a polygon, E = (L/2) Σ β (Γ · n) with β the angle that an edge spans and Γ
    the unit normal of its plane (Howell's catalog has the parallel case as B-3, see `faces`; Lambert from memory).
    """
    places, n = _before(points, normal)
    w, h = float(numbers("width", width, above=0.0)), float(numbers("height", height, above=0.0))
    corners = np.array([[-w, -h, 0.0], [w, -h, 0.0], [w, h, 0.0], [-w, h, 0.0]]) / 2.0
    rays = corners[None, :, :] - places[:, None, :]
    above = np.einsum("pij,pj->pi", rays, n)
    total = np.zeros(len(places))
    leaving, entering = np.zeros_like(places), np.zeros_like(places)
    for i in range(4):
        a, b = rays[:, i], rays[:, (i + 1) % 4]
        up_a, up_b = above[:, i], above[:, (i + 1) % 4]
        goes, comes = (up_a >= 0.0) & (up_b < 0.0), (up_a < 0.0) & (up_b >= 0.0)
        span = np.where(goes | comes, up_a - up_b, 1.0)
        horizon = a + (b - a) * (up_a / span)[:, None]
        start = np.where(comes[:, None], horizon, a)
        end = np.where(goes[:, None], horizon, b)
        total += np.where((up_a >= 0.0) | (up_b >= 0.0), _edge(start, end, n), 0.0)
        leaving = np.where(goes[:, None], horizon, leaving)
        entering = np.where(comes[:, None], horizon, entering)
    # The polygon is closed along the horizon.
    total += _edge(leaving, entering, n)
    return np.abs(total) / (2.0 * np.pi)


def _edge(a: Array, b: Array, n: Array) -> Array:
    """Return the angle between rays times the cosine of the normal of their plane to n; 0 where there is no plane."""
    cross = np.cross(a, b)
    size = np.linalg.norm(cross, axis=1)
    angle = np.arctan2(size, np.einsum("pj,pj->p", a, b))
    return np.asarray(angle * np.einsum("pj,pj->p", cross, n) / np.where(size > 0.0, size, 1.0))


def face_field(
    beam: Beam, width: float, height: float, points: ArrayLike, normal: ArrayLike = FACING, lying: bool = True
) -> Array:
    """Return the illuminance, lx, at points for each lumen that leaves a uniformly lit face; shape (points,).

    Every point of the face gives `beam`: for exponent 1 the closed form `rectangle_factor` / area; else
    Gauss-Legendre quadrature over what stands above the horizon of each surface. lying: whether the length of the
    emitters of a measured beam runs along x. Raises ValueError where a side is not above 0, a point not before it or,
    but for exponent 1, nearer than `check_near` has it.
    Source: E = ∫ I cos t / r² dA over the face.
    """
    if not isinstance(beam, MeasuredBeam) and beam == 1.0:
        return rectangle_factor(width, height, points, normal) / (width * height)
    places, n = _before(points, normal)
    w, h = float(numbers("width", width, above=0.0)), float(numbers("height", height, above=0.0))
    _formula(beam)
    for place in places:
        check_near(w, h, float(place[2]))
    return np.array([_integrated(beam, w, h, p, m, lying) for p, m in zip(places, n, strict=True)])


def open_field(
    beam: Beam,
    x: ArrayLike,
    y: ArrayLike,
    weights: ArrayLike,
    points: ArrayLike,
    normal: ArrayLike = FACING,
    lying: bool = True,
) -> Array:
    """Return the illuminance, lx, at points for each lumen of equal emitters on an open panel; shape (points,).

    x, y, weights: places along each emitter and their weights, as `places.grid_points` gives them. Raises ValueError
    where there is none, a place is not finite or a point not before the panel. Source: inverse-square and cosine law,
    summed.
    """
    places, n = _before(points, normal)
    _formula(beam)
    u, v = numbers("x", x), numbers("y", y)
    if not len(u):
        raise ValueError("there must be an emitter")
    share = np.broadcast_to(numbers("weights", weights), u.shape) / len(u)
    flat, share = (u.ravel(), v.ravel()), share.ravel()
    each = max(1, _CHUNK // len(share))
    parts = [
        _lux(beam, *flat, places[i : i + each], n[i : i + each], lying) @ share for i in range(0, len(places), each)
    ]
    return np.concatenate(parts)


_CHUNK = 500_000
"""Pairs of a point and a place that are looked at in one go."""


def _formula(beam: Beam) -> None:
    if not isinstance(beam, MeasuredBeam):
        numbers("beam", beam, above=0.0)


def _before(points: ArrayLike, normal: ArrayLike) -> tuple[Array, Array]:
    places = np.atleast_2d(numbers("points", points))
    numbers("distance", places[:, 2], above=0.0)
    return places, np.broadcast_to(numbers("normal", normal), places.shape)


def _lux(beam: Beam, x: Array, y: Array, point: Array, normal: Array, lying: bool) -> Array:
    """Return the lux per lumen of light from (x, y, 0) at a point (or points, shape (points, 3)): 0 from behind.

    Places have any shape for one point, and shape (places,) for many; the result has shape (points, places) then.
    """
    point, normal = (part if part.ndim == 1 else part.T[:, :, None] for part in (point, normal))
    across, up, out = point[0] - x, point[1] - y, point[2]
    square = across**2 + up**2 + out**2
    away = np.sqrt(square)
    if isinstance(beam, MeasuredBeam):
        light = beam.towards(across, up, out + 0.0 * up) if lying else beam.towards(up, -across, out + 0.0 * up)
    else:
        light = (beam + 1.0) / (2.0 * np.pi) * (out / away) ** beam
    cosine = -(across * normal[0] + up * normal[1] + out * normal[2]) / away
    return np.asarray(light * np.maximum(cosine, 0.0) / square)


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)


def _rule(low: Array, high: Array, patches: int) -> tuple[Array, Array]:
    """Return nodes and weights of integrals from `low` to `high`, shape (integrals, 12 · patches)."""
    edge = (high - low)[:, None] / patches
    middle = low[:, None] + (np.arange(patches) + 0.5)[None, :] * edge
    nodes = middle[:, :, None] + _NODES * edge[:, :, None] / 2.0
    weights = np.broadcast_to(_WEIGHTS * edge[:, :, None] / 2.0, nodes.shape)
    return nodes.reshape(len(low), -1), weights.reshape(len(low), -1)


def _integrated(beam: Beam, w: float, h: float, point: Array, normal: Array, lying: bool) -> float:
    """Integrate over what stands above the horizon a x + b y + c = 0 of a surface, in pieces without a bend."""
    # A slope that only rounding tells from none is none: its horizon would lie beyond all numbers.
    a, b = (float(part) if abs(part) > 1e-12 else 0.0 for part in normal[:2])
    c = -float(normal @ point)
    power = 2.0 * np.pi * beam.peak - 1.0 if isinstance(beam, MeasuredBeam) else beam
    reach = float(point[2]) / max(1.0, float(np.sqrt(power + 1.0)) / 2.0)
    (left, right), (bottom, top) = (-w / 2.0, w / 2.0), (-h / 2.0, h / 2.0)
    if not isinstance(beam, MeasuredBeam) and 2.0 * max(w, h) / reach > MANY:
        left, right = lit_part(w, float(point[2]), beam, float(point[0]))
        bottom, top = lit_part(h, float(point[2]), beam, float(point[1]))
    breaks = [left, right]
    if a != 0.0:
        bends = [-(c + b * side) / a for side in (bottom, top)]
        breaks = sorted([*breaks, *(bend for bend in bends if left < bend < right)])
    patches = max(1, int(np.ceil(2.0 * max(right - left, top - bottom) / reach)))
    x, weight_x = _rule(np.array(breaks[:-1]), np.array(breaks[1:]), patches)
    x, weight_x = x.ravel(), weight_x.ravel()
    low, high = np.full(len(x), bottom), np.full(len(x), top)
    if b != 0.0:
        horizon = np.clip(-(a * x + c) / b, bottom, top)
        low, high = (horizon, high) if b > 0.0 else (low, horizon)
    y, weight_y = _rule(low, high, patches)
    light = _lux(beam, x[:, None], y, point, normal, lying)
    return float(weight_x @ (light * weight_y).sum(axis=1)) / (w * h)
