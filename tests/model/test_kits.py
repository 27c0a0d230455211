"""Kits: several lights in one basket, against looking at every pair of builds (invented parts)."""

from collections.abc import Callable

import numpy as np
import pytest
from baskets import assert_is
from kits import drawn_kit, plain_kit

from optimise.columns.dearer import Together
from optimise.model import kit_program
from optimise.model.kit_house import KitHouse
from optimise.model.kit_search import best_kit
from optimise.model.solver import Program


def compare(number: int, source: str, objective: str, charge: bool) -> None:
    found = drawn_kit(number, source, charge)
    if found is None:
        pytest.skip("too many kits for the oracle")
    catalogue, scenario, oracle = found
    wanted = oracle.best(objective)
    result = best_kit(catalogue, scenario, objective)
    assert_is(wanted, result.status, result.evaluation)


@pytest.mark.parametrize(
    ("number", "source", "charge", "objective"),
    [
        (0, "battery", True, "cost"),
        (2, "mains", False, "cost"),
        # A hotter board than among fewer columns.
        pytest.param(17, "battery", True, "cost", marks=pytest.mark.long),
    ],
)
def test_the_best_kit_is_found(number: int, source: str, charge: bool, objective: str) -> None:
    compare(number, source, objective, charge)


def none_stands_in(self: Together, wants: list[object], *rest: object) -> np.ndarray:
    return np.eye(len(wants), dtype=bool)


RULES: dict[str, list[tuple[object, str, Callable[..., object]]]] = {
    "what stands in": [(Together, "singles", none_stands_in), (Together, "lots", none_stands_in)],
    "credits": [(KitHouse, "choose_credit", lambda self: None)],
    "guesses": [(KitHouse, "guesses", lambda self, order: iter(()))],
    "the relaxation": [(Program, "drop_dear", lambda *arguments: True)],
    "rows of bounds": [(kit_program, "_least_cost", lambda f: {})],
}


@pytest.mark.long
@pytest.mark.parametrize("number", [3, 8, 12])
def test_the_best_kit_is_the_same_without_a_rule(number: int) -> None:
    catalogue, scenario = plain_kit(number, ("battery", "mains")[number % 2])
    wanted = best_kit(catalogue, scenario, "cost").evaluation
    assert wanted is not None
    for rule, changes in RULES.items():
        with pytest.MonkeyPatch.context() as patch:
            for owner, name, instead in changes:
                assert hasattr(owner, name)
                patch.setattr(owner, name, instead)
            found = best_kit(catalogue, scenario, "cost").evaluation
        assert found is not None, rule
        assert (found.cents, found.milligrams) == (wanted.cents, wanted.milligrams), rule


@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize("number", [7])
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
@pytest.mark.parametrize(("number", "source"), [(n, s) for s in ("battery", "mains") for n in range(80)])
def test_the_best_kit_is_found_for_many(number: int, source: str, charge: bool, objective: str) -> None:
    compare(number, source, objective, charge)


@pytest.mark.long
@pytest.mark.parametrize("number", range(12))
@pytest.mark.parametrize("objective", ["cost", "mass"])
def test_the_best_kit_is_found_with_points(number: int, objective: str) -> None:
    compare(number, ("battery+points", "mains+points")[number % 2], objective, charge=number % 3 == 0)


@pytest.mark.long
@pytest.mark.parametrize("number", range(8))
@pytest.mark.parametrize("objective", ["cost", "mass"])
def test_the_best_kit_is_found_with_two_sheets(number: int, objective: str) -> None:
    compare(number, ("battery+stacked", "mains+stacked")[number % 2], objective, charge=number % 3 == 0)
