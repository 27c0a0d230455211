"""Tables of intensity over two angles: light in any direction, and flux by zonal integration.

Directions are given by components (along, across, ahead): `along` the length of the emitter, `across` it, and `ahead`
out of its face. They need not be unit vectors. The types of photometry are those of ANSI/IESNA LM-63-2002 (planes
with a common axis ahead: C; a common horizontal axis: B; a common vertical axis: A). Horizontal angle 0 lies along the
emitter for type C; for types A and B horizontal angles turn from ahead towards `along`, vertical ones towards `across`
(which way round a file was measured is a convention of this program, from memory).
"""

from functools import cached_property, lru_cache
from typing import Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike

from optimise.physics.arrays import Array, numbers


class Table(Protocol):
    """A table of intensity as measured; one that is hashable, and equal where its values are."""

    def __hash__(self) -> int:
        """Return a hash that is equal where the values are."""

    @property
    def kind(self) -> Literal["A", "B", "C"]:
        """Type of photometry."""

    @property
    def vertical(self) -> Array:
        """Angles in degrees, rising, shape (V,)."""

    @property
    def horizontal(self) -> Array:
        """Angles in degrees, rising, shape (H,)."""

    @property
    def candela(self) -> Array:
        """Intensities in cd, shape (H, V), none below 0."""


def angles_of(kind: str, along: ArrayLike, across: ArrayLike, ahead: ArrayLike) -> tuple[Array, Array]:
    """Return the angles (vertical, horizontal), deg, at which a type of photometry has a direction.

    Vertical is 0 to 180 for type C, −180 to 180 for B, −90 to 90 for A; horizontal 0 to 360, −90 to 90 and −180 to
    180. Components broadcast; raises ValueError where one is not finite. Source: ANSI/IESNA LM-63-2002, definitions of
    planes and angles.
    """
    u, w, n = numbers("along", along), numbers("across", across), numbers("ahead", ahead)
    if kind == "C":
        vertical, horizontal = np.arctan2(np.hypot(u, w), n), np.arctan2(w, u)
        return np.degrees(vertical), np.mod(np.degrees(horizontal), 360.0)
    if kind == "B":
        vertical, horizontal = np.arctan2(w, n), np.arctan2(u, np.hypot(w, n))
    else:
        vertical, horizontal = np.arctan2(w, np.hypot(u, n)), np.arctan2(u, n)
    return np.degrees(vertical), np.degrees(horizontal)


def direction_of(kind: str, vertical: ArrayLike, horizontal: ArrayLike) -> tuple[Array, Array, Array]:
    """Return the unit vector (along, across, ahead) of angles, deg: the inverse of `angles_of`, as it raises."""
    v, h = np.radians(numbers("vertical", vertical)), np.radians(numbers("horizontal", horizontal))
    if kind == "C":
        return np.sin(v) * np.cos(h), np.sin(v) * np.sin(h), np.cos(v) + 0.0 * h
    if kind == "B":
        return np.sin(h) + 0.0 * v, np.cos(h) * np.sin(v), np.cos(h) * np.cos(v)
    return np.cos(v) * np.sin(h), np.sin(v) + 0.0 * h, np.cos(v) * np.cos(h)


def intensity_at(table: Table, vertical: ArrayLike, horizontal: ArrayLike) -> Array:
    """Return the intensity, cd, at angles, deg, by linear interpolation in both; 0 beyond what a table spans.

    What a table leaves out by its symmetry is folded in: one plane for all (horizontal 0 alone), each quadrant (0 to
    90), each side of the plane 0–180 (0 to 180) or 90–270 (90 to 270); for types A and B each side (0 to 90).
    Raises ValueError where an angle is not finite.
    Source: ANSI/IESNA LM-63-2002 (from memory where it is silent of interpolation).
    """
    v, h = np.broadcast_arrays(numbers("vertical", vertical), numbers("horizontal", horizontal))
    h = _folded(table, h)
    row, up, seen = _place(table.horizontal, h)
    column, right, within = _place(table.vertical, v)
    cd = table.candela
    top = row + (1 if len(table.horizontal) > 1 else 0)
    low = cd[row, column] * (1.0 - right) + cd[row, column + 1] * right
    high = cd[top, column] * (1.0 - right) + cd[top, column + 1] * right
    return np.asarray(np.where(seen & within, low * (1.0 - up) + high * up, 0.0))


