"""The best kit by its goods: one program for the columns left of all lights, checked exactly and refined."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from optimise.model.choice import Choice
from optimise.model.formulation import rank_terms
from optimise.model.heuristic import choice_of, value_of
from optimise.model.kit import KitEvaluation, evaluate_kit
from optimise.model.kit_bounds import KitBounds, Lines, size_of
from optimise.model.kit_program import Block, KitProgram, kit_program
from optimise.model.refinement import CannotRefineError
from optimise.model.solver import Outcome, SolverError, Status
from optimise.model.state import (
    GAPS,
    State,
    TimeUpError,
    canonical,
    hair,
    keeps,
    refine_line,
    step,
)
from optimise.model.ties import smaller_fuses

MANY = 1500
"""Columns of all lights above which a better kit is first looked for among fewer."""

NARROW = (0.02, 0.1, 0.3, 1.0)
"""Shares over its bound that each light may come to while no kit is known, tried in turn."""


class KitGoods(KitBounds):
    """A search for a kit at the prices of a shop."""

    @property
    def effort(self) -> tuple[int, int, int]:
        """How many solves, columns, and columns after screening."""
        return self.rounds, self.columns, self.kept

    def promise(self, caps: Mapping[str, float]) -> float:
        """Return nothing: what a kit comes to at least takes as long to find as a search."""
        return 0.0

    def run(self, caps: Mapping[str, float]) -> None:
        """Leave the best kit within caps in `best`; None where there is none."""
        if not self.bounded(caps):
            return
        settled = dict(caps)
        for scale in self.order:
            self._make_least(scale, settled)
            if self.best is None:
                return
            value = value_of(self.best, scale)
            settled[scale] = min(settled[scale], value + hair(scale, value))

    def likely(self, caps: Mapping[str, float]) -> KitEvaluation | None:
        """Return a good kit within caps, or None where it is proven that there is none."""
        if not self.bounded(caps):
            return None
        if self.best is None:
            self.any_will_do = True
            self._make_least(self.order[0], dict(caps))
        return self.best

    def within(self, caps: Mapping[str, float]) -> Lines:
        """Return all columns that kits within caps can have, by light."""
        states = self._states(self.order[0], caps) if self.bounded(caps) else None
        return tuple(() for _ in self.lights) if states is None else tuple(tuple(s.lines) for s in states)

    def _make_least(self, scale: str, caps: Mapping[str, float]) -> None:
        if self.best is None:
            tried = -1
            for share in NARROW:
                states = self._near(scale, caps, share)
                size = size_of(states)
                if states is not None and size != tried:
                    self._solve_all(states, scale, caps)
                tried = size
                if self.best is not None:
                    break
        if self.any_will_do and self.best is not None:
            return
        lights = self._states(scale, self._no_worse(scale, caps))
        while lights is not None and self.best is not None and size_of(lights) > MANY:
            before = value_of(self.best, scale)
            lows = max(self.least(scale), 0.0)
            near = None if before <= lows else self._near(scale, caps, 0.3 * (before - lows) / max(lows, 1.0))
            if near is None or size_of(near) == size_of(lights):
                break
            self._solve_all(near, scale, caps)
            if value_of(self.best, scale) > before - step(scale, before):
                break
            lights = self._states(scale, self._no_worse(scale, caps))
        if lights is not None:
            self._solve_all(lights, scale, caps)

    def _solve_all(self, lights: Sequence[State], scale: str, caps: Mapping[str, float]) -> None:
        """Look for a kit that is better on a scale than the best one, among the columns of these lights."""
        while True:
            within = dict(caps)
            if self.best is not None:
                value = value_of(self.best, scale)
                within[scale] = min(within[scale], value - step(scale, value))
            k = self._program(lights, within, scale)
            gap = math.inf if self.any_will_do else GAPS[scale]
            outcome = self._solve(k, gap)
            if outcome.status is Status.IMPOSSIBLE:
                return
            if outcome.status is Status.NOTHING:
                raise TimeUpError
            better = self._judged(k, outcome, lights, within)
            if outcome.status is Status.FEASIBLE:
                raise TimeUpError
            if better is not None:
                value = value_of(better, scale)
                if self.any_will_do:
                    return
                if outcome.objective >= value - max(gap, step(scale, value) + hair(scale, value)):
                    return

    def _program(self, lights: Sequence[State], caps: Mapping[str, float], objective: str) -> KitProgram:
        lows = [light.lows for light in self.lights]
        return kit_program(lights, self.terms, caps, objective, lows, power_counts=self.house.power_counts)

    def _solve(self, k: KitProgram, gap: float) -> Outcome:
        self.rounds += 1
        outcome = k.solve(gap, self.house.seconds_left, self.house.threads, self.house.solver)
        if outcome.status is Status.FAILED:
            raise SolverError("the solver failed")
        return outcome

    def _judged(
        self, k: KitProgram, outcome: Outcome, lights: Sequence[State], caps: Mapping[str, float]
    ) -> KitEvaluation | None:
        """Take the kit of an outcome if it holds, and cut what flattered it; return it where it keeps the caps."""
        blocks = k.chosen(outcome)
        kit = evaluate_kit([_choice(block, outcome) for block in blocks], self.catalogue, self.scenario)
        if kit.passes and keeps(kit, caps):
            self.best = kit
            return kit
        self._refine(k, outcome, blocks, lights, kit)
        return None

    def _refine(
        self, k: KitProgram, outcome: Outcome, blocks: Sequence[Block], lights: Sequence[State], kit: KitEvaluation
    ) -> None:
        changed = False
        for block, state, found in zip(blocks, lights, kit.lights, strict=True):
            f, light, line = block.formulation, self.lights[block.light], block.line
            exact = found.figures["lead_loss"][0] or 0.0
            counted = math.inf if block.loss is None else k.program.value(outcome, block.loss)
            flattered = exact > counted + hair("power", found.watts) / 4
            _, supply, _, _ = f.read(outcome)
            known = any(t.supply == supply and t.load == found.apparent for t in state.tangents)
            if found.passes and (not flattered or known):
                continue
            if block.loss is not None:
                f.scales["power"] = {block.loss: 1.0}
            refine_line(state, line, f, outcome, replace(found, watts=exact))
            light.tangents[:] = state.tangents
            changed = True
        if not changed:
            failed = [m.name for m in kit.margins if not m.holds] + list(kit.missing)
            raise CannotRefineError(f"the exact check refuses a kit for: {', '.join(failed) or 'its figures'}")

    def break_ties(self, best: KitEvaluation, caps: Mapping[str, float]) -> None:
        """Leave in `best` of the kits that tie with the best one that whose part codes come first, light by light.

        caps: what the best kit comes to in all figures that count.
        """
        self.best = best
        lights = self._states(self.order[0], caps) if self.bounded(caps) else None
        assert lights is not None, "the best kit is within its own figures"
        for number in range(len(lights)):
            for what in ("emitters", "cells", "supplies", "mounts", "channels"):
                self._first_by(lights, number, what, caps)
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
            if outcome.status is Status.NOTHING:
                raise TimeUpError
            if outcome.status is not Status.OPTIMAL:
                raise SolverError(f"no kit ties with the best one ({outcome.status.value})")
            block = k.chosen(outcome)[number]
            if self._judged(k, outcome, lights, caps) is not None:
                _fix(lights[number], block, what, outcome)
                return

    def _smallest_fuses(self) -> None:
        """Give each light the smallest fuse that costs and weighs the same and still carries the load."""
        for light in self.lights:
            assert self.best is not None
            choices = list(self.best.choice)
            for fuse in smaller_fuses(self.best.lights[light.number], light.market):
                choices[light.number] = replace(choices[light.number], fuse=fuse.part)
                found = evaluate_kit(choices, self.catalogue, self.scenario)
                if found.passes and (found.cents, found.milligrams) == (self.best.cents, self.best.milligrams):
                    self.best = found
                    break


def _choice(block: Block, outcome: Outcome) -> Choice:
    index, supply, mount, numbers = block.formulation.read(outcome)
    problem = block.formulation.problem
    return canonical(choice_of(problem, block.formulation.cells[index].head, supply, mount, numbers), problem.catalogue)


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
