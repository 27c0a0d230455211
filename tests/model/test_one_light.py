"""A light at the prices of a shop: what is handed to its searches, and that they find what a plain search finds."""

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import small_kits
from random_shops import offer

from optimise.model import one_light as module
from optimise.model.exact import evaluate
from optimise.model.kept import everything
from optimise.model.market import build_market, repriced
from optimise.model.must import Must
from optimise.model.one_light import FEW, OneLight, OneLightGoods, line_in
from optimise.model.problem import problem_of
from optimise.model.state import Line, State
from optimise.parts import Catalogue, Driver, Supplier

FREE = {"cost": math.inf, "mass": math.inf, "power": math.inf}
NORTH = Supplier(supplier="north", delivery=400)
PARTS = replace(small_kits.few_parts(), suppliers=(NORTH,))
JOB = small_kits.job()


def state(**rest: Any) -> State:
    return State(build_market(PARTS, JOB), "cost", 1, None, lambda text: None, **rest)


def best_by_looking(catalogue: Catalogue) -> tuple[int, int]:
    builds = small_kits.builds(catalogue, JOB, 2)
    return min((build.cents, build.milligrams) for build in builds)


def test_columns_are_shared_by_all_shops() -> None:
    search = state()
    mine = OneLight(search)
    assert (mine.problems, mine.floors, mine.few, mine.first_stage) == ({}, {}, FEW, 0)
    assert (mine.catalogue, mine.scenario, mine.offers) == (PARTS, JOB, search.market.parts.offers)
    problems: dict[int, Any] = {}
    floors: dict[tuple[str, int], float] = {}
    known = OneLight(state(problems=problems, floors=floors))
    assert known.problems is problems
    assert known.floors is floors
    assert list(mine.guesses(("cost",))) == []
    # What a search that looks for some builds alone finds out holds for no other.
    assert mine.whole
    assert not OneLight(state(must=Must(Driver, frozenset({"d"})))).whole
    assert not OneLight(state(admits=len)).whole
    must = Must(Driver, frozenset({"d"}))
    told: list[str] = []
    market, any_choice = search.market, small_kits.builds(PARTS, JOB, 2)[0].choice
    search = State(market, "mass", 3, 1e12, told.append, "solver", admits=len, must=must, stays=any_choice)  # type: ignore[arg-type]
    mine = OneLight(search)
    goods = mine.open(PARTS, JOB, (), ("power",), None)().state
    assert (goods.objective, goods.threads, goods.deadline, goods.solver) == ("mass", 3, 1e12, "solver")
    assert (goods.order, goods.problems, goods.admits, goods.must, goods.stays) == (
        ("power",),
        mine.problems,
        len,
        must,
        any_choice,
    )
    assert goods.problems is mine.problems
    assert goods.progress is search.progress
    assert goods.given is None


def test_by_mass_what_is_found_where_goods_may_cost_less_is_not_kept_for_all() -> None:
    mine = OneLight(state(floors={("mass", 0): 5.0}))

    def known(budget: int | None, order: str) -> Any:
        limits = JOB.limits.model_copy(update={"budget": budget})
        return mine.open(PARTS, JOB.model_copy(update={"limits": limits}), (), (order,), None)().state.floors

    assert known(9000, "mass") is mine.floors
    tighter = known(8999, "mass")
    assert tighter == mine.floors
    assert tighter is not mine.floors
    assert known(8999, "cost") is mine.floors
    assert known(9000, "mass") is mine.floors
    assert known(None, "power") is mine.floors


def test_floors_hold_only_at_the_prices_of_all_shops() -> None:
    mine = OneLight(state())
    everybody = mine.open(PARTS, JOB, (), ("cost",), None)()
    assert everybody.state.floors is mine.floors
    assert everybody.state.market.catalogue is PARTS
    other = JOB.model_copy(update={"limits": JOB.limits.model_copy(update={"budget": 9000})})
    assert mine.open(PARTS, other, (), ("cost",), None)().state.market.scenario is other
    assert everybody.state.market.parts is mine.search.market.parts
    offers = {**PARTS.offers, "e": (offer("e", "north", 1),)}
    dearer = mine.open(replace(PARTS, offers=offers), JOB, (), ("cost",), None)()
    assert dearer.state.floors is None
    assert dearer.state.market.emitter_buying[0].unit == 1.0
    # A part less is another price; one that the search has none of is not.
    without = {code: rows for code, rows in PARTS.offers.items() if code != "e2"}
    assert mine.open(replace(PARTS, offers=without), JOB, (), ("cost",), None)().state.floors is None
    more = {**PARTS.offers, "unknown": (offer("unknown", "north", 1),)}
    assert mine.open(replace(PARTS, offers=more), JOB, (), ("cost",), None)().state.floors is mine.floors
    # Where orders count, it is another market as well.
    orders = mine.open(PARTS, JOB, (NORTH,), ("cost",), None)()
    assert orders.state.floors is None
    assert orders.state.market.orders == (NORTH,)
    make = mine.open(PARTS, JOB, (NORTH,), ("cost",), None)
    assert make().state.market is make().state.market


