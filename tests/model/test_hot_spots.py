"""Boards that bear the heat under an emitter at its rated current, and not above: the search against every build."""

from dataclasses import replace
from random import Random

import pytest
from comparison import NODES, compare_case
from oracle import OBJECTIVES, Oracle, TooManyError
from random_catalogues import Case, random_case

from optimise.parts import Emitter


def overdriven(number: int, source: str, attempt: int) -> Case:
    """Return a random case whose emitters may be run above their rated current, on boards of which some bear that."""
    rng = Random(f"hot spots {number} {source} {attempt}")
    case = random_case(number, source, 4000 + attempt)

    def stronger(emitter: Emitter) -> Emitter:
        if emitter.drive != "constant current" or emitter.current is None:
            return emitter
        return emitter.model_copy(update={"current_max": emitter.current * rng.choice([1.2, 1.5])})

    emitters = tuple(stronger(emitter) for emitter in case.catalogue.emitters)
    heats = [emitter.heat_density for emitter in emitters]
    panels = tuple(
        panel.model_copy(update={"heat_density_max": rng.choice([None, *(h * rng.uniform(0.95, 1.6) for h in heats)])})
        for panel in case.catalogue.panels
    )
    return replace(case, catalogue=replace(case.catalogue, emitters=emitters, panels=panels))


def compare(number: int, source: str, objective: str) -> None:
    for attempt in range(60):
        case = overdriven(number, source, attempt)
        try:
            oracle = Oracle(case.catalogue, case.scenario, NODES)
        except TooManyError:
            continue
        if oracle.lit:
            compare_case(case, oracle, objective)
            return
    pytest.skip("no small case among those drawn")


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(("number", "source"), [(0, "battery"), (1, "mains")])
def test_the_search_is_as_good_as_looking_at_every_build(number: int, source: str, objective: str) -> None:
    compare(number, source, objective)


@pytest.mark.long
@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("source", ["battery", "mains", "any"])
@pytest.mark.parametrize("number", range(2, 60))
def test_of_many(number: int, source: str, objective: str) -> None:
    compare(number, source, objective)
