"""What the search knows as it goes: the lines that may still win, the best build, and how a candidate is judged."""

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from optimise.model.cells import Cell, Formulation, Tangent, first_cells
from optimise.model.choice import ChannelChoice, Choice, Evaluation, Weighed
from optimise.model.exact import evaluate
from optimise.model.heuristic import choice_of, lesser, value_of
from optimise.model.kept import Kept
from optimise.model.market import Market
from optimise.model.must import Must
from optimise.model.problem import Problem
from optimise.model.refinement import refine
from optimise.model.solver import Outcome, SolverError, Status
from optimise.parts import Catalogue
from optimise.scenario.model import Objective

ORDERS = {
    "cost": ("cost", "mass"),
    "mass": ("mass", "cost"),
    "power": ("power", "cost", "mass"),
}
"""What is made least, one after the other: ties of the first are broken by the next, then by part codes."""

GAPS = {"cost": 0.99, "mass": 0.99, "power": 1e-6}
"""How near the solver's bound must come, in cents, mg and W: no whole cent or milligram lies within it."""


def hair(scale: str, value: float) -> float:
    """Return by how much the solver's tolerances may blur a figure near `value`.

    A variable may be 1e-8 off a whole number, and rows with it. Cents and milligrams are whole; watts are not.
    """
    return 0.25 if scale != "power" else 1e-7 * value


def step(scale: str, value: float) -> float:
    """Return by how much a build must be better to be better at all."""
    return 0.75 if scale != "power" else 2.0 * hair(scale, value)


Progress = Callable[[str], None]


class TimeUpError(Exception):
    """The time limit has passed."""


@dataclass
class Line:
    """One kind of emitter that may still win: its columns, and the cells cut so far."""

    emitter: int
    problem: Problem
    kept: Kept
    cells: list[Cell] = field(default_factory=list)
    sifted: Mapping[str, float] | None = None
    """The caps within which its columns were sifted, at the prices of its market; left out: not known."""


@dataclass
class State:
    """One search on its way."""

    market: Market
    objective: Objective
    threads: int
    deadline: float | None
    progress: Progress
    solver: Any = None
    rounds: int = 0
    columns: int = 0
    kept_columns: int = 0
    best: Evaluation | None = None
    lows: dict[int, float] = field(default_factory=dict)
    """By emitter that is not settled yet: the least that the objective can come to."""
    low: float = 0.0
    """What the first of `order` comes to at least, by the parts alone."""
    lines: list[Line] = field(default_factory=list)
    tangents: list[Tangent] = field(default_factory=list)
    any_will_do: bool = False
    """Whether the first build that passes ends the search: it is asked only whether there is one."""
    within: Mapping[str, float] = field(default_factory=dict)
    """Caps that a build must keep to be the best one, beside the limits of the scenario."""
    order: tuple[str, ...] = ()
    """What is made least, one after the other; left out: the usual order of the objective."""
    settled: int = 0
    """How many of `order` are proven."""
    floor: float = -math.inf
    """What the first of `order` is known to come to at least."""
    problems: dict[int, Problem] | None = None
    """Where columns by emitter are kept for other searches on the same parts; left out: nowhere."""
    floors: dict[tuple[str, Any], float] | None = None
    """What goods come to at least at these prices, within the scenario's limits, on a scale and of an emitter, and the
    builds of a shop (`house`); left out: not known, and not kept."""
    reserve: Any = None
    """Columns that were looked up for other searches on the same parts (`reserve.Reserve`); left out: none are kept."""
    given: Sequence[Line] | None = None
    """Lines that were screened before, where all others are known to hold nothing; left out: every emitter."""
    admits: Callable[[Problem], np.ndarray] | None = None
    """The mask of heads that may be used at all; left out: every head."""
    must: Must | None = None
    """Parts of which a build is to use one, where no other can be better than the one known; left out: any."""
    wide: bool = False
    """Whether columns are looked up for their own sake: within the caps, not within the best build."""
    ties: bool = True
    """Whether builds that tie in all figures are told apart: not where a figure alone is asked for."""
    stays: Choice | None = None
    """A build that is not given up for one as good; left out: of those as good, one is taken by its parts."""
    seen: Callable[[Evaluation], None] = lambda found: None
    """Told of every build that passes."""

    def __post_init__(self) -> None:
        """Take the usual order where none is given."""
        self.order = self.order or ORDERS[self.objective]

    def seconds_left(self) -> float | None:
        """Return the seconds left, or None without a limit. Raises `TimeUpError` where none are."""
        return seconds_until(self.deadline)

    def solve(self, f: Formulation, gap: float) -> Outcome:
        """Solve one program and count it."""
        self.rounds += 1
        outcome = f.program.solve(gap, self.seconds_left(), self.threads, self.solver)
        if outcome.status is Status.FAILED:
            raise SolverError("the solver failed")
        return outcome

    def take(self, found: Evaluation | None) -> None:
        """Keep a build that passes if it is within the caps and better than the best one."""
        if found is not None:
            self.seen(found)
            if not keeps(found, self.within):
                return
        self.best = lesser(self.best, found, self.order[0])

    def at_floor(self) -> bool:
        """Whether the best build is as good by the first of `order` as any can be."""
        return self.best is not None and value_of(self.best, self.order[0]) <= self.floor


