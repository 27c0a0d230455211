"""What is left of a problem, and the least it needs of load, pieces and heat: one column at a time, and real builds."""

import math
from dataclasses import replace
from itertools import combinations_with_replacement

import numpy as np
import pytest
from small_worlds import BOARDS, STEADY, WARM, job, pair_world, parts_of, world

from optimise.model import kept as module
from optimise.model.kept import (
    Kept,
    by_bearing,
    everything,
    least_load,
    least_pieces,
    per_lumen,
    warm_up,
    warmed,
)
from optimise.model.light import boards, ceiling_of, dimmest_of, flux_of, least_share, most_of, need_of
from optimise.model.problem import Problem
from optimise.scenario.points import Point

PLAIN = world(parts_of(), job(illuminance=900.0))
LIMITED = world(parts_of(), job(Point(name="x", across=0.1, illuminance_max=1300.0), illuminance=900.0))


def test_everything_is_what_can_be_bought() -> None:
    whole = everything(PLAIN)
    n = len(PLAIN.channels), len(PLAIN.heads), len(PLAIN.supplies)
    assert (len(whole.channels), len(whole.heads), len(whole.supplies), whole.size) == (*n, sum(n))
    costs = PLAIN.channel_cost.copy(), PLAIN.head_cost.copy()
    costs[0][1], costs[1][2] = np.inf, np.inf
    some = everything(replace(PLAIN, channel_cost=costs[0], head_cost=costs[1]), np.array([1]))
    assert some.channels.tolist() == [i for i in range(n[0]) if i != 1]
    assert some.heads.tolist() == [i for i in range(n[1]) if i != 2]
    assert some.supplies.tolist() == [1]
    assert whole.supplies.tolist() == [0, 1]
    assert some.board.tolist() == [20.0] * len(some.heads)
    assert some.top.tolist() == PLAIN.heads.limit[some.heads].tolist()
    assert some.fewest.tolist() == [1] * len(some.heads)
    assert some.need.tolist() == need_of(PLAIN, some.heads, some.board).tolist()
    assert some.flux.tolist() == flux_of(PLAIN, some.channels, np.full(2, 20.0)).tolist()
    assert (some.low, some.forced, some.forced_least) == (math.inf, None, 1)
    # In air that is warmer than a limit the board has but one temperature.
    hot = everything(PLAIN)
    limit = replace(PLAIN.heads, limit=np.full(n[1], 15.0))
    assert everything(replace(PLAIN, heads=limit)).top.tolist() == hot.board.tolist()


def test_taking_keeps_what_belongs_together() -> None:
    whole = replace(
        everything(PLAIN), forced=np.array([2, 3]), forced_least=2, low=7.0, fewest=np.arange(len(PLAIN.heads)) + 1
    )
    assert whole.must.tolist() == [i in (2, 3) for i in range(len(whole.channels))]
    part = whole.take(
        channels=np.array([3, 0]), heads=np.array([4, 1]), supplies=np.zeros(len(whole.supplies), dtype=bool)
    )
    assert part.channels.tolist() == [3, 0]
    assert part.flux.tolist() == [whole.flux[3], whole.flux[0]]
    assert part.heads.tolist() == [4, 1]
    for name in ("board", "top", "need", "fewest"):
        assert getattr(part, name).tolist() == [getattr(whole, name)[4], getattr(whole, name)[1]]
    assert len(part.supplies) == 0
    assert part.must.tolist() == [True, False]
    assert (part.forced_least, part.low) == (2, 7.0)
    assert whole.take().size == whole.size
    only = whole.only(np.array([5, 2]), np.array([3]))
    assert (only.channels.tolist(), only.heads.tolist(), only.supplies.tolist()) == (
        [2, 5],
        [3],
        whole.supplies.tolist(),
    )


def test_a_build_takes_a_column_of_each_kind_and_one_that_it_must_have() -> None:
    whole = everything(PLAIN)
    assert whole.possible
    assert whole.must.all()
    none: dict[str, np.ndarray] = {kind: np.array([], dtype=np.int64) for kind in ("channels", "heads", "supplies")}
    for kind, nothing in none.items():
        assert not whole.take(**{kind: nothing}).possible
    assert not replace(whole, forced=np.array([999])).possible
    assert replace(whole, forced=np.array([0])).possible
    assert isinstance(whole.possible, bool)


