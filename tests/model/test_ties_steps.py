"""Who wins among builds that tie, step by step: lines in their order, then head, supply, mount and channels.

All columns are made up; who wins at the end is held against all builds in `test_goods_alone_ties`.
"""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from plain_parts import EMITTER, SCENARIO, catalogue, choice

from optimise.model import ties
from optimise.model.exact import evaluate
from optimise.model.solver import Outcome, Status
from optimise.model.state import State

FOUND = evaluate(choice("p", "film"), catalogue(EMITTER), SCENARIO)


class Kept:
    """What is left of a line: whether any build is, and its supplies."""

    def __init__(self, possible: bool = True, supplies: tuple[int, ...] = (2, 5, 9)) -> None:
        self.possible, self.supplies = possible, np.array(supplies)

    def take(self, *, supplies: np.ndarray) -> "Kept":
        return Kept(self.possible, tuple(self.supplies[supplies].tolist()))


def line(emitter: int, possible: bool = True) -> Any:
    cells = [SimpleNamespace(head=head) for head in (4, 4, 6)]
    return SimpleNamespace(emitter=emitter, problem="problem", kept=Kept(possible), cells=cells)


def search(*lines: Any) -> State:
    looking = State(SimpleNamespace(), "cost", 1, None, lambda text: None)  # type: ignore[arg-type]
    looking.lines = list(lines)
    return looking


def test_the_first_line_that_has_a_build_wins(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, str]] = []
    has = {1: False, 3: True, 5: True}

    def first_by(state: State, one: Any, what: str, caps: Any) -> bool:
        assert caps == {"cost": 7.0}
        asked.append((one.emitter, what))
        return has[one.emitter]

    def screened(problem: Any, kept: Any, caps: Any, order: Any) -> Any:
        assert order == ("cost", "mass")
        return problem, kept

    monkeypatch.setattr(ties, "screened", screened)
    monkeypatch.setattr(ties, "cells_of", lambda cells, problem, kept: cells)
    monkeypatch.setattr(ties, "_first_by", first_by)
    ties.break_ties(search(line(5), line(2, possible=False), line(3), line(1)), {"cost": 7.0})
    assert asked == [(1, "cells"), (3, "cells"), (3, "supplies"), (3, "mounts"), (3, "channels")]
    asked.clear()
    ties.break_ties(search(line(1), line(2, possible=False)), {"cost": 7.0})
    assert asked == [(1, "cells")]


class Program:
    """A program that remembers what it was to make least."""

    def __init__(self) -> None:
        self.least: dict[int, float] | None = None

    def minimise(self, terms: dict[int, float]) -> None:
        self.least = dict(terms)


def first_by(
    patch: pytest.MonkeyPatch, what: str, ranks: dict[int, float], *ends: tuple[Status, bool]
) -> tuple[bool, State, Any, int, list[Program]]:
    """Return whether a build was found, the search, its line, how often it was refined, and the programs."""
    left, programs, refined = list(ends), list[Program](), list[int]()
    looking, one = search(), line(0)

    def formulate(*asked: Any) -> Any:
        programs.append(Program())
        return SimpleNamespace(program=programs[-1], read=lambda outcome: (2, 5, None, []))

    def solve(formulation: Any, gap: float) -> Outcome:
        assert 0.0 < gap < 1e-3  # ranks are whole, but for a share of the codes that is a hundredth at the most
        return Outcome(left[0][0], 0.0, 0.0, {})

    patch.setattr(ties, "formulate", formulate)
    patch.setattr(ties, "rank_terms", lambda formulation, asked: ranks if asked == what else {})
    patch.setattr(looking, "solve", solve)
    patch.setattr(ties, "judge", lambda formulation, outcome, caps: (FOUND, left.pop(0)[1]))
    patch.setattr(ties, "refine_line", lambda *asked: refined.append(1))
    return ties._first_by(looking, one, what, {}), looking, one, len(refined), programs


def test_a_build_is_taken_once_it_passes(monkeypatch: pytest.MonkeyPatch) -> None:
    ranks = {0: 0.0, 1: 1.0}
    ends = [(Status.OPTIMAL, False), (Status.OPTIMAL, False), (Status.OPTIMAL, True)]
    found, looking, one, refined, programs = first_by(monkeypatch, "cells", ranks, *ends)
    assert found
    assert looking.best is FOUND
    assert refined == 2
    assert [program.least for program in programs] == [ranks] * 3
    # Only the head that came first is left, in all of its cells; its supplies are still open.
    assert [cell.head for cell in one.cells] == [6]
    assert one.kept.supplies.tolist() == [2, 5, 9]


