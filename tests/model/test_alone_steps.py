"""Leaving one build out of a program, against all points of it; and when a build is alone. All columns are made up."""

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise, product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from plain_parts import EMITTER, SCENARIO, catalogue, choice

from optimise.model import alone as alones
from optimise.model.choice import ChannelChoice, Choice
from optimise.model.exact import evaluate
from optimise.model.solver import Outcome, Status
from optimise.model.state import State, TimeUpError

FOUND = replace(evaluate(choice("p", "film"), catalogue(EMITTER), SCENARIO), cents=1000, milligrams=2000, watts=10.0)


class Rows:
    """A program that only remembers its rows, each Σ terms ≤ limit."""

    def __init__(self, highs: list[float]) -> None:
        self.highs = list(highs)
        self.rows: list[tuple[dict[int, float], float]] = []
        self.added: list[tuple[float, float, bool]] = []

    def variable(self, low: float, high: float, *, whole: bool = False) -> int:
        self.highs.append(high)
        self.added.append((low, high, whole))
        return len(self.highs) - 1

    def at_most(self, terms: Mapping[int, float], limit: float) -> None:
        self.rows.append((dict(terms), limit))

    def holds(self, point: tuple[float, ...]) -> bool:
        """Whether a point keeps all rows for some values of what was added, each 0 or 1."""
        return any(
            all(sum(weight * (point + more)[i] for i, weight in terms.items()) <= limit for terms, limit in self.rows)
            for more in product((0, 1), repeat=len(self.added))
        )


def named(head: int, supply: int, mount: int | None, numbers: list[tuple[int, int]]) -> Choice:
    """Return a choice that is named by its columns."""
    plain = choice(f"h{head}", "film")
    channels = tuple(ChannelChoice(f"d{c}", 1, 1, 0.5, number) for c, number in numbers)
    return replace(plain, channels=channels, cable=f"s{supply}", mount=None if mount is None else f"m{mount}")


HEADS, SUPPLIES, CHANNELS, MOST = (5, 6, 6), (2, 3), (4, 7), (3, 2)


def formulation(mounts: int) -> SimpleNamespace:
    """Return a program of three cells of two heads, two supplies, some mounts and two channels."""
    sizes = (len(HEADS), len(SUPPLIES), mounts)
    starts = np.cumsum([0, *sizes]).tolist()
    cells, supplies, mounted = (list(range(a, b)) for a, b in pairwise(starts))
    highs = [1.0] * sum(sizes) + [float(most) for most in MOST]
    return SimpleNamespace(
        problem=None,
        kept=SimpleNamespace(supplies=np.array(SUPPLIES), channels=np.array(CHANNELS)),
        cells=[SimpleNamespace(head=head) for head in HEADS],
        cell_vars=cells,
        supply_vars=supplies,
        mount_vars=mounted,
        channel_vars=[sum(sizes), sum(sizes) + 1],
        program=Rows(highs),
    )


@pytest.fixture(autouse=True)
def columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alones, "choice_of", lambda problem, *columns: named(*columns))


@pytest.mark.parametrize("mounts", [0, 2])
@pytest.mark.parametrize(
    ("head", "supply", "channels"),
    [
        (6, 3, {4: 2, 7: 1}),
        (5, 2, {4: 1}),
        (6, 2, {7: 2}),
        (6, 3, {4: 3, 7: 2}),
        # What is not in the program is in no point of it.
        (9, 3, {4: 2}),
        (6, 9, {4: 2}),
        (6, 3, {4: 2, 9: 1}),
        (6, 3, {4: 4}),
    ],
)
def test_just_the_build_and_it_with_more_channels_is_barred(
    mounts: int, head: int, supply: int, channels: dict[int, int]
) -> None:
    mount = 1 if mounts else None
    f = formulation(mounts)
    alones._leave_out(f, named(head, supply, mount, list(channels.items())))  # type: ignore[arg-type]
    assert all(added == (0, 1, True) for added in f.program.added)
    seen = set()
    for cell, place, mounted, numbers in product(
        range(len(HEADS)), range(len(SUPPLIES)), range(max(mounts, 1)), product(*(range(most + 1) for most in MOST))
    ):
        picked = [
            [float(i == which) for i in range(size)] for which, size in ((cell, 3), (place, 2), (mounted, mounts))
        ]
        point = (*sum(picked, []), *(float(number) for number in numbers))  # noqa: RUF017
        there = dict(zip(CHANNELS, numbers, strict=True))
        same = HEADS[cell] == head and SUPPLIES[place] == supply and (not mounts or mounted == mount)
        barred = same and all(there.get(c, 0) >= number for c, number in channels.items())
        assert f.program.holds(point) is not barred
        seen.add(barred)
    assert seen == (
        {True, False}
        if (head, supply) != (9, 3) and supply != 9 and 9 not in channels and channels.get(4) != 4
        else {False}
    )


