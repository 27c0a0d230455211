"""Columns of a problem against plain loops over parts, and what is told of how far a search is proven.

Parts are those of `small_world`, or invented here.
"""

import math
import time
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from plain_parts import EMITTER, catalogue, choice
from plain_parts import SCENARIO as PLAIN
from small_world import PRICES, SCENARIO, priced, world

from optimise.columns.heads import NO_DIFFUSER
from optimise.model import goods, search
from optimise.model.choice import Evaluation
from optimise.model.exact import evaluate
from optimise.model.market import Market, build_market, repriced
from optimise.model.mix import Mix
from optimise.model.problem import Problem, build_problem, hung_on, problem_of, with_sharp_heads
from optimise.model.search import best_build, bound_and_gap, in_force, proof_of
from optimise.model.state import State, TimeUpError
from optimise.parts import Supplier


@cache
def market_() -> Market:
    return build_market(world(), SCENARIO)


@cache
def both_() -> Problem:
    return problem_of(market_(), np.array([0, 1]))


@cache
def found_() -> Evaluation:
    return evaluate(choice("p", "film"), catalogue(EMITTER), PLAIN)


def test_channels_and_heads_cost_and_weigh_what_their_parts_do() -> None:
    parts, channels, heads = both_().parts, both_().channels, both_().heads
    assert [emitter.part for emitter in parts.emitters] == ["e", "f"]
    assert both_().size == len(channels) + len(heads)
    for c in range(len(channels)):
        emitter, driver = parts.emitters[both_().kinds[c]], parts.drivers[channels.driver[c]]
        pieces = int(channels.series[c] * channels.parallel[c])
        assert both_().channel_cost[c] == pieces * PRICES[emitter.part] + PRICES[driver.part]
        assert both_().channel_mass[c] == pieces * emitter.milligrams + driver.milligrams
        assert both_().piece_cost[c] == PRICES[emitter.part]
        assert both_().driver_unit[c] == PRICES[driver.part]
        assert both_().own_per_kelvin[c] == emitter.flux_per_kelvin
        here = channels.heat[c] / pieces / (emitter.length * emitter.width)
        assert both_().density[c] == pytest.approx(max(here, emitter.heat_density))
    for h in range(len(heads)):
        panel = parts.panels[heads.panel[h]]
        sheet = None if heads.diffuser[h] == NO_DIFFUSER else parts.diffusers[heads.diffuser[h]]
        assert both_().head_cost[h] == PRICES[panel.part] + (0 if sheet is None else PRICES[sheet.part])
        area = panel.width * panel.height
        assert both_().head_mass[h] == panel.milligrams + (
            0 if sheet is None else round(sheet.mass_per_area * area * 1e6)
        )
        assert both_().head_metal[h] == panel.metal
        # 20 fit the board; all may be bought.
        assert both_().capacity[h] == 20
    assert (
        both_().per_kelvin.tolist()
        == both_().own_per_kelvin[[int(np.flatnonzero(both_().kinds == k)[0]) for k in (0, 1)]].tolist()
    )


def test_one_emitter_is_taken_by_its_place() -> None:
    second = problem_of(market_(), np.array([1]))
    assert [emitter.part for emitter in second.parts.emitters] == ["f"]
    mine = both_().kinds == 1
    assert second.channel_cost.tolist() == both_().channel_cost[mine].tolist()
    assert second.emitter_buying == (market_().emitter_buying[1],)
    assert set(second.heads.emitter.tolist()) == {0}
    # A grid of places as it is for that emitter, which here is longer and fits less often.
    long = world()
    long = replace(long, emitters=(long.emitters[0], long.emitters[1].model_copy(update={"length": 0.4})))
    market = build_market(long, SCENARIO)
    assert set(problem_of(market, np.array([1])).capacity.tolist()) == {10}
    assert set(problem_of(market, np.array([0])).capacity.tolist()) == {20}


