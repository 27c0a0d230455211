"""Making the model exact where it flattered a build: cutting cells, adding tangents."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from optimise.columns.heads import NO_DIFFUSER, usable_size
from optimise.model.choice import TOLERANCE, Evaluation
from optimise.model.exact import margin_of
from optimise.model.formulation import Cell, Tangent
from optimise.model.problem import Problem
from optimise.model.screening import boards
from optimise.physics.beams import beam_exponent, grid_factor

SLIVER = 1e-8
"""Relative width of the strip below a heat at which a range is cut: the build that failed falls outside."""


class CannotRefineError(RuntimeError):
    """The exact check refuses a build for a reason that the model should have known: a fault of ours."""


def open_factor(problem: Problem, head: int, count: int) -> float:
    """Return the lux per lumen of an open head with `count` emitters at their places."""
    heads = problem.heads
    panel = problem.parts.panels[heads.panel[head]]
    width, height = usable_size(panel)
    beam = problem.parts.emitters[heads.emitter[head]].beam
    columns, rows = int(heads.columns[head]), int(heads.rows[head])
    return _factor(count, columns, rows, width, height, problem.scenario.light.distance, beam)


@lru_cache(maxsize=100_000)
def _factor(
    count: int, columns: int, rows: int, width: float, height: float, distance: float, beam: float
) -> float:
    return grid_factor(count, columns, rows, width, height, distance, float(beam_exponent(beam)))


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
    if light is not None and not light.holds:
        cells[index : index + 1] = _cut(problem, cells[index], evaluation)
        changed = True
    if not changed:
        failed = [m.name for m in evaluation.margins if not m.holds] + list(evaluation.missing)
        raise CannotRefineError(f"the exact check refuses a build for: {', '.join(failed) or 'its power'}")
    return cells, tangents


def _cut(problem: Problem, cell: Cell, evaluation: Evaluation) -> list[Cell]:
    count, heat = evaluation.choice.emitters, evaluation.heat
    if problem.heads.diffuser[cell.head] == NO_DIFFUSER:
        exact = open_factor(problem, cell.head, count)
        if exact < cell.lux_per_lumen * (1 - TOLERANCE / 10):
            ranges = [(cell.count_low, count - 1), (count, count), (count + 1, cell.count_high)]
            return [
                replace(
                    cell, count_low=low, count_high=high, lux_per_lumen=_greatest(problem, cell.head, low, high)
                )
                for low, high in ranges
                if low <= high
            ]
    edge = heat * (1.0 - SLIVER)
    board = float(boards(problem, np.array([cell.head]), np.array([edge]))[0])
    if not cell.own or board > cell.board + 1e-7:
        upper = replace(cell, heat_low=max(edge, cell.heat_low), board=max(board, cell.board), own=True)
        if edge <= cell.heat_low:
            return [upper]
        return [replace(cell, heat_high=edge), upper]
    # Exact already: what is left is the solver's tolerance. Ask for a hair more of this cell.
    return [replace(cell, tighten=max(4 * cell.tighten, 2 * TOLERANCE))]