def looked(problem: Problem, kept: Kept, figures: np.ndarray, emitter: int) -> float:
    """Return the least of a figure for each lumen of the channels of an emitter, one by one."""
    mine = [(i, flux) for i, flux in zip(kept.channels.tolist(), kept.flux.tolist(), strict=True)]
    return min((figures[i] / flux for i, flux in mine if problem.channels.emitter[i] == emitter), default=math.inf)


def test_the_least_load_pieces_and_figures_for_each_lumen() -> None:
    whole = everything(PLAIN)
    c, h = PLAIN.channels, PLAIN.heads
    some = whole.take(channels=c.emitter == 1)
    for kept in (whole, some):
        for figures in (c.apparent, c.heat, c.count):
            wanted = [looked(PLAIN, kept, figures, e) for e in (0, 1)]
            assert per_lumen(PLAIN, kept, figures) == pytest.approx(wanted)
        mine = kept.take(heads=np.isin(h.emitter[kept.heads], np.unique(c.emitter[kept.channels])))
        loads = [
            need * looked(PLAIN, mine, c.apparent, int(h.emitter[head]))
            for need, head in zip(mine.need.tolist(), mine.heads.tolist(), strict=True)
        ]
        assert least_load(PLAIN, mine) == pytest.approx(min(loads))
        pieces = [
            math.ceil(need * looked(PLAIN, mine, c.count, int(h.emitter[head])) - 1e-6)
            for need, head in zip(mine.need.tolist(), mine.heads.tolist(), strict=True)
        ]
        assert least_pieces(PLAIN, mine).tolist() == pieces
        assert max(pieces) > 2
        many = replace(mine, fewest=np.full(len(mine.heads), 3))
        assert least_pieces(PLAIN, many).tolist() == [max(each, 3) for each in pieces]
    assert least_load(PLAIN, whole.take(heads=np.array([], dtype=np.int64))) == 0.0
    # What is a whole number of pieces but for rounding is that number.
    exact = replace(some, need=np.full(len(some.heads), 3.0 / looked(PLAIN, some, c.count, 1) * (1.0 + 1e-13)))
    assert set(least_pieces(PLAIN, exact.take(heads=h.emitter[exact.heads] == 1)).tolist()) == {3}
    # A channel that gives no light at all has no figure for a lumen that would be the least.
    dark = replace(whole, flux=np.where(np.arange(len(whole.flux)) == 0, 0.0, whole.flux))
    assert np.isfinite(per_lumen(PLAIN, dark, c.heat)).all()
    faint = replace(whole, flux=np.full(len(whole.flux), 0.25))
    assert per_lumen(PLAIN, faint, np.ones(len(c))).tolist() == [4.0, 4.0]


def test_heads_whose_boards_bear_the_same_channels_go_together() -> None:
    # Heat under one emitter, W/m²: 600 of the steady one (6 W · 0.5 on 0.005 m²), 540 of its like, 450 of the other.
    cooler = STEADY.model_copy(update={"part": "h", "heat_fraction": 0.45})
    panels = [BOARDS[0].model_copy(update={"part": f"q{n}", "heat_density_max": float(n)}) for n in (500, 570)]
    problem = world(parts_of(WARM, STEADY, cooler, panels=(*BOARDS, *panels)), job())
    whole = everything(problem)
    dense, bears = problem.density[whole.channels], problem.bears[whole.heads]
    able = [frozenset(np.flatnonzero(dense <= most).tolist()) for most in bears.tolist()]
    groups = by_bearing(problem, whole)
    assert sorted(place for group in groups for place in group.tolist()) == list(range(len(whole.heads)))
    assert len(groups) == len(set(able)) == 3
    for group in groups:
        assert len({able[place] for place in group.tolist()}) == 1