def test_a_mount_that_is_not_there_bars_nothing() -> None:
    f = formulation(2)
    alones._leave_out(f, named(6, 3, 7, [(4, 2)]))  # type: ignore[arg-type]
    assert all(not terms.keys() & set(f.cell_vars) for terms, _ in f.program.rows)


# When a build is alone ---------------------------------------------------------------------------------


def search(**more: Any) -> State:
    return State(SimpleNamespace(), "cost", 1, None, lambda text: None, best=FOUND, **more)  # type: ignore[arg-type]


def test_another_is_looked_for_on_all_lines_as_good_by_two_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    answers = {0: False, 1: False, 2: True}
    monkeypatch.setattr(
        alones, "_another", lambda state, line, caps, best: asked.append((line, caps, best)) or answers[line]
    )
    looking = search(order=("cost", "mass", "power"))
    settled = {"cost": 1000.25, "mass": math.inf, "power": math.inf}
    looking.lines = [0, 1]  # type: ignore[list-item]
    assert alones.alone(looking, settled)
    assert [line for line, *_ in asked] == [0, 1]
    # A third figure does not count: who is better by it is not preferred for that.
    assert asked[0][1:] == ({"cost": 1000.25, "mass": 2000.25, "power": math.inf}, FOUND.choice)
    looking.lines = [0, 2, 1]  # type: ignore[list-item]
    assert not alones.alone(looking, settled)
    # A cap that is tighter than the figure stays.
    asked.clear()
    looking.lines = [0]  # type: ignore[list-item]
    alones.alone(looking, settled | {"mass": 1500.0})
    assert asked[0][1]["mass"] == 1500.0
    looking.lines = []
    assert alones.alone(looking, settled)


@pytest.mark.parametrize(
    ("possible", "ends", "found"),
    [
        (False, [], False),
        (True, [(Status.IMPOSSIBLE, False)], False),
        (True, [(Status.OPTIMAL, True)], True),
        (True, [(Status.FEASIBLE, True)], True),
        (True, [(Status.OPTIMAL, False), (Status.OPTIMAL, False), (Status.IMPOSSIBLE, False)], False),
        (True, [(Status.OPTIMAL, False), (Status.OPTIMAL, True)], True),
        (True, [(Status.NOTHING, False)], None),
    ],
)
def test_a_line_is_refined_until_another_is_found_or_there_is_none(
    monkeypatch: pytest.MonkeyPatch, possible: bool, ends: list[tuple[Status, bool]], found: bool | None
) -> None:
    left = list(ends)
    calls: list[Any] = []

    def sifted(problem: Any, kept: Any, caps: Any, scale: str) -> Any:
        calls.append(("sift", scale))
        return problem, SimpleNamespace(possible=possible)

    def solve(formulation: Any, gap: float) -> Outcome:
        assert gap == math.inf  # any other build will do
        return Outcome(left[0][0], 0.0, 0.0, {})

    def refine(*asked: Any) -> None:
        calls.append("refine")

    looking = search(order=("mass", "cost"))
    monkeypatch.setattr(looking, "solve", solve)
    monkeypatch.setattr(alones, "sifted", sifted)
    monkeypatch.setattr(alones, "cells_of", lambda *asked: [])
    monkeypatch.setattr(alones, "formulate", lambda *asked: "formulation")
    monkeypatch.setattr(alones, "_leave_out", lambda f, barred: calls.append(("out", barred)))
    monkeypatch.setattr(alones, "judge", lambda f, outcome, caps: (FOUND, left.pop(0)[1]))
    monkeypatch.setattr(alones, "refine_line", refine)
    line = SimpleNamespace(emitter=3, problem="problem", kept="kept", cells=["cut"])
    if found is None:
        with pytest.raises(TimeUpError):
            alones._another(looking, line, {}, FOUND.choice)  # type: ignore[arg-type]
        return
    assert alones._another(looking, line, {}, FOUND.choice) is found  # type: ignore[arg-type]
    refused = [end for end in ends if end == (Status.OPTIMAL, False)]
    assert calls.count("refine") == len(refused)
    assert calls.count(("out", FOUND.choice)) == len(ends)
    assert calls[0] == ("sift", "mass")


def test_choices_are_the_same_in_all_that_is_named() -> None:
    one, other = named(1, 2, None, [(4, 1)]), named(1, 3, None, [(4, 1)])
    assert alones._same(one, other, ("panel", "diffuser"))
    assert not alones._same(one, other, ("panel", "cable"))
    assert not alones._same(one, other, alones.SUPPLY)
    assert alones._same(one, other, alones.HEAD)
    # Every part of a choice but its channels is of its head, its supply, or its mount.
    fields = set(Choice.__dataclass_fields__)
    assert fields - {*alones.HEAD, *alones.SUPPLY} == {"channels", "mount"}
    assert not set(alones.HEAD) & set(alones.SUPPLY)