def intensity_towards(table: Table, along: ArrayLike, across: ArrayLike, ahead: ArrayLike) -> Array:
    """Return the intensity, cd, in directions (along, across, ahead), whatever the type of photometry.

    Raises ValueError where a component is not finite.
    """
    return intensity_at(table, *angles_of(table.kind, along, across, ahead))


def table_flux(table: Table) -> float:
    """Return the luminous flux, lm, of the interpolated table: zonal integration, exact between its angles.

    Source: zonal method (∫ I sin γ dγ dφ for type C; the cosine of the angle from the common axis for A and B).
    """
    v, h = np.radians(table.vertical), np.radians(table.horizontal)
    if table.kind == "C":
        return float(2.0 * np.pi * _mean_weights(h) @ table.candela @ _sine_weights(v))
    sides = 2.0 if table.horizontal[0] == 0.0 else 1.0
    if table.kind == "B":
        return float(sides * _cosine_weights(h) @ table.candela @ _even_weights(v))
    return float(sides * _even_weights(h) @ table.candela @ _cosine_weights(v))


def flux_ahead(table: Table) -> float:
    """Return the part of the flux, lm, that leaves within 90° of ahead (all of it for types A and B)."""
    if table.kind != "C" or table.vertical[-1] <= 90.0:
        return table_flux(table)
    v = table.vertical
    upto = np.append(v[v < 90.0], 90.0)
    at_edge = np.array([np.interp(90.0, v, row) for row in table.candela])
    ahead = np.column_stack([table.candela[:, v < 90.0], at_edge])
    return float(2.0 * np.pi * _mean_weights(np.radians(table.horizontal)) @ ahead @ _sine_weights(np.radians(upto)))


def _folded(table: Table, horizontal: Array) -> Array:
    first, last = float(table.horizontal[0]), float(table.horizontal[-1])
    if table.kind != "C":
        return np.abs(horizontal) if first == 0.0 else horizontal
    if first == last:
        return np.zeros_like(horizontal)
    turn = np.mod(horizontal, 360.0)
    if first == 90.0:
        return np.where(turn < 90.0, 180.0 - turn, np.where(turn > 270.0, 540.0 - turn, turn))
    if last <= 180.0:
        turn = np.where(turn > 180.0, 360.0 - turn, turn)
    if last <= 90.0:
        turn = np.where(turn > 90.0, 180.0 - turn, turn)
    return turn


def _place(angles: Array, asked: Array) -> tuple[np.ndarray, Array, np.ndarray]:
    """Return the index below each angle asked, the share of the way to the next, and whether it is in the span."""
    if len(angles) == 1:
        return np.zeros(asked.shape, dtype=np.int64), np.zeros(asked.shape), np.ones(asked.shape, dtype=bool)
    # Angles of a direction carry rounding; one at the very end of the span is in it.
    within = (asked >= angles[0] - 1e-9) & (asked <= angles[-1] + 1e-9)
    index = np.clip(np.searchsorted(angles, asked, side="right") - 1, 0, len(angles) - 2)
    share = np.clip((asked - angles[index]) / (angles[index + 1] - angles[index]), 0.0, 1.0)
    return index, share, within


def _even_weights(angles: Array) -> Array:
    """Return the integrals of the hat functions of nodes, rad."""
    steps = np.diff(angles)
    return np.append(steps, 0.0) / 2.0 + np.append(0.0, steps) / 2.0


def _mean_weights(angles: Array) -> Array:
    if len(angles) == 1:
        return np.ones(1)
    weights = _even_weights(angles)
    return np.asarray(weights / weights.sum())


