"""Kits: several lights in one basket, against looking at every pair of builds (invented parts)."""

import pytest
from kits import drawn_kit

from optimise.model.kit_search import best_kit


def compare(number: int, source: str, objective: str, charge: bool) -> None:
    found = drawn_kit(number, source, charge)
    if found is None:
        pytest.skip("too many kits for the oracle")
    catalogue, scenario, oracle = found
    wanted = oracle.best(objective)
    result = best_kit(catalogue, scenario, objective)
    assert result.status == ("impossible" if wanted is None else "optimal")
    if wanted is not None:
        best = result.evaluation
        assert best is not None
        assert best.passes
        assert (best.cents, best.milligrams) == wanted
        assert best.cents == sum(order.total for order in best.orders)


@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize("charge", [False, True])
@pytest.mark.parametrize(("number", "source"), [(n, s) for s in ("battery", "mains") for n in range(4)])
def test_the_best_kit_is_found(number: int, source: str, charge: bool, objective: str) -> None:
    compare(number, source, objective, charge)


@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize("number", [3, 7])
def test_the_best_kit_of_lights_that_light_evenly_is_found(number: int, objective: str) -> None:
    compare(number, "battery+even", objective, charge=False)


@pytest.mark.long
@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize("charge", [False, True])
@pytest.mark.parametrize("source", ["battery+even", "mains+even,measured"])
@pytest.mark.parametrize("number", range(12))
def test_the_best_kit_that_lights_evenly_is_found_for_many(
    number: int, source: str, charge: bool, objective: str
) -> None:
    compare(number, source, objective, charge)


@pytest.mark.long
@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize("charge", [False, True])
@pytest.mark.parametrize(("number", "source"), [(n, s) for s in ("battery", "mains") for n in range(4, 80)])
def test_the_best_kit_is_found_for_many(number: int, source: str, charge: bool, objective: str) -> None:
    compare(number, source, objective, charge)
