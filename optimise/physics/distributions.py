"""The light of an emitter or of a lit face, whether its beam is a formula or a measured table."""

from functools import lru_cache

import numpy as np

from optimise.physics.arrays import Array, numbers
from optimise.physics.beams import axial_intensity, beam_exponent, gridded, point_factors, widened_beam
from optimise.physics.faces import check_near, lux_per_lumen
from optimise.physics.intensity import MeasuredBeam, Table, flux_ahead, measured
from optimise.physics.places import grid_points
from optimise.physics.scattering import narrowed, scattered, scattered_peak

Beam = float | MeasuredBeam
"""The exponent m of I0 cos^m t, or a measured table."""


def bare_beam(full_width: float, table: Table | None) -> Beam:
    """Return the beam of an emitter for each lumen that goes ahead: by its table, else by its full width, deg.

    Raises ValueError where the width is outside the domain of `beam_exponent` or the table gives no light ahead.
    """
    return float(beam_exponent(full_width)) if table is None else _ahead(table)


@lru_cache(maxsize=1024)
def _ahead(table: Table) -> MeasuredBeam:
    flux = flux_ahead(table)
    if not flux > 0.0:
        raise ValueError("a table of intensity must give light ahead")
    return MeasuredBeam(table, flux)


def back_share(stated: float | None, table: Table | None) -> float:
    """Return the share of an emitter's light that goes towards its board.

    A table that goes past 90° from ahead knows it; else it is what is stated, 0 where nothing is. Raises ValueError
    where that is outside 0 to 1.
    """
    if table is not None and table.kind == "C" and table.vertical[-1] > 90.0:
        return share_behind(table)
    return float(numbers("stated", stated or 0.0, least=0.0, most=1.0))


def face_beam(full_width: float, table: Table | None, spread: float | None) -> Beam:
    """Return what leaves each point of a diffuser of a spread, deg (None: Lambertian) lit by an emitter.

    A formula is widened (`widened_beam`), a table convolved (`scattered`). Raises ValueError outside their domains.
    """
    if spread is None:
        return 1.0
    if table is None:
        return float(beam_exponent(widened_beam(full_width, spread)))
    return scattered(table, spread)


def sheet_beam(
    full_width: float, table: Table | None, spread: float | None, grid: float | None = None, ahead: float | None = None
) -> tuple[Beam, float]:
    """Return what leaves a diffuser with its grid (None: none), and what share of the sheet's light leaves the grid.

    full_width, table, spread: see `face_beam`. grid: full width, deg, to which it narrows diffuse light; ahead: share
    of the light straight ahead that it lets through. Of a formula: `beams.gridded`; of a table: `narrowed`. On the axis
    both leave the intensity as it is, but for `ahead`. Raises ValueError outside their domains.
    """
    beam = face_beam(full_width, table, spread)
    if grid is None or ahead is None:
        return beam, 1.0
    if isinstance(beam, MeasuredBeam):
        return narrowed(beam, grid, ahead)
    exponent, share = gridded(beam, grid, ahead)
    return float(exponent), float(share)


def axis_intensity(beam: Beam) -> float:
    """Return the intensity straight ahead, cd/lm. Raises ValueError where an exponent is not above 0."""
    return beam.axis if isinstance(beam, MeasuredBeam) else float(axial_intensity(1.0, beam))


def peak_intensity(beam: Beam) -> float:
    """Return the greatest intensity in any direction, cd/lm. Raises ValueError where an exponent is not above 0."""
    return beam.peak if isinstance(beam, MeasuredBeam) else float(axial_intensity(1.0, beam))


def sheet_peak(
    full_width: float, table: Table | None, spread: float | None, grid: float | None = None, ahead: float | None = None
) -> float:
    """Return what the intensity of `sheet_beam` never exceeds, cd for each lumen that leaves the sheet, quickly.

    Raises ValueError as `sheet_beam` does.
    """
    if table is None or spread is None:
        beam, share = sheet_beam(full_width, table, spread, grid, ahead)
        return share * peak_intensity(beam)
    return scattered_peak(table, spread) * (1.0 if grid is None or ahead is None else ahead)


