"""What must hold of every best build, whatever it is: how it may move when the job or the catalogue does.

Small random problems (invented parts), each against the same problem with one thing changed. Cost and mass are whole
numbers and compared exactly; power within what the solver's tolerances blur.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from random import Random
from typing import Any

import pytest
from baskets import with_charges
from comparison import WATTS
from oracle import OBJECTIVES, drawn_case
from random_catalogues import Case

from optimise.model.choice import Evaluation
from optimise.model.heuristic import value_of
from optimise.model.search import best_build
from optimise.parts import Catalogue, Supplier
from optimise.parts.kinds import PART_KINDS
from optimise.scenario import Scenario

Job = tuple[Catalogue, Scenario]


@lru_cache(maxsize=16)
def drawn(number: int) -> Job:
    """Return a small problem; every third one with suppliers that charge for delivery and ask for least orders."""
    case: Case = drawn_case(number, ("battery", "mains")[number % 2], 200, 3)[0]
    charged = number % 3 == 1
    return (with_charges(case.catalogue, Random(number)) if charged else case.catalogue), case.scenario


@lru_cache(maxsize=64)
def best_of(number: int, objective: str) -> Evaluation | None:
    return best(drawn(number), objective)


def best(job: Job, objective: str) -> Evaluation | None:
    result = best_build(*job, objective)
    assert result.status in {"optimal", "impossible"}
    return result.evaluation


def value(evaluation: Evaluation | None, objective: str) -> float:
    return math.inf if evaluation is None else value_of(evaluation, objective)


def no_better(worse: Evaluation | None, than: Evaluation | None, objective: str) -> bool:
    slack = 1.0 - WATTS if objective == "power" else 1.0
    return value(worse, objective) >= value(than, objective) * slack


def changed(scenario: Scenario, **sections: dict[str, Any]) -> Scenario:
    """Return a scenario with other values for some keys of its sections."""
    return scenario.model_copy(
        update={name: getattr(scenario, name).model_copy(update=keys) for name, keys in sections.items()}
    )


def brighter(scenario: Scenario, factor: float) -> Scenario:
    assert scenario.light.illuminance is not None
    return changed(scenario, light={"illuminance": scenario.light.illuminance * factor})


def longer_lead(scenario: Scenario, factor: float) -> Scenario:
    return changed(scenario, power={"lead_length": scenario.power.lead_length * factor})


def longer_runtime(scenario: Scenario, factor: float) -> Scenario:
    runtime = scenario.power.runtime
    return changed(scenario, power={"runtime": None if runtime is None else runtime * factor})


HARDER: dict[str, Callable[[Scenario, float], Scenario]] = {
    "more light": brighter,
    "a longer lead": longer_lead,
    "a longer runtime": longer_runtime,
}


def check_harder(number: int, what: str, objective: str, factor: float) -> None:
    catalogue, scenario = drawn(number)
    harder = best((catalogue, HARDER[what](scenario, factor)), objective)
    assert no_better(harder, best_of(number, objective), objective)


def loosened(scenario: Scenario) -> Iterator[tuple[str, Scenario]]:
    """Yield the scenario without each of its limits, and with each of its bounds of safety drawn wider."""
    plain: dict[str, list[str]] = {
        "limits": ["budget", "mass", "power", "width", "height", "ip", "suppliers", "suppliers_max", "deadline"],
        "look": ["cct_min", "cri_min", "r9_min", "source_size_min", "penumbra_min", "flicker_max", "dim_to"],
        "power": ["circuit"],
    }
    for section, keys in plain.items():
        for key in keys:
            if getattr(getattr(scenario, section), key) is not None:
                yield key, changed(scenario, **{section: {key: None}})
    if scenario.limits.mount:
        yield "mount", changed(scenario, limits={"mount": False})
    if scenario.look.diffused:
        yield "diffused", changed(scenario, look={"diffused": False})
    if scenario.travel.mode == "air":
        yield "air", changed(scenario, travel={"mode": "road"})
    safety = scenario.safety
    yield "drop", changed(scenario, safety={"voltage_drop": min(2.0 * safety.voltage_drop, 0.2)})
    yield "touch", changed(scenario, safety={"touch_temperature": safety.touch_temperature + 7.0})
    yield "string", changed(scenario, safety={"string_voltage": 2.0 * safety.string_voltage})
    for key, factor in (("budget", 1.3), ("mass", 1.1), ("power", 1.2)):
        limit = getattr(scenario.limits, key)
        if limit is not None:
            yield f"wider {key}", changed(scenario, limits={key: type(limit)(limit * factor)})


def check_loosened(number: int, objective: str, most: int | None = None) -> int:
    catalogue, scenario = drawn(number)
    looser = list(loosened(scenario))
    for name, other in looser if most is None else Random(number).sample(looser, most):
        found = best((catalogue, other), objective)
        assert no_better(best_of(number, objective), found, objective), name
    return len(looser)


def check_fewer_parts(number: int, objective: str, most: int | None = None) -> None:
    catalogue, scenario = drawn(number)
    places = [(kind, i) for kind in PART_KINDS for i in range(len(getattr(catalogue, kind)))]
    for kind, place in places if most is None else Random(number).sample(places, most):
        rows = getattr(catalogue, kind)
        fewer = replace(catalogue, **{kind: rows[:place] + rows[place + 1 :]})
        assert no_better(best((fewer, scenario), objective), best_of(number, objective), objective), rows[place].part


def scaled(job: Job, factor: int) -> Job:
    """Return a job at prices, charges and a budget of so many times as much."""
    catalogue, scenario = job
    offers = {
        code: tuple(offer.model_copy(update={"price": offer.price * factor}) for offer in rows)
        for code, rows in catalogue.offers.items()
    }

    def charging(supplier: Supplier) -> Supplier:
        told = ("delivery", "delivery_free_over", "order_min")
        known = {name: getattr(supplier, name) for name in told}
        return supplier.model_copy(update={name: cents * factor for name, cents in known.items() if cents is not None})

    budget = scenario.limits.budget
    return (
        replace(catalogue, offers=offers, suppliers=tuple(charging(s) for s in catalogue.suppliers)),
        changed(scenario, limits={"budget": None if budget is None else budget * factor}),
    )


def check_scaled(number: int, objective: str, factor: int) -> None:
    before, after = best_of(number, objective), best(scaled(drawn(number), factor), objective)
    assert (before is None) == (after is None)
    if before is None or after is None:
        return
    if objective == "power":
        assert after.watts == pytest.approx(before.watts, rel=WATTS)
        return
    assert (after.cents, after.milligrams) == (factor * before.cents, before.milligrams)


def renamed(job: Job, name: Callable[[str], str]) -> Job:
    """Return a job whose parts have other codes, and lie in the order of those, as a catalogue's do."""
    catalogue, scenario = job
    kinds: dict[str, Any] = {}
    for kind in PART_KINDS:
        rows = [part.model_copy(update={"part": name(part.part)}) for part in getattr(catalogue, kind)]
        kinds[kind] = tuple(sorted(rows, key=lambda part: part.part))
    offers = {
        name(code): tuple(offer.model_copy(update={"part": name(code)}) for offer in rows)
        for code, rows in catalogue.offers.items()
    }
    return replace(catalogue, **kinds, offers=dict(sorted(offers.items()))), scenario