def test_a_search_begins_from_what_the_best_build_costs_there() -> None:
    search = state()
    mine = OneLight(search)
    build = small_kits.builds(PARTS, JOB, 2)[0].choice
    best = evaluate(build, PARTS, JOB)
    assert mine.open(PARTS, JOB, (NORTH,), ("cost",), None)().start is None
    search.best = best
    # Where goods alone are counted there is nothing to begin from.
    assert mine.open(PARTS, JOB, (), ("cost",), None)().start is None
    assert mine.open(PARTS, JOB, (NORTH,), ("cost",), None)().start is best
    # On other terms it is bought anew: another price, another charge, another limit, as many suppliers.
    free = replace(PARTS, suppliers=(NORTH.model_copy(update={"delivery": 0}),))
    start = mine.open(free, JOB, (NORTH,), ("cost",), None)().start
    assert start is not None
    assert start.cents == best.cents - 400
    offers = {**PARTS.offers, "p": (offer("p", "north", 600),)}
    start = mine.open(replace(PARTS, offers=offers), JOB, (NORTH,), ("cost",), None)().start
    assert start is not None
    assert start.cents == best.cents - 100
    limits = JOB.limits.model_copy(update={"budget": 1})
    start = mine.open(PARTS, JOB.model_copy(update={"limits": limits}), (NORTH,), ("cost",), None)().start
    assert start is not None
    assert not start.passes
    # Who is not known asks for nothing: his terms are his own where that is what he asks for.
    more = replace(PARTS, suppliers=(NORTH, Supplier(supplier="south")))
    assert mine.open(more, JOB, (NORTH,), ("cost",), None)().start is best
    # One of several that asks for something else is enough.
    south = Supplier(supplier="south", delivery=5)
    both = replace(PARTS, suppliers=(NORTH, south))
    known = OneLight(State(build_market(both, JOB), "cost", 1, None, lambda text: None, best=best))
    assert known.open(both, JOB, (NORTH,), ("cost",), None)().start is best
    dear = replace(both, suppliers=(NORTH, south.model_copy(update={"delivery": 9})))
    assert known.open(dear, JOB, (NORTH,), ("cost",), None)().start is not best
    assert mine.evaluate(build, PARTS, JOB) == best


