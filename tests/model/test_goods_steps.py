"""The way of the search of goods, step by step, with all that it calls made up: what is asked, in which order.

What is found at the end is held against all builds of a small world in `test_goods_alone_ties`.
"""

import math
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from plain_parts import EMITTER, catalogue, choice
from plain_parts import SCENARIO as PLAIN

from optimise.model import goods
from optimise.model.choice import Evaluation
from optimise.model.exact import evaluate
from optimise.model.solver import Outcome, Status
from optimise.model.state import State, TimeUpError
from optimise.model.weights import SCALES
from optimise.scenario import Scenario

FREE = dict.fromkeys(SCALES, math.inf)
FOUND = evaluate(choice("p", "film"), catalogue(EMITTER), PLAIN)
JOB = PLAIN.model_copy(update={"limits": PLAIN.limits.model_copy(update={"mount": False})})


def build(cents: int = 1000, milligrams: int = 2000, watts: float = 10.0, missing: tuple[str, ...] = ()) -> Evaluation:
    return replace(FOUND, cents=cents, milligrams=milligrams, watts=watts, margins=(), missing=missing)


def search(scenario: Scenario = JOB, mounts: tuple[int, ...] = (), **more: Any) -> State:
    market = SimpleNamespace(scenario=scenario, mounts=mounts)
    return State(market, "cost", 1, None, lambda text: None, **more)  # type: ignore[arg-type]


class Kept:
    """What is left of an imagined line."""

    def __init__(self, size: int = 5, possible: bool = True, low: float = math.inf) -> None:
        self.size, self.possible, self.low = size, possible, low


def line(emitter: int = 0, mix: Any = None, **kept: Any) -> Any:
    return goods.Line(emitter, SimpleNamespace(mix=mix, size=7, heads="heads"), Kept(**kept))  # type: ignore[arg-type]


class Way:
    """Records what `run` asks for; each figure made least leaves the build that is told for it."""

    def __init__(self, patch: pytest.MonkeyPatch, *builds: Evaluation | None, is_alone: bool = False) -> None:
        self.builds, self.calls = list(builds), list[Any]()
        patch.setattr(goods, "_line_up", lambda state, caps: self.calls.append(("lines", dict(caps))))
        patch.setattr(goods, "_make_least", self.least)
        patch.setattr(goods, "alone", lambda state, caps: self.calls.append(("alone", dict(caps))) or is_alone)
        patch.setattr(goods, "break_ties", lambda state, caps: self.calls.append(("ties", dict(caps))))
        patch.setattr(goods, "with_smallest_fuse", lambda best, market: self.calls.append("fuse") or best)

    def least(self, state: State, scale: str, caps: Any, *, first: bool) -> None:
        self.calls.append((scale, dict(caps), first))
        state.best = self.builds.pop(0)


def test_figures_are_made_least_one_after_the_other_and_settled(monkeypatch: pytest.MonkeyPatch) -> None:
    way = Way(monkeypatch, build(1000, 2500), build(1000, 2000))
    looking = search()
    goods.run(looking, FREE | {"mass": 1e9})
    start = FREE | {"mass": 1e9}
    # What is settled may be blurred by the solver's tolerances, a quarter of a cent, and no more.
    cost = start | {"cost": 1000.25}
    both = cost | {"mass": 2000.25}
    assert way.calls == [
        ("lines", start),
        ("cost", start, True),
        ("alone", cost),
        ("mass", cost, False),
        ("ties", both),
        "fuse",
    ]
    assert looking.settled == 2
    assert looking.within == start


def test_a_cap_that_is_tighter_than_the_blur_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    way = Way(monkeypatch, build(), build())
    goods.run(search(), FREE | {"cost": 1000.0})
    assert ("alone", FREE | {"cost": 1000.0}) in way.calls


