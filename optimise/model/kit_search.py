"""The best kit: each light bounded by itself, then one program for all of them, checked exactly and refined.

A light alone, at prices that are never more than its share of a kit's, gives a bound on that share. What the best kit
known leaves over the bounds of the others is all that a light may come to: few of its columns are left by that.
"""

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from optimise.model import goods
from optimise.model.choice import Choice
from optimise.model.formulation import rank_terms
from optimise.model.heuristic import choice_of, value_of
from optimise.model.kit import KitEvaluation, evaluate_kit, sharing
from optimise.model.kit_prices import at_least, for_bounds, usable_offers
from optimise.model.kit_program import Block, KitProgram, Terms, kit_program
from optimise.model.problem import Market, build_market
from optimise.model.refinement import CannotRefineError
from optimise.model.screening import screened
from optimise.model.search import Ending, Proof
from optimise.model.solver import Outcome, Status
from optimise.model.state import (
    GAPS,
    ORDERS,
    Line,
    Progress,
    SolverError,
    State,
    TimeUpError,
    canonical,
    cells_of,
    hair,
    refine_line,
    step,
)
from optimise.model.weights import SCALES, limits_of
from optimise.parts import Catalogue, Fuse, Supplier
from optimise.parts.basket import charges
from optimise.parts.buying import OWN
from optimise.scenario import Scenario
from optimise.scenario.model import Objective
from optimise.scenario.terms import as_paid

MANY = 2500
"""Columns of all lights above which a better kit is first looked for among fewer."""

NARROW = (0.02, 0.1, 0.3, 1.0)
"""Shares over its bound that each light may come to while no kit is known, tried in turn."""


@dataclass(frozen=True)
class KitResult:
    """What the search for a kit came to."""

    status: Ending
    evaluation: KitEvaluation | None
    proof: Proof
    catalogue: Catalogue
    """At what is paid."""
    scenario: Scenario
    objective: Objective
    alone: str | None = None
    """The light that cannot even be built alone, where that is why there is no kit."""


@dataclass
class _Light:
    """One entry of the kit on its way."""

    market: Market
    """At the prices of bounds; a part gives way only as it may in a kit."""
    count: int
    lows: dict[str, float]
    """What one of it comes to at least, by scale."""
    start: Choice | None = None
    problems: dict[int, Any] = field(default_factory=dict)
    tangents: list[Any] = field(default_factory=list)
    lines: dict[int, Line] = field(default_factory=dict)