def _sine_weights(angles: Array) -> Array:
    """Return the integrals of the hat functions of nodes times the sine."""
    a, b = angles[:-1], angles[1:]
    slope = (np.sin(b) - np.sin(a)) / (b - a)
    return np.asarray(np.append(np.cos(a) - slope, 0.0) + np.append(0.0, slope - np.cos(b)))


def _cosine_weights(angles: Array) -> Array:
    return _sine_weights(angles + np.pi / 2.0)


class MeasuredBeam:
    """The intensity of a table for each of its lumens, or of those that count; equal where table and flux are."""

    def __init__(self, table: Table, flux: float) -> None:
        self.table, self.flux = table, flux
        self.peak = float(np.max(table.candela)) / flux
        """Greatest intensity in any direction, cd/lm."""

    def __eq__(self, other: object) -> bool:
        return isinstance(other, MeasuredBeam) and self.flux == other.flux and self.table == other.table

    def __hash__(self) -> int:
        return hash(self.table)

    def towards(self, along: ArrayLike, across: ArrayLike, ahead: ArrayLike) -> Array:
        """Return the intensity in directions, cd/lm. Raises ValueError where a component is not finite."""
        return np.asarray(intensity_towards(self.table, along, across, ahead) / self.flux)

    def bounds(self, cosine: float) -> tuple[float, float]:
        """Return the least and the greatest of I cos³ t, cd/lm, over directions t from ahead with cos t ≥ `cosine`.

        By cells of the table, so that the greatest is never too small and the least never too great. I cos³ t is the
        illuminance on a plane before the light, times the square of its distance. Raises ValueError where the cosine is
        not finite.
        """
        numbers("cosine", cosine)
        low, high, nearest = self._cells
        reached = nearest >= cosine - 1e-12
        if not reached.any():
            return 0.0, 0.0
        # A table of type A or B from 0° up is dark below.
        half = self.table.kind != "C" and self.table.vertical[0] == 0.0
        least = 0.0 if half or cosine <= 0.0 else float(low[reached].min()) * cosine**3
        return least / self.flux, float((high * nearest**3)[reached].max()) / self.flux

    @property
    def axis(self) -> float:
        """Intensity straight ahead, cd/lm."""
        return float(self.towards(0.0, 0.0, 1.0))

    @cached_property
    def ahead(self) -> float:
        """Share of the light that leaves within 90° of ahead."""
        return min(flux_ahead(self.table) / self.flux, 1.0)

    @cached_property
    def _cells(self) -> tuple[Array, Array, Array]:
        """Return the least and greatest intensity of each cell, and the cosine of its direction nearest to ahead."""
        cd, v, h = self.table.candela, self.table.vertical, self.table.horizontal
        corners = np.stack([cd[:, :-1], cd[:, 1:]])
        if len(h) > 1:
            corners = np.concatenate([corners[:, :-1], corners[:, 1:]])
        along = _nearest_cosine(v)
        nearest = along if self.table.kind == "C" else _nearest_cosine(h)[:, None] * along
        shape = corners.shape[1:]
        return corners.min(axis=0), corners.max(axis=0), np.broadcast_to(nearest, shape)


def _nearest_cosine(angles: Array) -> Array:
    """Return the greatest cosine between neighbouring angles, deg, none below 0."""
    nearest = np.where(angles[:-1] * angles[1:] < 0.0, 0.0, np.minimum(np.abs(angles[:-1]), np.abs(angles[1:])))
    return np.maximum(np.cos(np.radians(nearest)), 0.0)


@lru_cache(maxsize=1024)
def measured(table: Table) -> MeasuredBeam:
    """Return the beam of a table. Raises ValueError where it gives no light."""
    numbers("candela", table.candela, least=0.0)
    flux = table_flux(table)
    if not flux > 0.0:
        raise ValueError("a table of intensity must give light")
    return MeasuredBeam(table, flux)
