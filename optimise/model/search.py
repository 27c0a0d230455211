"""The search: screen, solve, check exactly, refine, until the best build is proven.

A light has one kind of emitter, so the search goes from emitter to emitter, the most promising first, and what the
last ones came to bounds the next.
"""

import math
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from optimise.model.choice import ChannelChoice, Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.formulation import Cell, Formulation, Tangent, first_cells, formulate, rank_terms
from optimise.model.heuristic import choice_of, quick_build, value_of
from optimise.model.kept import Kept, everything
from optimise.model.mixing import mixed_build
from optimise.model.problem import Market, Problem, build_market, problem_of
from optimise.model.refinement import refine
from optimise.model.screening import screened, sifted
from optimise.model.shortlist import least_by_emitter
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
    market: Market
    objective: Objective


class SolverError(RuntimeError):
    """The solver did not do its work."""


class TimeUpError(Exception):
    """The time limit has passed."""


@dataclass
class Line:
    """One kind of emitter that may still win: its columns, and the cells cut so far."""

    emitter: int
    problem: Problem
    kept: Kept
    cells: list[Cell] = field(default_factory=list)


@dataclass
class _Search:
    market: Market
    objective: Objective
    threads: int
    deadline: float | None
    progress: Progress
    rounds: int = 0
    columns: int = 0
    kept_columns: int = 0
    best: Evaluation | None = None
    lows: dict[int, float] = field(default_factory=dict)
    """By emitter that is not settled yet: the least that the objective can come to."""
    lines: list[Line] = field(default_factory=list)
    tangents: list[Tangent] = field(default_factory=list)
    any_will_do: bool = False
    """Whether the first build that passes ends the search: it is asked only whether there is one."""

    def seconds_left(self) -> float | None:
        """Return the seconds left, or None without a limit. Raises `TimeUpError` where none are."""
        if self.deadline is None:
            return None
        left = self.deadline - time.monotonic()
        if left <= 0.0:
            raise TimeUpError
        return left

    def solve(self, f: Formulation, gap: float) -> Outcome:
        """Solve one program and count it."""
        self.rounds += 1
        outcome = f.program.solve(gap, self.seconds_left(), self.threads)
        if outcome.status is Status.FAILED:
            raise SolverError("the solver failed")
        return outcome

    def take(self, found: Evaluation | None) -> None:
        """Keep a build that passes if it is better than the best one."""
        if found is not None and (
            self.best is None or value_of(found, self.objective) < value_of(self.best, self.objective)
        ):
            self.best = found


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
    market = build_market(catalogue, scenario)
    search = _Search(market, aim, threads, None if limit is None else began + limit, progress)
    status = _run(search)
    return _result(search, status, began)


def _result(search: _Search, status: Ending, began: float) -> Result:
    best, bound, gap = search.best, None, None
    scale = {"cost": 100.0, "mass": 1e6, "power": 1.0}[search.objective]
    if best is not None:
        value = value_of(best, search.objective)
        open_ = min(search.lows.values(), default=math.inf)
        low = value if status == "optimal" else min(max(open_, 0.0), value)
        if search.objective == "power":
            low = min(low, value - step("power", value) - hair("power", value))
        bound = low / scale
        gap = 0.0 if value <= low else (value - low) / value
    proof = Proof(
        bound=bound,
        gap=gap,
        rounds=search.rounds,
        columns=search.columns + len(search.market.supplies) + len(search.market.mounts),
        kept=search.kept_columns,
        seconds=time.monotonic() - began,
    )
    return Result(status, best, proof, search.market, search.objective)


def _run(search: _Search) -> Ending:
    settled = limits_of(search.market.scenario)
    if _unmounted(search.market):
        return "impossible"
    proven = False
    try:
        search.progress("screening")
        _line_up(search, settled)
        for number, scale in enumerate(ORDERS[search.objective]):
            search.progress(f"making {scale} least")
            _make_least(search, scale, settled, first=number == 0)
            if search.best is None:
                return "impossible"
            proven = True
            value = value_of(search.best, scale)
            settled[scale] = min(settled[scale], value + hair(scale, value))
        search.progress("breaking ties")
        _break_ties(search, settled)
        search.best = with_smallest_fuse(search.best, search.market)
    except (TimeUpError, KeyboardInterrupt):
        # The objective may be proven already, with only ties left open.
        return "optimal" if proven else "stopped" if search.best is None else "feasible"
    return "optimal"


