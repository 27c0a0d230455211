"""Bounds on problems that are easy to follow: boards that warm up, price breaks, supplies that are nearly the same."""

from dataclasses import replace

import numpy as np
import pytest
from random_catalogues import random_case
from random_shops import offer
from small_worlds import WARM, job, parts_of, world

from optimise.columns.heads import NO_DIFFUSER
from optimise.model import bounds
from optimise.model.bounds import FINE, Grain, bounded
from optimise.model.kept import Kept, everything, warm_up
from optimise.model.light import base_of, boards, flux_of, need_of, slope_of
from optimise.model.pieces import buying_of
from optimise.model.problem import Problem
from optimise.model.search import best_build
from optimise.model.weights import Weighing
from optimise.parts import Emitter, Offer
from optimise.parts.buying import Want

HOT = WARM.model_copy(update={"flux_per_kelvin": -0.006, "back": 0.0, "case_max": 110.0})
FINER = Grain(steps=40_000, prices=1, layers=3, worth=1.0, groups=1, alike=1.6)


def hot_world(emitter: Emitter, lux: float, small: float = 1.0) -> tuple[Problem, Kept]:
    """Return a problem behind sheets whose boards may be as hot as 110 °C, and what is left of it when warmed up."""
    scenario = job(illuminance=lux, look={"diffused": True})
    safety = scenario.safety.model_copy(update={"touch_temperature": 110.0})
    problem = world(parts_of(emitter), scenario.model_copy(update={"safety": safety}))
    c = problem.channels
    # Many small ones, so that their number tells.
    problem = replace(problem, channels=replace(c, flux=c.flux / small, heat=c.heat / small))
    return problem, warm_up(problem, everything(problem))


def plain_weighing(problem: Problem, heads: float = 0.0) -> Weighing:
    """Return a scale on which every channel weighs 1, of the n-th head n times `heads`."""
    number = len(problem.channels), len(problem.heads), len(problem.supplies)
    return Weighing(np.ones(number[0]), 0.0, heads * np.arange(number[1]), np.zeros(number[2]), 0.0)


@pytest.mark.parametrize("lux", [100.0, 300.0, 2200.0])
def test_as_many_channels_as_a_board_that_warms_up_needs(lux: float) -> None:
    problem, kept = hot_world(HOT, lux, small=20.0)
    c, told = problem.channels, set()
    for place, head in enumerate(kept.heads.tolist()):
        for channel in kept.channels.tolist()[::4]:
            one = kept.take(channels=kept.channels == channel, heads=kept.heads == head)
            # Σ (flux − slope · heat) ≥ base; where heat takes more than half, Σ flux ≥ need on the coldest board.
            low, high = kept.board[place : place + 1], kept.top[place : place + 1]
            index = np.array([head])
            slope = slope_of(problem, index, low, high)
            base, need = float(base_of(problem, index, low, high, slope)[0]), float(kept.need[place])
            flux = float(one.flux[0])
            falls = base <= 0.5 * need
            told.add(falls)
            each = flux if falls else flux - float(slope[0]) * float(c.heat[channel])
            number = np.ceil((need if falls else base) / each * (1.0 - 1e-4))
            # A channel is rounded up by one of its 80 steps or more at the most.
            found = bounded(problem, one, plain_weighing(problem), 0.985 * number - 1.0, FINER)
            assert 0.985 * number - 1.0 < found.low <= number
            assert not found.possible
            assert bounded(problem, one, plain_weighing(problem), number, FINER).possible
    assert told == ({False} if lux < 1000.0 else {False, True})


def test_a_warm_board_takes_more_channels_than_a_cold_one() -> None:
    problem, kept = hot_world(HOT, 2200.0)
    cold = replace(FINER, alike=np.inf)
    warm, without = (bounded(problem, kept, plain_weighing(problem), 2.0, grain).low for grain in (FINER, cold))
    assert warm > without


