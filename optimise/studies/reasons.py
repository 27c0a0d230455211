"""Why a job cannot be done, or what it hangs on: each limit changed alone."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.model.heuristic import value_of
from optimise.model.limits import LIGHT
from optimise.model.search import Result
from optimise.parts import units
from optimise.scenario import Scenario
from optimise.studies.desk import Desk
from optimise.studies.limits import Limit, Listed, Sliding, Summed, distance_of, limits_asked

HAIR = 1e-6
"""Share of a limit by which the smallest change is proven not to be smaller."""


@dataclass(frozen=True)
class Mend:
    """The smallest change of one limit alone that makes a job possible."""

    limit: str
    asked: str
    needed: str
    change: str
    """By how much, where that is a number."""
    exact: float | None
    """The value on the edge of what is possible, in canonical units, before it is rounded to the easier side."""
    scenario: Scenario
    """With the limit changed to what is needed."""
    result: Result
    """The best build that it then allows."""


def mends(desk: Desk) -> Iterator[tuple[Limit, Mend | None]]:
    """Yield each limit that an impossible scenario sets, and the smallest change of it alone that mends the job.

    None where no change of it alone does. Safety and what the parts bear are never changed. Raises `TimeUpError`.
    """
    # Nearer is brighter, but less even, and not brighter at every point.
    fixed = desk.scenario.light.asks_evenness or desk.scenario.limited_targets(1.0)
    nearer = [] if fixed else [distance_of(desk.scenario)]
    for limit in [*limits_asked(desk.scenario, desk.catalogue), *nearer]:
        desk.progress(f"changing {limit.name}")
        yield limit, _mend(desk, limit)


def _mend(desk: Desk, limit: Limit) -> Mend | None:
    exact: float | None = None
    if isinstance(limit.gives, Summed):
        least = desk.best(limit.without(desk.scenario), objective=limit.gives.scale)  # type: ignore[arg-type]
        if least.evaluation is None:
            return None
        exact = value_of(least.evaluation, limit.gives.scale)
        value = {
            "cost": round(exact),
            "mass": exact / 1e6,
            "power": units.rounded(exact, units.POWER, up=True),
        }[limit.gives.scale]
    elif isinstance(limit.gives, Sliding):
        exact = slid(desk, limit, limit.gives)
        if exact is None:
            return None
        value = units.rounded(exact, limit.gives.measure, up=limit.gives.far > limit.gives.asked)
    else:
        found = _listed(desk, limit, limit.gives)
        if found is None:
            return None
        value = found[0]
    changed = limit.changed(desk.scenario, value)
    result = desk.best(changed)
    if result.evaluation is None:
        raise RuntimeError(f"{limit.name} changed to {limit.shown(value)} should make the job possible, and does not")
    return Mend(
        limit.name, limit.asked, limit.shown(value), _change(desk.scenario, limit, value), exact, changed, result
    )


def _listed(desk: Desk, limit: Limit, gives: Listed) -> tuple[Any] | None:
    """Return the first value that makes the job possible, in a tuple (it may be None, for no limit)."""
    values = gives.values
    if not gives.rising:
        return next(((v,) for v in values if desk.any(limit.changed(desk.scenario, v)) is not None), None)
    low, high = 0, len(values)  # all before `low` are impossible, `high` and all after it possible
    while low < high:
        # The last of all first: without the limit the job may be impossible still.
        middle = len(values) - 1 if high == len(values) else (low + high) // 2
        if desk.any(limit.changed(desk.scenario, values[middle])) is not None:
            high = middle
        else:
            low = middle + 1
    return (values[high],) if high < len(values) else None


def slid(desk: Desk, limit: Limit, gives: Sliding) -> float | None:
    """Return the value nearest to the one asked at which a job is possible, to a hair; None where none is.

    Each build found is first taken as far as it goes by itself; then what is open is halved.
    """
    found = desk.any(limit.changed(desk.scenario, gives.far))
    if found is None:
        return None
    reached, ruled_out = _own_reach(desk, limit, found.choice, gives.far, gives.asked), gives.asked
    # Zero is no measure of a temperature's size.
    hair = HAIR * max(abs(gives.asked), 1.0 if gives.measure is units.TEMPERATURE else abs(reached))
    while abs(ruled_out - reached) > hair:
        # A hair beyond what is reached is tried each time: that it fails is the proof, and ends the search.
        for value in (reached + math.copysign(hair, ruled_out - reached), (reached + ruled_out) / 2):
            found = desk.any(limit.changed(desk.scenario, value))
            if found is not None:
                own = _own_reach(desk, limit, found.choice, value, ruled_out)
                reached = max(reached, own, key=lambda v: abs(v - gives.far))
            elif abs(value - reached) <= hair * (1 + 1e-9):
                return reached
            else:
                ruled_out = value
    return reached


def _own_reach(desk: Desk, limit: Limit, choice: Choice, kept: float, towards: float) -> float:
    """Return how far from `kept` towards another value one build keeps all limits."""

    def passes(value: float) -> bool:
        return evaluate(choice, desk.catalogue, limit.changed(desk.scenario, value)).passes

    good, bad = kept, towards
    if passes(bad):
        return bad
    while abs(bad - good) > 1e-9 * max(abs(bad), abs(good)):
        middle = (good + bad) / 2
        if middle in (good, bad):
            break
        good, bad = (middle, bad) if passes(middle) else (good, middle)
    return good


def _change(scenario: Scenario, limit: Limit, value: Any) -> str:
    """Return by how much a limit changes, in words; empty where that is no number."""
    gives = limit.gives
    if isinstance(gives, Sliding):
        if limit.name.startswith(LIGHT):
            return f"{math.log2(value / gives.asked):+.2f} stop"
        if gives.measure is units.TEMPERATURE:
            return f"{value - gives.asked:+.3g} K"
        return f"{'+' if value > gives.asked else '−'}{units.shown(abs(value - gives.asked), gives.measure)}"
    if isinstance(gives, Summed):
        asked = getattr(scenario.limits, limit.name)
        if gives.scale == "cost":
            return f"{(value - asked) / 100:+.2f} {scenario.currency or ''}".strip()
        return f"{value - asked:+.4g} {'kg' if gives.scale == 'mass' else 'W'}"
    return ""


@dataclass(frozen=True)
class Ease:
    """What giving way on one limit of a possible job saves."""

    limit: str
    asked: str
    eased: str
    saves: float
    """In the unit of the objective (cents, mg, W), when eased by a step; 0 where nothing."""
    dropped: float
    """When given up altogether; 0 where the limit does not bind."""
    result: Result | None
    """The best build with the limit eased, where that saves something."""


def eases(desk: Desk, best: Evaluation, step: float) -> Iterator[Ease]:
    """Yield for each limit of a possible job what easing it by `step` (a share), or giving it up, saves.

    best: the proven best build. Limits on parts are eased to the next value that a part has. Raises `TimeUpError`.
    """
    objective = desk.scenario.search.objective
    value = value_of(best, objective)
    for limit in limits_asked(desk.scenario, desk.catalogue):
        desk.progress(f"easing {limit.name}")
        without = desk.best(limit.without(desk.scenario))
        assert without.evaluation is not None
        dropped = max(value - value_of(without.evaluation, objective), 0.0)
        eased = _eased(desk.scenario, limit, step)
        if dropped <= 0.0:
            yield Ease(limit.name, limit.asked, limit.shown(eased), 0.0, 0.0, None)
            continue
        result = without if eased is None else desk.best(limit.changed(desk.scenario, eased))
        assert result.evaluation is not None
        saves = max(value - value_of(result.evaluation, objective), 0.0)
        yield Ease(limit.name, limit.asked, limit.shown(eased), saves, dropped, result if saves > 0.0 else None)


def _eased(scenario: Scenario, limit: Limit, step: float) -> Any:
    gives = limit.gives
    if isinstance(gives, Listed):
        return gives.values[0]
    if isinstance(gives, Sliding):
        if gives.measure is units.TEMPERATURE:
            return gives.asked + (gives.far - gives.asked) * step
        value = gives.asked * (1.0 + step if gives.far > gives.asked else 1.0 - step)
        return min(value, gives.far) if gives.far > gives.asked else max(value, gives.far)
    asked = getattr(scenario.limits, limit.name)
    return math.floor(asked * (1.0 + step)) if gives.scale == "cost" else asked * (1.0 + step)
