"""The search where a build costs what its goods cost: screen, solve, check exactly, refine, until it is proven.

A light has one kind of emitter, so the search goes from emitter to emitter, the most promising first, and what the
last ones came to bounds the next.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from optimise.model.alone import alone
from optimise.model.choice import Evaluation
from optimise.model.formulation import formulate
from optimise.model.heuristic import quick_build, value_of
from optimise.model.kept import Kept, everything
from optimise.model.light import HAIR
from optimise.model.market import Market
from optimise.model.mixing import mixed_build
from optimise.model.pairs import codes_of_line, least_by_line, problem_of_line
from optimise.model.problem import Problem, hung_on
from optimise.model.screening import finely, screened, sifted
from optimise.model.solver import Status
from optimise.model.state import (
    GAPS,
    Line,
    State,
    TimeUpError,
    better,
    cells_of,
    hair,
    judge,
    proven_by,
    refine_line,
)
from optimise.model.ties import break_ties, with_smallest_fuse
from optimise.model.weights import SCALES, limits_of

SMALL = 400
"""Columns of a line that was sifted before up to which solving takes less time than screening."""


def run(search: State, caps: Mapping[str, float]) -> None:
    """Leave in `search.best` the best build within `caps` (cents, mg, W) by `search.order`; None where there is none.

    The scales that are not in the order only keep their caps. Raises `TimeUpError` past the deadline; what is
    proven by then stands in `search.settled`.
    """
    settled = dict(caps)
    search.within = dict(caps)
    if _unmounted(search.market):
        return
    search.progress("screening")
    _line_up(search, settled)
    for number, scale in enumerate(search.order):
        search.progress(f"making {scale} least")
        _make_least(search, scale, settled, first=number == 0)
        if search.best is None:
            return
        search.settled += 1
        value = value_of(search.best, scale)
        settled[scale] = min(settled[scale], value + hair(scale, value))
        if number == 0 and search.ties and not _stays(search) and alone(search, settled):
            search.settled = len(search.order)
            break
    else:
        if search.ties and not _stays(search):
            search.progress("breaking ties")
            break_ties(search, settled)
    if not search.ties or _stays(search):
        return
    assert search.best is not None
    search.best = with_smallest_fuse(search.best, search.market)


def _stays(search: State) -> bool:
    """Whether the best build is the one that is kept where others are only as good."""
    return search.best is not None and search.best.choice == search.stays


def _quick(line: Line, scale: str) -> Evaluation | None:
    """Return the best of a few likely builds of a line."""
    find = quick_build if line.problem.mix is None else mixed_build
    return find(line.problem, line.kept, scale)


def _unmounted(market: Market) -> bool:
    """Whether a mount is asked for and none can be bought."""
    return market.scenario.limits.mount and not market.mounts


def _line_up(search: State, settled: Mapping[str, float]) -> None:
    """Build and screen the columns of every emitter that may win, the most promising first."""
    if search.given is not None:
        search.lines = list(search.given)
        search.lows = {line.emitter: 0.0 for line in search.lines}
        return
    scale = search.order[0]
    least = least_by_line(search.market, settled, scale)
    order = [int(e) for e in np.argsort(least, kind="stable") if np.isfinite(least[e])]
    search.lows = {e: float(least[e]) for e in order}
    search.low = min(search.lows.values(), default=math.inf)
    for emitter in order:
        caps = dict(settled) if search.wide else _no_worse(search, settled)
        if least[emitter] > caps[scale]:
            break
        if search.floors is not None and search.floors.get((scale, emitter), 0.0) > caps[scale] * (1 + HAIR) + HAIR:
            del search.lows[emitter]
            continue
        search.seconds_left()
        if search.must is not None and search.must.leaves_out(codes_of_line(search.market, emitter)):
            del search.lows[emitter]
            continue
        line = whole_line(search, emitter)
        search.columns += line.problem.size
        sift(search, line, caps, scale)
        if line.kept.possible:
            search.lines.append(line)
            if not search.wide:
                search.take(_quick(line, scale))
            if search.any_will_do and search.best is not None:
                return
        else:
            del search.lows[emitter]
            _keep_floor(search, line, caps, scale)


def _keep_floor(search: State, line: Line, caps: Mapping[str, float], scale: str) -> None:
    """Remember what a line without a build comes to at least, where that holds for all of its builds."""
    limits = limits_of(search.market.scenario)
    all_of_it = search.admits is None and search.must is None
    if search.floors is not None and all_of_it and all(caps[s] >= limits[s] for s in SCALES if s != scale):
        search.floors[scale, line.emitter] = max(search.floors.get((scale, line.emitter), 0.0), line.kept.low)


def lines_within(search: State, caps: Mapping[str, float]) -> tuple[Line, ...]:
    """Return all columns that builds within `caps` can have."""
    if _unmounted(search.market):
        return ()
    search.wide = True
    _line_up(search, caps)
    return tuple(search.lines)


def whole_line(search: State, emitter: int) -> Line:
    """Return all columns of an emitter that the search admits: those built before, hung on its own market."""
    known = None if search.problems is None else search.problems.get(emitter)
    market = search.market
    problem = problem_of_line(market, emitter) if known is None else hung_on(known, market)
    kept = everything(problem)
    if search.admits is not None:
        kept = kept.take(heads=search.admits(problem)[kept.heads])
    if search.must is not None:
        kept = search.must.narrowed(problem, kept)
    return Line(emitter, problem, kept)


def sift(search: State, line: Line, caps: Mapping[str, float], scale: str) -> None:
    """Sift a line, and keep what was built for other searches."""
    before = line.problem
    line.problem, line.kept = sifted(before, line.kept, caps, scale)
    line.sifted = dict(caps)
    if search.problems is not None:
        # The light of heads is exact for good.
        known = search.problems.get(line.emitter, before)
        search.problems[line.emitter] = replace(known, heads=line.problem.heads)


def _no_worse(search: State, settled: Mapping[str, float]) -> dict[str, float]:
    """Return the caps of builds that are no worse than the best one known."""
    caps = dict(settled)
    if search.best is not None:
        scale = search.order[0]
        value = value_of(search.best, scale)
        caps[scale] = min(caps[scale], value + hair(scale, value))
    return caps


def _make_least(search: State, scale: str, settled: Mapping[str, float], *, first: bool) -> None:
    """Make one figure least within what is settled, over all lines.

    Only builds that are *better* than the best one known are looked for: that there is none is the proof.
    """
    if first and search.given is None:
        _improve(search, settled)
    for line in search.lines:
        if search.any_will_do and search.best is not None:
            return
        if first:
            # What ties with the best is left for the next figures, what is worse goes for good.
            line.problem, line.kept = _less(search, line.problem, line.kept, _no_worse(search, settled), [scale])
        if line.kept.possible:
            _make_line_least(search, line, scale, settled, first=first)
        search.lows.pop(line.emitter, None)
    search.lines = [line for line in search.lines if line.kept.possible]
    if first:
        search.lows.clear()


def _less(
    search: State, problem: Problem, kept: Kept, caps: Mapping[str, float], tight: Sequence[str]
) -> tuple[Problem, Kept]:
    """Screen a line: finely, or coarsely where it was looked up before and little is left."""
    if search.given is not None:
        problem, kept = sifted(problem, kept, caps, tight[0])
        return problem, kept if kept.size <= SMALL else finely(problem, kept, caps, tight)
    return screened(problem, kept, caps, tight)


def _improve(search: State, settled: Mapping[str, float]) -> None:
    """Look for better builds of several kinds of channel on the lines that may still win."""
    for line in search.lines:
        if search.any_will_do and search.best is not None:
            return
        search.seconds_left()
        line.problem, line.kept = sifted(line.problem, line.kept, _no_worse(search, settled), search.order[0])
        if line.problem.mix is None:  # a mixture was looked at already
            search.take(mixed_build(line.problem, line.kept, search.order[0]))


def _make_line_least(search: State, line: Line, scale: str, settled: Mapping[str, float], *, first: bool) -> None:
    caps = dict(settled)
    if search.best is not None:
        caps[scale] = min(caps[scale], better(search.best, scale))
    problem, kept = line.problem, line.kept
    if first:
        search.kept_columns += kept.size
    else:
        problem, kept = _less(search, problem, kept, caps, _tight(search, scale))
    if not kept.possible or (first and search.at_floor()):
        return
    line.cells = cells_of(line.cells, problem, kept)
    while True:
        formulation = formulate(problem, kept, line.cells, search.tangents, caps, scale)
        gap = math.inf if search.any_will_do else GAPS[scale]
        outcome = search.solve(formulation, gap)
        if first and math.isfinite(outcome.bound):
            search.lows[line.emitter] = max(search.lows[line.emitter], outcome.bound)
        if outcome.status is Status.IMPOSSIBLE:
            return
        if outcome.status is Status.NOTHING:
            raise TimeUpError
        candidate, accepted = judge(formulation, outcome, caps)
        if candidate.passes:
            search.seen(candidate)
        if accepted:
            search.best = candidate
            caps[scale] = min(caps[scale], better(candidate, scale))
        if outcome.status is Status.FEASIBLE:
            raise TimeUpError
        if search.best is not None and proven_by(search.best, scale, outcome, gap):
            return
        refine_line(search, line, formulation, outcome, candidate)


def _tight(search: State, scale: str) -> list[str]:
    """Return a scale and those settled before it."""
    return [scale, *search.order[: search.order.index(scale)]]


def find_any(search: State, caps: Mapping[str, float]) -> Evaluation | None:
    """Return any build within `caps`, or None where it is proven that there is none. `search.any_will_do` is set."""
    search.within = dict(caps)
    if _unmounted(search.market):
        return None
    _line_up(search, caps)
    if search.best is None:
        _make_least(search, search.order[0], caps, first=True)
    return search.best


def find_likely(search: State, caps: Mapping[str, float]) -> Evaluation | None:
    """Return a good build within `caps`, the best of those quickly found, or None where it is proven there is none."""
    search.within = dict(caps)
    if _unmounted(search.market):
        return None
    _line_up(search, caps)
    scale = search.order[0]
    if search.given is not None:
        return _likely_of_given(search, caps, scale)
    _improve(search, caps)
    if not _keeps(search, caps):
        search.best = None  # what is quickly found keeps the scenario's limits, not the caps
        search.any_will_do = True
        _make_least(search, scale, caps, first=True)
    return search.best


def _likely_of_given(search: State, caps: Mapping[str, float], scale: str) -> Evaluation | None:
    """Do what `find_likely` does where columns were looked up: mostly it is to be proven that there is none."""
    for line in search.lines:
        search.seconds_left()
        if line.sifted != caps:
            sift(search, line, caps, scale)
        if line.kept.size > SMALL:
            line.kept = finely(line.problem, line.kept, caps, [scale])
    search.lines = [line for line in search.lines if line.kept.possible]
    for line in search.lines:
        search.seconds_left()
        search.take(_quick(line, scale))
        if _keeps(search, caps):
            return search.best
    search.best, search.any_will_do = None, True
    for line in search.lines:
        _make_line_least(search, line, scale, caps, first=True)
        if search.best is not None:
            break
    return search.best


def _keeps(search: State, caps: Mapping[str, float]) -> bool:
    """Whether there is a build, and it keeps the caps."""
    best = search.best
    return best is not None and all(value_of(best, name) <= cap for name, cap in caps.items())
