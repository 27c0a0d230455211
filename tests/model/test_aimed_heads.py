"""The light of open boards by the number of emitters, against the exact check of the same number. Invented parts."""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_parts import choice
from small_worlds import STEADY, WARM, job, parts_of, world

from optimise.columns.heads import NO_DIFFUSER
from optimise.model import aimed
from optimise.model.aimed import (
    at_odds,
    factor_within,
    greatest_factor,
    most_by_number,
    most_within,
    open_factor,
    open_spots,
)
from optimise.model.choice import ChannelChoice
from optimise.model.exact import build_of
from optimise.model.face import lux_per_lumen
from optimise.model.light import most_of
from optimise.model.problem import Problem
from optimise.model.spots import spots_of
from optimise.scenario.points import Point

A = Point(name="a", across=0.3, illuminance=70.0, illuminance_max=160.0)
B = Point(name="b", up=-0.2, distance=0.7, illuminance=60.0)
C = Point(name="c", across=-0.2, distance=0.6, illuminance_max=400.0)
PARTS = parts_of(WARM.model_copy(update={"back": 0.25}).ranging(1.1, 0.9), STEADY)
AIMED, PLAIN = world(PARTS, job(A, B, C)), world(PARTS, job())
ONLY_LEAST = world(PARTS, job(B))
NUMBERS = (1, 2, 5, 20)


def heads_of(problem: Problem, *, open_: bool) -> list[int]:
    return [h for h in range(len(problem.heads)) if (problem.heads.diffuser[h] == NO_DIFFUSER) == open_]


def exact(problem: Problem, head: int, number: int) -> tuple[float, tuple[float, ...]]:
    """Return the lux per lumen ahead and on each face, as the exact check counts them."""
    emitter = problem.parts.emitters[problem.heads.emitter[head]].part
    chosen = replace(
        choice(problem.parts.panels[problem.heads.panel[head]].part, None),
        emitter=emitter,
        channels=(ChannelChoice("d", 1, 1, 0.5, number),),
    )
    build = build_of(chosen, PARTS)
    return lux_per_lumen(build, 1.0), spots_of(build, problem.market.boards.spots)


@pytest.mark.parametrize("number", NUMBERS)
def test_the_light_of_a_number_is_that_of_the_exact_check(number: int) -> None:
    assert len(heads_of(AIMED, open_=True)) == 4
    for head in heads_of(AIMED, open_=True):
        ahead, (a, b, c) = exact(AIMED, head, number)
        assert open_spots(AIMED, head, number) == pytest.approx((a, b, c), rel=1e-9)
        # By the hardest of what is asked: 100 lx ahead, 70 at a, 60 at b.
        hardest = min(ahead, a * 100.0 / 70.0, b * 100.0 / 60.0)
        assert open_factor(AIMED, head, number) == pytest.approx(hardest, rel=1e-9)
        most = min(160.0 / a, 400.0 / c)
        assert most_by_number(AIMED, head, number) == pytest.approx(most, rel=1e-9)
        brighter = 1.1 if AIMED.parts.emitters[AIMED.heads.emitter[head]].part == "e" else 1.0
        assert at_odds(AIMED, head, number) == (100.0 / hardest * brighter > most)
    for head in heads_of(PLAIN, open_=True):
        assert open_factor(PLAIN, head, number) == pytest.approx(exact(PLAIN, head, number)[0], rel=1e-9)
        assert not at_odds(PLAIN, head, number)
        assert most_by_number(PLAIN, head, number) == math.inf
    assert not at_odds(ONLY_LEAST, heads_of(ONLY_LEAST, open_=True)[0], number)


def test_some_numbers_are_at_odds_and_some_are_not() -> None:
    found = {at_odds(AIMED, head, n) for head in heads_of(AIMED, open_=True) for n in range(1, 21)}
    assert found == {True, False}


def test_enough_that_is_just_not_too_much_is_no_odds() -> None:
    # A face that may have 1.1 times what it must have, by what tolerances add: the edge itself counts as kept.
    for limit, odds in ((77.0, False), (77.0 * (1.0 - 1e-6), True), (77.0 * (1.0 - 1e-9), False), (78.0, False)):
        problem = world(PARTS, job(A.model_copy(update={"illuminance_max": limit}), illuminance=1e-3))
        head = heads_of(problem, open_=True)[0]
        assert problem.parts.emitters[problem.heads.emitter[head]].part == "e"
        assert at_odds(problem, head, 4) == odds


def test_a_face_that_gets_nothing_bears_any_light() -> None:
    away = world(PARTS, job(Point(name="x", face_bearing=180.0, illuminance_max=1.0)))
    head = heads_of(away, open_=True)[0]
    assert open_spots(away, head, 3) == (0.0,)
    assert most_by_number(away, head, 3) == math.inf
    assert not at_odds(away, head, 3)


def test_bounds_over_a_range_are_the_best_of_its_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    for head in heads_of(AIMED, open_=True):
        factors = {n: open_factor(AIMED, head, n) for n in range(1, 21)}
        mosts = {n: most_by_number(AIMED, head, n) for n in range(1, 21)}
        for low, high in ((1, 1), (2, 7), (4, 20)):
            best = max(factors[n] for n in range(low, high + 1))
            assert greatest_factor(AIMED, head, low, high) == best
            assert factor_within(AIMED, head, low, high, 9.0) == best
            assert factor_within(AIMED, head, low, high, best / 2.0) == best / 2.0
            assert most_within(AIMED, head, low, high) == max(mosts[n] for n in range(low, high + 1))
        # A range that is empty or begins at none is not looked into.
        whole = float(most_of(AIMED, np.array([head]))[0])
        for low, high in ((5, 4), (0, 3)):
            assert factor_within(AIMED, head, low, high, 9.0) == 9.0
            assert most_within(AIMED, head, low, high) == whole
        monkeypatch.setattr(aimed, "KNOWN", 3)
        assert factor_within(AIMED, head, 2, 4, 9.0) == max(factors[n] for n in (2, 3, 4))
        assert factor_within(AIMED, head, 2, 5, 9.0) == 9.0
        assert most_within(AIMED, head, 2, 4) == max(mosts[n] for n in (2, 3, 4))
        assert most_within(AIMED, head, 2, 5) == whole
        monkeypatch.undo()


def test_of_diffused_heads_and_of_what_is_not_asked_nothing_is_looked_into() -> None:
    for head in heads_of(AIMED, open_=False):
        assert factor_within(AIMED, head, 1, 9, 9.0) == 9.0
        assert most_within(AIMED, head, 1, 9) == float(most_of(AIMED, np.array([head]))[0]) < math.inf
    for head in heads_of(PLAIN, open_=True):
        assert factor_within(PLAIN, head, 1, 9, 9.0) == 9.0
        assert most_within(PLAIN, head, 1, 9) == math.inf
    head = heads_of(ONLY_LEAST, open_=True)[0]
    assert most_within(ONLY_LEAST, head, 1, 9) == math.inf
    assert factor_within(ONLY_LEAST, head, 1, 9, 9.0) < 9.0
