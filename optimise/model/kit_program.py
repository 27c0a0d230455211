"""The program of a kit: a block for each light and each kind of emitter it may have, one purse for all."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from optimise.columns.dearer import Offers
from optimise.columns.supplies import MAINS
from optimise.model.cells import Formulation
from optimise.model.formulation import add_block, lead_loss, mass_terms
from optimise.model.kit import flight_group, sharing
from optimise.model.purse import Purse, Taken, lots_taken, singles_taken
from optimise.model.solver import Outcome, Program, Status
from optimise.model.state import Line, State
from optimise.parts import Supplier
from optimise.scenario import Scenario


@dataclass(frozen=True)
class Block:
    """The columns of one light with one kind of emitter."""

    light: int
    line: Line
    formulation: Formulation
    used: int
    """The variable that is 1 where the light has this kind."""
    loss: int | None
    """The variable of the loss in its lead, W, where power counts."""


@dataclass
class KitProgram:
    """A program with its blocks."""

    program: Program = field(default_factory=Program)
    blocks: list[Block] = field(default_factory=list)
    scales: dict[str, dict[int, float]] = field(default_factory=dict)
    capped: dict[str, float] = field(default_factory=dict)

    def solve(self, gap: float, left: Callable[[], float | None], threads: int, solver: Any) -> Outcome:
        """Solve within the caps, without the columns that are too dear, too heavy or too hungry for any kit.

        left: tells the seconds that are left.
        """
        p = self.program
        for name, cap in self.capped.items():
            if solver is None and not p.drop_dear(self.scales[name], cap, left(), threads):
                return Outcome(Status.IMPOSSIBLE, math.inf, math.inf, {})
            p.at_most(self.scales[name], cap, scale=max(cap, 1.0))
        return p.solve(gap, left(), threads, solver)

    def chosen(self, outcome: Outcome) -> list[Block]:
        """Return the block that each light has in an outcome."""
        found: dict[int, Block] = {}
        for block in self.blocks:
            best = found.get(block.light)
            if best is None or self._weight(outcome, block) > self._weight(outcome, best):
                found[block.light] = block
        return [found[light] for light in sorted(found)]

    def _weight(self, outcome: Outcome, block: Block) -> float:
        return self.program.value(outcome, block.used)


@dataclass(frozen=True)
class Terms:
    """What a kit is bought of, and from whom."""

    scenario: Scenario
    offers: Offers
    orders: Sequence[Supplier]


def kit_program(
    lights: Sequence[State],
    terms: Terms,
    caps: Mapping[str, float],
    objective: str,
    lows: Sequence[Mapping[str, float]],
    *,
    power_counts: bool,
) -> KitProgram:
    """Return the program for the lines of each light, within `caps` (cents, mg, W), that makes `objective` least.

    objective: cost, mass or power; "" for none. lows: for each light what one of it comes to at least by itself, at
    the prices of its market. power_counts: whether losses in leads count.
    """
    k, scenario = KitProgram(), terms.scenario
    p = k.program
    lots: Taken = {}
    singles: list[Taken] = []
    mass: dict[int, float] = {}
    power: dict[int, float] = {}
    for number, (state, entry) in enumerate(zip(lights, scenario.kit, strict=True)):
        mine: Taken = {}
        uses: dict[int, float] = {}
        own: dict[str, dict[int, float]] = {"cost": {}, "mass": {}, "power": {}}
        for line in state.lines:
            f = Formulation(line.problem, line.kept, line.cells, program=p)
            used = p.variable(0, 1, whole=True)
            uses[used] = 1.0
            add_block(f, used)
            loss = lead_loss(f, state.tangents) if power_counts else None
            k.blocks.append(Block(number, line, f, used, loss))
            for target, taken in ((lots, lots_taken(f, entry.count)), (mine, singles_taken(f, entry.count))):
                for want, by_variable in taken.items():
                    target.setdefault(want, {}).update(by_variable)
            own["cost"] |= _least_cost(f)
            own["mass"] |= mass_terms(f)
            if loss is not None:
                draws = zip(f.channel_vars, f.kept.channels, strict=True)
                own["power"] |= {v: float(f.problem.channels.power[c]) for v, c in draws}
                own["power"][loss] = 1.0
        p.exactly(uses, 1.0)
        for scale, row in own.items():
            # True of every build of the light, and not of every mixture of builds: half the work of the solver.
            if lows[number].get(scale, 0.0) > 0.0 and row:
                p.at_least(row, lows[number][scale])
        mass |= {v: entry.count * weight for v, weight in own["mass"].items()}
        power |= {v: entry.count * weight for v, weight in own["power"].items()}
        singles.append(mine)
    purse = Purse(p, terms.offers, terms.orders, scenario.limits.suppliers_max)
    k.scales = {"cost": purse.terms(lots, singles), "mass": mass, "power": power}
    _circuit(k, scenario)
    _flying(k, scenario)
    k.capped = {name: cap for name, cap in caps.items() if np.isfinite(cap)}
    p.minimise(k.scales[objective] if objective else {})
    return k


def _least_cost(f: Formulation) -> dict[int, float]:
    """Return what a light costs at least, at the prices of its market, by variable."""
    problem = f.problem
    terms = {v: float(problem.head_cost[c.head]) for v, c in zip(f.cell_vars, f.cells, strict=True)}
    terms |= {v: float(problem.channel_cost[c]) for v, c in zip(f.channel_vars, f.kept.channels, strict=True)}
    terms |= {v: float(problem.supplies.cost[s]) for v, s in zip(f.supply_vars, f.kept.supplies, strict=True)}
    return terms | {v: float(problem.market.mount_cost[m]) for m, v in enumerate(f.mount_vars)}


def _circuit(k: KitProgram, scenario: Scenario) -> None:
    """Add the row of the mains circuit that lights share: V I = P + R I², and the loss is R I²."""
    row: dict[int, float] = {}
    for block in k.blocks:
        f, entry = block.formulation, scenario.kit[block.light]
        mains = f.problem.supplies.battery[f.kept.supplies] == MAINS
        volts = entry.job.power.mains_voltage
        if not sharing(scenario)[block.light] or not mains.any() or volts is None:
            continue
        share = entry.count / volts
        drivers = f.problem.parts.drivers
        for v, c in zip(f.channel_vars, f.kept.channels, strict=True):
            if drivers[f.problem.channels.driver[c]].input == "ac":
                row[v] = share * float(f.problem.channels.apparent[c])
        if block.loss is not None and mains.all():
            row[block.loss] = share
        elif block.loss is not None:
            row[_loss_on_mains(k.program, f, block.loss, mains)] = share
    if row:
        assert scenario.power.circuit is not None
        most = scenario.power.circuit / scenario.safety.continuous_factor
        k.program.at_most(row, most * (1 + 1e-9), scale=most)


def _loss_on_mains(p: Program, f: Formulation, loss: int, mains: np.ndarray) -> int:
    """Add the loss in a lead as far as it hangs on the mains: nothing on a battery."""
    high = p.highs[loss]
    part = p.variable(0.0, high, whole=False)
    fed = {v: -high for v, on in zip(f.supply_vars, mains, strict=True) if on}
    p.at_least({part: 1.0, loss: -1.0, **fed}, -high)
    return part


def _flying(k: KitProgram, scenario: Scenario) -> None:
    """Add the rows of how many batteries of a kind may fly."""
    if scenario.travel.mode != "air":
        return
    rows: dict[tuple[str, int], dict[int, float]] = {}
    for block in k.blocks:
        f, entry = block.formulation, scenario.kit[block.light]
        s = f.problem.supplies
        for v, place in zip(f.supply_vars, f.kept.supplies, strict=True):
            if s.battery[place] != MAINS:
                group = flight_group(f.problem.parts.batteries[s.battery[place]])
                rows.setdefault(group, {})[v] = float(entry.count * s.series[place] * s.parallel[place])
    for (_, number), row in sorted(rows.items()):
        k.program.at_most(row, float(number))
