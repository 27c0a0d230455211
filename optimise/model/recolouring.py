"""Cutting cells of mixtures whose colour flattered a build: by the shares of the two kinds, and by the board's heat."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimise.model.cells import Cell
from optimise.model.choice import Evaluation
from optimise.model.light import boards, flux_of, heat_at
from optimise.model.mixture import Mixture
from optimise.model.problem import Problem
from optimise.scenario.colour import LIMITS, asked

NAMES = frozenset(limit.name for limit in LIMITS)
"""What the margins on colour are called."""

WIDEST = 0.02
"""Share of the light about that of a build which is cut out at the most with it."""

NARROWEST = 1e-7
"""K: a range of board temperature this narrow is not cut any more."""


def off_colour(problem: Problem, evaluation: Evaluation) -> bool:
    """Whether a build of a mixture misses a limit on colour."""
    return problem.mix is not None and any(m.name in NAMES and not m.holds for m in evaluation.margins)


def recoloured(problem: Problem, cell: Cell, evaluation: Evaluation, numbers: Sequence[tuple[int, int]]) -> list[Cell]:
    """Return a cell of a mixture without a build that misses a limit on colour.

    numbers: its channels, (index into the problem, how many).
    """
    share = evaluation.fluxes[1] / sum(evaluation.fluxes)
    if cell.share_low <= share <= cell.share_high:
        return _without_share(problem, cell, share)
    tight = _row(problem, cell, numbers, evaluation.board, evaluation.board)
    if tight >= 0.0 or not _warms(problem, cell):
        return [_tighter(cell, share)]
    # The board of this build is between two that are so near that the rows of a cell between them refuse it.
    reach = max((cell.top - cell.board) / 4.0, 4.0 * NARROWEST)
    while _row(problem, cell, numbers, evaluation.board - reach, evaluation.board + reach) >= 0.0:
        reach /= 2.0
        if reach < NARROWEST:
            return [_tighter(cell, share)]
    return _cut(problem, cell, evaluation, reach)


def _row(problem: Problem, cell: Cell, numbers: Sequence[tuple[int, int]], cold: float, hot: float) -> float:
    """Return the lesser of what the rows of the shares leave a build on boards between two temperatures, lm."""
    assert problem.mix is not None
    index = np.array([channel for channel, _ in numbers])
    number = np.array([many for _, many in numbers], dtype=np.float64)
    groups = len(problem.parts.emitters)
    flux = [number * flux_of(problem, index, np.full(groups, board)) for board in (cold, hot)]
    second = problem.mix.kind[index] == 1
    ends = []
    for share, side in ((cell.share_low, second), (cell.share_high, ~second)):
        weight = np.where(second, 1.0 - share, share)
        ends.append(float((weight * np.where(side, flux[0], -flux[1])).sum()))
    return min(ends)


def _warms(problem: Problem, cell: Cell) -> bool:
    return cell.top - cell.board > NARROWEST and not cell.exact_share


def _tighter(cell: Cell, share: float) -> Cell:
    """Return a cell whose shares are narrower by what the solver's tolerances let through."""
    if share < cell.share_low:
        return replace(cell, own=True, share_low=cell.share_low + max(4.0 * (cell.share_low - share), 1e-9))
    return replace(cell, own=True, share_high=cell.share_high - max(4.0 * (share - cell.share_high), 1e-9))


def _cut(problem: Problem, cell: Cell, evaluation: Evaluation, reach: float) -> list[Cell]:
    """Return the parts of a cell below, about and above the heat of a build."""
    # A board is no colder than the air.
    heats = [max(heat_at(problem, cell.head, evaluation.board + side), 0.0) for side in (-reach, reach)]
    low = min(heats[0], evaluation.heat * (1.0 - 1e-8))
    high = max(heats[1], evaluation.heat * (1.0 + 1e-8))
    head = np.array([cell.head])
    cold, warm = (float(boards(problem, head, np.array([heat]))[0]) for heat in (low, high))
    parts: list[Cell] = []
    if low > cell.heat_low:
        parts.append(replace(cell, heat_high=low, top=min(cell.top, cold + 1e-6), own=True))
    middle = replace(
        cell,
        heat_low=max(low, cell.heat_low),
        heat_high=min(high, cell.heat_high),
        board=max(cold, cell.board),
        top=min(cell.top, warm + 1e-6),
        own=True,
    )
    parts.append(replace(middle, exact_share=middle.top - middle.board <= NARROWEST))
    if high < cell.heat_high:
        parts.append(replace(cell, heat_low=high, board=max(warm, cell.board), own=True))
    return parts


def _without_share(problem: Problem, cell: Cell, share: float) -> list[Cell]:
    """Return a cell without a share, and without those about it that miss a limit on colour as well."""
    low = _until(problem, share, cell.share_low, -1.0)
    high = _until(problem, share, cell.share_high, 1.0)
    ranges = [(cell.share_low, low), (high, cell.share_high)]
    left = [replace(cell, own=True, share_low=a, share_high=b) for a, b in ranges if a <= b]
    # A cell that holds none stays, so that its head is not taken up anew.
    return left or [replace(cell, count_low=0, count_high=0)]


def _until(problem: Problem, share: float, end: float, way: float) -> float:
    """Return the farthest share found towards an end up to which a limit is missed."""
    reach = 1e-9
    while reach < WIDEST and abs(end - share) > reach and not _keeps(problem, share + way * reach):
        reach *= 2.0
    return share + way * reach / 2.0


def _keeps(problem: Problem, share: float) -> bool:
    first, second = problem.parts.emitters
    look = problem.scenario.look
    light = Mixture((first, second), (1.0 - share, share), look.ssi_reference)
    return all(limit.keeps(light[limit.figure], required) for limit, required in asked(look))
