"""Many searches of the same parts: what one of them built and found serves the next.

The scenario is narrowed by an `Ask`; the columns of each emitter are built once, supplies once for each runtime, and
every build that passed an exact check is remembered as a start for the searches that follow.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from optimise.columns.expand import Ints
from optimise.model.axes import AXES
from optimise.model.choice import Choice, Evaluation
from optimise.model.dominance import drop_beaten
from optimise.model.exact import evaluate, wanted_illuminance
from optimise.model.goods import sift, whole_line
from optimise.model.heuristic import value_of
from optimise.model.kept import everything
from optimise.model.market import Market, build_market, supplies_of
from optimise.model.pairs import least_by_line
from optimise.model.problem import Problem, hung_on
from optimise.model.search import find_any, run
from optimise.model.state import ORDERS, Line, Progress, State
from optimise.model.weights import SCALES, limits_of
from optimise.parts import Catalogue
from optimise.scenario import Scenario
from optimise.scenario.model import Objective

Ask = tuple[tuple[str, float], ...]
"""Bounds by axis, beyond those of the scenario, in the units of the axis: most where less is better, else least."""

FIRST_LEAP = 1.2
"""Factor by which a figure that has no program of its own is first tried to be raised."""

NEAR = 1.02
"""Ratio of what is ruled out to what is found below which the hair above the found one is tried at once."""


def asking(ask: Ask, axis: str, bound: float) -> Ask:
    """Return bounds with that of one axis changed."""
    return tuple(sorted({**dict(ask), axis: bound}.items()))


@dataclass(frozen=True)
class _Left:
    """What is left of the columns of one emitter, as indices into its problem; of the supplies all where None."""

    emitter: int
    problem: Problem
    channels: Ints
    heads: Ints
    supplies: Ints | None


Left = tuple[_Left, ...]
"""The columns that builds within some bounds can have."""


@dataclass
class Bench:
    """Parts and a scenario on which many searches are made.

    `axes` are the figures that bounds will be set on. Times out by `TimeUpError` past `deadline` (of time.monotonic).
    """

    catalogue: Catalogue
    scenario: Scenario
    axes: Sequence[str]
    enough: Mapping[str, float] = field(default_factory=dict)
    """By axis on which more is better: beyond this, more counts for nothing."""
    deadline: float | None = None
    threads: int = 1
    progress: Progress = lambda text: None
    solver: Any = None
    solves: int = 0
    _problems: dict[int, Problem] = field(default_factory=dict)
    _markets: dict[float, Market] = field(default_factory=dict)
    _seen: dict[Choice, tuple[Evaluation, dict[str, float]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Build what every search shares."""
        # Losses in leads must tell supplies apart as soon as one search counts the power drawn.
        aim: Objective = "power" if "power" in self.axes else self.scenario.search.objective
        search = self.scenario.search.model_copy(update={"objective": aim})
        self._base = self.scenario.model_copy(update={"search": search})
        self.market = build_market(self.catalogue, self._base)
        self._panels = {panel.part: panel for panel in self.catalogue.panels}

    def value(self, axis: str, found: Evaluation) -> float:
        """Return a figure of a build on an axis, as far as it counts."""
        return min(AXES[axis].of(found, self._panels[found.choice.panel]), self.enough.get(axis, math.inf))

    def best(
        self, order: Sequence[str], ask: Ask = (), floor: float = -math.inf, left: "Left | None" = None
    ) -> Evaluation | None:
        """Return the proven best build by an order of cost, mass and power; None where there is none.

        floor: what the first of them is known to come to at least. left: the columns to look at.
        """
        state = self._state(order, ask)
        if state is None:
            return None
        state.floor = floor
        state.given = None if left is None else self._lines(state, left)
        run(state, limits_of(state.market.scenario))
        return state.best

    def any(self, ask: Ask = ()) -> Evaluation | None:
        """Return some build within the bounds, or None where it is proven that there is none."""
        state = self._state(("cost",), ask)
        if state is None or state.best is not None:
            return None if state is None else state.best
        state.any_will_do = True
        return find_any(state, limits_of(state.market.scenario))

    def left(self, ask: Ask, earlier: "Left | None" = None) -> "Left":
        """Return the columns that builds within bounds can have, of those left of wider bounds before.

        They serve all searches within narrower bounds. Columns that another one can replace are dropped as well,
        except where runtime is traded: which driver a supply feeds depends on it.
        """
        state = self._state(("cost",), ask)
        if state is None:
            return ()
        caps = limits_of(state.market.scenario)
        if earlier is None:
            least = least_by_line(state.market, caps, "cost")
            lines = [whole_line(state, emitter) for emitter in np.flatnonzero(np.isfinite(least)).tolist()]
        else:
            lines = self._lines(state, earlier)
        scale = next((scale for scale in SCALES if math.isfinite(caps[scale])), "cost")
        found: list[_Left] = []
        for line in lines:
            state.seconds_left()
            sift(state, line, caps, scale)
            kept, supplies = line.kept, None
            if "runtime" not in self.axes and not self.market.charged:
                kept = drop_beaten(line.problem, kept)
                supplies = kept.supplies
            if kept.possible:
                found.append(_Left(line.emitter, line.problem, kept.channels, kept.heads, supplies))
        return tuple(found)

    @staticmethod
    def _lines(state: State, left: "Left") -> list[Line]:
        lines = []
        for one in left:
            problem = hung_on(one.problem, state.market)
            kept = everything(problem, one.supplies).only(one.channels, one.heads)
            if state.admits is not None:
                kept = kept.take(heads=state.admits(problem)[kept.heads])
            lines.append(Line(one.emitter, problem, kept))
        return [line for line in lines if line.kept.possible]

    def extreme(
        self, axis: str, ask: Ask = (), order: Sequence[str] = (), floor: float = -math.inf
    ) -> Evaluation | None:
        """Return a build with the best figure that any can have on an axis; None where there is no build.

        order: scales that decide between builds which tie in it. floor: for cost, mass and power, what the figure
        comes to at least.
        """
        if axis in SCALES:
            return self.best((axis, *(scale for scale in order if scale != axis)), ask, floor)
        start = self.any(ask)
        if start is None:
            return None
        if AXES[axis].listed:
            reached = self._least_listed(axis, ask, start)
        else:
            reached = self._climbed(axis, ask, self.value(axis, start))
        return self.best(order or ORDERS[self.scenario.search.objective], asking(ask, axis, reached))

    def _least_listed(self, axis: str, ask: Ask, start: Evaluation) -> float:
        """Return the best value of an axis that has a list of values: halving what is open."""
        rule = AXES[axis]
        known = {rule.of_panel(panel) for panel in self.market.parts.panels}
        value = self.value(axis, start)
        values = sorted((v for v in known if rule.better(v, value)), key=rule.loss)
        low, high = 0, len(values)  # values[high:] can be had, and so can `value`
        while low < high:
            middle = (low + high) // 2
            found = self.any(asking(ask, axis, values[middle]))
            if found is None:
                low = middle + 1
            else:
                value = self.value(axis, found)
                high = values.index(value)
        return value

    def _climbed(self, axis: str, ask: Ask, reached: float) -> float:
        """Return the greatest value of an axis without a list: leaps, then halves, then proof of no more."""
        leap, ruled_out = FIRST_LEAP, math.inf
        while math.isfinite(reached):
            hair = AXES[axis].next(reached)
            wanted = reached * leap if math.isinf(ruled_out) else math.sqrt(reached * ruled_out)
            wanted = min(wanted, self.enough.get(axis, math.inf))
            if wanted < hair or ruled_out < reached * NEAR:
                wanted = hair
            found = self.any(asking(ask, axis, wanted))
            if found is not None:
                reached, leap = self.value(axis, found), leap * leap
            elif wanted == hair:
                break
            else:
                ruled_out = wanted
        return reached

    def _state(self, order: Sequence[str], ask: Ask) -> State | None:
        """Return a search within bounds, started from the best build known; None where the bounds cannot be met."""
        bounds = dict(ask)
        endless = math.isinf(bounds.get("runtime", 0.0))
        if math.isinf(bounds.get("illuminance", 0.0)) or (endless and not self._base.power.mains):
            return None
        if any(bounds.get(axis, 0.0) > most for axis, most in self.enough.items()):
            return None
        if min(bounds.get(scale, math.inf) for scale in SCALES) < 0.0:
            return None
        scenario = narrowed(self._base, bounds)
        state = State(
            self._market(scenario),
            order[0],  # type: ignore[arg-type]
            self.threads,
            self.deadline,
            self.progress,
            self.solver,
            order=tuple(order),
            problems=self._problems,
            admits=self._admitting(bounds),
            seen=self._keep,
        )
        state.seconds_left()
        self.solves += 1
        state.best = self._known(order[0], bounds, scenario)
        return state

    def _market(self, scenario: Scenario) -> Market:
        runtime = (scenario.power.runtime if scenario.power.battery else None) or math.inf
        if runtime not in self._markets:
            supplies = supplies_of(self.market.parts, scenario, self.market.supplies_at)
            self._markets[runtime] = replace(self.market, supplies=supplies)
        return replace(self._markets[runtime], scenario=scenario, target=wanted_illuminance(scenario))

    def _admitting(self, bounds: dict[str, float]) -> Any:
        rules = [(AXES[axis], bound) for axis, bound in bounds.items() if AXES[axis].listed]
        if not rules:
            return None
        good = np.array(
            [
                all(not rule.better(bound, rule.of_panel(panel)) for rule, bound in rules)
                for panel in self.market.parts.panels
            ],
            dtype=bool,
        )
        return lambda problem: good[problem.heads.panel]

    def _keep(self, found: Evaluation) -> None:
        if found.choice not in self._seen:
            self._seen[found.choice] = (
                found,
                {name: axis.of(found, self._panels[found.choice.panel]) for name, axis in AXES.items()},
            )

    def _known(self, scale: str, bounds: dict[str, float], scenario: Scenario) -> Evaluation | None:
        """Return the best build seen that passes within the bounds."""
        likely = [
            found
            for found, values in self._seen.values()
            if all(not AXES[axis].better(bound, values[axis]) for axis, bound in bounds.items())
        ]
        for found in sorted(likely, key=lambda found: (value_of(found, scale), str(found.choice))):
            again = evaluate(found.choice, self.catalogue, scenario)
            if again.passes:
                return again
        return None