def test_a_build_that_is_alone_needs_no_more_figures_and_no_ties(monkeypatch: pytest.MonkeyPatch) -> None:
    way = Way(monkeypatch, build(), is_alone=True)
    looking = search(order=("cost", "mass", "power"))
    goods.run(looking, FREE)
    assert [call if isinstance(call, str) else call[0] for call in way.calls] == ["lines", "cost", "alone", "fuse"]
    assert looking.settled == 3


def test_it_is_asked_but_once_whether_a_build_is_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    way = Way(monkeypatch, build(), build(), build())
    goods.run(search(order=("power", "cost", "mass")), FREE)
    names = [call if isinstance(call, str) else call[0] for call in way.calls]
    assert names == ["lines", "power", "alone", "cost", "mass", "ties", "fuse"]
    assert [call[2] for call in way.calls if len(call) == 3] == [True, False, False]


def test_ties_are_not_told_apart_where_they_need_not_be(monkeypatch: pytest.MonkeyPatch) -> None:
    for more in ({"ties": False}, {"stays": FOUND.choice}, {"ties": False, "stays": FOUND.choice}):
        way = Way(monkeypatch, build(), build())
        goods.run(search(**more), FREE)
        assert [call[0] for call in way.calls] == ["lines", "cost", "mass"]
    # Another one than the one that stays was found: ties matter again.
    other = Way(monkeypatch, build(), build())
    goods.run(search(stays=replace(FOUND.choice, fuse="other")), FREE)
    assert "fuse" in other.calls


def test_where_no_build_is_found_nothing_is_settled(monkeypatch: pytest.MonkeyPatch) -> None:
    way = Way(monkeypatch, None)
    looking = search()
    goods.run(looking, FREE)
    assert [call[0] for call in way.calls] == ["lines", "cost"]
    assert looking.settled == 0


def test_a_mount_is_asked_for_and_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    way = Way(monkeypatch)
    for find in (goods.run, goods.find_any, goods.find_likely, goods.lines_within):
        assert not find(search(PLAIN), FREE)
    assert way.calls == []
    assert not goods._unmounted(search(PLAIN, (3,)).market)
    assert not goods._unmounted(search(JOB).market)


# Which lines there are ---------------------------------------------------------------------------------


class Lines:
    """Lines of emitters that come to so much at least, and the builds that are quickly found of them."""

    def __init__(
        self, patch: pytest.MonkeyPatch, least: list[float], quick: dict[int, Evaluation], gone: tuple[int, ...] = ()
    ) -> None:
        self.sifted: list[tuple[int, dict[str, float], str]] = []
        self.gone = gone
        patch.setattr(goods, "least_by_line", lambda market, caps, scale: np.array(least))
        patch.setattr(goods, "whole_line", lambda state, emitter: line(emitter))
        patch.setattr(goods, "sift", self.sift)
        patch.setattr(goods, "_quick", lambda one, scale: quick.get(one.emitter))

    def sift(self, state: State, one: Any, caps: Any, scale: str) -> None:
        self.sifted.append((one.emitter, dict(caps), scale))
        one.kept.possible = one.emitter not in self.gone
        one.kept.low = 50.0


def test_lines_are_built_the_most_promising_first_and_what_cannot_win_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = Lines(monkeypatch, [300.0, 100.0, math.inf, 200.0, 100.0, 950.0], {3: build(250), 1: build(400)})
    looking = search()
    goods._line_up(looking, FREE)
    # By what they come to, those that tie by place; of 300 at the least none beats 250, and of endless none is.
    assert [emitter for emitter, *_ in lines.sifted] == [1, 4, 3]
    assert [one.emitter for one in looking.lines] == [1, 4, 3]
    # What the last ones came to bounds the next.
    assert [caps["cost"] for _, caps, _ in lines.sifted] == [math.inf, 400.25, 400.25]
    assert looking.best is not None
    assert looking.best.cents == 250
    assert looking.lows == {0: 300.0, 1: 100.0, 3: 200.0, 4: 100.0, 5: 950.0}
    assert looking.low == 100.0
    assert looking.columns == 3 * 7


