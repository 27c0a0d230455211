"""The search: screen, solve, check exactly, refine, until the best build is proven."""

import math
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from optimise.model import screening
from optimise.model.choice import ChannelChoice, Choice, Evaluation
from optimise.model.dominance import drop_beaten
from optimise.model.exact import evaluate
from optimise.model.formulation import Cell, Formulation, Tangent, first_cells, formulate, rank_terms
from optimise.model.heuristic import choice_of, quick_build, value_of
from optimise.model.problem import Problem, build_problem
from optimise.model.refinement import refine
from optimise.model.screening import Kept
from optimise.model.solver import Outcome, Status
from optimise.model.weights import limits_of
from optimise.parts import Catalogue, Fuse
from optimise.scenario import Scenario
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
Ending = Literal["optimal", "feasible", "impossible", "stopped"]


@dataclass(frozen=True)
class Proof:
    """How far the answer is proven. Bound and gap are of the objective, in its shown unit."""

    bound: float | None
    gap: float | None
    rounds: int
    columns: int
    kept: int
    seconds: float


@dataclass(frozen=True)
class Result:
    """What the search came to: `optimal`, `feasible`, `impossible` or `stopped`."""

    status: Ending
    evaluation: Evaluation | None
    proof: Proof
    problem: Problem
    objective: Objective


class SolverError(RuntimeError):
    """The solver did not do its work."""


class TimeUpError(Exception):
    """The time limit has passed."""


@dataclass
class _Search:
    problem: Problem
    objective: Objective
    threads: int
    deadline: float | None
    progress: Progress
    rounds: int = 0
    kept_columns: int = 0
    best: Evaluation | None = None
    bound: float = -math.inf
    cells: list[Cell] = field(default_factory=list)
    tangents: list[Tangent] = field(default_factory=list)
    any_will_do: bool = False
    """Whether the first build that passes ends the search: it is asked only whether there is one."""
    narrowed: Problem | None = None
    kept: Kept | None = None

    def seconds_left(self) -> float | None:
        """Return the seconds left, or None without a limit. Raises `TimeUpError` where none are."""
        if self.deadline is None:
            return None
        left = self.deadline - time.monotonic()
        if left <= 0.0:
            raise TimeUpError
        return left

    def screened(self, caps: Mapping[str, float], *, keep: bool = True) -> tuple[Problem, Kept]:
        """Return the columns left within `caps`, with boards as warm and offers as few as they must be.

        With `keep`, what goes stays away for good: right where every later cap is at least as tight.
        """
        problem = self.narrowed or self.problem
        kept = screening.screen(problem, self.kept or screening.start(problem), caps)
        for _ in range(2):
            if kept.possible:
                kept = screening.warm_up(problem, drop_beaten(problem, kept))
                problem = screening.narrowed(problem, kept)
                kept = screening.screen(problem, kept, caps)
        if keep:
            self.narrowed, self.kept = problem, kept
        return problem, kept

    def solve(self, f: Formulation, gap: float, *, bounding: bool = False) -> Outcome:
        """Solve one program and count it; with `bounding`, its bound is one of the objective."""
        self.rounds += 1
        outcome = f.program.solve(gap, self.seconds_left(), self.threads)
        if outcome.status is Status.FAILED:
            raise SolverError("the solver failed")
        if bounding:
            self.bound = max(self.bound, outcome.bound)
        if outcome.status is Status.NOTHING:
            raise TimeUpError
        return outcome


def best_build(
    catalogue: Catalogue,
    scenario: Scenario,
    objective: Objective | None = None,
    *,
    time_limit: float | None = None,
    threads: int = 1,
    progress: Progress = lambda text: None,
) -> Result:
    """Return the best build of a scenario, proven, or why there is none.

    objective: cost, mass or power (default: the scenario's); time_limit in s (default: the scenario's).
    Raises RuntimeError where the solver fails or the model disagrees with the exact check in a way that
    refinement cannot mend: faults of this program, not of the input.
    """
    began = time.monotonic()
    aim = objective or scenario.search.objective
    # The objective decides which losses count, so the columns are built for the one in force.
    scenario = scenario.model_copy(update={"search": scenario.search.model_copy(update={"objective": aim})})
    limit = time_limit if time_limit is not None else scenario.search.time_limit
    progress("building columns")
    problem = build_problem(catalogue, scenario)
    search = _Search(problem, aim, threads, None if limit is None else began + limit, progress)
    status = _run(search)
    return _result(search, status, began)


