"""A search for builds that use so many of a part finds the best of all builds where that one does."""

from dataclasses import replace

import pytest
from comparison import NODES
from oracle import OBJECTIVES, drawn_case

from optimise.model.choice import Evaluation
from optimise.model.must import Must
from optimise.model.search import best_build, run
from optimise.model.state import State, preferred
from optimise.model.weights import limits_of
from optimise.parts import Battery, Driver, Emitter
from optimise.scenario import Scenario


def searched(number: int, objective: str) -> tuple[State, Evaluation | None]:
    """Return a search of a random job that is still to be run, and its best build."""
    case, _ = drawn_case(number, ("battery", "mains")[number % 2], NODES)
    scenario: Scenario = case.scenario
    scenario = scenario.model_copy(update={"search": scenario.search.model_copy(update={"objective": objective})})
    result = best_build(case.catalogue, scenario)
    search = State(result.market, scenario.search.objective, 1, None, lambda text: None)
    return search, result.evaluation


def numbers(best: Evaluation) -> dict[Must, int]:
    """Return what could be asked of a build that it just has."""
    choice = best.choice
    found = {Must(Emitter, frozenset([code])): n for code, n in choice.pieces.items()}
    found |= {Must(Driver, frozenset([code])): n for code, n in choice.drivers.items()}
    if choice.battery is not None:
        found[Must(Battery, frozenset([choice.battery]))] = choice.batteries
    return found


FEW = (13, 16, 18, 19, 21, 24)
MANY = [number for number in range(10, 60) if number % 5 in (1, 3, 4) and number not in FEW]


@pytest.mark.parametrize("number", [*FEW, *(pytest.param(number, marks=pytest.mark.long) for number in MANY)])
def test_what_the_best_build_has_may_be_asked_for(number: int) -> None:
    objective = OBJECTIVES[number % 3]
    search, best = searched(number, objective)
    assert best is not None
    for must, has in numbers(best).items():
        for least in {1, has}:
            again = replace(search, lines=[], tangents=[], lows={})
            again.must = replace(must, least=least)
            run(again, limits_of(again.market.scenario))
            assert again.best is not None
            assert preferred(again.best, best, again.order) == 0
        more = replace(search, lines=[], tangents=[], lows={})
        more.must = replace(must, least=has + 1)
        run(more, limits_of(more.market.scenario))
        # What is quickly found need not have so many, and may be a build as good.
        assert more.best is None or preferred(more.best, best, more.order) >= 0
