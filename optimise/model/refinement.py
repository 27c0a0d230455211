"""Making the model exact where it flattered a build: cutting cells, adding tangents."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimise.columns.heads import NO_DIFFUSER
from optimise.model.aimed import greatest_factor, most_by_number, most_within, open_factor
from optimise.model.cells import Cell, Tangent
from optimise.model.choice import TOLERANCE, Evaluation, Margin
from optimise.model.even import uneven
from optimise.model.exact import margin_of
from optimise.model.light import boards, heat_at
from optimise.model.limits import LIGHT
from optimise.model.problem import Problem
from optimise.model.recolouring import off_colour, recoloured

SLIVER = 1e-8
"""Relative width of the strip below a heat at which a range is cut: the build that failed falls outside."""


CUT = 0.1
"""Where a range of board temperature is cut, between that at which a build would do (0) and its own (1)."""


NEIGHBOURS = 100
"""Numbers of emitters below and above an uneven one that are looked at with it."""


class CannotRefineError(RuntimeError):
    """The exact check refuses a build for a reason that the model should have known: a fault of ours."""


def refine(
    problem: Problem,
    cells: Sequence[Cell],
    tangents: Sequence[Tangent],
    index: int,
    supply: int,
    evaluation: Evaluation,
    flattered_power: bool,
    numbers: Sequence[tuple[int, int]] = (),
) -> tuple[list[Cell], list[Tangent]]:
    """Return cells and tangents after cutting what flattered the build of `evaluation`.

    index: its cell; flattered_power: whether the power counted was less than the true one; numbers: its channels, as
    (index into the problem, how many).
    Raises `CannotRefineError` where nothing that can be refined explains the failure.
    """
    cells, tangents = list(cells), list(tangents)
    changed = False
    power = margin_of(evaluation, "power")
    if flattered_power or (power is not None and not power.holds):
        tangent = Tangent(supply, evaluation.apparent)
        if tangent not in tangents:
            tangents.append(tangent)
            changed = True
    light, bright = _worst(evaluation, "min"), _worst(evaluation, "max")
    if uneven(problem, cells[index].head, evaluation.choice.emitters):
        cells[index : index + 1] = _without_uneven(problem, cells[index], evaluation.choice.emitters)
        changed = True
    elif light is not None and not light.holds:
        cells[index : index + 1] = _cut(problem, cells[index], evaluation, light)
        changed = True
    elif bright is not None and not bright.holds:
        cells[index : index + 1] = _dim(problem, cells[index], evaluation, bright)
        changed = True
    elif off_colour(problem, evaluation):
        cells[index : index + 1] = recoloured(problem, cells[index], evaluation, numbers)
        changed = True
    if not changed:
        failed = [m.name for m in evaluation.margins if not m.holds] + list(evaluation.missing)
        raise CannotRefineError(f"the exact check refuses a build for: {', '.join(failed) or 'its power'}")
    return cells, tangents


def _without_uneven(problem: Problem, cell: Cell, count: int) -> list[Cell]:
    """Return a cell without a number of emitters that is uneven, and without those about it that are as well.

    A head that is uneven with any number stays as a cell that holds none, so that it is not taken up anew.
    """
    low = high = count
    while low > max(cell.count_low, count - NEIGHBOURS) and uneven(problem, cell.head, low - 1):
        low -= 1
    while high < min(cell.count_high, count + NEIGHBOURS) and uneven(problem, cell.head, high + 1):
        high += 1
    ranges = [(cell.count_low, low - 1), (high + 1, cell.count_high)]
    left = [replace(cell, count_low=a, count_high=b) for a, b in ranges if a <= b]
    return left or [replace(cell, count_low=0, count_high=0)]


def _worst(evaluation: Evaluation, kind: str) -> Margin | None:
    """Return the limit on light that has the least left, of those on too little (min) or on too much (max)."""
    lit = [margin for margin in evaluation.margins if margin.name.startswith(LIGHT) and margin.kind == kind]
    return min(lit, key=lambda margin: margin.left, default=None)


def _by_number(problem: Problem, cell: Cell, count: int) -> list[Cell]:
    """Return a cell of an open head in up to three: below a number of emitters, at it, and above."""
    ranges = [(cell.count_low, count - 1), (count, count), (count + 1, cell.count_high)]
    return [
        replace(
            cell,
            count_low=low,
            count_high=high,
            lux_per_lumen=greatest_factor(problem, cell.head, low, high),
            most=min(cell.most, most_within(problem, cell.head, low, high)),
        )
        for low, high in ranges
        if low <= high
    ]


def _cut(problem: Problem, cell: Cell, evaluation: Evaluation, light: Margin) -> list[Cell]:
    count = evaluation.choice.emitters
    if problem.heads.diffuser[cell.head] == NO_DIFFUSER:
        exact = open_factor(problem, cell.head, count)
        if exact < cell.lux_per_lumen * (1 - TOLERANCE / 10):
            return _by_number(problem, cell, count)
    return _cut_heat(problem, cell, evaluation, light)


def _dim(problem: Problem, cell: Cell, evaluation: Evaluation, bright: Margin) -> list[Cell]:
    """Cut a cell so that no part of it admits a build with too much light.

    The mirror of `_cut_heat`: the build would be dim enough on a board at `enough`, hotter than its own. In the part
    below the cut no board is as hot as that, and in the part above the build gives too little heat.
    """
    count = evaluation.choice.emitters
    if problem.heads.diffuser[cell.head] == NO_DIFFUSER:
        exact = most_by_number(problem, cell.head, count)
        if exact < cell.most * (1 - TOLERANCE / 10):
            return _by_number(problem, cell, count)
    board = cut = evaluation.board
    if evaluation.dimming < 0.0:
        enough = board + (bright.required / bright.achieved - 1.0) / evaluation.dimming
        cut = max(min(enough - CUT * (enough - board), enough - 1e-7), board)
    edge = max(min(heat_at(problem, cell.head, cut), cell.heat_high), evaluation.heat * (1.0 + SLIVER))
    warm = float(boards(problem, np.array([cell.head]), np.array([edge]))[0])
    if cell.top <= max(warm, cut) + 1e-6:
        return _tightened(cell)
    lower = replace(cell, heat_high=min(edge, cell.heat_high), top=warm + 1e-6, own=True)
    if edge >= cell.heat_high:
        return [lower]
    return [lower, replace(cell, heat_low=max(edge, cell.heat_low), board=max(warm, cell.board))]


def _tightened(cell: Cell) -> list[Cell]:
    if not cell.own:
        return [replace(cell, own=True)]
    # Exact already: what is left is the solver's tolerance. Ask for a hair more of this cell.
    return [replace(cell, tighten=max(4 * cell.tighten, 2 * TOLERANCE))]


def _cut_heat(problem: Problem, cell: Cell, evaluation: Evaluation, light: Margin) -> list[Cell]:
    """Cut a range of heat so that neither part admits the build.

    Its light would do on a board at `enough`, colder than its own. In the part above the cut the board is
    warmer than that already, and in the part below the build gives too much heat; so one cut also bars the
    builds that are like it, and a cut nearer to `enough` bars more of them.
    """
    board = evaluation.board
    cut = board
    if evaluation.warming < 0.0 < light.achieved:
        # All of the light changes in proportion, on whichever face it falls.
        warming = evaluation.warming * light.achieved / evaluation.lux
        enough = board + (light.required - light.achieved) / warming
        cut = max(enough + CUT * (board - enough), enough + 1e-7)
    if cut <= cell.board:
        return _tightened(cell)
    edge = min(heat_at(problem, cell.head, cut), evaluation.heat * (1.0 - SLIVER))
    warm = float(boards(problem, np.array([cell.head]), np.array([edge]))[0])
    upper = replace(cell, heat_low=max(edge, cell.heat_low), board=max(warm, cell.board), own=True)
    if upper == cell:
        # What it lacks is less than the strip that a cut leaves.
        return _tightened(cell)
    if edge <= cell.heat_low:
        return [upper]
    return [replace(cell, heat_high=edge, top=min(cell.top, warm + 1e-6)), upper]
