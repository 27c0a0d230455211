"""Which numbers of emitters on an open board light the subject evenly enough.

A diffused head is as even with one emitter as with many, and those that are not even enough are no columns at all
(`columns.heads`). On an open board it hangs on the number: up to `KNOWN` each is looked at beforehand, the rest when a
build has one (`refinement`).
"""

from collections.abc import Iterator

import numpy as np

from optimise.columns.heads import NO_DIFFUSER, usable_size
from optimise.model.aimed import at_odds
from optimise.model.kept import Kept
from optimise.model.light import crowded
from optimise.model.limits import evenness_margins, lies
from optimise.model.problem import Problem
from optimise.physics.distributions import bare_beam
from optimise.physics.evenness import grid_evenness

KNOWN = 150
"""Emitters on a board up to which every number is looked at beforehand: the time grows with the square."""


def uneven(problem: Problem, head: int, count: int) -> bool:
    """Whether so many emitters on an open head light the subject less evenly than is asked, or points (`at_odds`)."""
    heads, light = problem.heads, problem.scenario.light
    if heads.diffuser[head] != NO_DIFFUSER:
        return False
    if at_odds(problem, head, count):
        return True
    if not light.asks_evenness:
        return False
    assert light.subject is not None
    emitter, panel = problem.parts.emitters[heads.emitter[head]], problem.parts.panels[heads.panel[head]]
    beam, lying = bare_beam(emitter.beam, emitter.photometric), lies(emitter, panel)
    grid = int(heads.columns[head]), int(heads.rows[head])
    size = usable_size(panel)
    found = grid_evenness(beam, count, *grid, *size, light.distance, emitter.length, lying, light.subject)
    return not all(margin.holds for margin in evenness_margins(found, problem.scenario))


def even_ranges(problem: Problem, head: int) -> Iterator[tuple[int, int]]:
    """Yield (least, most) of the runs of numbers of emitters that are even enough, or are not known not to be."""
    most = int(problem.capacity[head])
    if not crowded(problem, np.array([head]))[0]:
        yield 1, most
        return
    low: int | None = None
    for count in range(1, most + 2):
        good = count <= most and (count > KNOWN or not uneven(problem, head, count))
        if good and low is None:
            low = count
        if not good and low is not None:
            yield low, count - 1
            low = None
        if count > KNOWN and count < most:
            if low is not None:
                yield low, most
            return


def even_heads(problem: Problem, kept: Kept) -> Kept:
    """Drop open heads that are uneven with every number of emitters."""
    open_ = crowded(problem, kept.heads)
    if not open_.any():
        return kept
    pairs = zip(kept.heads.tolist(), open_.tolist(), strict=True)
    stays = [not asked or next(even_ranges(problem, head), None) is not None for head, asked in pairs]
    return kept.take(heads=np.array(stays, dtype=bool))
