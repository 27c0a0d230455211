"""The light of an open head with a given number of emitters: ahead, and on faces with targets of their own.

A diffused head lights as well with one emitter as with many; on an open board it hangs on the number.
"""

from functools import lru_cache

import numpy as np

from optimise.columns.heads import NO_DIFFUSER, forward_shares, usable_size
from optimise.model.fitting import lies
from optimise.model.light import most_of
from optimise.model.problem import Problem
from optimise.parts import Emitter, Panel
from optimise.physics.distributions import bare_beam, grid_lux
from optimise.physics.spots import grid_spots

KNOWN = 150
"""Numbers of emitters of a range that are each looked at; of a larger one bounds are taken."""


def open_spots(problem: Problem, head: int, count: int) -> tuple[float, ...]:
    """Return the lux on each face for each lumen of `count` emitters at their places on an open head."""
    heads, parts = problem.heads, problem.parts
    emitter, panel = parts.emitters[heads.emitter[head]], parts.panels[heads.panel[head]]
    forward = float(forward_shares([emitter], [panel])[0, 0])
    found = grid_spots(
        bare_beam(emitter.beam, emitter.photometric),
        count,
        int(heads.columns[head]),
        int(heads.rows[head]),
        *usable_size(panel),
        emitter.length,
        lies(emitter, panel),
        problem.market.boards.spots,
    )
    return tuple(forward * each for each in found)


def open_factor(problem: Problem, head: int, count: int) -> float:
    """Return the lux per lumen of an open head with `count` emitters at their places, as `light.hardest` counts it."""
    heads = problem.heads
    ahead = _factor(
        problem.parts.emitters[heads.emitter[head]],
        problem.parts.panels[heads.panel[head]],
        int(heads.columns[head]),
        int(heads.rows[head]),
        count,
        problem.scenario.light.distance,
    )
    if not problem.market.targets:
        return ahead
    asked = zip(open_spots(problem, head, count), problem.market.targets, strict=True)
    there = [each * problem.market.target / face.least for each, face in asked if face.least is not None]
    return min([ahead, *there])


@lru_cache(maxsize=100_000)
def _factor(emitter: Emitter, panel: Panel, columns: int, rows: int, count: int, distance: float) -> float:
    width, height = usable_size(panel)
    beam, lying = bare_beam(emitter.beam, emitter.photometric), lies(emitter, panel)
    places = grid_lux(beam, count, columns, rows, width, height, distance, emitter.length, lying)
    return places * float(forward_shares([emitter], [panel])[0, 0])


def greatest_factor(problem: Problem, head: int, low: int, high: int) -> float:
    """Return the greatest `open_factor` for the numbers low … high."""
    return max(open_factor(problem, head, count) for count in range(low, high + 1))


def at_odds(problem: Problem, head: int, count: int) -> bool:
    """Whether so many emitters on an open head give too much light somewhere wherever it is enough elsewhere."""
    if not problem.market.light_is_limited:
        return False
    enough = problem.market.target / max(open_factor(problem, head, count), 1e-300)
    brighter = float(problem.other_end[0][problem.heads.emitter[head]])
    return enough * brighter * (1.0 - 1e-8) > most_by_number(problem, head, count)


def most_by_number(problem: Problem, head: int, count: int) -> float:
    """Return the most lumens that an open head with `count` emitters may give without too much light anywhere."""
    asked = zip(open_spots(problem, head, count), problem.market.targets, strict=True)
    ends = [np.inf if each <= 0.0 else face.most / each for each, face in asked if face.most is not None]
    return float(min(ends, default=np.inf))


def factor_within(problem: Problem, head: int, low: int, high: int, known: float) -> float:
    """Return what `open_factor` never exceeds for the numbers low … high, where `known` is such a value already.

    Looked for only where faces have targets of their own: ahead, the bound is near enough.
    """
    each = problem.market.targets and 1 <= low <= high < low + KNOWN
    if not each or problem.heads.diffuser[head] != NO_DIFFUSER:
        return known
    return min(known, greatest_factor(problem, head, low, high))


def most_within(problem: Problem, head: int, low: int, high: int) -> float:
    """Return what `most_by_number` never exceeds for the numbers low … high; of a diffused head the same for all."""
    if not problem.market.light_is_limited:
        return float(np.inf)
    if problem.heads.diffuser[head] != NO_DIFFUSER or not 1 <= low <= high < low + KNOWN:
        return float(most_of(problem, np.array([head]))[0])
    return max(most_by_number(problem, head, count) for count in range(low, high + 1))
