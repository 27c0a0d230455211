"""The drive current is a decision: finer steps never make the best worse, and what it is bought for decides it."""

import itertools

import pytest
from comparison import NODES
from oracle import OBJECTIVES, Oracle, TooManyError, drawn_case

from optimise.model.heuristic import value_of
from optimise.model.search import best_build
from optimise.scenario import Scenario


def stepped(scenario: Scenario, step: float) -> Scenario:
    return scenario.model_copy(update={"search": scenario.search.model_copy(update={"drive_step": step})})


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(
    ("number", "source"),
    [
        (3, "battery"),
        (6, "battery"),
        (8, "mains"),
        *(pytest.param(*case, marks=pytest.mark.long) for case in ((13, "battery"), (19, "mains"))),
    ],
)
def test_finer_steps_never_make_the_best_worse(number: int, source: str, objective: str) -> None:
    case, _ = drawn_case(number, source, NODES)
    values = []
    for step in (1.0, 0.5, 0.25, 0.05):
        found = best_build(case.catalogue, stepped(case.scenario, step), objective).evaluation
        values.append(float("inf") if found is None else value_of(found, objective))
    for coarse, fine in itertools.pairwise(values):
        assert fine <= coarse * (1 + 1e-6), (case.name, values)


@pytest.mark.parametrize("step", [0.03, 0.5])
@pytest.mark.parametrize("number", [3, 6, 18, 23])
def test_any_step_is_searched_as_looking_at_every_build_does(number: int, step: float) -> None:
    check_step(number, step)


@pytest.mark.long
@pytest.mark.parametrize("step", [0.03, 0.2, 0.5])
@pytest.mark.parametrize("number", range(40))
def test_any_step_is_searched_as_looking_at_every_build_does_in_many_cases(number: int, step: float) -> None:
    check_step(number, step)


def check_step(number: int, step: float) -> None:
    case, _ = drawn_case(number, "battery", NODES)
    scenario = stepped(case.scenario, step)
    try:
        wanted = Oracle(case.catalogue, scenario, 3 * NODES).best("cost").build
    except TooManyError:
        pytest.skip("too many builds at this step")
    found = best_build(case.catalogue, scenario, "cost").evaluation
    assert (found is None) == (wanted is None), case.name
    if found is not None and wanted is not None:
        assert (found.cents, found.milligrams) == (wanted.cents, wanted.milligrams), case.name