def test_what_can_be_bought_caps_what_fits() -> None:
    few = world()
    stocked = tuple(offer.model_copy(update={"stock": 7.0}) for offer in few.offers["e"])
    problem = problem_of(build_market(replace(few, offers={**few.offers, "e": stocked}), SCENARIO), np.array([0, 1]))
    assert {int(c) for c in problem.capacity[problem.heads.emitter == 0]} == {7}
    assert {int(c) for c in problem.capacity[problem.heads.emitter == 1]} == {20}


def test_boards_bear_so_much_heat_or_any() -> None:
    parts = world()
    board = parts.panels[0]
    # A board that no emitter may sit on is left out, so the limit is set afterwards. 60 % of 6 W under 0.2 m × 0.05 m
    # are 360 W/m²; of it 1e-9 is forgiven, as in the exact check.
    for most, borne in ((360.0, True), (360.0 * (1 - 5e-10), True), (360.0 * (1 - 2e-9), False), (359.0, False)):
        limited = replace(parts, panels=(board.model_copy(update={"heat_density_max": 400.0}),))
        problem = problem_of(build_market(limited, SCENARIO), np.array([0]))
        problem.market.boards.bears[:] = most
        assert problem.density == pytest.approx(360.0)
        heads = np.zeros(len(problem.channels), dtype=np.int64)
        assert problem.borne(np.arange(len(problem.channels)), heads).tolist() == [borne] * len(problem.channels)
        assert problem.bears[0] == pytest.approx(most, rel=2e-9)
    assert both_().borne(np.arange(len(both_().channels))[:, None], np.arange(len(both_().heads))[None, :]).all()


def test_a_board_bears_just_what_it_bears() -> None:
    problem = replace(both_())
    problem.__dict__["bears"] = np.full(len(problem.heads), problem.density.max())
    assert problem.borne(np.arange(len(problem.channels)), np.zeros(len(problem.channels), dtype=np.int64)).all()


def test_heat_under_an_emitter_is_that_of_its_rating_or_of_these_drivers_where_it_is_more() -> None:
    plain = both_()
    assert plain.density == pytest.approx(360.0)
    for share, density in ((0.5, 360.0), (2.0, 720.0)):
        channels = replace(plain.channels, heat=share * plain.channels.heat)
        assert replace(plain, channels=channels).density == pytest.approx(density)


def test_the_other_end_is_that_of_each_emitter() -> None:
    assert both_().other_end.tolist() == [[1.0, 1.0], [1.0, 1.0]]
    ranging = (both_().parts.emitters[0].ranging(1.2, 0.9), both_().parts.emitters[1].ranging(1.1, 0.8))
    assert replace(both_(), parts=replace(both_().parts, emitters=ranging)).other_end.tolist() == [
        [1.2, 1.1],
        [0.9, 0.8],
    ]
    assert replace(both_(), parts=replace(both_().parts, emitters=())).other_end.shape == (2, 0)


def mixed() -> Problem:
    sheets = np.ones(len(market_().parts.diffusers), dtype=bool)
    return problem_of(market_(), np.array([0, 1]), ((0.2, 0.5), (0.6, 0.7)), sheets)


def test_a_mixture_has_both_kinds_on_every_head() -> None:
    mix = mixed()
    assert isinstance(mix.mix, Mix)
    assert mix.kinds.tolist() == both_().channels.emitter.tolist()
    assert set(mix.channels.emitter.tolist()) == {0}
    assert (mix.mix.low, mix.mix.high) == (0.2, 0.7)
    assert mix.channel_cost.tolist() == both_().channel_cost.tolist()
    assert mix.channel_mass.tolist() == both_().channel_mass.tolist()
    # Both may be bought in any number, so that the places decide: of two kinds in all.
    assert mix.capacity.tolist() == [20] * len(mix.heads)
    # The one that loses less: nought of the first, as the other does not lose any more.
    lossy = replace(
        mix.parts,
        emitters=(mix.parts.emitters[0], mix.parts.emitters[1].model_copy(update={"flux_per_kelvin": -0.004})),
    )
    assert replace(mix, parts=lossy).per_kelvin.tolist() == [-0.002, -0.002]
    assert replace(both_(), parts=lossy).per_kelvin.tolist() == [-0.002, -0.004]


