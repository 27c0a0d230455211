"""Cells of mixtures whose colour missed a limit, by hand: two whites, air of 20 °C, a board 2 K warmer a watt."""

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, catalogue, choice, on_offer

from optimise.model import recolouring
from optimise.model.cells import Cell, first_cells
from optimise.model.choice import Evaluation, Margin
from optimise.model.exact import evaluate
from optimise.model.kept import everything
from optimise.model.light import flux_of
from optimise.model.market import build_market
from optimise.model.pairs import pairs_of, problem_of_line
from optimise.model.problem import Problem
from optimise.model.recolouring import NARROWEST, WIDEST, _cut, _keeps, _row, _until, off_colour, recoloured
from optimise.scenario.model import Look

WARM = EMITTER.model_copy(update={"cct": 2900.0, "part": "e", "flux_per_kelvin": -0.001})
COLD = EMITTER.model_copy(update={"cct": 6000.0, "part": "f", "flux_per_kelvin": -0.004, "flux": 900.0})


@cache
def plain_problem() -> Problem:
    parts = catalogue(WARM)
    panel = PANEL.model_copy(update={"thermal_resistance": 2.0, "temperature_max": 95.0})
    parts = on_offer(replace(parts, emitters=(WARM, COLD), panels=(panel,), diffusers=parts.diffusers[:1]))
    scenario = SCENARIO.model_copy(
        update={
            "power": SCENARIO.power.model_copy(update={"ambient": 20.0}),
            "safety": SCENARIO.safety.model_copy(update={"touch_temperature": 95.0}),
            "look": Look(cct_min=3700.0, cct_max=4700.0),
            "search": SCENARIO.search.model_copy(update={"emitter_kinds": 2}),
        }
    )
    return problem_of_line(build_market(parts, scenario), 2)


@cache
def range_of_shares() -> tuple[float, float]:
    """Return the shares of the second light that keep the limits: about 0.4 to 0.7."""
    (_, _, low, high) = pairs_of(plain_problem().market)[0]
    assert 0.3 < low < 0.45
    assert 0.65 < high < 0.8
    return low, high


def cell_of(**figures: object) -> Cell:
    (cell,) = first_cells(plain_problem(), everything(plain_problem()))
    plain = {"board": 30.0, "top": 70.0, "heat_low": 5.0, "heat_high": 25.0, "share_low": 0.1, "share_high": 0.9}
    return replace(cell, **{**plain, **figures})


@cache
def plain_build() -> Evaluation:
    problem = plain_problem()
    return evaluate(choice("p", "cloth"), problem.catalogue, problem.scenario)


def found(share: float, **figures: object) -> Evaluation:
    """Return a build of 15 W on a board at 50 °C whose second kind gives this share of 1000 lm."""
    plain = {"board": 50.0, "heat": 15.0, "fluxes": (1000.0 * (1.0 - share), 1000.0 * share)}
    return replace(plain_build(), **{**plain, **figures})


def test_only_a_mixture_that_misses_a_limit_on_colour_is_off_colour() -> None:
    low = Margin("colour temperature, low", "min", 3700.0, 3600.0, "K", "scenario")
    dark = Margin("illuminance", "min", 100.0, 90.0, "lx", "scenario")
    problem = plain_problem()
    assert off_colour(problem, found(0.2, margins=(dark, low)))
    assert not off_colour(problem, found(0.2, margins=(dark, replace(low, achieved=3800.0))))
    assert not off_colour(problem, found(0.2, margins=()))
    assert not off_colour(replace(problem, mix=None), found(0.2, margins=(low,)))


def test_colour_is_kept_within_the_shares_alone() -> None:
    low, high = range_of_shares()
    for share in (low + 1e-4, (low + high) / 2.0, high - 1e-4):
        assert _keeps(plain_problem(), share)
    for share in (0.0, low - 1e-4, high + 1e-4, 1.0):
        assert not _keeps(plain_problem(), share)


