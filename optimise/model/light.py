"""What a head needs and a channel gives at a board's temperature, and how warm a board is.

A warmer board needs more lumens. In the model that is a straight line under the true curve: a head needs at least
`base + slope · heat`, so that with one slope for several heads the light row stays linear:

    Σ (flux − slope · heat) ≥ base
"""

import numpy as np

from optimise.columns.expand import Floats, Ints
from optimise.columns.heads import NO_DIFFUSER, forward_shares, measured_bounds, usable_size
from optimise.model.problem import Problem
from optimise.physics.beams import beam_exponent, point_factors
from optimise.physics.distributions import bare_beam
from optimise.physics.emitters import REFERENCE_TEMPERATURE
from optimise.physics.heat import board_temperature, heat_shed
from optimise.physics.spots import spot_bounds

HAIR = 1e-9
"""Relative slack of a bound, for rounding."""


def need_of(problem: Problem, heads: Ints, board: Floats) -> Floats:
    """Return target / lux per lumen, corrected for a board at `board` °C, for the heads at an index."""
    per_kelvin = problem.per_kelvin[problem.heads.emitter[heads]]
    warm = np.maximum(1.0 + per_kelvin * (board - REFERENCE_TEMPERATURE), 1e-6)
    return np.asarray(problem.market.target / (hardest(problem, heads) * warm))


def hardest(problem: Problem, heads: Ints) -> Floats:
    """Return the light of heads for each lumen, in lux of the target, by the hardest of all that is asked of it.

    Ahead it is `lux_per_lumen`; a face that is asked for twice the target counts by half of what it gets. Never less
    than the truth, and exact where the light of heads is.
    """
    light = problem.heads.lux_per_lumen[heads]
    for place, asked in enumerate(problem.market.targets):
        if asked.least is not None:
            light = np.minimum(light, problem.heads.spots[heads, place] * (problem.market.target / asked.least))
    return np.asarray(light)


def least_spots(problem: Problem, heads: Ints) -> Floats:
    """Return the least that faces with a target of their own get for a lumen of these heads, as `Heads.spots` is."""
    h, parts = problem.heads, problem.parts
    least = np.where(h.rough[heads], 0.0, 1.0)[:, None] * h.spots[heads]
    spots = problem.market.boards.spots
    open_ = np.flatnonzero(h.diffuser[heads] == NO_DIFFUSER)
    if len(open_) and spots:
        forward = forward_shares(parts.emitters, parts.panels)
        for row in open_.tolist():
            e, p = int(h.emitter[heads[row]]), int(h.panel[heads[row]])
            beam = bare_beam(parts.emitters[e].beam, parts.emitters[e].photometric)
            least[row] = spot_bounds(beam, *usable_size(parts.panels[p]), spots)[:, 0] * forward[e, p]
    return np.asarray(least)


def most_of(problem: Problem, heads: Ints) -> Floats:
    """Return the most lumens that heads may give without too much light anywhere: never too few, maybe infinite."""
    most = np.full(len(heads), np.inf)
    if problem.market.light_is_limited:
        least = least_spots(problem, heads)
        for place, asked in enumerate(problem.market.targets):
            if asked.most is not None:
                with np.errstate(divide="ignore"):
                    most = np.minimum(most, asked.most / least[:, place])
    return most


def _cooler(problem: Problem, emitters: Ints, board: Floats) -> Floats:
    """Return what `need_of` divides by, where emitters are as bright and cool as their tolerances let them be."""
    ambient, heat = problem.scenario.power.ambient, problem.other_end[1][emitters]
    board = ambient + heat * (board - ambient)
    return np.asarray(np.maximum(1.0 + problem.per_kelvin[emitters] * (board - REFERENCE_TEMPERATURE), 1e-6))


def ceiling_of(problem: Problem, heads: Ints, most: Floats, board: Floats) -> Floats:
    """Return what the lumens by `dimmest_of` may come to, of heads that may give `most` lm, on boards at `board` °C."""
    emitters = problem.heads.emitter[heads]
    return np.asarray(most / (problem.other_end[0][emitters] * _cooler(problem, emitters, board)))


def dimmest_of(problem: Problem, channels: Ints, hottest: Floats) -> Floats:
    """Return the lumens of channels as they count for `ceiling_of`, when the board is at the hottest of their emitter.

    As `flux_of`, but never more than the truth: they fall with the temperature, and the ceiling rises with it.
    """
    emitter = problem.channels.emitter[channels]
    heat, cooler = problem.other_end[1][emitter], _cooler(problem, emitter, hottest[emitter])
    rise = heat * problem.channels.rise[channels]
    if problem.mix is None:
        share = 1.0 + problem.per_kelvin[emitter] * rise / cooler
    else:
        ambient = problem.scenario.power.ambient
        above = ambient + heat * (hottest[emitter] - ambient) + rise - REFERENCE_TEMPERATURE
        share = (1.0 + problem.own_per_kelvin[channels] * above) / cooler
    return np.asarray(problem.channels.flux[channels] * np.maximum(share, 0.0))


def flux_of(problem: Problem, channels: Ints, coldest: Floats) -> Floats:
    """Return the lumens of channels when the board is at the coldest of their emitter, per `need_of`.

    coldest: °C by emitter. flux(T) = flux25 (1 + a (T + rise − 25)); divided by (1 + a (T − 25)) it falls
    with T, so the coldest board gives the most.
    """
    emitter = problem.channels.emitter[channels]
    per_kelvin = problem.per_kelvin[emitter]
    cold, rise = coldest[emitter] - REFERENCE_TEMPERATURE, problem.channels.rise[channels]
    warm = np.maximum(1.0 + per_kelvin * cold, 1e-6)
    if problem.mix is None:
        share = 1.0 + per_kelvin * rise / warm
    else:
        # As heads count by the kind that loses less, this falls with T for the other one too.
        share = (1.0 + problem.own_per_kelvin[channels] * (cold + rise)) / warm
    return np.asarray(problem.channels.flux[channels] * np.maximum(share, 0.0))