@pytest.mark.parametrize("longer", [0, 1])
def test_places_of_a_mixture_are_roomy_enough_for_either_kind(longer: int) -> None:
    parts = world()
    emitters = tuple(
        emitter.model_copy(update={"length": 0.4 if place == longer else 0.2})
        for place, emitter in enumerate(parts.emitters)
    )
    market = build_market(replace(parts, emitters=emitters), SCENARIO)
    sheets = np.ones(len(market.parts.diffusers), dtype=bool)
    problem = problem_of(market, np.array([0, 1]), ((0.2, 0.5),), sheets)
    assert problem.capacity.tolist() == [10] * len(problem.heads)


def test_stock_of_both_kinds_counts_in_a_mixture() -> None:
    few = world()
    offers = {
        **few.offers,
        **{
            code: tuple(offer.model_copy(update={"stock": stock}) for offer in few.offers[code])
            for code, stock in (("e", 7.0), ("f", 5.0))
        },
    }
    market = build_market(replace(few, offers=offers), SCENARIO)
    sheets = np.ones(len(market.parts.diffusers), dtype=bool)
    problem = problem_of(market, np.array([0, 1]), ((0.2, 0.5),), sheets)
    assert problem.capacity.tolist() == [12] * len(problem.heads)


def test_new_prices_are_hung_on_the_same_columns() -> None:
    assert hung_on(both_(), market_()) is both_()
    dearer = priced(world(), {code: 2 * price + 1 for code, price in PRICES.items()})
    market = repriced(market_(), dearer, SCENARIO)
    hung = hung_on(problem_of(market_(), np.array([1])), market)
    fresh = problem_of(market, np.array([1]))
    assert hung.market is market
    assert hung.catalogue is dearer
    assert hung.parts == fresh.parts
    assert (
        hung.channel_cost.tolist()
        == fresh.channel_cost.tolist()
        != problem_of(market_(), np.array([1])).channel_cost.tolist()
    )
    assert hung.head_cost.tolist() == fresh.head_cost.tolist()
    assert hung.emitter_buying == fresh.emitter_buying
    assert hung.driver_buying == market.driver_buying


def test_sharp_heads_are_exact_and_others_stay() -> None:
    every = build_problem(world(), SCENARIO)
    assert every.channel_cost.tolist() == both_().channel_cost.tolist()
    heads = np.arange(len(both_().heads))
    sharp = with_sharp_heads(both_(), heads)
    assert np.array_equal(sharp.heads.lux_per_lumen, every.heads.lux_per_lumen)
    assert sharp is not both_()
    # Sharp already: nothing is made anew.
    assert with_sharp_heads(sharp, heads) is sharp
    assert with_sharp_heads(both_(), heads[:0]) is both_()


# How far a search is proven ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("objective", "value", "low", "bound", "gap"),
    [
        ("cost", 1000.0, 900.0, 9.0, 0.1),
        ("cost", 1000.0, 1000.0, 10.0, 0.0),
        # A bound above what was found says no more than what was found; one below nothing no more than nothing.
        ("cost", 1000.0, 1200.0, 10.0, 0.0),
        ("cost", 1000.0, -50.0, 0.0, 1.0),
        ("cost", 1000.0, 0.5, 0.005, 0.9995),
        ("cost", 0.0, 0.0, 0.0, 0.0),
        ("mass", 2e6, 1.5e6, 1.5, 0.25),
        ("power", 50.0, 40.0, 40.0, 0.2),
        # Of power the blur of what counts as better, and of what is a figure at all, is never proven: 3e-7 of it.
        ("power", 50.0, 50.0, 50.0 * (1 - 3e-7), 3e-7),
    ],
)
def test_bound_and_gap_are_of_what_is_shown(objective: str, value: float, low: float, bound: float, gap: float) -> None:
    found = bound_and_gap(objective, value, low)
    assert found == pytest.approx((bound, gap), rel=1e-7, abs=1e-15)


