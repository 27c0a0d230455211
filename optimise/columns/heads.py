"""Heads: one emitter kind on one panel behind one diffuser (or none), with what the target asks of it."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from optimise.columns.eligible import meets_ip
from optimise.columns.expand import Floats, Ints, floor_of
from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.beams import axial_intensity, beam_exponent
from optimise.physics.cavity import box_transmittance, forward_share
from optimise.physics.colour import filtered_light
from optimise.physics.distributions import (
    Beam,
    back_share,
    bare_beam,
    face_lux,
    open_bounds,
    sheet_beam,
    sheet_peak,
)
from optimise.physics.evenness import Evenness, face_evenness
from optimise.physics.faces import lux_per_lumen
from optimise.physics.heat import heat_shed
from optimise.physics.spots import face_spots, spot_bounds
from optimise.scenario import Scenario
from optimise.scenario.colour import asks, light_of, refused
from optimise.scenario.light import Light

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
    limit: Floats
    """The lowest of its temperature limits, °C."""
    rough: NDArray[np.bool_]
    """Whether `lux_per_lumen` is still that of a point in the face's place, never exceeded."""
    spots: Floats
    """Lux for each lumen on each face that has a target of its own, shape (heads, faces): exact for a diffused head
    that is not rough, never exceeded for the others."""

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


def lies(emitter: Emitter, panel: Panel) -> bool:
    """Whether the emitters of the grid that holds most lie with their length along the width of the panel."""
    width, height = usable_size(panel)
    along = floor_of(np.array([width / emitter.length, height / emitter.width]))
    upright = floor_of(np.array([width / emitter.width, height / emitter.length]))
    return bool(along[0] * along[1] >= upright[0] * upright[1])


def beam_through(emitter: Emitter, diffuser: Diffuser) -> tuple[Beam, float]:
    """Return the beam of the light that leaves a diffuser with its grid, and the share of the sheet's light in it."""
    grid = diffuser.grid, diffuser.grid_transmittance
    return sheet_beam(emitter.beam, emitter.photometric, diffuser.spread, *grid)


def peak_through(emitter: Emitter, diffuser: Diffuser) -> float:
    """Return what the intensity before a diffuser never exceeds, cd for each lumen that leaves the sheet."""
    grid = diffuser.grid, diffuser.grid_transmittance
    return sheet_peak(emitter.beam, emitter.photometric, diffuser.spread, *grid)


def forward_shares(emitters: Sequence[Emitter], panels: Sequence[Panel]) -> Floats:
    """Return the share of the light of emitters that goes forward on panels, shape (emitters, panels)."""
    back = np.array([back_share(e.back, e.photometric) for e in emitters], dtype=np.float64)[:, None]
    return forward_share(back, np.array([p.reflectance or 0.0 for p in panels], dtype=np.float64)[None, :])