class _Search:
    """The search for one kit."""

    def __init__(
        self,
        catalogue: Catalogue,
        scenario: Scenario,
        objective: Objective,
        deadline: float | None,
        threads: int,
        progress: Progress,
        solver: Any,
    ) -> None:
        self.catalogue, self.scenario, self.objective = catalogue, scenario, objective
        self.deadline, self.threads, self.progress, self.solver = deadline, threads, progress, solver
        self.caps = limits_of(scenario)
        self.power_counts = objective == "power" or math.isfinite(self.caps["power"]) or any(sharing(scenario))
        self.offers = usable_offers(catalogue, scenario)
        selling = {offer.supplier for rows in self.offers.values() for offer in rows} - {OWN}
        known = {supplier.supplier: supplier for supplier in catalogue.suppliers}
        sellers = [known.get(name, Supplier(supplier=name)) for name in sorted(selling)]
        all_count = scenario.limits.suppliers_max is not None
        self.terms = Terms(scenario, self.offers, [s for s in sellers if all_count or charges([s])])
        self.lights: list[_Light] = []
        self.best: KitEvaluation | None = None
        self.rounds = self.columns = self.kept = self.settled = 0
        self.alone: str | None = None

    def run(self) -> None:
        """Leave the best kit in `best`, or None where there is none."""
        for entry in self.scenario.kit:
            self.progress(f"looking at {entry.name} alone")
            light = self._alone(entry)
            if light is None:
                self.alone = entry.name
                return
            self.lights.append(light)
        if any(self._share(light, scale, self.caps) is None for light in self.lights for scale in SCALES):
            return
        starts = [light.start for light in self.lights]
        self._take(evaluate_kit([s for s in starts if s is not None], self.catalogue, self.scenario))
        caps = dict(self.caps)
        for scale in ORDERS[self.objective]:
            self.progress(f"making {scale} least")
            self._make_least(scale, caps)
            if self.best is None:
                return
            self.settled += 1
            value = value_of_kit(self.best, scale)
            caps[scale] = min(caps[scale], value + hair(scale, value))
        self.progress("breaking ties")
        self._break_ties(caps)

    def _alone(self, entry: Any) -> _Light | None:
        """Return a light with what it comes to at least by itself; None where it cannot be built."""
        prices = at_least(self.catalogue, self.offers, self.scenario, entry)
        job = for_bounds(self.scenario, entry, power_counts=self.power_counts)
        market = build_market(prices, job)
        own = {scale: min(limits_of(job)[scale], self.caps[scale] / entry.count) for scale in SCALES}
        light = _Light(build_market(prices, job, self.offers), entry.count, dict.fromkeys(SCALES, 0.0))
        wanted = [scale for scale in SCALES if math.isfinite(self.caps[scale])]
        problems: dict[int, Any] = {}
        for scale in (self.objective, *(scale for scale in wanted if scale != self.objective)):
            state = State(
                market, scale, self.threads, self.deadline, lambda text: None, self.solver, order=(scale,),  # type: ignore[arg-type]
                problems=problems,
            )  # fmt: skip
            goods.run(state, own)
            self.rounds += state.rounds
            self.columns += state.columns if scale == self.objective else 0
            if state.best is None:
                return None
            light.lows[scale] = lowest(scale, value_of(state.best, scale))
            light.start = light.start or state.best.choice
        return light

    def _share(self, light: _Light, scale: str, caps: Mapping[str, float]) -> float | None:
        """Return the most that one of a light may come to within caps of the kit; None where that is not enough."""
        others = sum(other.count * other.lows[scale] for other in self.lights if other is not light)
        share = (caps[scale] - others) / light.count
        return None if share < light.lows[scale] else share

    def _take(self, found: KitEvaluation) -> None:
        if found.passes and (self.best is None or preferred_kit(found, self.best, ORDERS[self.objective])):
            self.best = found

    def _within(self, scale: str, caps: Mapping[str, float]) -> dict[str, float]:
        """Return the caps of kits that are no worse than the best one known."""
        within = dict(caps)
        if self.best is not None:
            value = value_of_kit(self.best, scale)
            within[scale] = min(within[scale], value + hair(scale, value))
        return within

    def _make_least(self, scale: str, caps: Mapping[str, float]) -> None:
        if self.best is None:
            for share in NARROW:
                if self._narrowed(scale, caps, share) and self.best is not None:
                    break
        while self.best is not None:
            lights = self._states(scale, self._within(scale, caps))
            if lights is None:
                return
            if sum(line.kept.size for state in lights for line in state.lines) <= MANY:
                break
            before = value_of_kit(self.best, scale)
            lows = sum(light.count * light.lows[scale] for light in self.lights)
            if before <= lows or not self._narrowed(scale, caps, 0.3 * (before - lows) / max(lows, 1.0)):
                break
            if value_of_kit(self.best, scale) > before - step(scale, before):
                break
        lights = self._states(scale, self._within(scale, caps))
        if lights is not None:
            self._solve_all(lights, scale, caps)

    def _narrowed(self, scale: str, caps: Mapping[str, float], share: float) -> bool:
        """Look for a better kit where each light stays within a share over its bound; whether there is any column."""
        narrow = self._within(scale, caps)
        tight = {id(light): light.lows[scale] * (1.0 + share) + 1.0 for light in self.lights}
        lights = self._states(scale, narrow, tight)
        if lights is None:
            return False
        self._solve_all(lights, scale, caps)
        return True

    def _states(
        self, scale: str, caps: Mapping[str, float], tight: Mapping[int, float] | None = None
    ) -> list[State] | None:
        """Return each light with the columns that it may have in a kit within caps; None where one has none."""
        states: list[State] = []
        for light in self.lights:
            shares = {name: self._share(light, name, caps) for name in SCALES}
            if any(share is None for share in shares.values()):
                return None
            own = limits_of(light.market.scenario)
            mine = {name: min(share, own[name]) for name, share in shares.items() if share is not None}
            if tight is not None:
                mine[scale] = min(mine[scale], tight[id(light)])
            state = self._state(light, scale)
            lines = goods.lines_within(state, mine)
            state.lines = []
            for line in lines:
                state.seconds_left()
                problem, kept = screened(line.problem, line.kept, mine, [scale])
                if kept.possible:
                    known = light.lines.setdefault(line.emitter, line)
                    known.cells = cells_of(known.cells, problem, kept) if known.cells else cells_of([], problem, kept)
                    state.lines.append(Line(line.emitter, problem, kept, known.cells))
            if not state.lines:
                return None
            states.append(state)
        self.kept = max(self.kept, sum(line.kept.size for state in states for line in state.lines))
        return states

    def _state(self, light: _Light, scale: str) -> State:
        return State(
            light.market,
            scale,  # type: ignore[arg-type]
            self.threads,
            self.deadline,
            lambda text: None,
            self.solver,
            order=(scale,),
            problems=light.problems,
            tangents=light.tangents,
        )

    def _solve_all(self, lights: Sequence[State], scale: str, caps: Mapping[str, float]) -> None:
        """Look for a kit that is better on a scale than the best one, among the columns of these lights."""
        while True:
            within = dict(caps)
            if self.best is not None:
                value = value_of_kit(self.best, scale)
                within[scale] = min(within[scale], value - step(scale, value))
            k = self._program(lights, within, scale)
            outcome = self._solve(k, GAPS[scale])
            if outcome.status is Status.IMPOSSIBLE:
                return
            if outcome.status is Status.NOTHING:
                raise TimeUpError
            better = self._judged(k, outcome, lights, within)
            if outcome.status is Status.FEASIBLE:
                raise TimeUpError
            if better and self.best is not None:
                value = value_of_kit(self.best, scale)
                if outcome.objective >= value - max(GAPS[scale], step(scale, value) + hair(scale, value)):
                    return

    def _program(self, lights: Sequence[State], caps: Mapping[str, float], objective: str) -> KitProgram:
        return kit_program(lights, self.terms, caps, objective, power_counts=self.power_counts)

    def _solve(self, k: KitProgram, gap: float) -> Outcome:
        left = None if self.deadline is None else self.deadline - time.monotonic()
        if left is not None and left <= 0.0:
            raise TimeUpError
        self.rounds += 1
        outcome = k.program.solve(gap, left, self.threads, self.solver)
        if outcome.status is Status.FAILED:
            raise SolverError("the solver failed")
        return outcome

    def _judged(
        self, k: KitProgram, outcome: Outcome, lights: Sequence[State], caps: Mapping[str, float]
    ) -> KitEvaluation | None:
        """Take the kit of an outcome if it holds, and cut what flattered it; return it where it keeps the caps."""
        blocks = k.chosen(outcome)
        kit = evaluate_kit([self._choice(block, outcome) for block in blocks], self.catalogue, self.scenario)
        if kit.passes and all(value_of_kit(kit, s) <= cap + hair(s, abs(cap)) for s, cap in caps.items()):
            self.best = kit
            return kit
        self._refine(k, outcome, blocks, lights, kit)
        return None

    def _choice(self, block: Block, outcome: Outcome) -> Choice:
        index, supply, mount, numbers = block.formulation.read(outcome)
        problem = block.formulation.problem
        choice = choice_of(problem, block.formulation.cells[index].head, supply, mount, numbers)
        return canonical(choice, problem.catalogue)

    def _refine(
        self, k: KitProgram, outcome: Outcome, blocks: Sequence[Block], lights: Sequence[State], kit: KitEvaluation
    ) -> None:
        changed = False
        for block, state, found in zip(blocks, lights, kit.lights, strict=True):
            f, light = block.formulation, self.lights[block.light]
            exact = found.figures["lead_loss"][0] or 0.0
            counted = math.inf if block.loss is None else k.program.value(outcome, block.loss)
            flattered = exact > counted + hair("power", found.watts) / 4
            if found.passes and not flattered:
                continue
            _, supply, _, _ = f.read(outcome)
            if found.passes and any(t.supply == supply and t.load == found.apparent for t in state.tangents):
                continue
            line = block.line
            if block.loss is not None:
                f.scales["power"] = {block.loss: 1.0}
            refine_line(state, line, f, outcome, replace(found, watts=exact))
            light.tangents[:] = state.tangents
            light.lines[line.emitter].cells = line.cells
            changed = True
        if not changed:
            failed = [m.name for m in kit.margins if not m.holds] + list(kit.missing)
            raise CannotRefineError(f"the exact check refuses a kit for: {', '.join(failed) or 'its figures'}")

    def _break_ties(self, caps: Mapping[str, float]) -> None:
        """Among kits that tie in all figures, take the one whose part codes come first, light by light."""
        lights = self._states(self.objective, caps)
        assert lights is not None, "the best kit is within its own figures"
        for number, state in enumerate(lights):
            for what in ("emitters", "cells", "supplies", "mounts", "channels"):
                self._first_by(lights, number, what, caps)
            assert len(state.lines) == 1
        self._smallest_fuses()

    def _first_by(self, lights: Sequence[State], number: int, what: str, caps: Mapping[str, float]) -> None:
        """Keep the first emitter, head, supply or channels that a light can have."""
        while True:
            k = self._program(lights, caps, "")
            mine = [block for block in k.blocks if block.light == number]
            if what == "emitters":
                ranks = {block.used: float(block.line.emitter) for block in mine}
            else:
                ranks = rank_terms(mine[0].formulation, what)
            if what != "channels" and len(set(ranks.values())) <= 1:
                return
            k.program.minimise(ranks)
            outcome = self._solve(k, 1e-4)
            if outcome.status is not Status.OPTIMAL:
                raise SolverError(f"no kit ties with the best one ({outcome.status.value})")
            block = k.chosen(outcome)[number]
            if self._judged(k, outcome, lights, caps) is not None:
                _fix(lights[number], block, what, outcome)
                return

    def _smallest_fuses(self) -> None:
        """Give each light the smallest fuse that costs and weighs the same and still carries the load."""
        for number, light in enumerate(self.lights):
            assert self.best is not None
            choices = list(self.best.choices)
            chosen = self.catalogue.find(Fuse, choices[number].fuse)
            for fuse in sorted(light.market.parts.fuses, key=lambda fuse: (fuse.rating, fuse.part)):
                if fuse.supply == chosen.supply and fuse.rating < chosen.rating:
                    choices[number] = replace(choices[number], fuse=fuse.part)
                    found = evaluate_kit(choices, self.catalogue, self.scenario)
                    figures = found.cents, found.milligrams
                    if found.passes and figures == (self.best.cents, self.best.milligrams):
                        self.best = found
                        break