def test_no_light_that_is_enough_on_a_warm_board_is_lost() -> None:
    problem, kept = hot_world(HOT, 1800.0)
    c = problem.channels
    weighing = plain_weighing(problem, heads=0.25)
    lit = []
    for place, head in enumerate(kept.heads.tolist()):
        assert problem.heads.diffuser[head] != NO_DIFFUSER
        for channel in kept.channels.tolist():
            for number in range(1, 9):
                board = boards(problem, np.array([head]), np.array([number * c.heat[channel]]))
                lumens = number * flux_of(problem, np.array([channel]), board)[0]
                if board[0] <= kept.top[place] and lumens >= need_of(problem, np.array([head]), board)[0]:
                    lit.append((number + 0.25 * head, channel, head))
                    break
    assert lit
    for cap in sorted({weight for weight, *_ in lit})[:3]:
        found = bounded(problem, kept, weighing, cap, FINE)
        for weight, channel, head in lit:
            if weight <= cap:
                assert channel in found.channels
                assert head in found.heads
            else:
                known = channel in found.channels and head in found.heads
                assert known or found.low <= weight + 1e-6


@pytest.mark.parametrize("alike", [1.0, 1.6, 4.0, np.inf])
def test_heads_go_together_whose_boards_warm_up_alike(alike: float) -> None:
    problem, kept = hot_world(HOT, 900.0)
    slopes = slope_of(problem, kept.heads, kept.board, kept.top)
    assert len(set(slopes.round(6).tolist())) > 2
    groups = list(bounds._alike(problem, kept, plain_weighing(problem), np.inf, replace(FINE, alike=alike)))
    places = sorted(place for _, _, mine in groups for place in mine.tolist())
    assert places == list(range(len(kept.heads)))
    for _, slope, mine in groups:
        if alike == np.inf:
            assert slope == 0.0
        else:
            assert slope == slopes[mine].min()
            assert slopes[mine].max() <= alike * slope
    # As few groups as can be: from the least slope on, up to so many times as much.
    wanted, left = 0, sorted(slopes.tolist())
    while left:
        wanted, left = wanted + 1, [slope for slope in left if slope > alike * left[0]]
    assert len(groups) == wanted


def counted(
    needs: tuple[float, ...],
    *,
    emitters: list[Offer] | None = None,
    drivers: list[Offer] | None = None,
    places: int = 16,
) -> tuple[Problem, Kept]:
    """Return channels of one and of eight emitters, of 1 lm and 8 lm, on heads that need so many lumens."""
    base = world(parts_of(WARM), job())
    kinds = base.channels.take(np.zeros(2, dtype=np.int64))
    channels = replace(
        kinds,
        series=np.array([1, 8]),
        flux=np.array([1.0, 8.0]),
        heat=np.zeros(2),
        apparent=np.ones(2),
        driver=np.zeros(2, dtype=np.int64),
    )
    number = len(needs)
    heads = replace(
        base.heads.take(np.zeros(number, dtype=np.int64)),
        columns=np.full(number, places),
        rows=np.ones(number, dtype=np.int64),
    )
    market = replace(
        base.market,
        emitter_buying=(buying_of(Want("e", 1), emitters or [offer("e", "own", 0)]),),
        driver_buying=(buying_of(Want("d", 1), drivers or [offer("d", "own", 0)]),),
    )
    problem = replace(
        base,
        market=market,
        channels=channels,
        heads=heads,
        emitter_buying=market.emitter_buying,
        channel_cost=np.zeros(2),
        head_cost=np.zeros(number),
    )
    problem.__dict__["density"], problem.__dict__["bears"] = np.ones(2), np.full(number, 2.0)
    whole = everything(problem)
    top = np.full(number, 20.0)
    return problem, replace(whole, flux=channels.flux, need=np.array(needs), top=top, board=top)


MONEY = Weighing(np.zeros(2), 1.0, np.zeros(3), np.zeros(2), 0.0)
SINGLE = Grain(steps=24, prices=1, layers=3, worth=1.0, groups=1, alike=1.6)


def test_a_break_of_price_for_many_drivers_is_known_where_many_fit() -> None:
    # Ten drivers or more cost 1 each, fewer 10 each. A board of 2 places, and one of 16 that takes 12 of 1 lm.
    rows = [offer("d", "north", 10), offer("d", "north", 1, quantity_min=10.0)]
    problem, kept = counted((12.0, 12.0), drivers=rows)
    heads = replace(problem.heads, columns=np.array([2, 16]))
    # The other channel, of eight emitters, gives little: it is of no use.
    for some in (kept.take(channels=np.array([0])), kept, replace(kept, flux=np.array([1.0, 0.5]))):
        found = bounded(replace(problem, heads=heads), some, MONEY, 12.0, SINGLE)
        assert 0 in found.channels
        assert 1 in found.heads