def test_boards_warm_up_to_what_their_least_heat_makes_of_them() -> None:
    whole = everything(PLAIN)
    found = warm_up(PLAIN, whole)
    for place, head in enumerate(whole.heads.tolist()):
        heat = whole.need[place] * looked(PLAIN, whole, PLAIN.channels.heat, int(PLAIN.heads.emitter[head]))
        (board,) = boards(PLAIN, np.array([head]), np.array([heat]))
        assert board > 20.0
        assert found.board[place] == pytest.approx(board, rel=1e-12)
        assert found.need[place] == pytest.approx(need_of(PLAIN, np.array([head]), np.array([board]))[0], rel=1e-12)
    # Once warm they do not cool down.
    warm = warmed(PLAIN, whole, np.full(len(whole.heads), 60.0))
    assert (warm_up(PLAIN, warm).board >= 60.0).all()
    nothing = whole.take(heads=np.array([], dtype=np.int64))
    assert warm_up(PLAIN, nothing) is nothing


def test_channels_give_what_they_do_on_the_coldest_board_of_their_emitter() -> None:
    whole = everything(PLAIN)
    h, c = PLAIN.heads, PLAIN.channels
    board = 30.0 + np.arange(len(whole.heads), dtype=np.float64)
    found = warmed(PLAIN, whole, board)
    coldest = np.array([min(board[h.emitter[whole.heads] == e]) for e in (0, 1)])
    assert found.flux.tolist() == flux_of(PLAIN, whole.channels, coldest).tolist()
    assert found.board.tolist() == board.tolist()
    assert (found.top >= board).all()
    assert (found.top <= np.maximum(whole.top, board)).all()
    # Of an emitter that has no head left the air is the coldest board.
    one = whole.take(heads=h.emitter[whole.heads] == 1)
    lone = warmed(PLAIN, one, np.full(len(one.heads), 50.0))
    assert lone.flux.tolist() == flux_of(PLAIN, one.channels, np.array([20.0, 50.0])).tolist()
    assert c.emitter[one.channels].min() == 0


def most_heat(problem: Problem, kept: Kept, place: int) -> float:
    """Return the heat over which a head has a channel too many, looking at channel after channel.

    Less than the need on the hottest board, by the channel that gives most heat for a lumen there, and one channel more
    that gives most heat of all; where there can be too much light, no more heat than goes with the most of it.
    """
    c, h = problem.channels, problem.heads
    head = int(kept.heads[place])
    e = int(h.emitter[head])
    hottest = np.array([max(kept.top[h.emitter[kept.heads] == k], default=20.0) for k in (0, 1)])
    mine = np.array([i for i in kept.channels.tolist() if c.emitter[i] == e])
    top = np.array([kept.top[place]])
    found = math.inf
    if not (problem.market.light_is_limited or problem.mix is not None):
        lumens = flux_of(problem, mine, hottest)
        share = least_share(problem, np.array([head]))[0]
        need = need_of(problem, np.array([head]), top)[0] / share if share > 0.0 else math.inf
        found = need * max(c.heat[i] / f if f > 0.0 else math.inf for i, f in zip(mine.tolist(), lumens, strict=True))
        found += max(c.heat[mine])
    if problem.market.light_is_limited:
        dimmest = dimmest_of(problem, mine, hottest)
        (most,) = ceiling_of(problem, np.array([head]), most_of(problem, np.array([head])), top)
        worst = max(c.heat[i] / f if f > 0.0 else math.inf for i, f in zip(mine.tolist(), dimmest, strict=True))
        found = min(found, most * worst)
    return min(found, float(h.heat_max[head]))


@pytest.mark.parametrize("problem", [PLAIN, LIMITED], ids=["plain", "limited"])
@pytest.mark.parametrize("lux", [40.0, 900.0])
def test_boards_get_no_warmer_than_a_channel_more_than_is_needed_makes_them(problem: Problem, lux: float) -> None:
    market = replace(problem.market, target=lux)
    asked = replace(problem, market=market)
    whole = everything(asked)
    found = warmed(asked, whole, whole.board).top
    cooler = 0
    for place, head in enumerate(whole.heads.tolist()):
        (wanted,) = boards(asked, np.array([head]), np.array([most_heat(asked, whole, place)]))
        assert found[place] == pytest.approx(max(min(wanted, whole.top[place]), 20.0), abs=1e-4)
        assert found[place] >= min(wanted, whole.top[place]) - 1e-9
        cooler += found[place] < whole.top[place] - 0.1
    assert cooler == len(whole.heads) or lux > 40.0 or problem is LIMITED
    assert cooler > 0