class Boards:
    """Every panel behind every diffuser that covers it (or none), with what does not depend on the emitter."""

    def __init__(self, panels: Sequence[Panel], diffusers: Sequence[Diffuser], scenario: Scenario) -> None:
        self.panels, self.diffusers, self.scenario = panels, diffusers, scenario
        self.width = np.array([p.width for p in panels], dtype=np.float64)
        self.height = np.array([p.height for p in panels], dtype=np.float64)
        self.faces = np.array([p.faces for p in panels], dtype=np.float64)
        self.emissivity = np.array([p.emissivity for p in panels], dtype=np.float64)
        self.measured = np.array([p.thermal_resistance or np.nan for p in panels], dtype=np.float64)
        self.bears = np.array([np.inf if p.heat_density_max is None else p.heat_density_max for p in panels])
        self.temperature_max = np.array([np.inf if p.temperature_max is None else p.temperature_max for p in panels])
        self.transmittance = np.array([d.transmittance for d in diffusers], dtype=np.float64)
        self.beamed_sheets = np.array([d.spread is not None or d.grid is not None for d in diffusers], dtype=bool)
        self.through = self._through()
        self.panel, self.diffuser = self._pairs()
        self.lambertian = lux_per_lumen(self.width, self.height, scenario.light.distance)
        asked = scenario.limited_targets(1.0)
        self.spots = tuple(target.place for target in asked)
        self.must_be_lit = np.array([target.least is not None for target in asked], dtype=bool)
        sizes = zip(self.width.tolist(), self.height.tolist(), strict=True)
        self.lambertian_spots = np.array([face_spots(1.0, w, h, True, self.spots) for w, h in sizes]).reshape(
            len(panels), len(self.spots)
        )
        self._known: dict[tuple[float, float, Beam, bool], float] = {}

    def _through(self) -> Floats:
        """Return the share of a board's light that leaves the front, shape (panels, diffusers and none)."""
        through = np.tile(np.append(self.transmittance, 1.0), (len(self.panels), 1))
        sheets = range(len(self.diffusers))
        for row, panel in enumerate(self.panels):
            if panel.depth is not None and panel.reflectance is not None and len(sheets):
                box = panel.width, panel.height, panel.depth, panel.reflectance
                thrown_back = [sheet.reflectance for sheet in self.diffusers]
                through[row, :-1] = box_transmittance(*box, self.transmittance, thrown_back)
        return through

    def _pairs(self) -> tuple[Ints, Ints]:
        sheets = np.array([sorted((d.width, d.height)) for d in self.diffusers], dtype=np.float64).reshape(-1, 2)
        boards = np.sort(np.stack([self.width, self.height], axis=1), axis=1)
        covered = np.all(sheets[None, :, :] >= boards[:, None, :] * (1.0 - 1e-12), axis=2)
        look = self.scenario.look
        if look.dots_max is not None:
            # Bare emitters show, and of a box of unknown depth it is not known whether they do.
            covered &= np.array([panel.depth is not None for panel in self.panels], dtype=bool)[:, None]
        panel, diffuser = np.nonzero(covered)
        if not look.diffused and look.dots_max is None:
            every = np.arange(len(self.panels))
            panel = np.concatenate([every, panel])
            diffuser = np.concatenate([np.full(len(every), NO_DIFFUSER), diffuser])
            order = np.lexsort((diffuser, panel))
            panel, diffuser = panel[order], diffuser[order]
        return panel.astype(np.int64), diffuser.astype(np.int64)

    def beamed(self, panel: int, beam: Beam, lying: bool) -> float:
        """Return lux per lumen of a face that radiates a beam, integrated once for each size and beam."""
        key = float(self.width[panel]), float(self.height[panel]), beam, lying or isinstance(beam, float)
        if key not in self._known:
            self._known[key] = face_lux(beam, key[0], key[1], self.scenario.light.distance, lying)
        return self._known[key]


def build_heads(
    emitters: Sequence[Emitter], boards: Boards, grid: tuple[Ints, Ints], *, coloured: bool = True
) -> Heads:
    """Return every head that holds at least one emitter and may get warmer than the air.

    grid: columns and rows, each of shape (emitters, panels). Faces that radiate a beam have the light of a point
    in their place, which is never less (`sharpened`). coloured: whether the light of each emitter must keep the
    limits on colour by itself.
    """
    columns, rows = grid
    scenario = boards.scenario
    sealed = np.array([meets_ip(e.ip, scenario.limits.ip) for e in emitters], dtype=bool)
    pairs = len(boards.panel)
    e: Ints = np.repeat(np.arange(len(emitters)), pairs)
    p: Ints = np.tile(boards.panel, len(emitters))
    k: Ints = np.tile(boards.diffuser, len(emitters))
    each = np.array([part.heat_density for part in emitters], dtype=np.float64)
    limit, heat_max = _heat_limits(emitters, boards)
    keep = (columns[e, p] * rows[e, p] >= 1) & ((k != NO_DIFFUSER) | sealed[e])
    keep &= each[e] <= boards.bears[p] * (1.0 + 1e-12)
    keep &= heat_max[e, p] > 0.0
    if coloured and asks(scenario.look):
        keep &= _in_colour(emitters, boards)[e, k]
    e, p, k = e[keep], p[keep], k[keep]
    light, rough = _light(e, p, k, emitters, boards)
    spots = _spots(e, p, k, rough, emitters, boards)
    # A measured table may be dark towards the subject, and a face may be turned away.
    lit = (light > 0.0) & (spots[:, boards.must_be_lit] > 0.0).all(axis=1)
    if scenario.light.asks_evenness:
        lit &= _even(e, p, k, emitters, boards)
    e, p, k, light, rough, spots = e[lit], p[lit], k[lit], light[lit], rough[lit], spots[lit]
    return Heads(
        emitter=e,
        panel=p,
        diffuser=k,
        columns=columns[e, p],
        rows=rows[e, p],
        lux_per_lumen=light,
        heat_max=heat_max[e, p],
        limit=limit[e, p],
        rough=rough,
        spots=spots,
    )