@pytest.mark.parametrize("cap", [12.0, 30.0, 40.0])
def test_what_is_dropped_comes_to_no_more_than_what_pieces_far_beyond_the_cap_cost(cap: float) -> None:
    # A driver costs 10; a thousand at once 1 each. On a board of 2,000 places 12 of 1 lm cost 120.
    rows = [offer("d", "north", 10), offer("d", "north", 1, quantity_min=1000.0)]
    problem, kept = counted((12.0,), drivers=rows)
    wide = replace(problem, heads=replace(problem.heads, columns=np.array([2000])))
    found = bounded(wide, kept.take(channels=np.array([0]), heads=np.array([0])), MONEY, cap, SINGLE)
    assert not found.possible
    # The thousand cost more than twice the cap: they are not looked at, so no more than that is said.
    assert cap < found.low <= min(120.0, 2.0 * cap * (1.0 + 1e-6))
    assert bounded(wide, kept.take(channels=np.array([0]), heads=np.array([0])), MONEY, 120.0, SINGLE).possible
    # Of emitters as well: 12 at 10 each.
    rows = [offer("e", "north", 10), offer("e", "north", 1, quantity_min=1000.0)]
    problem, kept = counted((12.0,), emitters=rows, places=2000)
    one = kept.take(channels=np.array([0]), heads=np.array([0]))
    found = bounded(problem, one, MONEY, cap, SINGLE)
    assert not found.possible
    assert cap < found.low <= min(120.0, 2.0 * cap * (1.0 + 1e-6))
    assert bounded(problem, one, MONEY, 120.0, SINGLE).possible
    assert not bounded(problem, one, MONEY, 0.0, SINGLE).possible


def test_what_costs_nothing_is_looked_at_where_a_build_must_cost_less_than_nothing() -> None:
    for problem, kept in (
        counted((12.0,), emitters=[offer("e", "own", 0)]),
        counted((12.0,), drivers=[offer("d", "own", 0)]),
    ):
        assert not bounded(problem, kept, MONEY, -0.75, SINGLE).possible
    # What costs nothing at all cannot be had for less, whatever it draws.
    drawn = random_case(1, "battery", 7000, 8)
    offers = {
        code: tuple(row.model_copy(update={"supplier": "own", "price": 0, "stock": None}) for row in rows)
        for code, rows in drawn.catalogue.offers.items()
    }
    found = best_build(replace(drawn.catalogue, offers=offers), drawn.scenario, "power")
    assert found.status == "optimal"
    assert found.evaluation is not None
    assert found.evaluation.cents == 0


def test_what_many_emitters_cost_is_asked_of_boards_that_take_many() -> None:
    # Up to three cost 9 each, more 2 each: who needs two pays 18, or 8 for four; who needs six pays 12.
    rows = [offer("e", "north", 9), offer("e", "north", 2, quantity_min=4.0)]
    problem, kept = counted((2.0, 6.0, 16.0), emitters=rows)
    only = kept.take(channels=np.array([0]))
    for place, least in ((0, 2 * 2.0), (1, 6 * 2.0), (2, 16 * 2.0)):
        one, grain = only.take(heads=np.array([place])), replace(SINGLE, steps=int(only.need[place]))
        assert not bounded(problem, one, MONEY, least - 0.5, grain).possible
        assert bounded(problem, one, MONEY, least - 0.5, grain).low == pytest.approx(least)
        assert bounded(problem, one, MONEY, least, grain).possible
    # In stock are sixteen at 5 and no more: who needs a seventeenth has no light.
    few, kept = counted((2.0, 16.0, 17.0), emitters=[offer("e", "north", 5, stock=16.0)], places=20)
    found = bounded(few, kept.take(channels=np.array([0])), MONEY, 1e6, SINGLE)
    assert found.heads.tolist() == [0, 1]
    # Boards of two places take no light that needs five pieces.
    tiny, kept = counted((2.0, 5.0), emitters=[offer("e", "north", 5)], places=2)
    assert bounded(tiny, kept.take(channels=np.array([0])), MONEY, 1e6, SINGLE).heads.tolist() == [0]
    few, kept = counted((2.0, 16.0, 17.0), emitters=[offer("e", "north", 5, stock=16.0)], places=20)
    # The last of the heads is of no use whatever room the others have.
    heads = replace(few.heads, columns=np.array([2, 16, 20]))
    found = bounded(replace(few, heads=heads), kept.take(channels=np.array([0])), MONEY, 1e6, SINGLE)
    assert found.heads.tolist() == [0, 1]


