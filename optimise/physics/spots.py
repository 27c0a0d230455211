"""The light on single faces before a panel, each of which may stand and face anywhere.

A spot is (x, y, z, bearing, tilt): its place before the panel in m and how its face is turned, deg (`fields.facing`).
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from optimise.physics.arrays import Array, numbers
from optimise.physics.beams import axial_intensity
from optimise.physics.distributions import Beam
from optimise.physics.fields import face_field, facing, open_field
from optimise.physics.intensity import MeasuredBeam
from optimise.physics.places import grid_points

Spot = tuple[float, float, float, float, float]


def _places(spots: Sequence[Spot]) -> tuple[Array, Array]:
    """Return points and normals, each of shape (spots, 3)."""
    table = numbers("spots", np.array(spots, dtype=np.float64).reshape(len(spots), 5))
    return table[:, :3], facing(table[:, 3], table[:, 4])


@lru_cache(maxsize=100_000)
def face_spots(beam: Beam, width: float, height: float, lying: bool, spots: tuple[Spot, ...]) -> tuple[float, ...]:
    """Return the lux on spots for each lumen that leaves a uniformly lit face, m; see `face_field`.

    Raises ValueError where a side is not above 0 or a spot not before the face.
    """
    if not spots:
        return ()
    return tuple(face_field(beam, width, height, *_places(spots), lying).tolist())


@lru_cache(maxsize=200_000)
def grid_spots(
    beam: Beam,
    count: int,
    columns_max: int,
    rows_max: int,
    width: float,
    height: float,
    length: float,
    lying: bool,
    spots: tuple[Spot, ...],
) -> tuple[float, ...]:
    """Return the lux on spots for each lumen of emitters at their places (`grid_points`); see `open_field`.

    Raises ValueError where the grid cannot hold them or a spot is not before them.
    """
    if not spots:
        return ()
    x, y, weights = grid_points(count, columns_max, rows_max, width, height, length, lying)
    return tuple(open_field(beam, x, y, weights, *_places(spots), lying).tolist())


def spot_bounds(beam: Beam | None, width: float, height: float, spots: Sequence[Spot]) -> Array:
    """Return the least and the greatest lux on each spot for a lumen from anywhere on a rectangle, m; (spots, 2).

    beam: None is a light that has 1 cd for each lumen towards the spot. Neither end is ever passed: the cosine at the
    face times the distance is linear over the rectangle, so its ends are at the corners, and a formula of intensity
    falls with the distance. Of a table the least is taken as 0. Raises ValueError where a side is below 0 or a spot not
    before the rectangle. Source: inverse-square and cosine law.
    """
    points, normals = _places(spots)
    numbers("distance", points[:, 2], above=0.0)
    for side in (width, height):
        numbers("side", side, least=0.0)
    corners = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2.0
    rays = np.concatenate([corners, np.zeros((4, 1))], axis=1)[None, :, :] - points[:, None, :]
    towards = np.einsum("sck,sk->sc", rays, normals)
    far = np.linalg.norm(rays, axis=2).max(axis=1)
    aside = np.maximum(np.abs(points[:, :2]) - np.array([width, height]) / 2.0, 0.0)
    near = np.sqrt((aside**2).sum(axis=1) + points[:, 2] ** 2)
    if beam is None or isinstance(beam, MeasuredBeam):
        dimmest, brightest = np.zeros(len(points)), np.full(len(points), 1.0 if beam is None else beam.peak)
    else:
        peak = float(axial_intensity(1.0, beam))
        dimmest, brightest = peak * (points[:, 2] / far) ** beam, peak * (points[:, 2] / near) ** beam
    least = dimmest * np.maximum(towards.min(axis=1), 0.0) / far**3
    most = brightest * np.clip(towards.max(axis=1) / near, 0.0, 1.0) / near**2
    return np.stack([least * (1.0 - 1e-12), most * (1.0 + 1e-12)], axis=1)