def _result(search: _Search, status: Ending, began: float) -> Result:
    best, bound, gap = search.best, None, None
    scale = {"cost": 100.0, "mass": 1e6, "power": 1.0}[search.objective]
    if best is not None:
        value = value_of(best, search.objective)
        low = value if status == "optimal" else min(max(search.bound, 0.0), value)
        if search.objective == "power":
            low = min(low, value - step("power", value) - hair("power", value))
        bound = low / scale
        gap = 0.0 if value <= low else (value - low) / value
    proof = Proof(
        bound=bound,
        gap=gap,
        rounds=search.rounds,
        columns=search.problem.size,
        kept=search.kept_columns,
        seconds=time.monotonic() - began,
    )
    return Result(status, best, proof, search.problem, search.objective)


def _run(search: _Search) -> Ending:
    settled = limits_of(search.problem)
    if _unmounted(search.problem):
        return "impossible"
    search.progress("screening")
    problem, kept = search.screened(settled)
    if not kept.possible:
        return "impossible"
    search.best = quick_build(problem, kept, search.objective)
    proven = False
    try:
        for number, scale in enumerate(ORDERS[search.objective]):
            search.progress(f"making {scale} least")
            if not _make_least(search, scale, settled, first=number == 0):
                return "impossible"
            proven = True
            assert search.best is not None
            value = value_of(search.best, scale)
            settled[scale] = min(settled[scale], value + hair(scale, value))
        search.progress("breaking ties")
        _break_ties(search, settled)
        assert search.best is not None
        search.best = with_smallest_fuse(search.best, search.problem)
    except (TimeUpError, KeyboardInterrupt):
        # The objective may be proven already, with only ties left open.
        return "optimal" if proven else "stopped" if search.best is None else "feasible"
    return "optimal"


def _unmounted(problem: Problem) -> bool:
    """Whether a mount is asked for and none can be bought."""
    return problem.scenario.limits.mount and not problem.mounts


def _make_least(search: _Search, scale: str, settled: Mapping[str, float], *, first: bool) -> bool:
    """Make one figure least within what is settled; False where no build is left at all.

    Only builds that are *better* than the best one known are looked for: that there is none is the proof.
    """
    caps = dict(settled)
    if search.best is not None:
        caps[scale] = min(caps[scale], _better(search.best, scale))
    problem, kept = search.screened(caps, keep=False)
    if first:
        search.kept_columns = len(kept.channels) + len(kept.heads) + len(kept.supplies) + len(problem.mounts)
    if not kept.possible:
        return search.best is not None
    search.cells = _cells(search, problem, kept)
    while True:
        formulation = formulate(problem, kept, search.cells, search.tangents, caps, scale)
        gap = math.inf if search.any_will_do else GAPS[scale]
        outcome = search.solve(formulation, gap, bounding=first)
        if outcome.status is Status.IMPOSSIBLE:
            return search.best is not None
        candidate, accepted = _judge(search, formulation, outcome, caps)
        if accepted:
            search.best = candidate
            caps[scale] = min(caps[scale], _better(candidate, scale))
        if outcome.status is Status.FEASIBLE:
            raise TimeUpError
        if search.best is not None and _proven(search.best, scale, outcome, gap):
            return True
        _refine(search, formulation, outcome, candidate)


def _better(evaluation: Evaluation, scale: str) -> float:
    """Return the figure that a better build than this one has at most."""
    value = value_of(evaluation, scale)
    return value - step(scale, value)


def _proven(best: Evaluation, scale: str, outcome: Outcome, gap: float) -> bool:
    """Whether an outcome leaves no room for a better build than the best."""
    value = value_of(best, scale)
    return outcome.objective >= value - max(gap, step(scale, value) + hair(scale, value))


def _judge(
    search: _Search, formulation: Formulation, outcome: Outcome, caps: Mapping[str, float]
) -> tuple[Evaluation, bool]:
    """Return the exact figures of an outcome's build, and whether it passes within `caps`."""
    problem = formulation.problem
    index, supply, mount, numbers = formulation.read(outcome)
    choice = choice_of(problem, formulation.cells[index].head, supply, mount, numbers)
    candidate = evaluate(canonical(choice, problem.catalogue), problem.catalogue, problem.scenario)
    inside = all(value_of(candidate, name) <= cap + hair(name, abs(cap)) for name, cap in caps.items())
    return candidate, candidate.passes and inside


def _refine(search: _Search, formulation: Formulation, outcome: Outcome, candidate: Evaluation) -> None:
    """Cut what flattered a candidate: its light, or the loss in its lead."""
    index, supply, _, _ = formulation.read(outcome)
    counted = formulation.value_of("power", outcome)
    search.cells, search.tangents = refine(
        formulation.problem,
        formulation.cells,
        search.tangents,
        index,
        supply,
        candidate,
        flattered_power=counted is not None and candidate.watts > counted + hair("power", counted),
    )