def least_share(problem: Problem, heads: Ints) -> Floats:
    """Return the least that a lumen of these heads may give, as a share of what is counted (`hardest`).

    1 for a diffused head; for an open one what an emitter in the farthest corner gives; 0 where the light is not
    worked out yet.
    """
    h, parts = problem.heads, problem.parts
    share = np.where(h.rough[heads], 0.0, 1.0)
    open_ = np.flatnonzero(h.diffuser[heads] == NO_DIFFUSER)
    if len(open_):
        which = heads[open_]
        size = np.array([usable_size(parts.panels[p]) for p in h.panel[which].tolist()])
        beam = np.array([e.beam for e in parts.emitters])[h.emitter[which]]
        corner = point_factors(size[:, 0] / 2, size[:, 1] / 2, problem.scenario.light.distance, beam_exponent(beam))
        distance = problem.scenario.light.distance
        measured, bounds = measured_bounds(h.emitter[which], h.panel[which], parts.emitters, parts.panels, distance)
        corner[measured] = bounds[:, 0]
        forward = forward_shares(parts.emitters, parts.panels)[h.emitter[which], h.panel[which]]
        share[open_] = corner * forward / np.maximum(h.lux_per_lumen[which], 1e-300)
    if not problem.market.targets:
        return share
    least = share * h.lux_per_lumen[heads]
    spots = least_spots(problem, heads)
    for place, asked in enumerate(problem.market.targets):
        if asked.least is not None:
            least = np.minimum(least, spots[:, place] * (problem.market.target / asked.least))
    return np.asarray(least / np.maximum(hardest(problem, heads), 1e-300))


def crowded(problem: Problem, heads: Ints) -> np.ndarray:
    """Return which heads may hold channels beyond what the target asks.

    Open ones whose light must be even, those behind a diffuser on which no dots may show, any where there can be too
    much light (on a board that hot emitters make dim, one channel less may be more light), and those of mixtures, whose
    colour may hang on any channel.
    """
    if problem.mix is not None:
        return np.ones(len(heads), dtype=bool)
    open_ = problem.heads.diffuser[heads] == NO_DIFFUSER
    even, dots = problem.scenario.light.asks_evenness, problem.scenario.look.dots_max is not None
    return np.asarray((open_ & even) | (~open_ & dots) | problem.market.light_is_limited)


def boards(problem: Problem, heads: Ints, heat: Floats) -> Floats:
    """Return the board temperature of heads at an index for the heat given, °C (a lower bound by 1e-9 K)."""
    ambient = problem.scenario.power.ambient
    panel, market = problem.heads.panel[heads], problem.market.boards
    measured = market.measured[panel]
    limited = np.minimum(heat * (1 - HAIR), problem.heads.heat_max[heads])
    calculated = board_temperature(
        limited,
        ambient,
        market.width[panel],
        market.height[panel],
        market.faces[panel],
        market.emissivity[panel],
    )
    known = np.where(np.isnan(measured), calculated, ambient + limited * measured)
    return np.asarray(np.maximum(known - 1e-9, ambient))


def _sheds(problem: Problem, heads: Ints, board: Floats) -> Floats:
    """Return the heat, W, at which boards are at `board` °C, shape (heads, temperatures)."""
    ambient, b = problem.scenario.power.ambient, problem.market.boards
    panel = problem.heads.panel[heads][:, None]
    shed = heat_shed(board, ambient, b.width[panel], b.height[panel], b.faces[panel], b.emissivity[panel])
    return np.where(np.isnan(b.measured[panel]), shed, (board - ambient) / b.measured[panel])


GRID = 97
"""Temperatures of a board's range at which the need of lumens is looked at."""


def base_of(problem: Problem, heads: Ints, low: Floats, high: Floats, slope: Floats) -> Floats:
    """Return the base for which base + slope · heat is never above the need of a board at `low` … `high` °C.

    All arguments have shape (heads,). Between two temperatures of the grid the need is at least that of the
    colder, and the heat at most that of the warmer.
    """
    share = np.linspace(0.0, 1.0, GRID)[None, :]
    board = low[:, None] + (np.maximum(high, low) - low)[:, None] * share
    need = need_of(problem, np.repeat(heads, GRID), board.ravel()).reshape(board.shape)
    heat = _sheds(problem, heads, board) * (1 + HAIR)
    return np.asarray((need[:, :-1] - slope[:, None] * heat[:, 1:]).min(axis=1))


def slope_of(problem: Problem, heads: Ints, low: Floats, high: Floats) -> Floats:
    """Return the mean rise of the need with heat, lm/W, of boards between `low` and `high` °C (0 for no range)."""
    more = need_of(problem, heads, high) - need_of(problem, heads, low)
    heat = _sheds(problem, heads, np.stack([low, high], axis=1))
    wide = heat[:, 1] - heat[:, 0]
    return np.where(wide > 1e-6, more / np.maximum(wide, 1e-6), 0.0)


def heat_at(problem: Problem, head: int, board: float) -> float:
    """Return the heat, W, at which the board of a head is at `board` °C."""
    return float(_sheds(problem, np.array([head]), np.array([[board]]))[0, 0])
