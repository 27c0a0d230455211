"""Heads: one emitter kind on one panel behind one diffuser (or none), with what the target asks of it."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from optimise.columns.eligible import meets_ip
from optimise.columns.expand import Floats, Ints, floor_of
from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.beams import axial_intensity, beam_exponent, widened_beam
from optimise.physics.faces import lux_per_lumen
from optimise.physics.heat import heat_shed
from optimise.scenario import Scenario

NO_DIFFUSER = -1


@dataclass(frozen=True)
class Heads:
    """Arrays of equal length, one entry a head; emitter, panel and diffuser index the parts given."""

    emitter: Ints
    panel: Ints
    diffuser: Ints
    columns: Ints
    """Most emitters side by side on the usable part of the panel."""
    rows: Ints
    lux_per_lumen: Floats
    """Exact for a diffused head; for an open one the value of all light from the centre, never exceeded."""
    heat_max: Floats
    """Heat at which the board reaches the lowest of its temperature limits, W."""

    @property
    def capacity(self) -> Ints:
        """Most emitters that fit."""
        return self.columns * self.rows

    def __len__(self) -> int:
        return len(self.emitter)

    def take(self, index: NDArray[np.int64] | NDArray[np.bool_]) -> "Heads":
        """Return the heads at `index` (whole numbers or a mask)."""
        return Heads(**{f.name: getattr(self, f.name)[index] for f in fields(self)})


def usable_size(panel: Panel) -> tuple[float, float]:
    """Return width and height, m, of the part of a panel on which emitters may sit."""
    share = float(np.sqrt(panel.usable))
    return panel.width * share, panel.height * share


def grid_limits(emitters: Sequence[Emitter], panels: Sequence[Panel]) -> tuple[Ints, Ints]:
    """Return (columns, rows), each of shape (emitters, panels): the grid that holds most emitters.

    Emitters lie all one way, with their length along the width or along the height of the panel.
    """
    sizes = np.array([usable_size(panel) for panel in panels], dtype=np.float64).reshape(len(panels), 2)
    length = np.array([e.length for e in emitters], dtype=np.float64)[:, None]
    width = np.array([e.width for e in emitters], dtype=np.float64)[:, None]
    along = floor_of(sizes[None, :, 0] / length), floor_of(sizes[None, :, 1] / width)
    upright = floor_of(sizes[None, :, 0] / width), floor_of(sizes[None, :, 1] / length)
    lie = along[0] * along[1] >= upright[0] * upright[1]
    return np.where(lie, along[0], upright[0]), np.where(lie, along[1], upright[1])


def board_limit(emitter: Emitter, panel: Panel, touch: float) -> float:
    """Return the lowest of the temperature limits that hold for the board, °C."""
    limits = [touch, emitter.case_max, panel.temperature_max]
    return min(limit for limit in limits if limit is not None)


def face_exponent(emitter: Emitter, diffuser: Diffuser) -> float:
    """Return the beam exponent of the light that leaves a diffuser lit by an emitter."""
    if diffuser.spread is None:
        return 1.0
    return float(beam_exponent(widened_beam(emitter.beam, diffuser.spread)))


def covers(diffuser: Diffuser, panel: Panel) -> bool:
    """Whether one sheet, turned if need be, covers a panel."""
    sheet = sorted((diffuser.width, diffuser.height))
    board = sorted((panel.width, panel.height))
    return all(have >= want * (1.0 - 1e-12) for have, want in zip(sheet, board, strict=True))


def build_heads(
    emitters: Sequence[Emitter],
    panels: Sequence[Panel],
    diffusers: Sequence[Diffuser],
    grid: tuple[Ints, Ints],
    scenario: Scenario,
) -> Heads:
    """Return every head that holds at least one emitter and may get warmer than the air."""
    columns, rows = grid
    wanted = scenario.limits.ip
    sealed = np.array([meets_ip(e.ip, wanted) for e in emitters], dtype=bool)
    pairs: list[tuple[int, int]] = []
    for index, panel in enumerate(panels):
        if not scenario.look.diffused:
            pairs.append((index, NO_DIFFUSER))
        pairs += [(index, sheet) for sheet, diffuser in enumerate(diffusers) if covers(diffuser, panel)]
    board = np.array([pair[0] for pair in pairs], dtype=np.int64)
    cover = np.array([pair[1] for pair in pairs], dtype=np.int64)
    e: Ints = np.repeat(np.arange(len(emitters)), len(pairs))
    p: Ints = np.tile(board, len(emitters))
    k: Ints = np.tile(cover, len(emitters))
    each = np.array([part.heat_density for part in emitters], dtype=np.float64)
    borne = np.array(
        [np.inf if part.heat_density_max is None else part.heat_density_max for part in panels], dtype=np.float64
    )
    keep = (columns[e, p] * rows[e, p] >= 1) & ((k != NO_DIFFUSER) | sealed[e])
    keep &= each[e] <= borne[p] * (1.0 + 1e-12)
    e, p, k = e[keep], p[keep], k[keep]
    heat_max = _heat_limits(emitters, panels, scenario)[e, p] if len(e) else np.zeros(0)
    keep = heat_max > 0.0
    e, p, k, heat_max = e[keep], p[keep], k[keep], heat_max[keep]
    return Heads(
        emitter=e,
        panel=p,
        diffuser=k,
        columns=columns[e, p],
        rows=rows[e, p],
        lux_per_lumen=_light(e, p, k, emitters, panels, diffusers, scenario.light.distance),
        heat_max=heat_max,
    )


def _heat_limits(emitters: Sequence[Emitter], panels: Sequence[Panel], scenario: Scenario) -> Floats:
    ambient = scenario.power.ambient
    limit = np.array(
        [[board_limit(e, p, scenario.safety.touch_temperature) for p in panels] for e in emitters],
        dtype=np.float64,
    ).reshape(len(emitters), len(panels))
    excess = np.maximum(limit - ambient, 0.0)
    shed = heat_shed(
        ambient + excess,
        ambient,
        np.array([p.width for p in panels])[None, :],
        np.array([p.height for p in panels])[None, :],
        np.array([p.faces for p in panels])[None, :],
        np.array([p.emissivity for p in panels])[None, :],
    )
    measured = np.array([p.thermal_resistance or np.nan for p in panels], dtype=np.float64)[None, :]
    return np.where(np.isnan(measured), shed, excess / measured)


def _light(
    e: Ints,
    p: Ints,
    k: Ints,
    emitters: Sequence[Emitter],
    panels: Sequence[Panel],
    diffusers: Sequence[Diffuser],
    distance: float,
) -> Floats:
    """Lux per lumen of each head: exponents that recur on one panel are integrated once."""
    value = np.zeros(len(e))
    bare = np.array([float(beam_exponent(part.beam)) for part in emitters], dtype=np.float64)
    open_ = k == NO_DIFFUSER
    value[open_] = axial_intensity(1.0, bare[e[open_]]) / distance**2
    exponent = np.array(
        [[face_exponent(part, sheet) for sheet in diffusers] for part in emitters], dtype=np.float64
    ).reshape(len(emitters), len(diffusers))
    covered = np.flatnonzero(~open_)
    if len(covered):
        keys = np.stack([p[covered].astype(np.float64), exponent[e[covered], k[covered]]])
        distinct, inverse = np.unique(keys, axis=1, return_inverse=True)
        board = distinct[0].astype(np.int64)
        width = np.array([part.width for part in panels])[board]
        height = np.array([part.height for part in panels])[board]
        transmittance = np.array([sheet.transmittance for sheet in diffusers])
        per_lumen = lux_per_lumen(width, height, distance, distinct[1])
        value[covered] = per_lumen[np.ravel(inverse)] * transmittance[k[covered]]
    return value