def _fix(state: State, block: Block, what: str, outcome: Outcome) -> None:
    """Leave a light what came first."""
    line, f = block.line, block.formulation
    index, supply, _, numbers = f.read(outcome)
    if what == "emitters":
        state.lines = [line]
    if what == "cells":
        head = line.cells[index].head
        line.cells = [cell for cell in line.cells if cell.head == head]
    if what == "supplies":
        line.kept = line.kept.take(supplies=line.kept.supplies == supply)
    if what == "channels":
        line.kept = line.kept.take(channels=np.isin(line.kept.channels, [channel for channel, _ in numbers]))


def lowest(scale: str, value: float) -> float:
    """Return a bound surely below what a light comes to that was found best by a search for one scale."""
    return max(value - step(scale, value) - hair(scale, value), 0.0)


def value_of_kit(kit: KitEvaluation, scale: str) -> float:
    """Return a figure of a kit on a scale: cents, mg or W."""
    return {"cost": float(kit.cents), "mass": float(kit.milligrams), "power": kit.watts}[scale]


def preferred_kit(one: KitEvaluation, other: KitEvaluation, order: Sequence[str]) -> bool:
    """Whether the first of two kits is the better one by an order of figures."""
    for scale in order:
        new, old = value_of_kit(one, scale), value_of_kit(other, scale)
        if abs(new - old) > hair(scale, old):
            return new < old
    return False