@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_what_misses_a_limit_goes_with_a_share_up_to_where_it_is_kept(
    way: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    low, high = 0.4, 0.7
    problem = plain_problem()
    monkeypatch.setattr(recolouring, "_keeps", lambda problem, share: low <= share <= high)
    # Far from any share that will do: 2⁻³⁰ or so doubled until it is wide enough, and half of that.
    for share, end in ((0.1, 0.1 + 0.05 * way), (0.9, 0.9 + 0.05 * way)):
        reach = 1e-9 * 2.0 ** math.ceil(math.log2(WIDEST / 1e-9))
        assert _until(problem, share, end, way) == pytest.approx(share + way * reach / 2.0, abs=1e-12)
    # Near the end of the cell: not beyond it.
    for gap in (1e-3, 1e-6):
        reach = abs(_until(problem, 0.1, 0.1 + way * gap, way) - 0.1)
        assert gap / 2.0 <= reach <= gap
    # Near a share that will do: at most as far, and at least half as far.
    edge, end = (low, 0.9) if way > 0.0 else (high, 0.1)
    for gap in (1e-3, 1e-5):
        share = edge - way * gap
        reach = abs(_until(problem, share, end, way) - share)
        assert gap / 4.0 <= reach <= gap
        assert not low <= share + way * reach <= high


def test_a_share_is_cut_out_of_a_cell_with_those_about_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recolouring, "_keeps", lambda problem, share: 0.4 <= share <= 0.7)
    cell = cell_of()
    parts = recoloured(plain_problem(), cell, found(0.25), [])
    reach = 1e-9 * 2.0**25 / 2.0
    wanted = [(0.1, 0.25 - reach), (0.25 + reach, 0.9)]
    assert [(p.share_low, p.share_high) for p in parts] == [pytest.approx(w, abs=1e-9) for w in wanted]
    assert parts == [replace(cell, own=True, share_low=p.share_low, share_high=p.share_high) for p in parts]
    # At an end of the cell one part is left; of a cell that is that share alone none, but for one that holds nothing.
    (part,) = recoloured(plain_problem(), cell, found(0.1), [])
    assert (part.share_low, part.share_high) == (pytest.approx(0.1 + reach, abs=1e-9), 0.9)
    (part,) = recoloured(plain_problem(), cell, found(0.9), [])
    assert (part.share_low, part.share_high) == (0.1, pytest.approx(0.9 - reach, abs=1e-9))
    only = cell_of(share_low=0.25 - 1e-12, share_high=0.25 + 1e-12)
    parts = recoloured(plain_problem(), only, found(0.25), [])
    assert parts == [replace(only, count_low=0, count_high=0)]


def channels() -> list[tuple[int, int]]:
    """Return one channel of each kind, with how many of it: 2 and 3."""
    kinds = plain_problem().kinds
    return [(int(np.flatnonzero(kinds == 0)[0]), 2), (int(np.flatnonzero(kinds == 1)[0]), 3)]


def lumens(board: float) -> tuple[float, float]:
    problem = plain_problem()
    each = [n * float(flux_of(problem, np.array([c]), np.full(2, board))[0]) for c, n in channels()]
    return each[0], each[1]


def test_rows_of_shares_count_cold_what_helps_and_hot_what_harms() -> None:
    problem = plain_problem()
    for low, high, cold, hot in ((0.1, 0.9, 30.0, 70.0), (0.55, 0.6, 30.0, 70.0), (0.3, 0.5, 50.0, 50.0)):
        cell = cell_of(share_low=low, share_high=high)
        (first, second), (faint, other) = lumens(cold), lumens(hot)
        wanted = min((1.0 - low) * second - low * faint, high * first - (1.0 - high) * other)
        assert _row(problem, cell, channels(), cold, hot) == pytest.approx(wanted, rel=1e-12)
    # On one board a row is 0 where the share is just that.
    first, second = lumens(50.0)
    share = second / (first + second)
    for ends in ((share, 1.0), (0.0, share)):
        cell = cell_of(share_low=ends[0], share_high=ends[1])
        assert _row(problem, cell, channels(), 50.0, 50.0) == pytest.approx(0.0, abs=1e-9)


def test_a_share_outside_that_the_rows_let_through_makes_the_cell_narrower() -> None:
    problem = plain_problem()
    first, second = lumens(50.0)
    share = second / (first + second)
    # The rows say that it is inside, the exact check that it is a hair outside.
    for missed in (1e-8, 1e-10):
        low = cell_of(share_low=share - missed)
        (left,) = recoloured(problem, low, found(share - 2.0 * missed), channels())
        assert left == replace(
            low, own=True, share_low=pytest.approx(low.share_low + max(4.0 * missed, 1e-9), abs=1e-13)
        )
        high = cell_of(share_high=share + missed)
        (left,) = recoloured(problem, high, found(share + 2.0 * missed), channels())
        wanted = high.share_high - max(4.0 * missed, 1e-9)
        assert left == replace(high, own=True, share_high=pytest.approx(wanted, abs=1e-13))


