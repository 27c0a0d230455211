"""Which numbers of emitters light the subject, and the sheet before them, evenly enough.

A diffused head lights the subject as evenly with one emitter as with many, and those that are not even enough are no
columns at all (`columns.heads`). On an open board it hangs on the number, and so do the dots on a diffuser: up to
`KNOWN` each number is looked at beforehand, the rest when a build has one (`refinement`).
"""

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np

from optimise.columns.expand import Ints
from optimise.columns.heads import NO_DIFFUSER, usable_size
from optimise.model.aimed import at_odds
from optimise.model.dots import least_ripple, ripple_of
from optimise.model.fitting import lies
from optimise.model.kept import Kept
from optimise.model.light import crowded
from optimise.model.limits import dots_margins, evenness_margins
from optimise.model.market import Market
from optimise.model.problem import Problem
from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.distributions import bare_beam
from optimise.physics.evenness import grid_evenness
from optimise.scenario import Scenario

KNOWN = 150
"""Emitters on a board up to which every number is looked at beforehand: the time grows with the square."""


def uneven(problem: Problem, head: int, count: int) -> bool:
    """Whether so many emitters are less even than is asked: on subject, sheet, or points (`aimed.at_odds`)."""
    if problem.heads.diffuser[head] != NO_DIFFUSER:
        return problem.scenario.look.dots_max is not None and _uneven(*_face(problem, head), count)
    asked = problem.scenario.light.asks_evenness
    return at_odds(problem, head, count) or (asked and _uneven(*_face(problem, head), count))


_Face = tuple[Emitter, Panel, Diffuser | None, tuple[int, int], Scenario]
"""What it hangs on: emitter, panel, diffuser, columns and rows at most, and the job."""


def _face(problem: Problem, head: int) -> _Face:
    heads, parts = problem.heads, problem.parts
    sheet = None if heads.diffuser[head] == NO_DIFFUSER else parts.diffusers[heads.diffuser[head]]
    emitter, panel = parts.emitters[heads.emitter[head]], parts.panels[heads.panel[head]]
    return emitter, panel, sheet, (int(heads.columns[head]), int(heads.rows[head])), problem.scenario


@lru_cache(maxsize=200_000)
def _uneven(
    emitter: Emitter, panel: Panel, sheet: Diffuser | None, grid: tuple[int, int], scenario: Scenario, count: int
) -> bool:
    if sheet is not None:
        margins = dots_margins(ripple_of(emitter, panel, sheet, count), scenario)
    else:
        light = scenario.light
        assert light.subject is not None
        beam, lying = bare_beam(emitter.beam, emitter.photometric), lies(emitter, panel)
        size = usable_size(panel)
        found = grid_evenness(beam, count, *grid, *size, light.distance, emitter.length, lying, light.subject)
        margins = evenness_margins(found, scenario)
    return not all(margin.holds for margin in margins)


def even_ranges(problem: Problem, head: int) -> Iterator[tuple[int, int]]:
    """Yield (least, most) of the runs of numbers of emitters that are even enough, or are not known not to be."""
    most = int(problem.capacity[head])
    if problem.mix is not None or not crowded(problem, np.array([head]))[0]:
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


@lru_cache(maxsize=50_000)
def _fewest(
    emitter: Emitter,
    panel: Panel,
    sheet: Diffuser | None,
    grid: tuple[int, int],
    scenario: Scenario,
    most: int,
    known: int,
) -> int:
    """Return the least number of emitters that is even enough, or is not known not to be; more than `most`: none is."""
    if sheet is not None and not all(m.holds for m in dots_margins(least_ripple(emitter, panel, sheet), scenario)):
        return most + 1
    numbers = range(1, min(most, known) + 1)
    return next((n for n in numbers if not _uneven(emitter, panel, sheet, grid, scenario, n)), len(numbers) + 1)


def fewest_by_emitter(market: Market) -> Ints:
    """Return by emitter the least number of pieces whose dots do not show on any face; 1 where that is not asked."""
    parts, boards, scenario = market.parts, market.boards, market.scenario
    fewest = np.ones(len(parts.emitters), dtype=np.int64)
    if scenario.look.dots_max is None:
        return fewest
    # Sheets that spread alike show alike.
    pairs = zip(boards.panel.tolist(), boards.diffuser.tolist(), strict=True)
    faces = {(p, parts.diffusers[d].spread): d for p, d in pairs}
    for e, emitter in enumerate(parts.emitters):
        found = [
            _fewest(emitter, parts.panels[p], parts.diffusers[d], grid, scenario, grid[0] * grid[1], KNOWN)
            for (p, _), d in faces.items()
            for grid in [(int(market.grid[0][e, p]), int(market.grid[1][e, p]))]
        ]
        fewest[e] = max(min(found, default=1), 1)
    return fewest


def even_heads(problem: Problem, kept: Kept) -> Kept:
    """Drop heads that are uneven with every number of emitters; note of the others how many they have at least."""
    asked = crowded(problem, kept.heads)
    if problem.mix is not None or not asked.any():
        return kept
    fewest = kept.fewest.copy()
    for place in np.flatnonzero(asked).tolist():
        head = int(kept.heads[place])
        fewest[place] = max(fewest[place], _fewest_on(problem, head))
    return replace(kept, fewest=fewest).take(heads=fewest <= problem.capacity[kept.heads])


def _fewest_on(problem: Problem, head: int) -> int:
    most = int(problem.capacity[head])
    if problem.heads.diffuser[head] != NO_DIFFUSER:
        return 1 if problem.scenario.look.dots_max is None else _fewest(*_face(problem, head), most, KNOWN)
    numbers = range(1, min(most, KNOWN) + 1)
    return next((n for n in numbers if not uneven(problem, head, n)), len(numbers) + 1)


def even_multiples(problem: Problem, head: int, number: Ints, count: Ints) -> Ints:
    """Return the least numbers of channels, from `number` on, of `count` emitters each that are even enough.

    Of a head that is `crowded`; more than fit where none are.
    """
    most = int(problem.capacity[head])
    known = min(most, KNOWN)
    good = np.ones(most + 1, dtype=bool)
    good[1 : known + 1] = [not uneven(problem, head, n) for n in range(1, known + 1)]
    result = number.copy()
    for each in np.unique(count).tolist():
        mine = count == each
        there = np.append(good[::each], True)  # by number of channels; the last one does not fit
        place = np.where(there, np.arange(len(there)), len(there))
        following = np.minimum.accumulate(place[::-1])[::-1]
        result[mine] = following[np.minimum(number[mine], len(there) - 1)]
    return result