def test_pieces_that_nobody_pays_for_weigh_what_they_weigh() -> None:
    # Of the driver there are two; on the scale of mass that is not looked at.
    problem, kept = counted((12.0,), drivers=[offer("d", "own", 0, stock=2.0)])
    mass = replace(MONEY, money=0.0, channel=np.array([1.0, 8.0]))
    found = bounded(problem, kept, mass, 12.0, SINGLE)
    assert found.possible
    assert bounded(problem, kept, mass, 11.0, SINGLE).low == pytest.approx(12.0)


@pytest.mark.parametrize(("need", "number"), [(1.0, 1), (2.0, 2), (24.0, 24)])
def test_a_step_of_light_is_one_step(need: float, number: int) -> None:
    # Beside a head that needs 24 lm: each step is a lumen.
    problem, kept = counted((need, 24.0))
    mass = replace(MONEY, money=0.0, channel=np.array([1.0, 30.0]), head=np.array([0.0, 100.0]))
    found = bounded(problem, kept, mass, number - 0.5, SINGLE)
    assert not found.possible
    assert found.low == pytest.approx(number)
    assert bounded(problem, kept, mass, float(number), SINGLE).heads.tolist() == [0]


def test_a_load_that_is_just_delivered_is_delivered_whatever_a_volt_ampere_costs() -> None:
    # Two supplies that differ by a millionth in what they deliver, and by much in weight: 2e7 for a volt-ampere.
    problem, kept = counted((8.0,))
    supplies = replace(problem.supplies, deliverable=np.array([8.0, 8.0 + 1e-6]))
    problem = replace(problem, market=replace(problem.market, supplies=supplies))
    mass = replace(MONEY, money=0.0, channel=np.array([1.0, 90.0]), supply=np.array([2.0, 22.0]))
    grain = replace(SINGLE, prices=2)
    found = bounded(problem, kept, mass, 10.0, grain)
    assert found.channels.tolist() == [0]
    assert found.supplies.tolist() == [0]
    # The exact check forgives a thousand-millionth.
    loads = replace(problem.channels, apparent=np.full(2, 1.0 + 1e-9))
    assert bounded(replace(problem, channels=loads), kept, mass, 10.0, grain).supplies.tolist() == [0]


def test_a_pair_may_weigh_more_than_its_head_and_its_supply_each_say() -> None:
    # 8 lm of 1 VA each, and 5 lm on a board of 3.5; supplies of 6, 10 and 30 VA that weigh 2, 8 and 50: a volt-ampere
    # costs 1.5, then 2.1. The first head with the first supply weighs 8 + 8 · 2.1 + 2 − 6 · 2.1 = 14.2, by its least
    # over all supplies 8 + 8 · 1.5 + 2 − 6 · 1.5 = 13; the other one 8.5 + 2.
    problem, kept = counted((8.0, 5.0))
    supplies = replace(problem.supplies.take(np.zeros(3, dtype=np.int64)), deliverable=np.array([6.0, 10.0, 30.0]))
    market = replace(problem.market, supplies=supplies)
    market.__dict__["_window"] = np.zeros(3, dtype=np.int64), np.ones((1, 1), dtype=bool)
    problem = replace(problem, market=market)
    weighing = Weighing(np.array([1.0, 99.0]), 0.0, np.array([0.0, 3.5]), np.array([2.0, 8.0, 50.0]), 0.0)
    kept = replace(kept, supplies=np.arange(3), channels=kept.channels)
    found = bounded(problem, kept, weighing, 13.5, replace(SINGLE, steps=40, prices=3))
    assert found.heads.tolist() == [1]
    assert found.supplies.tolist() == [0]
    assert found.low == pytest.approx(14.2, rel=1e-6)


