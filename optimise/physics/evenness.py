"""How even the light is over a flat subject that stands parallel to the panel, its middle straight ahead."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optimise.physics.arrays import Array, numbers
from optimise.physics.distributions import Beam
from optimise.physics.fields import face_field, open_field
from optimise.physics.intensity import MeasuredBeam
from optimise.physics.places import grid_points

ACROSS = 9
"""Points across the subject and up it, both edges among them (an odd number has one in the middle)."""


@dataclass(frozen=True)
class Evenness:
    """Illuminances on the subject, lx for each lumen that leaves the panel, and stops from its middle to its edge."""

    least: float
    mean: float
    edge: float
    """Greatest difference in stops, up or down, between a point of the edge and the middle; infinite for darkness."""

    @property
    def share(self) -> float:
        """Least over mean; 0 in darkness."""
        return self.least / self.mean if self.mean > 0.0 else 0.0


def subject_grid(width: float, height: float, distance: float) -> tuple[Array, Array, np.ndarray]:
    """Return points, weights of their mean, and which lie on the edge; shapes (points, 3), (points,) and (points,).

    The points are even, edges included, and the mean is by the trapezoid rule; a side of 0 makes the subject a line.
    Raises ValueError where a side is below 0, or anything not finite.
    """
    for side in (width, height):
        numbers("side", side, least=0.0)
    numbers("distance", distance)
    sides = [np.linspace(-0.5, 0.5, ACROSS) if side > 0.0 else np.zeros(1) for side in (width, height)]
    steps = [np.ones(len(side)) for side in sides]
    for step in steps:
        if len(step) > 1:
            step[[0, -1]] = 0.5
    x, y = (grid.ravel() for grid in np.meshgrid(*sides, indexing="ij"))
    weights = np.outer(*(step / step.sum() for step in steps)).ravel()
    edge = (np.abs(x) == 0.5) | (np.abs(y) == 0.5)
    return np.stack([x * width, y * height, np.full(len(x), distance)], axis=1), weights, edge


def evenness_of(lux: Array, weights: Array, edge: np.ndarray) -> Evenness:
    """Return how even illuminances at the points of `subject_grid` are; infinite stops to where it is dark.

    Raises ValueError where there are none.
    """
    if not len(numbers("lux", lux)):
        raise ValueError("lux must be of at least one point")
    middle = float(lux[len(lux) // 2])
    outside = lux[edge]
    if middle <= 0.0 or outside.min(initial=math.inf) <= 0.0:
        stops = math.inf
    else:
        stops = float(np.abs(np.log2(outside / middle)).max(initial=0.0))
    return Evenness(float(lux.min()), float(weights @ lux), stops)


@lru_cache(maxsize=100_000)
def face_evenness(
    beam: Beam, width: float, height: float, distance: float, lying: bool, subject: tuple[float, float]
) -> Evenness:
    """Return how even the light of a uniformly lit face is on a subject of (width, height), m; see `face_field`.

    Stops are infinite to where it is dark. Raises ValueError as `face_field` does, or where a side is below 0.
    """
    points, weights, edge = subject_grid(*subject, distance)
    if isinstance(beam, MeasuredBeam):
        return evenness_of(face_field(beam, width, height, points, lying=lying), weights, edge)
    # What a formula gives is the same in all four quarters.
    quarter, place = np.unique(np.abs(points), axis=0, return_inverse=True)
    return evenness_of(face_field(beam, width, height, quarter)[np.ravel(place)], weights, edge)


@lru_cache(maxsize=200_000)
def grid_evenness(
    beam: Beam,
    count: int,
    columns_max: int,
    rows_max: int,
    width: float,
    height: float,
    distance: float,
    length: float,
    lying: bool,
    subject: tuple[float, float],
) -> Evenness:
    """Return how even the light of emitters at their places is on a subject of (width, height), m (`open_field`).

    Stops are infinite to where it is dark. Raises ValueError as `open_field` and `grid_points` do, or where a side is
    below 0.
    """
    points, weights, edge = subject_grid(*subject, distance)
    x, y, along = grid_points(count, columns_max, rows_max, width, height, length, lying)
    if isinstance(beam, MeasuredBeam):
        return evenness_of(open_field(beam, x, y, along, points, lying=lying), weights, edge)
    # Grids are the same to the left and to the right, and so is what a formula gives.
    folded = np.column_stack([np.abs(points[:, 0]), points[:, 1:]])
    half, place = np.unique(folded, axis=0, return_inverse=True)
    return evenness_of(open_field(beam, x, y, along, half)[np.ravel(place)], weights, edge)
