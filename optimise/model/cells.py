"""What a program is made of: cells, tangents, and the numbers of its variables."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from optimise.model.aimed import factor_within, most_within
from optimise.model.even import even_ranges
from optimise.model.kept import Kept
from optimise.model.light import hardest, heat_at
from optimise.model.problem import Problem
from optimise.model.solver import Outcome, Program


@dataclass(frozen=True)
class Cell:
    """A head within ranges of heat and of number of emitters."""

    head: int
    board: float
    """Lowest board temperature in the range, °C."""
    top: float
    """Highest board temperature in the range, °C."""
    lux_per_lumen: float
    """As it is counted (`light.hardest`): the greatest in the range."""
    heat_low: float
    heat_high: float
    count_low: int
    count_high: int
    own: bool = False
    """Whether a row of its own states the light at its own temperature exactly."""
    tighten: float = 0.0
    """Relative raise of its own row, against the solver's tolerance."""
    most: float = np.inf
    """Most lumens that it may give, by the greatest in the range."""
    share_low: float = 0.0
    share_high: float = 1.0
    """Of a mixture: the share of the light that the second kind gives."""
    exact_share: bool = False
    """Whether its range of board temperature is as narrow as shares ask for."""


@dataclass(frozen=True)
class Tangent:
    """A line under the loss of one supply's lead, touching it at a load of `load` VA."""

    supply: int
    load: float


@dataclass
class Formulation:
    """A program with the numbers of its variables."""

    problem: Problem
    kept: Kept
    cells: Sequence[Cell]
    program: Program = field(default_factory=Program)
    cell_vars: list[int] = field(default_factory=list)
    channel_vars: list[int] = field(default_factory=list)
    supply_vars: list[int] = field(default_factory=list)
    mount_vars: list[int] = field(default_factory=list)
    scales: dict[str, dict[int, float]] = field(default_factory=dict)
    """Terms of cost, mass and power."""

    def value_of(self, scale: str, outcome: Outcome) -> float | None:
        """Return what an outcome weighs on a scale by the model's own count, None where it is not counted."""
        if scale not in self.scales:
            return None
        return sum(weight * self.program.value(outcome, v) for v, weight in self.scales[scale].items())

    def read(self, outcome: Outcome) -> tuple[int, int, int | None, list[tuple[int, int]]]:
        """Return (cell, supply, mount, [(channel, number)]) of an outcome as indices into the problem.

        The cell is an index into `cells`.
        """

        def picked(variables: Sequence[int]) -> int:
            values = [self.program.value(outcome, v) for v in variables]
            return int(np.argmax(values))

        numbers = [round(self.program.value(outcome, v)) for v in self.channel_vars]
        channels = [(int(c), n) for c, n in zip(self.kept.channels, numbers, strict=True) if n > 0]
        mount = picked(self.mount_vars) if self.mount_vars else None
        return picked(self.cell_vars), int(self.kept.supplies[picked(self.supply_vars)]), mount, channels


def first_cells(problem: Problem, kept: Kept) -> list[Cell]:
    """Return a cell for each kept head and run of numbers that it may have, over all heats; at least one for each."""
    heads = problem.heads
    return [
        Cell(
            head=int(h),
            board=float(board),
            top=float(top),
            lux_per_lumen=factor_within(problem, int(h), low, high, float(light)),
            heat_low=0.0,
            heat_high=min(float(heads.heat_max[h]), heat_at(problem, int(h), float(top)) * (1 + 1e-9)),
            count_low=low,
            count_high=high,
            most=most_within(problem, int(h), low, high),
            share_low=share_low,
            share_high=share_high,
        )
        for h, light, board, top, fewest in zip(
            kept.heads, hardest(problem, kept.heads), kept.board, kept.top, kept.fewest, strict=True
        )
        for low, high in _ranges(problem, int(h), int(fewest))
        for share_low, share_high in (((0.0, 1.0),) if problem.mix is None else problem.mix.shares)
    ]


def _ranges(problem: Problem, head: int, fewest: int) -> list[tuple[int, int]]:
    return [(max(low, fewest), high) for low, high in even_ranges(problem, head) if fewest <= high] or [(0, 0)]