def _unmounted(market: Market) -> bool:
    """Whether a mount is asked for and none can be bought."""
    return market.scenario.limits.mount and not market.mounts


def _line_up(search: _Search, settled: Mapping[str, float]) -> None:
    """Build and screen the columns of every emitter that may win, the most promising first."""
    market = search.market
    least = least_by_emitter(market, settled, search.objective)
    order = [int(e) for e in np.argsort(least, kind="stable") if np.isfinite(least[e])]
    search.lows = {e: float(least[e]) for e in order}
    for emitter in order:
        caps = _no_worse(search, settled)
        if least[emitter] > caps[search.objective]:
            break
        search.seconds_left()
        problem = problem_of(market, np.array([emitter]))
        search.columns += problem.size
        line = Line(emitter, problem, everything(problem))
        line.problem, line.kept = sifted(problem, everything(problem), caps, search.objective)
        if line.kept.possible:
            search.lines.append(line)
            search.take(quick_build(line.problem, line.kept, search.objective))
            if search.any_will_do and search.best is not None:
                return
        else:
            del search.lows[emitter]


def _no_worse(search: _Search, settled: Mapping[str, float]) -> dict[str, float]:
    """Return the caps of builds that are no worse than the best one known."""
    caps = dict(settled)
    if search.best is not None:
        value = value_of(search.best, search.objective)
        caps[search.objective] = min(caps[search.objective], value + hair(search.objective, value))
    return caps


def _make_least(search: _Search, scale: str, settled: Mapping[str, float], *, first: bool) -> None:
    """Make one figure least within what is settled, over all lines.

    Only builds that are *better* than the best one known are looked for: that there is none is the proof.
    """
    if first:
        _improve(search, settled)
    for line in search.lines:
        if search.any_will_do and search.best is not None:
            return
        if first:
            # What ties with the best is left for the next figures, what is worse goes for good.
            line.problem, line.kept = screened(line.problem, line.kept, _no_worse(search, settled), [scale])
        if line.kept.possible:
            _make_line_least(search, line, scale, settled, first=first)
        search.lows.pop(line.emitter, None)
    search.lines = [line for line in search.lines if line.kept.possible]
    if first:
        search.lows.clear()


def _improve(search: _Search, settled: Mapping[str, float]) -> None:
    """Look for better builds of several kinds of channel on the lines that may still win."""
    for line in search.lines:
        if search.any_will_do and search.best is not None:
            return
        search.seconds_left()
        line.problem, line.kept = sifted(line.problem, line.kept, _no_worse(search, settled), search.objective)
        search.take(mixed_build(line.problem, line.kept, search.objective))


def _make_line_least(search: _Search, line: Line, scale: str, settled: Mapping[str, float], *, first: bool) -> None:
    caps = dict(settled)
    if search.best is not None:
        caps[scale] = min(caps[scale], _better(search.best, scale))
    problem, kept = line.problem, line.kept
    if first:
        search.kept_columns += kept.size
    else:
        problem, kept = screened(problem, kept, caps, _tight(search, scale))
    if not kept.possible:
        return
    line.cells = _cells(line.cells, problem, kept)
    while True:
        formulation = formulate(problem, kept, line.cells, search.tangents, caps, scale)
        gap = math.inf if search.any_will_do else GAPS[scale]
        outcome = search.solve(formulation, gap)
        if first:
            search.lows[line.emitter] = max(search.lows[line.emitter], outcome.bound)
        if outcome.status is Status.IMPOSSIBLE:
            return
        if outcome.status is Status.NOTHING:
            raise TimeUpError
        candidate, accepted = _judge(formulation, outcome, caps)
        if accepted:
            search.best = candidate
            caps[scale] = min(caps[scale], _better(candidate, scale))
        if outcome.status is Status.FEASIBLE:
            raise TimeUpError
        if search.best is not None and _proven(search.best, scale, outcome, gap):
            return
        _refine(search, line, formulation, outcome, candidate)


def _tight(search: _Search, scale: str) -> list[str]:
    """Return a scale and those settled before it."""
    order = ORDERS[search.objective]
    return [scale, *order[: order.index(scale)]]


def _better(evaluation: Evaluation, scale: str) -> float:
    """Return the figure that a better build than this one has at most."""
    value = value_of(evaluation, scale)
    return value - step(scale, value)


def _proven(best: Evaluation, scale: str, outcome: Outcome, gap: float) -> bool:
    """Whether an outcome leaves no room for a better build than the best."""
    value = value_of(best, scale)
    return outcome.objective >= value - max(gap, step(scale, value) + hair(scale, value))