def best_kit(
    catalogue: Catalogue,
    scenario: Scenario,
    objective: Objective | None = None,
    *,
    time_limit: float | None = None,
    threads: int = 1,
    progress: Progress = lambda text: None,
    solver: Any = None,
) -> KitResult:
    """Return the best kit of a scenario that asks for one, proven, or why there is none.

    As `search.best_build` otherwise, and it raises what that raises.
    """
    began = time.monotonic()
    aim = objective or scenario.search.objective
    limit = time_limit if time_limit is not None else scenario.search.time_limit
    in_force = scenario.search.model_copy(update={"objective": aim, "time_limit": limit})
    scenario = scenario.model_copy(update={"search": in_force})
    deadline = None if limit is None else began + limit
    search = _Search(as_paid(catalogue, scenario), scenario, aim, deadline, threads, progress, solver)
    try:
        search.run()
        status: Ending = "impossible" if search.best is None else "optimal"
    except (TimeUpError, KeyboardInterrupt):
        status = "optimal" if search.settled else "stopped" if search.best is None else "feasible"
    proof = _proof_of(search, status, began)
    return KitResult(status, search.best, proof, search.catalogue, scenario, aim, search.alone)


def _proof_of(search: _Search, status: Ending, began: float) -> Proof:
    aim, bound, gap = search.objective, None, None
    if search.best is not None:
        value = value_of_kit(search.best, aim)
        known = len(search.lights) == len(search.scenario.kit)
        low = sum(light.count * light.lows[aim] for light in search.lights) if known else 0.0
        low = value if status == "optimal" else min(low, value)
        if aim == "power":
            low = min(low, value - step(aim, value) - hair(aim, value))
        bound = low / {"cost": 100.0, "mass": 1e6, "power": 1.0}[aim]
        gap = 0.0 if value <= low else (value - low) / value
    return Proof(bound, gap, search.rounds, search.columns, search.kept, time.monotonic() - began)
