"""Which numbers of emitters are even enough, against the exact check of every number. All parts are invented."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from plain_parts import SHEETS, choice
from small_worlds import BOARDS, STEADY, WARM, job, pair_world, parts_of, world

from optimise.columns.heads import NO_DIFFUSER
from optimise.model import even
from optimise.model.choice import ChannelChoice
from optimise.model.dots import dots
from optimise.model.exact import build_of
from optimise.model.face import lux_per_lumen
from optimise.model.field import evenness
from optimise.model.kept import everything
from optimise.model.problem import Problem
from optimise.model.spots import spots_of
from optimise.parts import Catalogue
from optimise.scenario import Scenario
from optimise.scenario.points import Point

MOST = 20
DEEP = tuple(panel.model_copy(update={"depth": 0.08}) for panel in BOARDS)
NARROW = STEADY.model_copy(update={"beam": 60.0, "length": 0.2})
OPEN = parts_of(WARM, NARROW, diffusers=())
BOXES = parts_of(WARM, NARROW, panels=DEEP, diffusers=SHEETS[:1])
UNIFORM = job(subject_width=0.8, subject_height=0.3, uniformity_min=0.42)
HIDDEN = job(look={"dots_max": 0.45})
AIMED = job(Point(name="x", across=0.3, illuminance=70.0, illuminance_max=81.0))
WORLDS = [(OPEN, UNIFORM), (BOXES, HIDDEN), (OPEN, AIMED)]
IDS = ["uniform", "hidden", "aimed"]


def good_numbers(problem: Problem, parts: Catalogue, scenario: Scenario, head: int) -> set[int]:
    """Return the numbers that keep the limits on evenness, by what the exact check finds of each."""
    h, sheet = problem.heads, int(problem.heads.diffuser[head])
    kind = problem.parts.emitters[h.emitter[head]].part
    board = problem.parts.panels[h.panel[head]].part
    found = set()
    for number in range(1, MOST + 1):
        chosen = replace(
            choice(board, None if sheet == NO_DIFFUSER else problem.parts.diffusers[sheet].part),
            emitter=kind,
            channels=(ChannelChoice("d", 1, 1, 0.5, number),),
        )
        build = build_of(chosen, parts)
        spread, ripple = evenness(build, scenario), dots(build)
        good = spread is None or spread.share >= (scenario.light.uniformity_min or 0.0)
        good = good and (spread is None or spread.edge <= (scenario.light.edge_stops_max or math.inf))
        if scenario.look.dots_max is not None:
            good = good and ripple is not None and ripple <= scenario.look.dots_max
        if scenario.points:
            # 100 lx ahead, 70 lx at the point, which bears 81 lx; tolerances may make the first kind 10 % brighter.
            (there,) = spots_of(build, problem.market.boards.spots)
            lumens = max(100.0 / lux_per_lumen(build, 1.0), 70.0 / there)
            good = good and lumens * there * (1.1 if kind == "e" else 1.0) <= 81.0
        if good:
            found.add(number)
    return found


@pytest.fixture(scope="module")
def looked() -> dict[int, tuple[Problem, dict[int, set[int]]]]:
    """Return each problem with the good numbers of every head."""
    found = {}
    for place, (parts, scenario) in enumerate(WORLDS):
        problem = world(parts, scenario)
        assert problem.capacity.tolist() == [MOST] * len(problem.heads)
        found[place] = problem, {h: good_numbers(problem, parts, scenario, h) for h in range(len(problem.heads))}
    return found


@pytest.mark.parametrize("place", range(len(WORLDS)), ids=IDS)
@pytest.mark.parametrize("known", [even.KNOWN, 7])
def test_every_number_as_the_exact_check_has_it(
    place: int, known: int, looked: dict[int, tuple[Problem, dict[int, set[int]]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(even, "KNOWN", known)
    problem, good = looked[place]
    assert any(0 < len(some) < MOST for some in good.values())
    kept = everything(problem)
    left = even.even_heads(problem, kept)
    first = {}
    for head, some in good.items():
        assert {n for n in range(1, MOST + 1) if not even.uneven(problem, head, n)} == some
        # What is not known not to be even is taken for even.
        may = sorted(some | set(range(known + 1, MOST + 1)))
        runs = list(even.even_ranges(problem, head))
        assert [n for low, high in runs for n in range(low, high + 1)] == may
        assert all(after[0] > before[1] + 1 for before, after in pairwise(runs))
        first[head] = may[0] if may else MOST + 1
        for each in (1, 2, 3):
            number = np.array([1, 2, 5, 9, 30])
            found = even.even_multiples(problem, head, number, np.full(5, each)).tolist()
            for asked, got in zip(number.tolist(), found, strict=True):
                fitting = [k for k in range(asked, MOST // each + 1) if each * k in may]
                assert got == (fitting[0] if fitting else MOST // each + 1)
    lit = {h: n for h, n in first.items() if n <= MOST}
    if place == 1:
        # What no number of pieces hides goes, however few numbers are looked at.
        lit = {h: n for h, n in lit.items() if good[h]}
    assert dict(zip(left.heads.tolist(), left.fewest.tolist(), strict=True)) == lit


def test_heads_are_told_how_many_they_have_at_least_and_keep_more() -> None:
    problem = world(OPEN, UNIFORM)
    kept = everything(problem)
    plain = even.even_heads(problem, kept)
    many = even.even_heads(problem, replace(kept, fewest=np.full(len(kept.heads), 4)))
    assert many.fewest.tolist() == [max(n, 4) for n in plain.fewest.tolist()]
    assert max(plain.fewest) > 1
    full = even.even_heads(problem, replace(kept, fewest=np.full(len(kept.heads), MOST)))
    assert full.heads.tolist() == plain.heads.tolist()
    assert set(full.fewest.tolist()) == {MOST}
    free = world(OPEN, job())
    whole = everything(free)
    assert even.even_heads(free, whole) is whole
    assert list(even.even_ranges(free, 0)) == [(1, MOST)]
    assert not any(even.uneven(free, 0, n) for n in range(1, MOST + 1))
    # Dots of two kinds are not looked at beforehand.
    boxed = pair_world(BOXES, HIDDEN)
    assert even.even_heads(boxed, everything(boxed)).heads.tolist() == everything(boxed).heads.tolist()
    assert list(even.even_ranges(boxed, 0)) == [(1, int(boxed.capacity[0]))]
    mixed = pair_world(parts_of(WARM, NARROW), UNIFORM)
    assert even.even_heads(mixed, everything(mixed)).fewest.tolist() == [1] * len(mixed.heads)
    assert list(even.even_ranges(mixed, 0)) == [(1, int(mixed.capacity[0]))]


def test_both_limits_on_evenness_are_kept() -> None:
    both = job(subject_width=0.8, subject_height=0.3, uniformity_min=0.42, edge_stops_max=0.9)
    problem = world(OPEN, both)
    found = {h: good_numbers(problem, OPEN, both, h) for h in range(len(problem.heads))}
    assert found != {h: good_numbers(problem, OPEN, UNIFORM, h) for h in range(len(problem.heads))}
    for head, some in found.items():
        assert {n for n in range(1, MOST + 1) if not even.uneven(problem, head, n)} == some


def test_diffused_heads_whose_light_must_be_even_are_what_they_are() -> None:
    # Beside open boards: behind a sheet any number is as even as another.
    problem = world(parts_of(WARM, NARROW), UNIFORM)
    left = even.even_heads(problem, everything(problem))
    behind = problem.heads.diffuser[left.heads] != NO_DIFFUSER
    assert behind.any()
    assert len(left.heads) < len(problem.heads)
    assert set(left.fewest[behind].tolist()) == {1}
    for head in left.heads[behind].tolist():
        assert not even.uneven(problem, head, 1)
        assert list(even.even_ranges(problem, head)) == [(1, MOST)]
    # The same where there can be too much light anywhere.
    aimed = world(parts_of(WARM, NARROW), AIMED)
    left = even.even_heads(aimed, everything(aimed))
    behind = aimed.heads.diffuser[left.heads] != NO_DIFFUSER
    assert behind.any()
    assert set(left.fewest[behind].tolist()) == {1}


@pytest.mark.parametrize("limit", [0.02, 0.45])
def test_the_least_number_of_an_emitter_over_all_faces(limit: float) -> None:
    scenario = job(look={"dots_max": limit})
    problem = world(BOXES, scenario)
    found = even.fewest_by_emitter(problem.market).tolist()
    for e, emitter in enumerate(problem.parts.emitters):
        firsts = [
            min(good, default=MOST + 1)
            for h in range(len(problem.heads))
            if problem.heads.emitter[h] == e
            for good in [good_numbers(problem, BOXES, scenario, h)]
        ]
        assert found[e] == min(firsts), emitter.part
    assert even.fewest_by_emitter(world(BOXES, job()).market).tolist() == [1, 1]


def test_an_emitter_with_no_face_left_is_not_asked_for_any() -> None:
    problem = world(parts_of(WARM, NARROW, panels=DEEP, diffusers=SHEETS[:1]), HIDDEN)
    huge = DEEP[0].model_copy(update={"width": 3.0, "height": 3.0, "part": "huge"})
    bare = world(parts_of(WARM, NARROW, panels=(huge,), diffusers=SHEETS[:1]), HIDDEN)
    assert len(problem.heads) > 0
    assert len(bare.market.boards.panel) == 0
    assert even.fewest_by_emitter(bare.market).tolist() == [1, 1]
    assert math.isfinite(float(even.fewest_by_emitter(problem.market).max()))