def test_a_supply_is_kept_once_it_came_first(monkeypatch: pytest.MonkeyPatch) -> None:
    found, _, one, _, _ = first_by(monkeypatch, "supplies", {0: 0.0, 1: 1.0}, (Status.OPTIMAL, True))
    assert found
    assert one.kept.supplies.tolist() == [5]
    assert [cell.head for cell in one.cells] == [4, 4, 6]


@pytest.mark.parametrize("what", ["mounts", "channels"])
def test_mounts_and_channels_are_settled_by_the_build(monkeypatch: pytest.MonkeyPatch, what: str) -> None:
    found, looking, one, _, _ = first_by(monkeypatch, what, {0: 0.0, 1: 1.0}, (Status.OPTIMAL, True))
    assert found
    assert looking.best is FOUND
    assert (len(one.cells), len(one.kept.supplies)) == (3, 3)


@pytest.mark.parametrize("status", [Status.IMPOSSIBLE, Status.FEASIBLE, Status.NOTHING])
def test_what_is_not_proven_to_come_first_is_not_taken(monkeypatch: pytest.MonkeyPatch, status: Status) -> None:
    found, looking, one, refined, _ = first_by(monkeypatch, "supplies", {0: 0.0, 1: 1.0}, (status, True))
    assert not found
    assert looking.best is None
    assert refined == 0
    assert len(one.kept.supplies) == 3


def test_where_there_is_but_one_nothing_is_solved_unless_no_build_is_known_to_be_there(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for ranks in ({}, {0: 0.0}, {0: 1.0, 1: 1.0}):
        found, looking, _, _, _ = first_by(monkeypatch, "supplies", ranks)
        assert found
        assert looking.best is None
    found, looking, _, _, _ = first_by(monkeypatch, "cells", {0: 0.0}, (Status.OPTIMAL, True))
    assert found
    assert looking.best is FOUND


# The smallest fuse -------------------------------------------------------------------------------------


def market(*ratings: float, supply: str = "dc") -> Any:
    parts = catalogue(EMITTER)
    fuses = tuple(
        parts.fuses[0].model_copy(update={"part": f"f{rating:g}", "rating": rating, "supply": supply})
        for rating in ratings
    )
    plain = replace(parts, fuses=(*parts.fuses, *fuses))
    return SimpleNamespace(catalogue=plain, parts=plain, scenario=SCENARIO)


def test_smaller_fuses_are_those_that_still_carry_the_load() -> None:
    # 12 W at 10 V or above through the driver: some 1.3 A, and a quarter more.
    load = next(margin.required for margin in FOUND.margins if margin.name == "fuse carries the load")
    assert 1.6 < load < 1.8
    found = ties.smaller_fuses(FOUND, market(16.0, 5.0, 1.0, 2.0, 10.0, load, load - 1e-6))
    assert [fuse.rating for fuse in found] == [load, 2.0, 5.0]
    assert ties.smaller_fuses(FOUND, market(5.0, supply="ac")) == []


@pytest.mark.parametrize(
    ("cents", "milligrams", "missing", "taken"),
    [
        (0, 0, (), True),
        (1, 0, (), False),
        (-1, 0, (), False),
        (0, 1, (), False),
        (0, -1, (), False),
        (0, 0, ("f5",), False),
    ],
)
def test_a_smaller_fuse_is_taken_if_nothing_else_changes(
    monkeypatch: pytest.MonkeyPatch, cents: int, milligrams: int, missing: tuple[str, ...], taken: bool
) -> None:
    best = replace(FOUND, cents=1000, milligrams=2000, missing=(), margins=())
    fuse = SimpleNamespace(part="f5")
    monkeypatch.setattr(ties, "smaller_fuses", lambda build, where: [fuse])
    monkeypatch.setattr(ties, "build_of", lambda chosen, parts: chosen)
    monkeypatch.setattr(ties, "wants_of", lambda build, scenario: [])
    monkeypatch.setattr(ties, "bought", lambda wants, parts, scenario: SimpleNamespace(cents=1000 + cents))
    told: list[Any] = []

    def evaluated(chosen: Any, parts: Any, scenario: Any, basket: Any) -> Any:
        told.append((chosen.fuse, basket.cents))
        return replace(best, choice=chosen, milligrams=2000 + milligrams, missing=missing)

    monkeypatch.setattr(ties, "evaluate", evaluated)
    found = ties.with_smallest_fuse(best, market())
    assert (found.choice.fuse == "f5") is taken
    assert taken or found is best
    assert told == ([("f5", 1000)] if cents == 0 else [])