def narrowed(scenario: Scenario, bounds: Mapping[str, float]) -> Scenario:
    """Return a scenario that asks for these bounds as well."""
    # Points keep what they ask, in stops of what the scenario asks ahead.
    scenario = scenario.pinned(wanted_illuminance(scenario))
    light, limits, power, look = scenario.light, scenario.limits, scenario.power, scenario.look
    least = max(bounds.get("illuminance", 0.0), wanted_illuminance(scenario))
    if least > wanted_illuminance(scenario):
        light = light.asking(least)
    if math.isinf(bounds.get("runtime", 0.0)):
        power = power.model_copy(update={"source": "mains"})
    elif power.runtime is not None and bounds.get("runtime", 0.0) > power.runtime:
        power = power.model_copy(update={"runtime": bounds["runtime"]})
    changed: dict[str, Any] = {}
    if "cost" in bounds:
        changed["budget"] = math.floor(min(bounds["cost"], limits.budget if limits.budget is not None else math.inf))
    if "mass" in bounds:
        changed["mass"] = min(bounds["mass"] / 1e6, limits.mass if limits.mass is not None else math.inf)
    if "power" in bounds:
        changed["power"] = min(bounds["power"], limits.power if limits.power is not None else math.inf)
    if "panel_size" in bounds:
        for side in ("width", "height"):
            asked = getattr(limits, side)
            changed[side] = bounds["panel_size"] if asked is None else min(asked, bounds["panel_size"])
    if "source_size" in bounds:
        look = look.model_copy(update={"source_size_min": max(bounds["source_size"], look.source_size_min or 0.0)})
    limits = limits.model_copy(update=changed)
    return scenario.model_copy(update={"light": light, "limits": limits, "power": power, "look": look})