def test_a_cell_that_is_as_narrow_as_shares_ask_for_is_not_cut_by_heat() -> None:
    problem = plain_problem()
    first, second = lumens(50.0)
    share = second / (first + second)
    outside = found(share)
    for figures in ({"exact_share": True}, {"board": 50.0 - NARROWEST / 2.0, "top": 50.0 + NARROWEST / 4.0}):
        cell = cell_of(share_low=share + 0.05, **figures)
        (left,) = recoloured(problem, cell, outside, channels())
        assert left == replace(cell, own=True, share_low=pytest.approx(share + 0.25))
    # A wide one is: there the share is not within what it holds.
    cell = cell_of(share_low=share + 0.05)
    assert len(recoloured(problem, cell, outside, channels())) > 1


def test_the_board_of_a_build_is_cut_out_so_narrowly_that_the_rows_refuse_it() -> None:
    problem = plain_problem()
    first, second = lumens(50.0)
    share = second / (first + second)
    for over in (0.001, 0.01, 0.2, -0.001, -0.01, -0.2):
        cell = cell_of(share_low=share + over) if over > 0.0 else cell_of(share_high=share + over)
        parts = recoloured(problem, cell, found(share), channels())
        middle = next(p for p in parts if p.heat_low <= 15.0 <= p.heat_high)
        assert _row(problem, middle, channels(), middle.board, middle.top) < 0.0
        assert middle.own
        # No narrower than it need be: a quarter of the range, or twice as wide would not do.
        reach = (middle.top - middle.board) / 2.0
        halvings = math.log2(10.0 / reach)
        assert halvings == pytest.approx(round(halvings), abs=1e-4)
        wide = _row(problem, cell, channels(), 50.0 - 2.0 * reach, 50.0 + 2.0 * reach) >= 0.0
        assert reach == pytest.approx(10.0, abs=1e-5) or wide
        # The parts hold all that the cell held, one after the other.
        assert parts[0].heat_low == cell.heat_low
        assert parts[-1].heat_high == cell.heat_high
        for one, following in pairwise(parts):
            assert one.heat_high == following.heat_low
            assert one.top == pytest.approx(following.board, abs=1e-5)


def test_what_no_strip_refuses_makes_the_cell_narrower() -> None:
    problem = plain_problem()
    first, second = lumens(50.0)
    share = second / (first + second)
    # On its board it misses by less than two boards a ten-millionth of a kelvin apart can tell.
    cell = cell_of(share_low=share + 1e-12)
    (left,) = recoloured(problem, cell, found(share), channels())
    assert left == replace(cell, own=True, share_low=pytest.approx(share + 1e-12 + 1e-9, abs=1e-13))


def test_parts_below_about_and_above_a_heat() -> None:
    problem, cell = plain_problem(), cell_of()
    # Boards 4 K below and above its 50 °C are those of 13 and 17 W.
    below, about, above = _cut(problem, cell, found(0.2), 4.0)
    assert below == replace(cell, heat_high=pytest.approx(13.0), top=pytest.approx(46.0, abs=1e-5), own=True)
    assert about == replace(
        cell,
        heat_low=pytest.approx(13.0),
        heat_high=pytest.approx(17.0),
        board=pytest.approx(46.0),
        top=pytest.approx(54.0, abs=1e-5),
        own=True,
    )
    assert above == replace(cell, heat_low=pytest.approx(17.0), board=pytest.approx(54.0), own=True)
    assert about.top > 54.0 - 1e-8
    assert below.top > 46.0 - 1e-8
    # A cell that ends before them keeps its ends, and has no part beyond.
    near = cell_of(heat_low=14.0, heat_high=16.0, board=48.0, top=52.0)
    assert _cut(problem, near, found(0.2), 4.0) == [replace(near, own=True)]
    warm = cell_of(top=45.0, board=55.0)
    parts = _cut(problem, warm, found(0.2), 4.0)
    assert [(p.board, p.top) for p in parts] == [(55.0, 45.0)] * 3
    # No colder than the air: no heat is less than none.
    cold = cell_of(heat_low=0.0)
    parts = _cut(problem, cold, found(0.2), 40.0)
    assert [p.heat_low for p in parts] == [0.0]
    # So narrow that it is not cut any more: at least a hundred-millionth of the heat on both sides.
    parts = _cut(problem, cell, found(0.2), 1e-12)
    assert len(parts) == 3
    assert 15.0 - parts[1].heat_low == pytest.approx(15e-8, rel=0.01)
    assert parts[1].heat_high - 15.0 == pytest.approx(15e-8, rel=0.01)
    assert not parts[1].exact_share
    assert [p.exact_share for p in _cut(problem, near, found(0.2), 4.0)] == [False]
    strip = cell_of(board=50.0 - 4e-8, top=50.0 + 4e-8)
    assert [p.exact_share for p in _cut(problem, strip, found(0.2), 4.0)] == [False, True, False]