def seconds_until(deadline: float | None) -> float | None:
    """Return the seconds to a deadline (of time.monotonic), None without one. Raises `TimeUpError` where it is past."""
    if deadline is None:
        return None
    left = deadline - time.monotonic()
    if left <= 0.0:
        raise TimeUpError
    return left


def keeps(found: Weighed, caps: Mapping[str, float]) -> bool:
    """Whether a build is within caps, as far as the solver's tolerances can tell."""
    return all(value_of(found, name) <= cap + hair(name, abs(cap)) for name, cap in caps.items())


def preferred(one: Weighed, other: Weighed, order: Sequence[str]) -> int:
    """Return −1 where the first of two builds is the better one by an order of figures, 1 where it is the worse."""
    for scale in order:
        new, old = value_of(one, scale), value_of(other, scale)
        if abs(new - old) > hair(scale, old):
            return -1 if new < old else 1
    return 0


def better(evaluation: Evaluation, scale: str) -> float:
    """Return the figure that a better build than this one has at most."""
    value = value_of(evaluation, scale)
    return value - step(scale, value)


def proven_by(best: Evaluation, scale: str, outcome: Outcome, gap: float) -> bool:
    """Whether an outcome leaves no room for a better build than the best."""
    value = value_of(best, scale)
    # A build of a whole cent or milligram less is a better one, so that of these the gap alone may be left.
    room = max(gap, step(scale, value) + hair(scale, value)) if scale == "power" else gap
    return outcome.objective >= value - room


def judge(formulation: Formulation, outcome: Outcome, caps: Mapping[str, float]) -> tuple[Evaluation, bool]:
    """Return the exact figures of an outcome's build, and whether it passes within `caps`."""
    problem = formulation.problem
    index, supply, mount, numbers = formulation.read(outcome)
    choice = choice_of(problem, formulation.cells[index].head, supply, mount, numbers)
    candidate = evaluate(canonical(choice, problem.catalogue), problem.catalogue, problem.scenario)
    return candidate, candidate.passes and keeps(candidate, caps)


def refine_line(search: State, line: Line, formulation: Formulation, outcome: Outcome, candidate: Evaluation) -> None:
    """Cut what flattered a candidate: its light, or the loss in its lead."""
    index, supply, _, numbers = formulation.read(outcome)
    counted = formulation.value_of("power", outcome)
    line.cells, search.tangents = refine(
        formulation.problem,
        formulation.cells,
        search.tangents,
        index,
        supply,
        candidate,
        flattered_power=counted is not None and candidate.watts > counted + hair("power", counted),
        numbers=numbers,
    )


def cells_of(earlier: list[Cell], problem: Problem, kept: Kept) -> list[Cell]:
    """Return the cells of the kept heads: those cut in earlier rounds, and whole ones for the rest."""
    known: dict[int, list[Cell]] = {}
    for cell in earlier:
        known.setdefault(cell.head, []).append(cell)
    whole: dict[int, list[Cell]] = {}
    for cell in first_cells(problem, kept):
        whole.setdefault(cell.head, []).append(cell)
    return [
        replace(cut, board=max(cut.board, fresh.board), top=max(min(cut.top, fresh.top), cut.board, fresh.board))
        for head, cells in whole.items()
        for fresh in cells[:1]  # all of a head have the same boards
        for cut in known.get(head, cells)
    ]


def canonical(choice: Choice, catalogue: Catalogue) -> Choice:
    """Return a choice with the strings of equal constant-voltage drivers spread evenly over them.

    Such drivers share any number of strings in many ways that cost, weigh and draw the same; the even one
    is the one a builder wants.
    """
    constant = {driver.part for driver in catalogue.drivers if driver.output == "constant voltage"}
    groups: dict[tuple[str, int, float, str], list[ChannelChoice]] = {}
    channels: list[ChannelChoice] = []
    for channel in choice.channels:
        if channel.driver in constant:
            alike = channel.driver, channel.series, channel.current, channel.emitter
            groups.setdefault(alike, []).append(channel)
        else:
            channels.append(channel)
    for (driver, series, current, emitter), group in groups.items():
        drivers = sum(channel.number for channel in group)
        share, more = divmod(sum(channel.number * channel.parallel for channel in group), drivers)
        for parallel, number in ((share + 1, more), (share, drivers - more)):
            if number:
                channels.append(ChannelChoice(driver, series, parallel, current, number, emitter))
    return replace(choice, channels=tuple(sorted(channels)))
