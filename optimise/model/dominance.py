"""Dropping columns that another column can replace in every build without making any figure worse.

A replacement may cost, weigh, draw, heat and lose no more, and must give no less light (and no more, where there can be
too much), room and power, on whatever supply or head the rest of the build has. Of equal columns the first in order of
codes stays.
"""

from collections.abc import Iterator

import numpy as np

from optimise.columns.dearer import StandIn, at_one_price
from optimise.columns.expand import Floats, Ints
from optimise.columns.heads import NO_DIFFUSER
from optimise.columns.supplies import MAINS, counts_power
from optimise.model.exact import covering_wants
from optimise.model.kept import Kept
from optimise.model.problem import Problem
from optimise.model.stacks import layers_of
from optimise.parts.beaten import first_unbeaten
from optimise.parts.buying import Want

LARGE = 1500
"""Columns of a kind above which pairs are not compared."""


def drop_beaten(problem: Problem, kept: Kept) -> Kept:
    """Return what is left when beaten supplies, heads and channels are dropped."""
    if not kept.possible:
        return kept
    if len(kept.supplies) <= LARGE:
        kept = kept.take(supplies=_supplies(problem, kept))
    kept = kept.take(heads=_heads(problem, kept))
    return kept.take(channels=_channels(problem, kept))


def _supplies(problem: Problem, kept: Kept) -> np.ndarray:
    s = problem.supplies.take(kept.supplies)
    drivers = np.unique(problem.channels.driver[kept.channels])
    patterns, inverse = np.unique(problem.market.feeds(drivers, kept.supplies), axis=1, return_inverse=True)
    # covers[a, b]: what feeds as in pattern a feeds all that pattern b does.
    covers = np.all(patterns[:, :, None] >= patterns[:, None, :], axis=0)
    group = np.ravel(inverse)
    beats = covers[group[:, None], group[None, :]]
    stand_in = problem.market.stand_in
    figures: list[np.ndarray] = [s.cost] if stand_in is None else []
    if stand_in is not None:
        beats &= _supplies_never_dearer(problem, kept, stand_in)
    figures += [s.mass, -s.deliverable, -problem.market.earthed[kept.supplies].astype(np.int64)]
    if counts_power(problem.scenario):
        figures.append(s.resistance / s.nominal**2)  # at any load the loss rises with R/V² and nothing else
    for figure in figures:
        beats &= figure[:, None] <= figure[None, :]
    return first_unbeaten(beats)


def _supplies_never_dearer(problem: Problem, kept: Kept, stand_in: StandIn) -> np.ndarray:
    """Return for pairs of supplies whether the first costs no more than the second from each supplier."""
    s, parts = problem.supplies.take(kept.supplies), problem.parts
    length = problem.scenario.power.lead_length
    # A pack is compared as so many batteries of one supplier: those of several suppliers stay.
    pack = np.stack([s.battery, s.series * s.parallel])
    packs, which = np.unique(pack, axis=1, return_inverse=True)
    wants = [Want(parts.batteries[b].part, int(n)) if b != MAINS else Want("", 0) for b, n in packs.T]
    cheaper = np.eye(len(wants), dtype=bool)
    if problem.market.together is None:  # how many batteries of a kind may fly is counted over all lights
        cheaper |= (packs[1] == 1)[None, :] & stand_in(wants, parts.offers)
    beats = np.asarray(cheaper[np.ix_(np.ravel(which), np.ravel(which))])
    for index, each in (
        (s.cable, [Want(part.part, 1, length) for part in parts.cables]),
        (s.fuse, [Want(part.part, 1) for part in parts.fuses]),
        (s.connector, [Want(part.part, 1) for part in parts.connectors]),
    ):
        used, place = np.unique(index, return_inverse=True)
        place = np.ravel(place)
        beats &= stand_in([each[i] for i in used], parts.offers)[np.ix_(place, place)]
    return beats


def _heads(problem: Problem, kept: Kept) -> np.ndarray:
    """On one panel, of two diffusers the one that lets more light through for no more money and mass."""
    h = problem.heads.take(kept.heads)
    cost, mass = problem.head_cost[kept.heads], problem.head_mass[kept.heads]
    stays = np.ones(len(h), dtype=bool)
    key = h.emitter * len(problem.parts.panels) + h.panel
    for value in np.unique(key):
        same = np.flatnonzero((key == value) & (h.diffuser != NO_DIFFUSER))
        if len(same) > 1:
            beats = np.ones((len(same), len(same)), dtype=bool)
            stand_in = problem.market.stand_in
            if stand_in is not None:
                beats &= _may_cover(problem, h.panel[same], h.diffuser[same], stand_in)
            for figure in (cost[same], mass[same], -h.lux_per_lumen[same], *_asked(problem, h.spots[same])):
                beats &= figure[:, None] <= figure[None, :]
            if problem.scenario.look.dots_max is not None:
                # Dots hang on how wide a sheet spreads the light: only equals compare.
                spread = np.array([problem.parts.diffusers[d].spread or 0.0 for d in h.diffuser[same].tolist()])
                beats &= spread[:, None] == spread[None, :]
            stays[same] = first_unbeaten(beats)
    return stays