def check_renamed(number: int, objective: str) -> None:
    before = best_of(number, objective)
    alike = best(renamed(drawn(number), lambda code: f"Z.{code}"), objective)
    # Codes in the other order: which of equal builds is named is decided by code, and nothing else is.
    codes = sorted(part.part for part in drawn(number)[0].parts())
    turned = dict(zip(codes, reversed([f"T{place:03d}" for place in range(len(codes))]), strict=True))
    other = best(renamed(drawn(number), turned.__getitem__), objective)
    assert (before is None) == (alike is None) == (other is None)
    if before is None or alike is None or other is None:
        return
    assert (alike.cents, alike.milligrams, alike.watts) == (before.cents, before.milligrams, before.watts)
    assert [line.part for line in alike.bill] == [f"Z.{line.part}" for line in before.bill]
    if objective == "power":
        assert other.watts == pytest.approx(before.watts, rel=WATTS)
    else:
        assert (other.cents, other.milligrams) == (before.cents, before.milligrams)


@pytest.mark.parametrize(("number", "what", "objective"), [(8, "more light", "cost"), (3, "a longer lead", "power")])
def test_what_asks_more_never_helps(number: int, what: str, objective: str) -> None:
    check_harder(number, what, objective, 1.2)


def test_a_longer_runtime_never_helps() -> None:
    check_harder(4, "a longer runtime", "mass", 1.3)


def test_a_limit_taken_away_or_drawn_wider_never_hurts() -> None:
    assert check_loosened(2, "mass", 2) >= 4


def test_a_part_more_never_hurts() -> None:
    check_fewer_parts(6, "cost", 2)


def test_prices_times_a_number_are_the_best_cost_times_it() -> None:
    check_scaled(7, "cost", 7)


def test_names_of_parts_decide_nothing_but_ties() -> None:
    check_renamed(9, "cost")


MANY = range(100, 140)


@pytest.mark.long
@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("number", MANY)
def test_in_many_problems_what_asks_more_never_helps(number: int, objective: str) -> None:
    for what in HARDER:
        for factor in (1.001, 1.1, 2.0):
            check_harder(number, what, objective, factor)


@pytest.mark.long
@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("number", MANY)
def test_in_many_problems_more_room_and_more_parts_never_hurt(number: int, objective: str) -> None:
    check_loosened(number, objective)
    check_fewer_parts(number, objective)


@pytest.mark.long
@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("number", MANY)
def test_in_many_problems_prices_scale_and_names_decide_nothing(number: int, objective: str) -> None:
    check_scaled(number, objective, 3)
    check_renamed(number, objective)