@pytest.mark.parametrize("start", [False, True])
def test_a_search_starts_from_a_build_within_its_caps(start: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(module.goods, "run", lambda state, caps: asked.append((state.best, caps)))
    monkeypatch.setattr(module.goods, "find_likely", lambda state, caps: ("likely", caps))
    monkeypatch.setattr(module, "lines_within", lambda state, caps: ("lines", caps))
    build: Any = SimpleNamespace(cents=500, milligrams=7, watts=1.0, passes=True)
    bad: Any = SimpleNamespace(cents=500, milligrams=7, watts=1.0, passes=False)
    for known, cap, best in ((build, 500.0, build), (build, 499.0, None), (bad, 900.0, None)):
        mine: Any = SimpleNamespace(best="before", rounds=1, columns=2, low=3.0, lines=[])
        search = OneLightGoods(mine, known if start else None)
        search.run({**FREE, "cost": cap})
        assert asked.pop() == (best if start else "before", {**FREE, "cost": cap})
        assert search.best == (best if start else "before")
    mine.lines = [SimpleNamespace(kept=SimpleNamespace(size=size)) for size in (5, 6)]
    assert (search.effort, search.low) == ((1, 2, 11), 3.0)
    assert search.likely(FREE) == ("likely", FREE)
    assert search.within(FREE) == ("lines", FREE)


def test_lines_are_taken_to_other_prices() -> None:
    market = build_market(PARTS, JOB)
    problem = problem_of(market, np.arange(1))
    kept = everything(problem)
    few = kept.only(kept.channels[:2], kept.heads)
    offers = {**PARTS.offers, "d": (offer("d", "north", 1),)}
    other = repriced(market, replace(PARTS, offers=offers), JOB)
    line = line_in(other, Line(0, problem, few))
    assert line.emitter == 0
    assert line.problem.market is other
    assert line.kept.channels.tolist() == few.channels.tolist()
    assert line.kept.heads.tolist() == few.heads.tolist()
    assert len(line.kept.supplies) == len(other.supplies)
    # Held to a part as the search is.
    must = Must(Driver, frozenset({"d2"}), 2)
    held = line_in(other, Line(0, problem, few), must).kept
    assert held.forced_least == 2
    assert held.forced is not None
    assert line.kept.forced is None
    search = state(must=must)
    mine = OneLight(search)
    # Those handed over come first, then those of the search itself.
    some = [Line(0, problem, few)]
    for lines, given, number in ((None, None, None), (some, None, 1), (None, some, 1), ([], some, 0)):
        search.given = given
        found = mine.open(PARTS, JOB, (), ("cost",), lines)().state.given
        assert (None if found is None else len(found)) == number
        assert not found or found[0].kept.forced_least == 2


def test_the_best_by_its_goods_is_that_of_every_build() -> None:
    wanted = best_by_looking(PARTS)
    found = OneLight(state()).open(replace(PARTS, suppliers=()), JOB, (), ("cost", "mass"), None)()
    found.run(FREE)
    assert found.best is not None
    assert (found.best.cents, found.best.milligrams) == wanted


def test_lines_of_the_same_market_stay_as_they_are() -> None:
    market = build_market(PARTS, JOB)
    problem = problem_of(market, np.arange(1))
    kept = everything(problem)
    few = kept.only(kept.channels[:2], kept.heads)
    other = repriced(market, replace(PARTS, offers={**PARTS.offers, "d": (offer("d", "north", 1),)}), JOB)
    mine = Line(0, problem, few, cells=["cut"], sifted=FREE)  # type: ignore[list-item]
    same = line_in(market, mine)
    assert same is not mine
    assert (same.kept, same.cells, same.sifted) == (few, [], FREE)
    # Of a driver that must be there its channels are known, on any market.
    for there in (market, other):
        must = Must(Driver, frozenset({"d"}), 2)
        assert line_in(there, mine, must).kept.forced_least == 2
        assert mine.kept.forced is None


def test_with_very_many_leads_orders_never_go_into_one_program(monkeypatch: pytest.MonkeyPatch) -> None:
    search = state()
    parts = search.market.parts
    leads = len(parts.cables) * len(parts.fuses) * len(parts.connectors)
    for most, few in ((leads, FEW), (leads - 1, 0)):
        monkeypatch.setattr(module, "LEADS", most)
        assert OneLight(search).few == few


def test_a_shop_that_is_opened_twice_has_one_market() -> None:
    mine = OneLight(state())
    offers = {**PARTS.offers, "p": (offer("p", "north", 600),)}
    dear = replace(PARTS, offers=offers)
    first = mine.open(dear, JOB, (), ("cost",), None)().state.market
    assert mine.open(replace(PARTS, offers=dict(offers)), JOB, (), ("cost",), None)().state.market is first
    assert mine.open(dear, JOB, (NORTH,), ("cost",), None)().state.market is not first
    assert mine.open(PARTS, JOB, (), ("cost",), None)().state.market.panel_cost.tolist() == [700.0]
    assert mine.open(dear, JOB, (), ("cost",), None)().state.market.panel_cost.tolist() == [600.0]


def test_a_shop_promises_what_its_parts_come_to_at_least() -> None:
    best = best_by_looking(PARTS)
    opened = OneLight(state()).open(PARTS, JOB, (), ("cost", "mass"), None)
    least = opened().promise(FREE)
    assert 0.0 < least <= best[0]
    assert opened().promise({**FREE, "cost": least - 1.0}) == math.inf
    by_mass = OneLight(state()).open(PARTS, JOB, (), ("mass", "cost"), None)().promise(FREE)
    assert 0.0 < by_mass <= best[1]
    assert by_mass != least
    # What nobody sells at all promises nothing.
    bare = replace(PARTS, offers={**PARTS.offers, **{emitter.part: () for emitter in PARTS.emitters}})
    assert OneLight(state()).open(bare, JOB, (), ("cost",), None)().promise(FREE) == math.inf
    # Of a search that has none of its own yet it is what it comes to at least.
    goods = opened()
    assert goods.low == least
    goods.state.low = 5.0
    assert goods.low == 5.0


def test_columns_are_looked_up_in_the_reserve_of_the_search() -> None:
    asked: list[Any] = []
    known = SimpleNamespace(within=lambda search, caps: asked.append((search.market, caps)) or ("known",))
    mine = OneLight(state(reserve=known))
    opened = mine.open(PARTS, JOB, (), ("cost",), None)()
    assert opened.within(FREE) == ("known",)
    assert asked == [(opened.state.market, FREE)]
    plain = OneLight(state()).open(PARTS, JOB, (), ("cost",), None)().within(FREE)
    assert sum(line.kept.size for line in plain) > 0


@pytest.mark.parametrize(
    ("numbers", "few"), [((37, 37, 37), 0), ((100, 1, 400), FEW), ((500, 100, 1), FEW), ((501, 1, 100), 0)]
)
def test_very_many_leads_keep_orders_out_of_one_program(numbers: tuple[int, int, int], few: int) -> None:
    search = state()
    parts = search.market.parts
    many = {
        name: getattr(parts, name)[:1] * number
        for name, number in zip(("cables", "fuses", "connectors"), numbers, strict=True)
    }
    search.market = replace(search.market, parts=replace(parts, **many))
    assert OneLight(search).few == few


def test_nothing_is_promised_of_no_emitters() -> None:
    search = state()
    search.market = build_market(replace(PARTS, emitters=()), JOB)
    assert OneLightGoods(search).promise(FREE) == math.inf
