"""Making the model exact where it flattered a build: cutting cells, adding tangents."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from optimise.columns.heads import NO_DIFFUSER, forward_shares, usable_size
from optimise.model.cells import Cell, Tangent
from optimise.model.choice import TOLERANCE, Evaluation, Margin
from optimise.model.even import uneven
from optimise.model.exact import margin_of
from optimise.model.light import boards, heat_at
from optimise.model.limits import lies
from optimise.model.problem import Problem
from optimise.parts import Emitter, Panel
from optimise.physics.distributions import bare_beam, grid_lux

SLIVER = 1e-8
"""Relative width of the strip below a heat at which a range is cut: the build that failed falls outside."""


CUT = 0.1
"""Where a range of board temperature is cut, between that at which a build would do (0) and its own (1)."""


NEIGHBOURS = 100
"""Numbers of emitters below and above an uneven one that are looked at with it."""


class CannotRefineError(RuntimeError):
    """The exact check refuses a build for a reason that the model should have known: a fault of ours."""


def open_factor(problem: Problem, head: int, count: int) -> float:
    """Return the lux per lumen of an open head with `count` emitters at their places."""
    heads = problem.heads
    return _factor(
        problem.parts.emitters[heads.emitter[head]],
        problem.parts.panels[heads.panel[head]],
        int(heads.columns[head]),
        int(heads.rows[head]),
        count,
        problem.scenario.light.distance,
    )


@lru_cache(maxsize=100_000)
def _factor(emitter: Emitter, panel: Panel, columns: int, rows: int, count: int, distance: float) -> float:
    width, height = usable_size(panel)
    beam, lying = bare_beam(emitter.beam, emitter.photometric), lies(emitter, panel)
    places = grid_lux(beam, count, columns, rows, width, height, distance, emitter.length, lying)
    return places * float(forward_shares([emitter], [panel])[0, 0])


def _greatest(problem: Problem, head: int, low: int, high: int) -> float:
    return max(open_factor(problem, head, count) for count in range(low, high + 1))


def refine(
    problem: Problem,
    cells: Sequence[Cell],
    tangents: Sequence[Tangent],
    index: int,
    supply: int,
    evaluation: Evaluation,
    flattered_power: bool,
) -> tuple[list[Cell], list[Tangent]]:
    """Return cells and tangents after cutting what flattered the build of `evaluation`.

    index: its cell; flattered_power: whether the power counted was less than the true one.
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
    light = margin_of(evaluation, "illuminance")
    if uneven(problem, cells[index].head, evaluation.choice.emitters):
        cells[index : index + 1] = _without_uneven(problem, cells[index], evaluation.choice.emitters)
        changed = True
    elif light is not None and not light.holds:
        cells[index : index + 1] = _cut(problem, cells[index], evaluation, light)
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


def _cut(problem: Problem, cell: Cell, evaluation: Evaluation, light: Margin) -> list[Cell]:
    count = evaluation.choice.emitters
    if problem.heads.diffuser[cell.head] == NO_DIFFUSER:
        exact = open_factor(problem, cell.head, count)
        if exact < cell.lux_per_lumen * (1 - TOLERANCE / 10):
            ranges = [(cell.count_low, count - 1), (count, count), (count + 1, cell.count_high)]
            return [
                replace(
                    cell,
                    count_low=low,
                    count_high=high,
                    lux_per_lumen=_greatest(problem, cell.head, low, high),
                )
                for low, high in ranges
                if low <= high
            ]
    return _cut_heat(problem, cell, evaluation, light)


def _cut_heat(problem: Problem, cell: Cell, evaluation: Evaluation, light: Margin) -> list[Cell]:
    """Cut a range of heat so that neither part admits the build.

    Its light would do on a board at `enough`, colder than its own. In the part above the cut the board is
    warmer than that already, and in the part below the build gives too much heat; so one cut also bars the
    builds that are like it, and a cut nearer to `enough` bars more of them.
    """
    board = evaluation.board
    cut = board
    if evaluation.warming < 0.0:
        enough = board + (light.required - light.achieved) / evaluation.warming
        cut = max(enough + CUT * (board - enough), enough + 1e-7)
    if cut <= cell.board:
        if not cell.own:
            return [replace(cell, own=True)]
        # Exact already: what is left is the solver's tolerance. Ask for a hair more of this cell.
        return [replace(cell, tighten=max(4 * cell.tighten, 2 * TOLERANCE))]
    edge = min(heat_at(problem, cell.head, cut), evaluation.heat * (1.0 - SLIVER))
    warm = float(boards(problem, np.array([cell.head]), np.array([edge]))[0])
    upper = replace(cell, heat_low=max(edge, cell.heat_low), board=max(warm, cell.board), own=True)
    if edge <= cell.heat_low:
        return [upper]
    return [replace(cell, heat_high=edge, top=min(cell.top, warm + 1e-6)), upper]