def open_bounds(beam: Beam, width: float, height: float, distance: float) -> tuple[float, float]:
    """Return the least and greatest lux per lumen on axis of emitters anywhere on an open rectangle, m.

    The point lies `distance` m before the middle, the receiving plane is parallel. Raises ValueError where a side is
    below 0 or the distance not above 0.
    """
    for side in (width, height):
        numbers("side", side, least=0.0)
    numbers("distance", distance, above=0.0)
    if not isinstance(beam, MeasuredBeam):
        least = float(point_factors(width / 2.0, height / 2.0, distance, beam))
        return least, float(axial_intensity(1.0, beam)) / distance**2
    farthest = float(np.hypot(width, height)) / 2.0
    least, greatest = beam.bounds(distance / float(np.hypot(farthest, distance)))
    return least / distance**2, greatest / distance**2


def emitter_factors(
    beam: Beam, x: Array, y: Array, distance: float, lying: bool = True, dx: float = 0.0, dy: float = 0.0
) -> Array:
    """Return the lux per lumen that emitters at (x, y) give at (dx, dy, distance) on a plane parallel to the panel.

    lying: whether the emitters' length runs along x (else along y). Raises ValueError where a distance is not above 0
    or a place not finite. Source: inverse-square and cosine law.
    """
    if not isinstance(beam, MeasuredBeam):
        return point_factors(x, y, distance, beam, dx, dy)
    across, up = numbers("dx", dx) - numbers("x", x), numbers("dy", dy) - numbers("y", y)
    numbers("distance", distance, above=0.0)
    square = across**2 + up**2 + distance**2
    light = beam.towards(across, up, distance) if lying else beam.towards(up, -across, distance)
    return np.asarray(light * distance / np.sqrt(square) / square)


def grid_lux(
    beam: Beam,
    count: int,
    columns_max: int,
    rows_max: int,
    width: float,
    height: float,
    distance: float,
    length: float = 0.0,
    lying: bool = True,
) -> float:
    """Return the lux per lumen on axis of `count` equal emitters at their places (see `grid_points`).

    Raises ValueError as `grid_points` and `emitter_factors` do.
    """
    x, y, weights = grid_points(count, columns_max, rows_max, width, height, length, lying)
    return float(np.mean(emitter_factors(beam, x, y, distance, lying) @ weights))


def face_lux(beam: Beam, width: float, height: float, distance: float, lying: bool = True) -> float:
    """Return the lux on axis for each lumen that leaves a uniformly lit face, every point of which gives this beam.

    A formula: `faces.lux_per_lumen`. A table: Gauss-Legendre quadrature in patches no larger than half the distance,
    smaller for a narrow beam. lying: whether the emitters' length runs along the width. Raises ValueError as
    `lux_per_lumen` does.
    """
    if not isinstance(beam, MeasuredBeam):
        return float(lux_per_lumen(width, height, distance, beam))
    for name, side in (("width", width), ("height", height), ("distance", distance)):
        numbers(name, side, above=0.0)
    check_near(width, height, distance)
    narrowness = max(1.0, float(np.sqrt(2.0 * np.pi * beam.peak)) / 2.0)
    x, weight_x = _rule(width, distance / narrowness)
    y, weight_y = _rule(height, distance / narrowness)
    return float(weight_x @ emitter_factors(beam, x[:, None], y[None, :], distance, lying) @ weight_y)


def share_behind(table: Table) -> float:
    """Return the share of a table's flux that leaves more than 90° from ahead."""
    return 1.0 - measured(table).ahead


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)


def _rule(side: float, reach: float) -> tuple[Array, Array]:
    """Return places along a side about its middle, and weights that sum to 1."""
    patches = max(1, int(np.ceil(2.0 * side / reach)))
    edge = side / patches
    centres = (np.arange(patches) + 0.5) * edge - side / 2.0
    nodes = (centres[:, None] + _NODES[None, :] * edge / 2.0).ravel()
    return nodes, np.tile(_WEIGHTS / 2.0 / patches, patches)