def test_pieces_that_are_lacking_beside_a_channel_weigh_too() -> None:
    # One lumen is enough, but there must be two pieces: the heavier channel comes with one of the lighter.
    problem, kept = counted((1.0,))
    problem = replace(problem, channels=replace(problem.channels, series=np.array([1, 1]), flux=np.ones(2)))
    kept = replace(kept, flux=np.ones(2), fewest=np.array([2]))
    mass = replace(MONEY, money=0.0, channel=np.array([1.0, 2.0]))
    assert bounded(problem, kept, mass, 2.0, SINGLE).channels.tolist() == [0]
    assert bounded(problem, kept, mass, 2.0, SINGLE).low == pytest.approx(3.0)
    assert bounded(problem, kept, mass, 3.0, SINGLE).channels.tolist() == [0, 1]
    # Beside a head that takes five pieces for its light: 4.5 and one piece on the first, 4.5 and four on the other.
    both, kept = counted((1.0, 5.0))
    both = replace(both, channels=problem.channels)
    kept = replace(kept, flux=np.ones(2), fewest=np.array([2, 1]))
    heavy = replace(mass, channel=np.array([1.0, 4.5]))
    found = bounded(both, kept, heavy, 5.0, replace(SINGLE, steps=5))
    assert (found.channels.tolist(), found.heads.tolist(), found.low) == ([0], [0, 1], pytest.approx(5.5))


def test_who_needs_more_than_lie_in_the_drawer_pays_for_them() -> None:
    # Two are owned, others cost 5: six come to 20. Bounded together every piece is as good as owned.
    problem, kept = counted((2.0, 6.0), emitters=[offer("e", "own", 0, stock=2.0), offer("e", "north", 5)])
    only = kept.take(channels=np.array([0]))
    found = bounded(problem, only, MONEY, 19.0, SINGLE)
    assert found.heads.tolist() == [0]
    assert found.low == pytest.approx(20.0)
    assert bounded(problem, only, MONEY, 20.0, SINGLE).heads.tolist() == [0, 1]
    assert bounded(problem, only, MONEY, 0.0, replace(SINGLE, alike=np.inf)).heads.tolist() == [0, 1]


def test_what_cannot_be_had_is_looked_at_on_the_scale_of_money_alone() -> None:
    problem, kept = counted((2.0, 17.0), emitters=[offer("e", "north", 5, stock=16.0)], places=20)
    mass = replace(MONEY, money=0.0, channel=np.array([1.0, 8.0]))
    assert bounded(problem, kept, mass, 1e6, SINGLE).heads.tolist() == [0, 1]
    assert bounded(problem, kept.take(channels=np.array([0])), MONEY, 1e6, SINGLE).heads.tolist() == [0]


@pytest.mark.parametrize(("groups", "left"), [(1, [0, 1]), (2, [0]), (6, [0])])
def test_each_kind_of_supply_is_bounded_with_the_drivers_that_it_feeds(groups: int, left: list[int]) -> None:
    # A light channel on a light supply, a heavy one, by itself 10, on one of 5: together no build weighs less than 10.
    problem, kept = counted((1.0,))
    feeds = np.eye(2, dtype=bool)
    market = replace(problem.market, driver_buying=problem.market.driver_buying * 2)
    market.__dict__["_window"] = np.arange(2), feeds
    channels = replace(problem.channels, driver=np.arange(2), apparent=np.zeros(2))
    problem = replace(problem, market=market, channels=channels)
    weighing = Weighing(np.array([1.0, 10.0]), 0.0, np.zeros(1), np.array([0.0, 5.0]), 0.0)
    found = bounded(problem, kept, weighing, 12.0, replace(SINGLE, groups=groups))
    assert found.channels.tolist() == left
    assert (1 in found.supplies.tolist()) == (groups == 1)


def test_as_many_pieces_as_cost_twice_the_cap_are_looked_at() -> None:
    payable = bounds._payable
    assert payable(100, 0.5, 30.0) == 100  # all of them cost 50
    assert payable(100, 2.0, 30.0) == 30
    assert payable(30, 2.0, 30.0) == 30
    assert payable(100, 7.0, 10.0) == 3  # the third goes beyond it
    assert payable(100, 2.0, -3.0) == 0
    assert payable(100, 0.0, -3.0) == 100