def test_what_is_asked_for_is_in_force() -> None:
    own = SCENARIO.model_copy(
        update={"search": SCENARIO.search.model_copy(update={"objective": "mass", "time_limit": 9.0})}
    )
    for aim, limit, wanted in (
        (None, None, ("mass", 9.0)),
        ("power", None, ("power", 9.0)),
        (None, 0.0, ("mass", 0.0)),
        ("cost", 3.0, ("cost", 3.0)),
    ):
        found = in_force(own, aim, limit)  # type: ignore[arg-type]
        assert (found.search.objective, found.search.time_limit) == wanted
        assert found.light == own.light
    assert in_force(SCENARIO, None, None).search.time_limit is None


def looking(**known: Any) -> State:
    state = State(market_(), "cost", 1, None, lambda text: None, **known)
    state.rounds, state.columns, state.kept_columns = 4, 100, 30
    return state


def test_a_proof_counts_what_was_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(time, "monotonic", lambda: 112.5)
    build = replace(found_(), cents=1000)
    proof = proof_of(looking(best=build), "optimal", 100.0)
    supplies, mounts = len(market_().supplies), len(market_().mounts)
    assert supplies > 0
    assert (proof.bound, proof.gap, proof.rounds, proof.kept, proof.seconds) == (10.0, 0.0, 4, 30, 12.5)
    assert proof.columns == 100 + supplies + mounts
    mounted = replace(market_(), mounts=(0, 1, 2))
    state = looking(best=build)
    state.market = mounted
    assert proof_of(state, "optimal", 100.0).columns == 103 + supplies
    # What is still open bounds the rest: the least of it; nothing is open where no bound is known.
    open_ = proof_of(looking(best=build, lows={0: 900.0, 1: 950.0}), "feasible", 100.0)
    assert (open_.bound, open_.gap) == (9.0, pytest.approx(0.1))
    assert proof_of(looking(best=build), "feasible", 100.0).bound == 10.0
    assert proof_of(looking(best=build, lows={0: 900.0}), "optimal", 100.0).bound == 10.0
    none = proof_of(looking(lows={0: 900.0}), "stopped", 100.0)
    assert (none.bound, none.gap) == (None, None)


@pytest.mark.parametrize(
    ("best", "settled", "ends", "status"),
    [
        (True, 2, None, "optimal"),
        (False, 0, None, "impossible"),
        (True, 0, TimeUpError, "feasible"),
        (False, 0, TimeUpError, "stopped"),
        (True, 1, TimeUpError, "optimal"),
        (True, 0, KeyboardInterrupt, "feasible"),
    ],
)
def test_how_a_search_ends_is_told(
    monkeypatch: pytest.MonkeyPatch, best: bool, settled: int, ends: type[BaseException] | None, status: str
) -> None:
    seen: list[State] = []

    def run(state: State, caps: Any) -> None:
        seen.append(state)
        state.best = found_() if best else None
        state.settled = settled
        if ends is not None:
            raise ends

    monkeypatch.setattr(search, "run", run)
    monkeypatch.setattr(time, "monotonic", lambda: 100.0)
    result = best_build(world(), SCENARIO, "mass", time_limit=5.0 if ends is TimeUpError else None)
    assert result.status == status
    assert (result.evaluation is None) is not best
    (state,) = seen
    assert (state.objective, state.threads) == ("mass", 1)
    assert state.deadline == (105.0 if ends is TimeUpError else None)
    assert result.market.scenario.search.objective == "mass"