def mixed_heads(pair: tuple[Emitter, Emitter], boards: Boards, sheets: NDArray[np.bool_]) -> Heads:
    """Return every head for two kinds of emitter together, by the places of one grid that are roomy enough for either.

    sheets: which diffusers make their light alike, shape (diffusers,); what leaves the head is then the same for both.
    """
    first, second = pair
    size = {"length": max(first.length, second.length), "width": max(first.width, second.width)}
    grid = grid_limits([first.model_copy(update=size)], boards.panels)
    one, other = (build_heads([kind], boards, grid, coloured=False) for kind in pair)
    key = [heads.panel * (len(boards.diffusers) + 1) + heads.diffuser for heads in (one, other)]
    alike = np.append(sheets, False)
    mine = np.flatnonzero(np.isin(key[0], key[1]) & alike[one.diffuser])
    its = np.searchsorted(key[1], key[0][mine])
    heads = one.take(mine)
    return replace(
        heads,
        heat_max=np.minimum(heads.heat_max, other.heat_max[its]),
        limit=np.minimum(heads.limit, other.limit[its]),
    )


def _in_colour(emitters: Sequence[Emitter], boards: Boards) -> NDArray[np.bool_]:
    """Return whether light keeps the limits on colour, of shape (emitters, diffusers + 1); the last is none."""
    look = boards.scenario.look
    shifts = [*(sheet.mired_shift for sheet in boards.diffusers), 0.0]
    kept = np.ones((len(emitters), len(shifts)), dtype=bool)
    for row, emitter in enumerate(emitters):
        light = light_of(emitter, look)
        seen = {shift: refused(filtered_light(light, shift), look) is None for shift in set(shifts)}
        kept[row] = [seen[shift] for shift in shifts]
    return kept


def sharpened(heads: Heads, which: Ints, emitters: Sequence[Emitter], boards: Boards) -> Heads:
    """Return the heads with the light of those at `which` exact, where it was counted as that of a point."""
    rough = which[heads.rough[which]]
    if not len(rough):
        return heads
    light, left, spots = heads.lux_per_lumen.copy(), heads.rough.copy(), heads.spots.copy()
    for index in rough.tolist():
        sheet = boards.diffusers[heads.diffuser[index]]
        emitter, panel = emitters[heads.emitter[index]], int(heads.panel[index])
        (beam, share), lying = beam_through(emitter, sheet), lies(emitter, boards.panels[panel])
        forward = float(forward_shares([emitter], [boards.panels[panel]])[0, 0])
        through = boards.through[panel, heads.diffuser[index]]
        light[index] = boards.beamed(panel, beam, lying) * through * forward * share
        size = float(boards.width[panel]), float(boards.height[panel])
        spots[index] = np.array(face_spots(beam, *size, lying, boards.spots)) * through * forward * share
    left[rough] = False
    return replace(heads, lux_per_lumen=light, rough=left, spots=spots)


def _heat_limits(emitters: Sequence[Emitter], boards: Boards) -> tuple[Floats, Floats]:
    """Return the lowest temperature limit and the heat at it, each of shape (emitters, panels)."""
    scenario = boards.scenario
    ambient = scenario.power.ambient
    case = np.array([np.inf if e.case_max is None else e.case_max for e in emitters], dtype=np.float64)
    limit = np.minimum(np.minimum(case[:, None], boards.temperature_max[None, :]), scenario.safety.touch_temperature)
    excess = np.maximum(limit - ambient, 0.0)
    distinct, inverse = np.unique(excess, return_inverse=True)
    shed = heat_shed(
        ambient + distinct[:, None],
        ambient,
        boards.width[None, :],
        boards.height[None, :],
        boards.faces[None, :],
        boards.emissivity[None, :],
    )
    places = np.broadcast_to(np.arange(len(boards.panels))[None, :], excess.shape)
    at_limit = shed[inverse.reshape(excess.shape), places]
    return limit, np.where(np.isnan(boards.measured), at_limit, excess / boards.measured)