def _asked(problem: Problem, spots: Floats) -> Iterator[Floats]:
    """Yield what must be no greater for a head to light every face with a target of its own as well as another."""
    for place, target in enumerate(problem.market.targets):
        if target.least is not None:
            yield -spots[:, place]
        if target.most is not None:
            yield spots[:, place]


def _may_cover(problem: Problem, panels: Ints, diffusers: Ints, stand_in: StandIn) -> np.ndarray:
    """Return for pairs of heads whether the first's sheet may be bought in place of the second's.

    Two sheets together neither replace any nor give way.
    """
    parts, kerf = problem.parts, problem.scenario.buying.kerf
    wants = [covering_wants(parts.panels[p], parts.diffusers[d], kerf) for p, d in zip(panels, diffusers, strict=True)]
    alone = np.array([len(layers_of(parts.diffusers[d])) == 1 for d in diffusers], dtype=bool)
    may = np.eye(len(wants), dtype=bool)
    if alone.any():
        rows = np.flatnonzero(alone)
        may[np.ix_(rows, rows)] |= stand_in([wants[i][0] for i in rows.tolist()], parts.offers)
    return may


def _channels(problem: Problem, kept: Kept) -> np.ndarray:
    c = problem.channels.take(kept.channels)
    drivers = problem.parts.drivers
    stays = np.ones(len(c), dtype=bool)
    pattern = problem.market.feeds(np.arange(len(drivers)), kept.supplies)
    counted = problem.heads.diffuser[kept.heads] == NO_DIFFUSER
    counted |= problem.scenario.look.dots_max is not None
    counted_emitters = np.unique(problem.heads.emitter[kept.heads][counted])
    mass = np.array([driver.milligrams for driver in drivers], dtype=np.int64)
    # What runs its emitters hotter may stand on fewer boards.
    bears = np.unique(problem.bears[kept.heads])
    refused = np.searchsorted(bears, problem.density[kept.channels], side="left")
    mixed = problem.mix is not None
    kinds = problem.kinds[kept.channels]
    for emitter in np.unique(kinds):
        mine = np.flatnonzero(kinds == emitter)
        if len(mine) > LARGE:
            continue
        # Equal channels: the driver's code decides, then the fewer parallel strings.
        mine = mine[np.lexsort((c.parallel[mine], c.driver[mine]))]
        d = c.driver[mine]
        beats = _may_stand_in(problem, pattern, d)
        count = c.count[mine]
        # The light of an open head, and dots, depend on how many emitters share the board: only equals compare.
        figures: list[np.ndarray] = [count, -count] if emitter in counted_emitters else [count]
        if mixed:
            # More light of one kind, or a colder board, is another colour: equals alone compare.
            figures += [c.flux[mine], -c.rise[mine], -c.heat[mine]]
        figures += [-c.flux[mine], c.rise[mine], c.heat[mine], c.power[mine], c.apparent[mine], mass[d]]
        if problem.market.light_is_limited:
            # More light, from what gives more or warms the board less, may be too much: only equals compare.
            figures += [c.flux[mine], -c.rise[mine], -c.heat[mine]]
        figures.append(refused[mine])
        for figure in figures:
            beats &= figure[:, None] <= figure[None, :] * _hair(figure)
        stays[mine] = first_unbeaten(beats)
    return stays


def _hair(figure: np.ndarray) -> float:
    """Floating-point noise must not tell apart what is the same by construction."""
    return 1.0 if np.issubdtype(figure.dtype, np.integer) else 1.0 + 1e-13 * float(np.sign(figure.sum()))


def _may_stand_in(problem: Problem, pattern: np.ndarray, d: Ints) -> np.ndarray:
    """Return for pairs of drivers whether the first can be bought and fed wherever the second can."""
    distinct, place = np.unique(d, return_inverse=True)
    fed = pattern[distinct]
    covers = np.all(fed[:, None, :] >= fed[None, :, :], axis=2)
    stand_in = problem.market.stand_in
    if stand_in is not None:
        together = problem.market.together
        rule = at_one_price if together is None else together.lots
        cheaper = rule([Want(problem.parts.drivers[i].part, 1) for i in distinct], problem.parts.offers)
        able = covers & (cheaper | np.eye(len(distinct), dtype=bool))
        return np.asarray(able[place[:, None], place[None, :]])
    buying = [problem.driver_buying[i] for i in distinct]
    unit = np.array([b.unit for b in buying])
    always = np.array([b.exact for b in buying], dtype=bool)
    cheaper = always[:, None] & (unit[:, None] <= unit[None, :])
    cheaper |= np.eye(len(distinct), dtype=bool)
    able = covers & cheaper
    return np.asarray(able[place[:, None], place[None, :]])