def test_where_someone_charges_orders_are_searched_and_elsewhere_goods(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[str] = []
    monkeypatch.setattr(goods, "run", lambda state, caps: ran.append("goods"))
    monkeypatch.setattr(goods, "find_any", lambda state, caps: ran.append("any of goods"))
    monkeypatch.setattr(search, "run_orders", lambda *house: ran.append("orders"))
    monkeypatch.setattr(search, "Orders", lambda *asked: SimpleNamespace(go=lambda: ran.append("any of orders")))
    charged = build_market(replace(world(), suppliers=(Supplier(supplier="s", delivery=500),)), SCENARIO)
    for market in (market_(), charged):
        state = State(market, "cost", 1, None, lambda text: None)
        search.run(state, {})
        search.find_any(state, {})
    assert ran == ["goods", "any of goods", "orders", "any of orders"]


@pytest.mark.parametrize(
    ("order", "stages"),
    [
        (("cost", "mass"), [("cost", "mass")]),
        (("mass", "cost"), [("mass",), ("cost",)]),
        (("power", "cost", "mass"), [("power",), ("cost", "mass")]),
        (("mass",), [("mass",)]),
        (("power", "mass"), [("power", "mass")]),
    ],
)
def test_orders_are_searched_stage_by_stage(
    monkeypatch: pytest.MonkeyPatch, order: tuple[str, ...], stages: list[tuple[str, ...]]
) -> None:
    # Cost is known at the door alone: what comes before it is settled first, what comes after goes with it.
    build = replace(found_(), cents=1000, milligrams=2000, watts=10.0)
    made: list[tuple[tuple[str, ...], dict[str, float]]] = []
    state = State(market_(), "cost", 1, None, lambda text: None, order=order, lows={0: 5.0})

    def orders(house: Any, state_: Any, stage: tuple[str, ...], settled: dict[str, float]) -> Any:
        made.append((stage, dict(settled)))
        return SimpleNamespace(go=lambda: setattr(state, "best", build))

    monkeypatch.setattr(search, "Orders", orders)
    caps = {"cost": 5000.0, "mass": math.inf, "power": 9.9999995}
    search.run_orders(None, state, caps)  # type: ignore[arg-type]
    assert [stage for stage, _ in made] == stages
    assert made[0][1] == caps
    assert state.settled == len(order)
    assert state.lows == {}
    if len(made) > 1:
        # What is settled may be blurred and no more; a cap that was tighter stays.
        (first,), tight = stages[0], made[1][1]
        wanted = {"mass": 2000.25, "power": 9.9999995}[first]
        assert tight == {**caps, first: wanted}
    made.clear()
    state.settled = 0
    search.run_orders(None, state, caps, [("cost",)])  # type: ignore[arg-type]
    assert [stage for stage, _ in made] == [("cost",)]


def test_orders_that_find_nothing_settle_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search, "Orders", lambda *asked: SimpleNamespace(go=lambda: None))
    state = State(market_(), "mass", 1, None, lambda text: None, lows={0: 5.0})
    search.run_orders(None, state, {"cost": math.inf, "mass": math.inf, "power": math.inf})  # type: ignore[arg-type]
    assert (state.settled, state.best, state.lows) == (0, None, {0: 5.0})


def test_any_build_of_a_catalogue_is_one_that_passes() -> None:
    heaviest = SCENARIO.model_copy(update={"search": SCENARIO.search.model_copy(update={"objective": "power"})})
    asked: list[State] = []
    found = search.any_build(world(), heaviest)
    assert found is not None
    assert found.passes
    assert search.possible(world(), SCENARIO)
    dark = SCENARIO.model_copy(update={"light": SCENARIO.light.model_copy(update={"illuminance": 1e5})})
    assert not search.possible(world(), dark)
    with pytest.raises(TimeUpError):
        search.possible(world(), SCENARIO, -1.0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(search, "find_any", lambda state, caps: asked.append(state))
        assert search.any_build(world(), heaviest) is None
    (state,) = asked
    assert (state.any_will_do, state.threads, state.market.scenario.search.objective) == (True, 1, "cost")
