"""Thousands of small random problems of every kind: search, exact check and looking at every build must agree.

Each problem is a catalogue and a job of its own, made from its number and asked for one objective. It is small, so that
there can be many; the comparisons of the other modules have fewer and larger ones.
"""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from random import Random
from typing import Any

from baskets import assert_is
from comparison import compare_case
from kits import drawn_kit
from mixtures import MixedOracle, mixed_case
from oracle import OBJECTIVES, Oracle, TooManyError, drawn_case
from random_catalogues import Case, random_case
from test_baskets import drawn
from test_colour_limits import tinted
from test_worst_case import found_as_by_looking

from optimise.model.kit_search import best_kit
from optimise.model.search import best_build
from optimise.parts import Catalogue
from optimise.scenario import Scenario

FIRST = 20_000
"""Number of the first problem of each kind: far from those that other tests look at."""
CHUNK = 25
EMITTERS = 3
"""Most emitters that a problem is drawn for; a job may be done with others."""

Compare = Callable[[int], str | None]
"""Compares the problem of a number, and returns what it came to; None where there are too many builds to look at.

Raises AssertionError where the two differ.
"""


def _fed(number: int) -> str:
    return ("battery", "mains")[number % 2]


def _objective(number: int) -> str:
    """Return the objective of a problem; the number's remainders by 2, 3, 5 and 7 decide other things."""
    return OBJECTIVES[number // 30 % 3]


def _plain(source: str, more: str = "", step: int = 1, nodes: int = 200) -> Compare:
    def compare(number: int) -> str:
        # With `step` 7, numbers are those of jobs that limit flicker and shadows, or have boxes.
        mine = number if step == 1 else number * step + (2 if number % 3 else 4)
        case, oracle = drawn_case(mine, (source or _fed(number)) + more, nodes, EMITTERS)
        compare_case(case, oracle, _objective(number))
        oracle.agree(Random(number), 1)
        return _ending(oracle.best(_objective(number)).build)

    return compare


def _ending(build: object) -> str:
    return "impossible" if build is None else "optimal"


def _tolerances(number: int) -> str | None:
    found = found_as_by_looking(number, _fed(number), _objective(number), 300, EMITTERS)
    return None if found is None else found.status


def _looked(case: Case, oracle_of: type[Oracle], nodes: int, number: int) -> str | None:
    try:
        oracle = oracle_of(case.catalogue, case.scenario, nodes)
    except TooManyError:
        return None
    compare_case(case, oracle, _objective(number))
    return _ending(oracle.best(_objective(number)).build)


def _tinted(number: int) -> str | None:
    return _looked(tinted(random_case(number, _fed(number), 0, 4), Random(number)), Oracle, 500, number)


def _mixed(number: int) -> str | None:
    return _looked(mixed_case(number, 4), MixedOracle, 400, number)


def _bought(found: tuple[Catalogue, Scenario, Any] | None, best: Callable[..., Any], number: int) -> str | None:
    if found is None:
        return None
    catalogue, scenario, oracle = found
    objective = OBJECTIVES[number // 30 % 2]
    wanted, result = oracle.best(objective), best(catalogue, scenario, objective)
    assert_is(wanted, result.status, result.evaluation)
    status: str = result.status
    return status


def _door(number: int) -> str | None:
    return _bought(drawn(number, _fed(number), 300, 1500, EMITTERS), best_build, number)


def _kit(number: int) -> str | None:
    return _bought(drawn_kit(number, _fed(number), number % 3 > 0, 60, 2), best_kit, number)


KINDS: Mapping[str, tuple[Compare, int]] = {
    "battery": (_plain("battery"), 800),
    "mains": (_plain("mains"), 800),
    "battery or mains": (_plain("any"), 200),
    "flicker, shadows and boxes": (_plain("", step=7), 300),
    "delivery": (_door, 2200),
    "tolerances": (_tolerances, 800),
    "colour and filters": (_tinted, 5500),
    "mixtures": (_mixed, 200),
    "even light": (_plain("", "+even"), 75),
    "points": (_plain("", "+points"), 75),
    "two sheets": (_plain("", "+stacked"), 100),
    "dots": (_plain("", "+dots"), 50),
    "measured light": (_plain("", "+measured"), 25),
    "kits": (_kit, 25),
}
"""How each kind is compared, and how many numbers of it there are."""


def chunks() -> list[tuple[str, int]]:
    """Return (kind, first number) of all chunks, the kinds side by side, so that a part of them is a fair sample."""
    places = [
        ((start + CHUNK) / count, kind, FIRST + start)
        for kind, (_, count) in KINDS.items()
        for start in range(0, count, CHUNK)
    ]
    return [(kind, first) for _, kind, first in sorted(places)]


@dataclass
class Tally:
    """What comparing the problems of a chunk came to."""

    kind: str
    first: int
    last: int
    compared: int = 0
    optimal: int = 0
    too_many: int = 0
    disagreements: list[str] = field(default_factory=list)
    seconds: float = 0.0


def compared(kind: str, first: int) -> Tally:
    """Return what a chunk came to, every problem looked at whatever the others came to."""
    compare, count = KINDS[kind]
    numbers = range(first, min(first + CHUNK, FIRST + count))
    tally = Tally(kind, numbers[0], numbers[-1])
    began = time.process_time()
    for number in numbers:
        try:
            ending: Any = compare(number)
        except Exception as fault:  # whatever the search raises is a disagreement too
            tally.disagreements.append(f"{number}: {type(fault).__name__}: {fault}"[:300])
            ending = "other"
        tally.compared += ending is not None
        tally.optimal += ending == "optimal"
        tally.too_many += ending is None
    tally.seconds = round(time.process_time() - began, 1)
    return tally