def _cells(search: _Search, problem: Problem, kept: Kept) -> list[Cell]:
    """Return the cells of the kept heads: those cut in earlier rounds, and whole ones for the rest."""
    known: dict[int, list[Cell]] = {}
    for cell in search.cells:
        known.setdefault(cell.head, []).append(cell)
    fresh = first_cells(problem, kept)
    return [
        replace(cut, board=max(cut.board, whole.board)) for whole in fresh for cut in known.get(whole.head, [whole])
    ]


def _break_ties(search: _Search, settled: Mapping[str, float]) -> None:
    """Among builds that tie in all figures, take the one whose part codes come first."""
    problem, kept = search.screened(settled)
    if not kept.possible:
        return
    search.cells = _cells(search, problem, kept)
    for what in ("cells", "supplies", "mounts", "channels"):
        while True:
            formulation = formulate(problem, kept, search.cells, search.tangents, settled, {})
            ranks = rank_terms(formulation, what)
            if len(set(ranks.values())) <= 1:
                break
            formulation.program.minimise(ranks)
            outcome = search.solve(formulation, 1e-4)
            if outcome.status is not Status.OPTIMAL:
                return
            candidate, accepted = _judge(search, formulation, outcome, settled)
            if accepted:
                search.best = candidate
                index, supply, _, _ = formulation.read(outcome)
                kept = _fix(search, problem, kept, what, index, supply)
                break
            _refine(search, formulation, outcome, candidate)


def _fix(search: _Search, problem: Problem, kept: Kept, what: str, index: int, supply: int) -> Kept:
    """Keep only the head, or the supply, that came first."""
    if what == "cells":
        head = search.cells[index].head
        search.cells = [cell for cell in search.cells if cell.head == head]
        mine = problem.channels.emitter[kept.channels] == problem.heads.emitter[head]
        return kept.take(channels=mine)
    if what == "supplies":
        return kept.take(supplies=kept.supplies == supply)
    return kept


def with_smallest_fuse(best: Evaluation, problem: Problem) -> Evaluation:
    """Return a build with the smallest fuse that costs and weighs the same and still carries the load."""
    chosen = problem.catalogue.find(Fuse, best.choice.fuse)
    for fuse in sorted(problem.parts.fuses, key=lambda fuse: (fuse.rating, fuse.part)):
        if fuse.supply == chosen.supply and fuse.rating < chosen.rating:
            smaller = evaluate(replace(best.choice, fuse=fuse.part), problem.catalogue, problem.scenario)
            if smaller.passes and (smaller.cents, smaller.milligrams) == (best.cents, best.milligrams):
                return smaller
    return best


def canonical(choice: Choice, catalogue: Catalogue) -> Choice:
    """Return a choice with the strings of equal constant-voltage drivers spread evenly over them.

    Such drivers share any number of strings in many ways that cost, weigh and draw the same; the even one
    is the one a builder wants.
    """
    constant = {driver.part for driver in catalogue.drivers if driver.output == "constant voltage"}
    groups: dict[tuple[str, int, float], list[ChannelChoice]] = {}
    channels: list[ChannelChoice] = []
    for channel in choice.channels:
        if channel.driver in constant:
            groups.setdefault((channel.driver, channel.series, channel.current), []).append(channel)
        else:
            channels.append(channel)
    for (driver, series, current), group in groups.items():
        drivers = sum(channel.number for channel in group)
        share, more = divmod(sum(channel.number * channel.parallel for channel in group), drivers)
        for parallel, number in ((share + 1, more), (share, drivers - more)):
            if number:
                channels.append(ChannelChoice(driver, series, parallel, current, number))
    return replace(choice, channels=tuple(sorted(channels)))


def possible(catalogue: Catalogue, scenario: Scenario, deadline: float | None = None) -> bool:
    """Whether any build passes the exact check. Raises `TimeUpError` past `deadline` (of time.monotonic)."""
    scenario = scenario.model_copy(update={"search": scenario.search.model_copy(update={"objective": "cost"})})
    search = _Search(build_problem(catalogue, scenario), "cost", 1, deadline, lambda text: None, any_will_do=True)
    search.seconds_left()
    settled = limits_of(search.problem)
    problem, kept = search.screened(settled)
    if not kept.possible or _unmounted(problem):
        return False
    return quick_build(problem, kept, "cost") is not None or _make_least(search, "cost", settled, first=True)
