"""The search against looking at every build, on small random problems (invented parts)."""

from collections.abc import Iterable, Mapping
from random import Random

import pytest
from comparison import NODES, compare
from oracle import OBJECTIVES, drawn_case

ONCE_WRONG = {"battery": (180, 243), "mains": (115,)}
"""Of the many, those in which a fault once showed: a job without any face, an open head that took more heat."""


def cases(numbers: Mapping[str, Iterable[int]]) -> list[object]:
    return [
        pytest.param(number, source, objective, id=f"{source}-{number}-{objective}")
        for source, those in numbers.items()
        for number in those
        for objective in OBJECTIVES
    ]


@pytest.mark.parametrize(
    ("number", "source", "objective"),
    cases({"battery": range(11), "mains": range(11), "any": range(3)}),
)
def test_the_best_of_all_builds_is_found(number: int, source: str, objective: str) -> None:
    compare(number, source, objective, NODES)


@pytest.mark.parametrize(
    ("number", "source", "objective"), cases({"battery+measured": (3, 4, 5), "mains+measured": (0, 3)})
)
def test_the_best_of_all_builds_is_found_with_measured_light(number: int, source: str, objective: str) -> None:
    compare(number, source, objective, NODES)


@pytest.mark.parametrize(
    ("number", "source", "objective"), cases({"battery+even": (1, 2, 5), "mains+even,measured": (0, 2)})
)
def test_the_best_of_all_builds_that_light_evenly_is_found(number: int, source: str, objective: str) -> None:
    compare(number, source, objective, NODES)


@pytest.mark.parametrize(
    ("number", "source", "objective"),
    cases({"battery+dots": (3, 14, 27), "mains+dots": (2, 4), "mains+dots,even": (1,)}),
)
def test_the_best_of_all_builds_that_show_no_dots_is_found(number: int, source: str, objective: str) -> None:
    compare(number, source, objective, NODES)


@pytest.mark.parametrize(("number", "source", "objective"), cases(ONCE_WRONG))
def test_what_was_once_wrong_is_right(number: int, source: str, objective: str) -> None:
    compare(number, source, objective, 10 * NODES)


@pytest.mark.parametrize("source", ["battery", "mains", "any"])
def test_the_exact_check_judges_builds_as_worked_out_here(source: str) -> None:
    compared = 0
    for number in range(10):
        _, oracle = drawn_case(number, source, NODES)
        compared += oracle.agree(Random(number), 4)
    assert compared >= 15


@pytest.mark.long
@pytest.mark.parametrize("source", ["battery", "mains"])
def test_most_cases_are_possible_and_some_are_not(source: str) -> None:
    possible = [drawn_case(number, source, NODES)[1].best("cost").build is not None for number in range(35)]
    assert 0.6 <= sum(possible) / len(possible) <= 0.95


@pytest.mark.long
@pytest.mark.parametrize(
    ("number", "source", "objective"),
    cases(
        {
            "battery": range(11, 315),
            "mains": range(11, 315),
            "any": range(3, 114),
            "battery+measured": range(60),
            "mains+measured": range(60),
            "battery+even": range(60),
            "mains+even": range(60),
            "mains+even,measured": range(20),
            "battery+dots": range(80),
            "mains+dots": range(80),
            "battery+dots,measured": range(8),
            "mains+dots,even": range(20),
        }
    ),
)
def test_the_best_of_all_builds_is_found_in_many_cases(number: int, source: str, objective: str) -> None:
    compare(number, source, objective, 10 * NODES)