def _judge(formulation: Formulation, outcome: Outcome, caps: Mapping[str, float]) -> tuple[Evaluation, bool]:
    """Return the exact figures of an outcome's build, and whether it passes within `caps`."""
    problem = formulation.problem
    index, supply, mount, numbers = formulation.read(outcome)
    choice = choice_of(problem, formulation.cells[index].head, supply, mount, numbers)
    candidate = evaluate(canonical(choice, problem.catalogue), problem.catalogue, problem.scenario)
    inside = all(value_of(candidate, name) <= cap + hair(name, abs(cap)) for name, cap in caps.items())
    return candidate, candidate.passes and inside


def _refine(search: _Search, line: Line, formulation: Formulation, outcome: Outcome, candidate: Evaluation) -> None:
    """Cut what flattered a candidate: its light, or the loss in its lead."""
    index, supply, _, _ = formulation.read(outcome)
    counted = formulation.value_of("power", outcome)
    line.cells, search.tangents = refine(
        formulation.problem,
        formulation.cells,
        search.tangents,
        index,
        supply,
        candidate,
        flattered_power=counted is not None and candidate.watts > counted + hair("power", counted),
    )


def _cells(earlier: list[Cell], problem: Problem, kept: Kept) -> list[Cell]:
    """Return the cells of the kept heads: those cut in earlier rounds, and whole ones for the rest."""
    known: dict[int, list[Cell]] = {}
    for cell in earlier:
        known.setdefault(cell.head, []).append(cell)
    fresh = first_cells(problem, kept)
    return [
        replace(cut, board=max(cut.board, whole.board), top=max(min(cut.top, whole.top), cut.board, whole.board))
        for whole in fresh
        for cut in known.get(whole.head, [whole])
    ]


def _break_ties(search: _Search, settled: Mapping[str, float]) -> None:
    """Among builds that tie in all figures, take the one whose part codes come first."""
    for line in sorted(search.lines, key=lambda line: line.emitter):
        line.problem, line.kept = screened(line.problem, line.kept, settled, ORDERS[search.objective])
        if line.kept.possible:
            line.cells = _cells(line.cells, line.problem, line.kept)
            if _first_by(search, line, "cells", settled):
                for what in ("supplies", "mounts", "channels"):
                    _first_by(search, line, what, settled)
                return


def _first_by(search: _Search, line: Line, what: str, settled: Mapping[str, float]) -> bool:
    """Keep the first cell, supply, mount or channels that a build of this line can have; False where it has none."""
    while True:
        formulation = formulate(line.problem, line.kept, line.cells, search.tangents, settled, {})
        ranks = rank_terms(formulation, what)
        if what != "cells" and len(set(ranks.values())) <= 1:
            return True
        formulation.program.minimise(ranks)
        outcome = search.solve(formulation, 1e-4)
        if outcome.status is not Status.OPTIMAL:
            return False
        candidate, accepted = _judge(formulation, outcome, settled)
        if accepted:
            search.best = candidate
            index, supply, _, _ = formulation.read(outcome)
            _fix(line, what, index, supply)
            return True
        _refine(search, line, formulation, outcome, candidate)


def _fix(line: Line, what: str, index: int, supply: int) -> None:
    """Keep only the head, or the supply, that came first."""
    if what == "cells":
        head = line.cells[index].head
        line.cells = [cell for cell in line.cells if cell.head == head]
    if what == "supplies":
        line.kept = line.kept.take(supplies=line.kept.supplies == supply)


def with_smallest_fuse(best: Evaluation, market: Market) -> Evaluation:
    """Return a build with the smallest fuse that costs and weighs the same and still carries the load."""
    chosen = market.catalogue.find(Fuse, best.choice.fuse)
    for fuse in sorted(market.parts.fuses, key=lambda fuse: (fuse.rating, fuse.part)):
        if fuse.supply == chosen.supply and fuse.rating < chosen.rating:
            smaller = evaluate(replace(best.choice, fuse=fuse.part), market.catalogue, market.scenario)
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
    search = _Search(build_market(catalogue, scenario), "cost", 1, deadline, lambda text: None, any_will_do=True)
    search.seconds_left()
    settled = limits_of(scenario)
    if _unmounted(search.market):
        return False
    _line_up(search, settled)
    if search.best is None:
        _make_least(search, "cost", settled, first=True)
    return search.best is not None