def test_a_line_that_may_tie_with_the_best_is_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = Lines(monkeypatch, [100.0, 250.25, 250.26], {0: build(250)})
    goods._line_up(search(), FREE)
    assert [emitter for emitter, *_ in lines.sifted] == [0, 1]


def test_lines_that_tie_are_built_by_their_place(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = Lines(monkeypatch, [200.0, 100.0] * 100, {})
    goods._line_up(search(), FREE)
    assert [emitter for emitter, *_ in lines.sifted] == [*range(1, 200, 2), *range(0, 200, 2)]


def test_wide_lines_are_within_the_caps_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = Lines(monkeypatch, [100.0, 300.0, 600.0], {0: build(250)})
    looking = search()
    found = goods.lines_within(looking, FREE | {"cost": 500.0})
    assert [one.emitter for one in found] == [0, 1]
    assert [caps["cost"] for _, caps, _ in lines.sifted] == [500.0, 500.0]
    assert looking.best is None
    # Even where a better build is known.
    assert len(goods.lines_within(search(best=build(200)), FREE | {"cost": 500.0})) == 2


def test_a_line_without_a_build_is_dropped_and_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    floors: dict[tuple[str, int], float] = {("cost", 0): 40.0, ("cost", 1): 60.0}
    Lines(monkeypatch, [10.0, 20.0, 30.0], {}, gone=(0, 1))
    looking = search(floors=floors)
    goods._line_up(looking, FREE | {"cost": 500.0})
    assert [one.emitter for one in looking.lines] == [2]
    assert looking.lows == {2: 30.0}
    # What it comes to at least is never forgotten for less.
    assert floors == {("cost", 0): 50.0, ("cost", 1): 60.0}


@pytest.mark.parametrize(
    ("limits", "caps", "more", "known"),
    [
        ({}, {}, {}, True),
        ({"mass": 3.0}, {"mass": 3e6 * (1 + 1e-9)}, {}, True),  # the scenario's own limit is that of all builds
        ({"mass": 3.0}, {"mass": 2e6}, {}, False),
        ({}, {"power": 5.0}, {}, False),
        ({}, {"mass": 5.0, "power": 5.0}, {}, False),
        ({"budget": 900}, {"cost": 500.0}, {}, True),  # the scale itself may be capped
        ({}, {}, {"admits": lambda problem: None}, False),
        ({}, {}, {"must": "some part"}, False),
        ({}, {}, {"must": "some part", "admits": lambda problem: None}, False),
    ],
)
def test_floors_are_those_of_all_builds_of_an_emitter(
    limits: dict[str, Any], caps: dict[str, float], more: dict[str, Any], known: bool
) -> None:
    scenario = JOB.model_copy(update={"limits": JOB.limits.model_copy(update=limits)})
    floors: dict[tuple[str, int], float] = {}
    goods._keep_floor(search(scenario, floors=floors, **more), line(3, low=0.5), FREE | caps, "cost")
    assert floors == ({("cost", 3): 0.5} if known else {})
    goods._keep_floor(search(scenario, **more), line(3), FREE | caps, "cost")  # nowhere to keep it


def test_what_is_known_to_be_too_dear_is_passed_over_and_the_next_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    for cap, floor, passed in (
        (500.0, 600.0, True),
        (500.0, 500.0, False),
        (500.0, 400.0, False),
        (500.0, 500.2, True),
    ):
        lines = Lines(monkeypatch, [100.0, 200.0], {})
        looking = search(floors={("cost", 0): floor})
        goods._line_up(looking, FREE | {"cost": cap})
        assert [emitter for emitter, *_ in lines.sifted] == ([1] if passed else [0, 1])
        assert (0 in looking.lows) is not passed
    # What is not known is no floor, even below a tight cap; and rounding is forgiven.
    lines = Lines(monkeypatch, [0.0], {})
    goods._line_up(search(floors={}), FREE | {"cost": 0.0})
    assert len(lines.sifted) == 1
    lines = Lines(monkeypatch, [0.0], {})
    goods._line_up(search(floors={("cost", 0): 500.0 * (1 + 5e-10)}), FREE | {"cost": 500.0})
    assert len(lines.sifted) == 1


def test_the_first_build_ends_it_where_any_will_do(monkeypatch: pytest.MonkeyPatch) -> None:
    quick = {1: build(400), 2: build(300)}
    for any_will_do, looked_at in ((True, [0, 1]), (False, [0, 1, 2])):
        lines = Lines(monkeypatch, [100.0, 200.0, 300.0], quick)
        goods._line_up(search(any_will_do=any_will_do), FREE)
        assert [emitter for emitter, *_ in lines.sifted] == looked_at


def test_lines_that_are_given_are_taken_as_they_are() -> None:
    given = [line(4), line(2)]
    looking = search(given=given)
    goods._line_up(looking, FREE)
    assert looking.lines == given
    assert looking.lows == {4: 0.0, 2: 0.0}


def test_a_mixture_has_a_search_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(goods, "quick_build", lambda *asked: "one kind")
    monkeypatch.setattr(goods, "mixed_build", lambda *asked: "two kinds")
    assert goods._quick(line(), "cost") == "one kind"
    assert goods._quick(line(mix="mix"), "cost") == "two kinds"


def test_no_worse_is_as_good_within_the_blur() -> None:
    assert goods._no_worse(search(), FREE) == FREE
    assert goods._no_worse(search(best=build(1000)), FREE) == FREE | {"cost": 1000.25}
    assert goods._no_worse(search(best=build(1000)), FREE | {"cost": 900.0}) == FREE | {"cost": 900.0}
    looking = search(best=build(1000, 2000), order=("mass", "cost"))
    assert goods._no_worse(looking, FREE) == FREE | {"mass": 2000.25}


def test_tight_are_the_scale_and_those_settled_before() -> None:
    looking = search(order=("power", "cost", "mass"))
    assert [goods._tight(looking, scale) for scale in looking.order] == [
        ["power"], ["cost", "power"], ["mass", "power", "cost"],
    ]  # fmt: skip


def test_a_line_that_was_given_is_sifted_and_screened_if_much_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[str] = []
    monkeypatch.setattr(goods, "sifted", lambda problem, kept, caps, scale: calls.append("sift") or (problem, kept))
    monkeypatch.setattr(goods, "screened", lambda problem, kept, caps, tight: calls.append("screen") or (problem, kept))
    monkeypatch.setattr(goods, "finely", lambda problem, kept, caps, tight: calls.append("fine") or kept)
    for given, size, wanted in (
        (None, 10, ["screen"]),
        ([], 10, ["sift"]),
        ([], goods.SMALL, ["sift"]),
        ([], goods.SMALL + 1, ["sift", "fine"]),
    ):
        calls.clear()
        goods._less(search(given=given), None, Kept(size), FREE, ["cost"])  # type: ignore[arg-type]
        assert calls == wanted


# How one figure is made least --------------------------------------------------------------------------


def made_least(patch: pytest.MonkeyPatch, looking: State, lines: list[Any], first: bool) -> list[Any]:
    calls: list[Any] = []

    def less(state: State, problem: Any, kept: Any, caps: Any, tight: Any) -> Any:
        # What ties with the best goes on to the next figure: for the first one alone lines are cut for good.
        assert first
        assert list(tight) == ["cost"]
        return problem, kept

    patch.setattr(goods, "_improve", lambda state, caps: calls.append("improve"))
    patch.setattr(goods, "_less", less)

    def least(state: State, one: Any, scale: str, caps: Any, *, first: bool) -> None:
        calls.append((one.emitter, scale, first))

    patch.setattr(goods, "_make_line_least", least)
    looking.lines = lines
    goods._make_least(looking, "cost", FREE, first=first)
    return calls


def test_one_figure_goes_over_all_lines_that_are_possible(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = [line(0), line(1, possible=False), line(2)]
    looking = search(lows={0: 1.0, 1: 2.0, 2: 3.0, 9: 4.0})
    assert made_least(monkeypatch, looking, lines, True) == ["improve", (0, "cost", True), (2, "cost", True)]
    assert [one.emitter for one in looking.lines] == [0, 2]
    assert looking.lows == {}
    looking = search(lows={0: 1.0, 9: 4.0})
    assert made_least(monkeypatch, looking, [line(0)], False) == [(0, "cost", False)]
    assert looking.lows == {9: 4.0}
    # Lines that were given were improved by whoever gave them.
    assert made_least(monkeypatch, search(given=[]), [line(0)], True) == [(0, "cost", True)]


def test_any_build_ends_it_and_none_does_not(monkeypatch: pytest.MonkeyPatch) -> None:
    assert made_least(monkeypatch, search(any_will_do=True, best=build()), [line(0)], True) == ["improve"]
    assert made_least(monkeypatch, search(any_will_do=True), [line(0)], False) == [(0, "cost", False)]
    assert made_least(monkeypatch, search(best=build()), [line(0)], False) == [(0, "cost", False)]


def test_lines_are_improved_but_for_mixtures(monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[str] = []
    monkeypatch.setattr(goods, "sifted", lambda problem, kept, caps, scale: (problem, kept))
    monkeypatch.setattr(
        goods, "mixed_build", lambda problem, kept, scale: tried.append(scale) or build(len(tried) * 100)
    )
    for any_will_do, best, wanted in ((False, None, 2), (True, None, 1), (True, build(), 0), (False, build(), 2)):
        tried.clear()
        looking = search(any_will_do=any_will_do, best=best)
        looking.lines = [line(0), line(1, mix="mix"), line(2)]
        goods._improve(looking, FREE)
        assert len(tried) == wanted
        assert looking.best is not None
        assert looking.best.cents == (100 if wanted else 1000)


class Solves:
    """A line's programs: what each comes to, as (status, objective, bound, candidate)."""

    def __init__(
        self, patch: pytest.MonkeyPatch, looking: State, *ends: tuple[Status, float, float, Evaluation]
    ) -> None:
        self.ends, self.caps, self.gaps, self.refined = list(ends), list[dict[str, float]](), list[float](), 0
        patch.setattr(goods, "cells_of", lambda cells, problem, kept: [])
        patch.setattr(goods, "_less", lambda state, problem, kept, caps, tight: (problem, kept))
        patch.setattr(goods, "formulate", self.formulated)
        patch.setattr(goods, "judge", self.judged)
        patch.setattr(goods, "refine_line", self.refine)
        patch.setattr(looking, "solve", self.solved)

    def formulated(self, problem: Any, kept: Any, cells: Any, tangents: Any, caps: Any, scale: str) -> str:
        self.caps.append(dict(caps))
        return scale

    def solved(self, formulation: Any, gap: float) -> Outcome:
        self.gaps.append(gap)
        status, objective, bound, self.candidate = self.ends.pop(0)
        return Outcome(status, objective, bound, {})

    def judged(self, formulation: Any, outcome: Any, caps: Any) -> tuple[Evaluation, bool]:
        return self.candidate, self.candidate.passes and self.candidate.cents <= caps["cost"]

    def refine(self, *asked: Any) -> None:
        self.refined += 1


REFUSED = build(999, missing=("e",))


def test_a_line_is_solved_until_it_is_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Evaluation] = []
    looking = search(best=build(1000), lows={0: 100.0}, seen=told.append)
    solves = Solves(
        monkeypatch,
        looking,
        (Status.OPTIMAL, 900.0, 899.5, build(900, missing=("e",))),  # refused: refined
        (Status.OPTIMAL, 930.0, 929.5, build(950)),  # passes, and is better; but 930 were counted: refined
        (Status.OPTIMAL, 949.0, 948.5, build(949)),  # a cent less: proven by itself
    )
    goods._make_line_least(looking, line(0), "cost", FREE, first=True)
    assert [caps["cost"] for caps in solves.caps] == [999.25, 999.25, 949.25]
    assert solves.gaps == [0.99] * 3
    assert solves.refined == 2
    assert looking.best is not None
    assert looking.best.cents == 949
    assert [found.cents for found in told] == [950, 949]
    assert looking.lows == {0: 948.5}
    assert looking.kept_columns == 5
    Solves(monkeypatch, looking, (Status.IMPOSSIBLE, 0.0, math.inf, REFUSED))
    goods._make_line_least(looking, line(0), "cost", FREE, first=True)
    assert looking.kept_columns == 10


def test_a_build_of_a_cent_less_that_is_refused_leaves_room_for_another(monkeypatch: pytest.MonkeyPatch) -> None:
    looking = search(best=build(1000), lows={0: 100.0})
    solves = Solves(
        monkeypatch, looking, (Status.OPTIMAL, 999.0, 999.0, REFUSED), (Status.OPTIMAL, 999.0, 999.0, build(999))
    )
    goods._make_line_least(looking, line(0), "cost", FREE, first=True)
    assert solves.refined == 1
    assert looking.best is not None
    assert looking.best.cents == 999


def test_what_is_proven_to_be_impossible_ends_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    looking = search(best=build(1000), lows={0: 100.0})
    solves = Solves(monkeypatch, looking, (Status.IMPOSSIBLE, 0.0, math.inf, REFUSED))
    goods._make_line_least(looking, line(0), "cost", FREE | {"cost": 500.0}, first=True)
    assert [caps["cost"] for caps in solves.caps] == [500.0]
    # An endless bound says nothing, and a lower one than is known neither.
    assert looking.lows == {0: 100.0}
    Solves(monkeypatch, looking, (Status.IMPOSSIBLE, 0.0, 50.0, REFUSED))
    goods._make_line_least(looking, line(0), "cost", FREE, first=True)
    assert looking.lows == {0: 100.0}
    assert looking.best is not None
    assert looking.best.cents == 1000


@pytest.mark.parametrize("status", [Status.NOTHING, Status.FEASIBLE])
def test_time_that_is_up_keeps_what_was_found(monkeypatch: pytest.MonkeyPatch, status: Status) -> None:
    looking = search(lows={0: 100.0})
    Solves(monkeypatch, looking, (status, 900.0, 300.0, build(900)))
    with pytest.raises(TimeUpError):
        goods._make_line_least(looking, line(0), "cost", FREE, first=True)
    assert (looking.best is not None) is (status is Status.FEASIBLE)
    assert looking.lows == {0: 300.0}


def test_any_build_needs_no_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    looking = search(any_will_do=True, lows={0: 0.0})
    solves = Solves(monkeypatch, looking, (Status.OPTIMAL, 900.0, 100.0, build(950)))
    goods._make_line_least(looking, line(0), "cost", FREE, first=True)
    assert solves.gaps == [math.inf]
    assert looking.best is not None


def test_a_later_figure_looks_at_what_is_left_of_all_and_bounds_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    looking = search(best=build(1000))
    Solves(monkeypatch, looking, (Status.IMPOSSIBLE, 0.0, 300.0, REFUSED))
    goods._make_line_least(looking, line(0), "cost", FREE, first=False)
    assert (looking.lows, looking.kept_columns) == ({}, 0)


def test_nothing_is_solved_where_nothing_can_be_better(monkeypatch: pytest.MonkeyPatch) -> None:
    at_floor = search(best=build(1000), floor=1000.0)
    solves = Solves(monkeypatch, at_floor)
    goods._make_line_least(at_floor, line(0), "cost", FREE, first=True)
    goods._make_line_least(at_floor, line(0, possible=False), "cost", FREE, first=False)
    assert solves.caps == []
    # The floor is that of the first figure: the second one is still to be made least.
    solves = Solves(monkeypatch, at_floor, (Status.IMPOSSIBLE, 0.0, 0.0, REFUSED))
    goods._make_line_least(at_floor, line(0), "cost", FREE, first=False)
    assert len(solves.caps) == 1


# What is quickly found ---------------------------------------------------------------------------------


def test_a_build_keeps_every_cap_or_not() -> None:
    assert not goods._keeps(search(), FREE)
    looking = search(best=build(1000, 2000))
    assert goods._keeps(looking, FREE | {"cost": 1000.0, "mass": 2000.0})
    assert not goods._keeps(looking, FREE | {"cost": 1000.0, "mass": 1999.0})
    assert not goods._keeps(looking, FREE | {"cost": 999.0})


@pytest.mark.parametrize(
    ("quick", "improved", "wanted"),
    [
        # Within the caps at once, or once it is improved; else any build is looked for.
        (400, None, ["lines", "improve"]),
        (600, 400, ["lines", "improve"]),
        (600, None, ["lines", "improve", "least"]),
        (None, None, ["lines", "improve", "least"]),
    ],
)
def test_a_likely_build_is_looked_for_as_long_as_none_keeps_the_caps(
    monkeypatch: pytest.MonkeyPatch, quick: int | None, improved: int | None, wanted: list[str]
) -> None:
    calls: list[str] = []
    looking = search()

    def lines(state: State, caps: Any) -> None:
        calls.append("lines")
        state.lines = [line(0)]
        state.best = None if quick is None else build(quick)

    def improve(state: State, caps: Any) -> None:
        calls.append("improve")
        state.best = state.best if improved is None else build(improved)

    def least(state: State, scale: str, caps: Any, *, first: bool) -> None:
        calls.append("least")
        assert (scale, first, state.any_will_do, state.best) == ("cost", True, True, None)

    monkeypatch.setattr(goods, "_line_up", lines)
    monkeypatch.setattr(goods, "_improve", improve)
    monkeypatch.setattr(goods, "_make_least", least)
    found = goods.find_likely(looking, FREE | {"cost": 500.0})
    assert calls == wanted
    assert (found is None) is ("least" in wanted)
    assert looking.within == FREE | {"cost": 500.0}


CAPS = FREE | {"cost": 500.0}


@pytest.mark.parametrize(
    ("quick", "solved", "wanted"),
    [
        # The first quick build within the caps ends it; else the programs are solved, until one has a build.
        ({0: 400}, {}, ["quick 0"]),
        ({0: 600, 2: 300}, {}, ["quick 0", "quick 2"]),
        ({0: 600}, {0: 450}, ["quick 0", "quick 2", "solve 0"]),
        ({}, {2: 450}, ["quick 0", "quick 2", "solve 0", "solve 2"]),
        ({2: 600}, {}, ["quick 0", "quick 2", "solve 0", "solve 2"]),
    ],
)
def test_of_lines_that_are_given_those_without_a_build_go_first(
    monkeypatch: pytest.MonkeyPatch, quick: dict[int, int], solved: dict[int, int], wanted: list[str]
) -> None:
    calls: list[str] = []

    def sift(state: State, one: Any, caps: Any, scale: str) -> None:
        assert (caps, scale) == (CAPS, "cost")
        one.kept.possible = one.emitter != 1

    def least(state: State, one: Any, scale: str, caps: Any, *, first: bool) -> None:
        calls.append(f"solve {one.emitter}")
        assert (scale, first, state.any_will_do, caps) == ("cost", True, True, CAPS)
        assert state.best is None
        state.best = build(solved[one.emitter]) if one.emitter in solved else None

    def tried(one: Any, scale: str) -> Any:
        calls.append(f"quick {one.emitter}")
        return build(quick[one.emitter]) if one.emitter in quick else None

    monkeypatch.setattr(goods, "sift", sift)
    monkeypatch.setattr(goods, "_quick", tried)
    monkeypatch.setattr(goods, "_make_line_least", least)
    monkeypatch.setattr(State, "take", lambda state, found: setattr(state, "best", found or state.best))
    given = [line(0), line(1), line(2)]
    for one in given:
        one.sifted = None
    looking = search(given=given)
    found = goods.find_likely(looking, CAPS)
    assert calls == wanted
    assert [one.emitter for one in looking.lines] == [0, 2]
    assert (found is None) is (not solved and min(quick.values(), default=900) > 500)


def test_lines_sifted_within_the_same_caps_are_not_sifted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[str] = []
    monkeypatch.setattr(goods, "sift", lambda state, one, caps, scale: calls.append(f"sift {one.emitter}"))

    def finely(problem: Any, kept: Any, caps: Any, tight: Any) -> Any:
        assert (caps, tight) == (CAPS, ["cost"])
        calls.append(f"fine {kept.size}")
        return SimpleNamespace(size=0, possible=False)

    monkeypatch.setattr(goods, "finely", finely)
    given = []
    for emitter, (size, caps) in enumerate(((goods.SMALL, CAPS), (goods.SMALL + 1, CAPS), (500, FREE), (3, None))):
        one = line(emitter, possible=False)
        one.kept.size, one.sifted = size, caps
        given.append(one)
    assert goods.find_likely(search(given=given), CAPS) is None
    assert calls == [f"fine {goods.SMALL + 1}", "sift 2", "fine 500", "sift 3"]


def test_any_build_is_the_one_quickly_found_or_is_searched(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[Any] = []
    monkeypatch.setattr(goods, "_make_least", lambda state, scale, caps, *, first: calls.append((scale, first)))
    for quick, wanted in ((build(), []), (None, [("cost", True)])):
        calls.clear()
        monkeypatch.setattr(goods, "_line_up", lambda state, caps, quick=quick: setattr(state, "best", quick))
        looking = search()
        assert goods.find_any(looking, FREE) is quick
        assert calls == wanted
        assert looking.within == FREE


def test_columns_of_a_line_are_those_built_before_hung_on_its_market(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(goods, "problem_of_line", lambda market, emitter: f"fresh {emitter}")
    monkeypatch.setattr(goods, "hung_on", lambda known, market: f"{known}, hung")
    monkeypatch.setattr(goods, "everything", lambda problem: Kept())
    assert goods.whole_line(search(), 3).problem == "fresh 3"
    whole = SimpleNamespace(take=lambda *, heads: f"heads {heads}", heads=np.array([2, 0]))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(goods, "everything", lambda problem: whole)
        admitting = search(admits=lambda problem: np.array([True, False, False]))
        assert goods.whole_line(admitting, 3).kept == "heads [False  True]"  # type: ignore[comparison-overlap]
    assert goods.whole_line(search(problems={2: "two"}), 3).problem == "fresh 3"  # type: ignore[dict-item]
    assert goods.whole_line(search(problems={3: "three"}), 3).problem == "three, hung"  # type: ignore[dict-item]


@dataclass(frozen=True)
class Columns:
    """Columns of which only the heads, and whose they are, are told."""

    heads: str
    market: str


def test_sharp_heads_are_kept_for_good(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(goods, "sifted", lambda problem, kept, caps, scale: (replace(problem, heads="sharp"), kept))
    problems: dict[int, Any] = {1: Columns("blurred", "its own")}
    one = line(1)
    one.problem = Columns("blurred", "another")
    goods.sift(search(problems=problems), one, FREE, "cost")
    assert problems == {1: Columns("sharp", "its own")}
    assert one.problem == Columns("sharp", "another")
    two = line(2)
    two.problem = Columns("blurred", "another")
    goods.sift(search(problems=problems), two, FREE, "cost")
    assert problems[2] == Columns("sharp", "another")
    goods.sift(search(), two, FREE, "cost")