def test_no_build_without_a_channel_too_many_has_a_warmer_board() -> None:
    asked = replace(PLAIN, market=replace(PLAIN.market, target=300.0))
    whole = everything(asked)
    c, h = asked.channels, asked.heads
    top = warmed(asked, whole, whole.board).top
    looked_at = 0
    for place, head in list(enumerate(whole.heads.tolist()))[::2]:
        mine = [i for i in whole.channels.tolist() if c.emitter[i] == h.emitter[head]][::3]
        sets = [some for number in (0, 1, 2, 3) for some in combinations_with_replacement(mine, number)]
        board = boards(asked, np.full(len(sets), head), np.array([c.heat[list(some)].sum() for some in sets]))
        need = need_of(asked, np.full(len(sets), head), board)
        lit = {
            some: sum(flux_of(asked, np.array([i]), np.array([t, t]))[0] for i in some) >= asks
            for some, t, asks in zip(sets, board.tolist(), need.tolist(), strict=True)
        }
        for some, t in zip(sets, board.tolist(), strict=True):
            if lit[some] and not any(lit[some[:i] + some[i + 1 :]] for i in range(len(some))):
                looked_at += 1
                assert t <= top[place] + 1e-9
    assert looked_at > 10


@pytest.mark.parametrize("limit", [None, 0.65])
def test_faint_lights_are_lights(limit: float | None) -> None:
    # Pieces of half a lumen, for half a lux.
    points = () if limit is None else (Point(name="x", across=0.1, illuminance_max=limit),)
    faint = parts_of(WARM.model_copy(update={"flux": 0.5}), STEADY.model_copy(update={"flux": 0.35}))
    problem = world(faint, job(*points, illuminance=0.03))
    whole = everything(problem)
    found = warmed(problem, whole, whole.board).top
    for place, head in enumerate(whole.heads.tolist()):
        (wanted,) = boards(problem, np.array([head]), np.array([most_heat(problem, whole, place)]))
        assert found[place] == pytest.approx(max(min(wanted, whole.top[place]), 20.0), abs=1e-4)
    assert (found < whole.top - 0.1).any()


def test_needs_and_heats_without_end_are_no_trouble() -> None:
    # A light that is not worked out yet may need anything; without heat a board stays cold all the same.
    for scenario in (job(), job(Point(name="away", face_bearing=180.0, illuminance_max=1.0))):
        rough = world(parts_of(), scenario, sharp=False)
        assert rough.heads.rough.any()
        cold = replace(rough, channels=replace(rough.channels, heat=np.zeros(len(rough.channels))))
        whole = everything(cold)
        assert warmed(cold, whole, whole.board).top == pytest.approx(np.full(len(whole.heads), 20.0), abs=1e-5)
        whole = everything(rough)
        top = warmed(rough, whole, whole.board).top
        assert (top[rough.heads.rough[whole.heads]] >= whole.top[rough.heads.rough[whole.heads]] - 1e-5).all()
    # More heat than there are numbers for is what the board bears.
    dim = replace(PLAIN.heads, lux_per_lumen=np.full(len(PLAIN.heads), 1e-304))
    dark = replace(PLAIN.channels, flux=np.full(len(PLAIN.channels), 1e-3))
    endless = replace(PLAIN, heads=dim, channels=dark)
    whole = everything(endless)
    assert warmed(endless, whole, whole.board).top == pytest.approx(whole.top, abs=1e-5)


def test_without_heat_no_board_warms_up() -> None:
    cold = replace(PLAIN, channels=replace(PLAIN.channels, heat=np.zeros(len(PLAIN.channels))))
    whole = everything(cold)
    assert warmed(cold, whole, whole.board).top == pytest.approx(np.full(len(whole.heads), 20.0), abs=1e-5)
    cold = replace(LIMITED, channels=replace(LIMITED.channels, heat=np.zeros(len(LIMITED.channels))))
    whole = everything(cold)
    assert warmed(cold, whole, whole.board).top == pytest.approx(np.full(len(whole.heads), 20.0), abs=1e-5)


def test_mixtures_may_have_channels_too_many() -> None:
    mixed = pair_world(parts_of(WARM, STEADY), job(illuminance=40.0))
    whole = everything(mixed)
    assert warmed(mixed, whole, whole.board).top.tolist() == pytest.approx(whole.top.tolist(), abs=1e-5)
    assert module.HAIR == 1e-9