def _light(e: Ints, p: Ints, k: Ints, emitters: Sequence[Emitter], boards: Boards) -> tuple[Floats, np.ndarray]:
    """Return the lux per lumen of each head, and where it is that of a point and not yet of the face."""
    distance = boards.scenario.light.distance
    open_ = k == NO_DIFFUSER
    bare = np.array([float(beam_exponent(part.beam)) for part in emitters], dtype=np.float64)
    value = np.asarray(axial_intensity(1.0, bare[e]) / distance**2)
    measured, bounds = measured_bounds(e[open_], p[open_], emitters, boards.panels, distance)
    value[np.flatnonzero(open_)[measured]] = bounds[:, 1]
    through = boards.through[p[~open_], k[~open_]]
    value[~open_] = boards.lambertian[p[~open_]] * through
    rough = np.zeros(len(e), dtype=bool)
    rough[~open_] = boards.beamed_sheets[k[~open_]]
    if rough.any():
        pairs, place = np.unique(np.stack([e[rough], k[rough]]), axis=1, return_inverse=True)
        peaks = [peak_through(emitters[i], boards.diffusers[j]) for i, j in pairs.T.tolist()]
        value[rough] = np.array(peaks)[np.ravel(place)] / distance**2 * boards.through[p[rough], k[rough]]
    return np.asarray(value * forward_shares(emitters, boards.panels)[e, p]), rough


def _spots(e: Ints, p: Ints, k: Ints, rough: np.ndarray, emitters: Sequence[Emitter], boards: Boards) -> Floats:
    """Return the lux per lumen of each head on each face that has a target; see `Heads.spots`."""
    value = np.zeros((len(e), len(boards.spots)))
    if not boards.spots:
        return value
    plain = (k != NO_DIFFUSER) & ~rough
    value[plain] = boards.lambertian_spots[p[plain]]
    for index in np.flatnonzero(~plain).tolist():
        panel, emitter = boards.panels[p[index]], emitters[e[index]]
        if k[index] == NO_DIFFUSER:
            size, beam = usable_size(panel), bare_beam(emitter.beam, emitter.photometric)
            value[index] = spot_bounds(beam, *size, boards.spots)[:, 1]
        else:
            peak = peak_through(emitter, boards.diffusers[k[index]])
            value[index] = peak * spot_bounds(None, panel.width, panel.height, boards.spots)[:, 1]
    through = boards.through[p, k] * forward_shares(emitters, boards.panels)[e, p]
    return np.asarray(value * through[:, None])


def _even(e: Ints, p: Ints, k: Ints, emitters: Sequence[Emitter], boards: Boards) -> NDArray[np.bool_]:
    """Return which heads may light the subject evenly enough: exact for a diffused one, every open one may."""
    light = boards.scenario.light
    assert light.subject is not None
    may = np.ones(len(e), dtype=bool)
    for index in np.flatnonzero(k != NO_DIFFUSER).tolist():
        emitter, panel, sheet = emitters[e[index]], boards.panels[p[index]], boards.diffusers[k[index]]
        beam, _ = beam_through(emitter, sheet)
        lying = isinstance(beam, float) or lies(emitter, panel)
        found = face_evenness(beam, panel.width, panel.height, light.distance, lying, light.subject)
        may[index] = even_enough(found, light)
    return may


def even_enough(found: Evenness, light: Light) -> bool:
    """Return whether light is as even as it is asked to be, or so near to it that only the exact check can tell."""
    share = light.uniformity_min is None or found.share >= light.uniformity_min * (1.0 - 1e-8)
    return share and (light.edge_stops_max is None or found.edge <= light.edge_stops_max * (1.0 + 1e-8))


def measured_bounds(
    e: Ints, p: Ints, emitters: Sequence[Emitter], panels: Sequence[Panel], distance: float
) -> tuple[NDArray[np.bool_], Floats]:
    """Return which of the pairs of emitter and panel have a measured table, and for those the light on open panels.

    The light, shape (pairs with a table, 2), is the least and the greatest lux of emitters anywhere on it, for each
    lumen that goes forward.
    """
    has = np.array([emitter.photometric is not None for emitter in emitters], dtype=bool)[e]
    found = [
        open_bounds(bare_beam(emitters[i].beam, emitters[i].photometric), *usable_size(panels[j]), distance)
        for i, j in zip(e[has].tolist(), p[has].tolist(), strict=True)
    ]
    return has, np.array(found, dtype=np.float64).reshape(-1, 2)
