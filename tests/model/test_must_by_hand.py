"""Which columns are left where a build is to use some parts, told by a plain loop over columns. Parts are invented."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from plain_parts import SHEETS
from small_world import SCENARIO, world

from optimise.columns.heads import NO_DIFFUSER
from optimise.model.kept import Kept, everything
from optimise.model.market import build_market
from optimise.model.must import Must
from optimise.model.problem import Problem, problem_of
from optimise.model.stacks import layers_of
from optimise.parts import Battery, Cable, Connector, Diffuser, Driver, Emitter, Fuse, Panel


def problem() -> Problem:
    """Return columns of two emitters, two boards, up to two sheets or none, and packs of up to three batteries."""
    parts = world()
    board, battery = parts.panels[0], parts.batteries[0]
    fitted = replace(
        parts,
        panels=(board, board.model_copy(update={"part": "q"})),
        batteries=(battery.model_copy(update={"parallel_max": 3, "series_max": 2, "capacity": 6000.0}),),
        diffusers=SHEETS,
        offers={**parts.offers, "q": parts.offers["p"]},
    )
    look = SCENARIO.look.model_copy(update={"diffused": False, "sheets_max": 2})
    market = build_market(fitted, SCENARIO.model_copy(update={"look": look}))
    return problem_of(market, np.array([0, 1]))


PROBLEM = problem()
ALL = everything(PROBLEM)


def heads_with(kind: str, codes: set[str], kept: Kept = ALL) -> set[int]:
    rows: Any = getattr(PROBLEM.parts, kind)
    places = {"emitters": PROBLEM.heads.emitter, "panels": PROBLEM.heads.panel, "diffusers": PROBLEM.heads.diffuser}[
        kind
    ]
    found = set()
    for head in kept.heads.tolist():
        place = int(places[head])
        if kind == "diffusers":
            there = set() if place == NO_DIFFUSER else {sheet.part for sheet in layers_of(rows[place])}
        else:
            there = {rows[place].part}
        if there & codes:
            found.add(head)
    return found


@pytest.mark.parametrize(
    ("kind", "name", "codes"),
    [
        (Panel, "panels", {"q"}),
        (Panel, "panels", {"p", "q"}),
        (Diffuser, "diffusers", {"film"}),
        (Diffuser, "diffusers", {"cloth"}),
        (Emitter, "emitters", {"f"}),
    ],
)
def test_heads_with_one_of_the_parts_are_left(kind: Any, name: str, codes: set[str]) -> None:
    kept = Must(kind, frozenset(codes)).narrowed(PROBLEM, ALL)
    wanted = heads_with(name, codes)
    assert set(kept.heads.tolist()) == wanted
    assert wanted
    assert kept.supplies.tolist() == ALL.supplies.tolist()
    assert kept.channels.tolist() == ALL.channels.tolist()
    assert kept.forced is None
    # A part that no head has leaves none.
    assert len(Must(kind, frozenset({"nothing"})).narrowed(PROBLEM, ALL).heads) == 0


def test_what_was_dropped_before_stays_so() -> None:
    half = ALL.take(heads=np.arange(len(ALL.heads)) % 2 == 0)
    kept = Must(Panel, frozenset({"q"})).narrowed(PROBLEM, half)
    assert set(kept.heads.tolist()) == heads_with("panels", {"q"}, half)


def test_so_many_emitters_are_the_fewest_of_their_heads() -> None:
    assert set(Must(Emitter, frozenset({"f"})).narrowed(PROBLEM, ALL).fewest.tolist()) == {1}
    assert set(Must(Emitter, frozenset({"f"}), 3).narrowed(PROBLEM, ALL).fewest.tolist()) == {3}
    more = replace(ALL, fewest=ALL.fewest + 4)
    assert set(Must(Emitter, frozenset({"f"}), 3).narrowed(PROBLEM, more).fewest.tolist()) == {5}
    assert set(Must(Panel, frozenset({"q"}), 3).narrowed(PROBLEM, ALL).fewest.tolist()) == {1}


def test_a_mixture_has_both_of_its_kinds_or_none_of_its_heads() -> None:
    sheets = np.ones(len(PROBLEM.market.parts.diffusers), dtype=bool)
    mixed = problem_of(PROBLEM.market, np.array([0, 1]), ((0.2, 0.8),), sheets)
    every = everything(mixed)
    for code in ("e", "f"):
        kept = Must(Emitter, frozenset({code}), 2).narrowed(mixed, every)
        assert kept.heads.tolist() == every.heads.tolist()
        assert set(kept.fewest.tolist()) == {2}
    assert len(Must(Emitter, frozenset({"nothing"})).narrowed(mixed, every).heads) == 0
    board = Must(Panel, frozenset({"q"})).narrowed(mixed, every)
    assert 0 < len(board.heads) < len(every.heads)


@pytest.mark.parametrize("least", [1, 2, 3, 4, 7])
def test_packs_of_so_many_batteries_are_left(least: int) -> None:
    kept = Must(Battery, frozenset({"b"}), least).narrowed(PROBLEM, ALL)
    supplies = PROBLEM.supplies
    wanted = [s for s in ALL.supplies.tolist() if supplies.series[s] * supplies.parallel[s] >= least]
    assert kept.supplies.tolist() == wanted
    assert len(wanted) < len(ALL.supplies) or least == 1
    assert {1, 2, 3} <= set(supplies.parallel[ALL.supplies].tolist())
    assert len(Must(Battery, frozenset({"other"}), least).narrowed(PROBLEM, ALL).supplies) == 0


@pytest.mark.parametrize(("kind", "code"), [(Cable, "c"), (Connector, "k"), (Fuse, "f5"), (Fuse, "f10")])
def test_supplies_with_the_part_are_left(kind: Any, code: str) -> None:
    index, rows = {
        Cable: (PROBLEM.supplies.cable, PROBLEM.parts.cables),
        Connector: (PROBLEM.supplies.connector, PROBLEM.parts.connectors),
        Fuse: (PROBLEM.supplies.fuse, PROBLEM.parts.fuses),
    }[kind]
    kept = Must(kind, frozenset({code}), 5).narrowed(PROBLEM, ALL)
    assert kept.supplies.tolist() == [s for s in ALL.supplies.tolist() if rows[index[s]].part == code]
    assert kept.heads.tolist() == ALL.heads.tolist()


def test_drivers_are_forced_and_others_may_stand_beside_them() -> None:
    kept = Must(Driver, frozenset({"g"}), 2).narrowed(PROBLEM, ALL)
    channels = PROBLEM.channels
    drivers = [PROBLEM.parts.drivers[d].part for d in channels.driver]
    assert kept.forced is not None
    assert kept.forced.tolist() == [c for c, code in enumerate(drivers) if code == "g"]
    assert kept.forced_least == 2
    assert kept.channels.tolist() == ALL.channels.tolist()
    assert Must(Driver, frozenset({"g"})).narrowed(PROBLEM, ALL).forced_least == 1


def test_lines_without_the_emitter_are_left_out() -> None:
    emitters = Must(Emitter, frozenset({"e1", "e2"}))
    assert emitters.leaves_out(["e3"])
    assert not emitters.leaves_out(["e1"])
    # A mixture of one that must be there and another.
    assert not emitters.leaves_out(["e3", "e2"])
    assert not Must(Driver, frozenset({"d"})).leaves_out(["e3"])
