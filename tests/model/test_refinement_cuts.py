"""Where cells are cut, by figures worked out by hand: a board that is 2 K warmer for each watt, in air of 20 °C."""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, catalogue, choice, on_offer

from optimise.columns.heads import NO_DIFFUSER
from optimise.model import refinement
from optimise.model.aimed import greatest_factor, most_by_number, most_within, open_factor
from optimise.model.cells import Cell, Tangent, first_cells
from optimise.model.choice import Evaluation, Margin
from optimise.model.exact import evaluate
from optimise.model.kept import everything
from optimise.model.problem import Problem, build_problem
from optimise.model.refinement import CannotRefineError, refine
from optimise.scenario.points import Point


@cache
def plain_problem() -> Problem:
    """Return the problem of the plain parts, with a panel whose thermal resistance is measured."""
    parts = catalogue(EMITTER.model_copy(update={"flux_per_kelvin": -0.002}))
    panel = PANEL.model_copy(update={"thermal_resistance": 2.0, "temperature_max": 95.0})
    parts = on_offer(replace(parts, panels=(panel,)))
    power = SCENARIO.power.model_copy(update={"ambient": 20.0})
    safety = SCENARIO.safety.model_copy(update={"touch_temperature": 95.0})
    return build_problem(parts, SCENARIO.model_copy(update={"power": power, "safety": safety}))


def head_of(*, diffused: bool) -> int:
    heads = plain_problem().heads
    return int(np.flatnonzero((heads.diffuser != NO_DIFFUSER) == diffused)[0])


def cell_of(*, diffused: bool = True, **figures: object) -> Cell:
    cell = next(
        c for c in first_cells(plain_problem(), everything(plain_problem())) if c.head == head_of(diffused=diffused)
    )
    plain = {"board": 30.0, "top": 80.0, "heat_low": 5.0, "heat_high": 30.0, "count_low": 1, "count_high": 12}
    return replace(cell, **{**plain, **figures})


LIGHT = Margin("illuminance", "min", 100.0, 90.0, "lx", "scenario")
BRIGHT = Margin("illuminance, at most", "max", 100.0, 125.0, "lx", "scenario")


@cache
def plain_build() -> Evaluation:
    problem = plain_problem()
    return evaluate(choice("p", "cloth"), problem.catalogue, problem.scenario)


def found(*margins: Margin, **figures: object) -> Evaluation:
    """Return a build of 20 W on a board at 60 °C: 90 lx, half a lux less for each kelvin."""
    plain = {"board": 60.0, "heat": 20.0, "lux": 90.0, "warming": -0.5, "dimming": -0.01, "apparent": 25.0}
    return replace(plain_build(), margins=margins or (LIGHT,), missing=(), **{**plain, **figures})


def refined(cell: Cell, evaluation: Evaluation, *, flattered: bool = False) -> list[Cell]:
    cells, _ = refine(plain_problem(), [cell], [], 0, 0, evaluation, flattered_power=flattered)
    return cells


def test_a_range_of_heat_is_cut_just_above_where_the_light_would_do() -> None:
    cell = cell_of()
    # 10 lx are missing at 0.5 lx/K: on a board at 40 °C it would do. A tenth of the way back is 42 °C, at 11 W.
    lower, upper = refined(cell, found())
    assert lower == replace(cell, heat_high=pytest.approx(11.0), top=pytest.approx(42.0, abs=1e-5))
    assert upper == replace(cell, heat_low=pytest.approx(11.0), board=pytest.approx(42.0), own=True)
    assert lower.heat_high == upper.heat_low
    assert lower.top >= 42.0 - 1e-9
    # On another face 45 lx of 50 are as much a tenth too little.
    spot = Margin("illuminance at the table", "min", 50.0, 45.0, "lx", "scenario")
    assert refined(cell, found(spot)) == [lower, upper]
    # The worst of all faces counts.
    assert refined(cell, found(replace(LIGHT, achieved=99.0), spot)) == [lower, upper]


def test_what_does_not_fade_with_heat_is_cut_just_below_its_own() -> None:
    for evaluation in (found(warming=0.0), found(replace(LIGHT, achieved=0.0))):
        lower, upper = refined(cell_of(), evaluation)
        assert lower.heat_high == pytest.approx(20.0, rel=1e-7)
        assert lower.heat_high < 20.0
        assert upper.board == pytest.approx(60.0, rel=1e-7)


def test_a_cut_is_never_above_the_heat_of_its_build() -> None:
    # As good as enough: the cut would be a hair above the board's own 60 °C.
    for short in (1e-6, 2e-7):
        build = found(replace(LIGHT, achieved=100.0 - short), lux=100.0)
        lower, upper = refined(cell_of(), build)
        assert 19.9 < lower.heat_high <= 20.0 * (1.0 - 1e-8)
        assert upper.heat_low == lower.heat_high
        assert upper.board == pytest.approx(60.0, abs=2e-6)


def test_what_lacks_less_than_a_strip_of_heat_is_not_cut_out_for_ever() -> None:
    """Its light on the coldest board of the strip that a cut leaves would do: the strip has to ask for more."""
    build = found(replace(LIGHT, achieved=100.0 - 2e-7), lux=100.0)
    _, upper = refined(cell_of(), build)
    assert 100.0 - 2e-7 - 0.5 * (upper.board - 60.0) > 100.0
    (strict,) = refined(upper, build)
    assert strict == replace(upper, tighten=2e-9)
    assert refined(strict, build) == [replace(strict, tighten=8e-9)]


def test_where_the_cell_is_warmer_than_the_cut_its_own_row_is_asked_for_then_a_hair_more() -> None:
    cell = cell_of(board=45.0)
    assert refined(cell, found()) == [replace(cell, own=True)]
    own = replace(cell, own=True)
    assert refined(own, found()) == [replace(own, tighten=2e-9)]
    assert refined(replace(own, tighten=1e-3), found()) == [replace(own, tighten=4e-3)]
    # Exactly at the cut, which is at 42 °C, too.
    assert len(refined(cell_of(board=42.0), found())) == 1
    assert len(refined(cell_of(board=41.999), found())) == 2


def test_of_a_range_that_begins_above_the_cut_the_upper_part_is_left() -> None:
    cell = cell_of(heat_low=12.0)
    assert refined(cell, found()) == [replace(cell, board=pytest.approx(42.0), own=True)]
    assert refined(cell_of(top=35.0), found())[0].top == 35.0
    # Where the cell's own board is warmer than that of the cut's heat, it stays.
    (upper,) = refined(cell_of(heat_low=11.5, board=41.9999999), found(warming=-0.5))
    assert upper.board == pytest.approx(42.0)


def test_too_much_light_is_cut_just_below_where_the_board_would_dim_it_enough() -> None:
    cell = cell_of(top=90.0, heat_high=35.0)
    # A fifth too much at a hundredth for each kelvin: dim enough at 80 °C. A tenth of the way back is 78 °C, at 29 W.
    lower, upper = refined(cell, found(BRIGHT))
    assert lower == replace(cell, heat_high=pytest.approx(29.0), top=pytest.approx(78.0, abs=1e-5), own=True)
    assert upper == replace(cell, heat_low=pytest.approx(29.0), board=pytest.approx(78.0))
    assert lower.top > 78.0
    # Where the range ends before that, only what is below is left, as warm as its end makes the board.
    cell = cell_of(top=90.0, heat_high=25.0)
    assert refined(cell, found(BRIGHT)) == [replace(cell, top=pytest.approx(70.0, abs=1e-5), own=True)]
    # A warmer board of the upper part stays.
    upper = refined(cell_of(top=90.0, heat_high=35.0, board=79.0), found(BRIGHT))[1]
    assert upper.board == 79.0
    upper = refined(cell_of(top=90.0, heat_high=35.0, heat_low=29.5), found(BRIGHT))[1]
    assert upper.heat_low == 29.5


def test_a_cell_no_warmer_than_the_cut_asks_a_hair_less_light() -> None:
    cell = cell_of(top=77.0, heat_high=35.0)
    assert refined(cell, found(BRIGHT)) == [replace(cell, own=True)]
    own = replace(cell, own=True)
    assert refined(own, found(BRIGHT)) == [replace(own, tighten=2e-9)]
    # The end of the range is at 70 °C, the cut at 78: a board of at most 75 °C is no hotter than the cut.
    cell = cell_of(top=75.0, heat_high=25.0)
    assert refined(cell, found(BRIGHT)) == [replace(cell, own=True)]
    assert len(refined(cell_of(top=78.01, heat_high=35.0), found(BRIGHT))) == 2


def test_what_does_not_dim_with_heat_is_cut_just_above_its_own() -> None:
    for evaluation in (found(BRIGHT, dimming=0.0), found(replace(BRIGHT, achieved=100.0000002))):
        lower, upper = refined(cell_of(top=90.0, heat_high=35.0), evaluation)
        assert 20.0 < lower.heat_high == pytest.approx(20.0, rel=2e-6)
        assert upper.heat_low == lower.heat_high
        assert upper.board == pytest.approx(60.0, abs=1e-4)
    # Dim enough a hair above its own board: the cut is below that.
    lower, _ = refined(cell_of(top=90.0, heat_high=35.0), found(replace(BRIGHT, achieved=100.001)))
    enough = 60.0 + (1.0 - 100.0 / 100.001) / 0.01
    assert 60.0 < lower.top < enough


def test_too_little_light_goes_before_too_much() -> None:
    assert refined(cell_of(), found(LIGHT, BRIGHT)) == refined(cell_of(), found(LIGHT))
    kept = replace(LIGHT, achieved=100.0)
    assert refined(cell_of(top=90.0), found(kept, BRIGHT)) == refined(cell_of(top=90.0), found(BRIGHT))


def test_an_open_head_is_cut_by_number_while_its_light_hangs_on_that() -> None:
    problem, head = plain_problem(), head_of(diffused=False)
    count = found().choice.emitters
    assert count == 2
    exact = open_factor(problem, head, count)
    cell = cell_of(diffused=False, lux_per_lumen=exact * 1.001, count_high=6)
    parts = refined(cell, found())
    ranges = [(1, 1), (2, 2), (3, 6)]
    assert parts == [
        replace(
            cell,
            count_low=low,
            count_high=high,
            lux_per_lumen=max(open_factor(problem, head, n) for n in range(low, high + 1)),
        )
        for low, high in ranges
    ]
    assert parts[2].lux_per_lumen == greatest_factor(problem, head, 3, 6)
    assert parts[1].lux_per_lumen == exact
    assert [(p.count_low, p.count_high) for p in refined(replace(cell, count_low=2), found())] == [(2, 2), (3, 6)]
    assert [(p.count_low, p.count_high) for p in refined(replace(cell, count_high=2), found())] == ranges[:2]
    # With its light known as it is, heat is what is left to cut; a diffused head knows it from the beginning.
    lower, upper = refined(replace(cell, lux_per_lumen=exact), found())
    assert lower.heat_high == upper.heat_low == pytest.approx(11.0)
    assert len(refined(cell_of(lux_per_lumen=1e3), found())) == 2


def limited() -> Problem:
    """Return the problem with a point at which the light is limited."""
    problem = plain_problem()
    point = Point(name="wall", across=0.5, illuminance_max=60.0)
    scenario = problem.scenario.model_copy(update={"points": (point,)})
    return build_problem(problem.catalogue, scenario)


def test_too_much_light_of_an_open_head_is_cut_by_number_too() -> None:
    problem = limited()
    head = int(np.flatnonzero(problem.heads.diffuser == NO_DIFFUSER)[0])
    exact = most_by_number(problem, head, 2)
    assert math.isfinite(exact)
    cell = replace(cell_of(diffused=False, count_high=6, top=90.0, heat_high=35.0), head=head)

    def parts(most: float) -> Sequence[Cell]:
        cells, _ = refine(problem, [replace(cell, most=most)], [], 0, 0, found(BRIGHT), flattered_power=False)
        return cells

    assert [(p.count_low, p.count_high, p.most) for p in parts(exact * 1.001)] == [
        (low, high, min(exact * 1.001, most_within(problem, head, low, high))) for low, high in ((1, 1), (2, 2), (3, 6))
    ]
    assert parts(exact * 1.001)[1].most == exact
    assert [p.own for p in parts(exact)] == [True, False]
    # By number one more time is of no use where its own is known already.
    assert [(p.count_low, p.count_high) for p in parts(exact)] == [(1, 6)] * 2


@pytest.mark.parametrize(
    ("bad", "neighbours", "ranges"),
    [
        ({2}, 100, [(1, 1), (3, 12)]),
        ({2, 3, 4, 7}, 100, [(1, 1), (5, 12)]),
        ({1, 2}, 100, [(3, 12)]),
        (set(range(2, 13)), 100, [(1, 1)]),
        (set(range(1, 13)), 100, [(0, 0)]),
        (set(range(1, 13)), 3, [(6, 12)]),
        (set(range(1, 13)), 1, [(4, 12)]),
        (set(range(13)) | {13}, 100, [(0, 0)]),
    ],
)
def test_numbers_about_an_uneven_one_go_with_it(
    bad: set[int], neighbours: int, ranges: list[tuple[int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(refinement, "uneven", lambda problem, head, count: count in bad)
    monkeypatch.setattr(refinement, "NEIGHBOURS", neighbours)
    cell = cell_of()
    # Before the light is looked at.
    assert refined(cell, found()) == [replace(cell, count_low=low, count_high=high) for low, high in ranges]


def test_numbers_below_an_uneven_one_are_looked_at_as_far_as_those_above(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(refinement, "uneven", lambda problem, head, count: True)
    monkeypatch.setattr(refinement, "NEIGHBOURS", 2)
    cell = cell_of()
    parts = refinement._without_uneven(plain_problem(), cell, 6)
    assert [(p.count_low, p.count_high) for p in parts] == [(1, 3), (9, 12)]


def test_a_flattered_power_gets_a_tangent_once_and_only_its_cell_is_cut() -> None:
    kept = replace(LIGHT, achieved=100.0)
    others = [cell_of(heat_low=1.0), cell_of(), cell_of(heat_low=2.0)]
    problem = plain_problem()
    drawn = Margin("power", "max", 10.0, 11.0, "W", "scenario")
    for evaluation, flattered in ((found(kept), True), (found(kept, drawn), False)):
        cells, tangents = refine(problem, others, [], 1, 3, evaluation, flattered_power=flattered)
        assert cells == others
        assert tangents == [Tangent(3, 25.0)]
        with pytest.raises(CannotRefineError, match="power"):
            refine(problem, others, tangents, 1, 3, evaluation, flattered_power=flattered)
        beside, more = refine(problem, others, tangents, 1, 2, evaluation, flattered_power=flattered)
        assert beside == others
        assert more == [Tangent(3, 25.0), Tangent(2, 25.0)]
    with pytest.raises(CannotRefineError, match="its power"):
        refine(problem, others, [], 1, 3, found(kept), flattered_power=False)
    blown = replace(found(kept, Margin("fuse", "min", 1.0, 0.0, "A", "scenario")), missing=("screws",))
    with pytest.raises(CannotRefineError, match="fuse, screws"):
        refine(problem, others, [], 1, 3, blown, flattered_power=False)
    # A limit on power that is kept is nothing to mend.
    with pytest.raises(CannotRefineError):
        refine(problem, others, [], 1, 3, found(kept, replace(drawn, achieved=9.0)), flattered_power=False)
    cells, _ = refine(problem, others, [], 1, 3, found(), flattered_power=False)
    assert [cells[0], cells[-1]] == [others[0], others[2]]
    assert cells[1:-1] == refined(others[1], found())


def test_cells_beside_the_one_that_is_cut_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    problem, kept = plain_problem(), replace(LIGHT, achieved=100.0)
    cells = [cell_of(top=90.0, heat_high=h) for h in (33.0, 35.0, 34.0, 32.0)]

    def cut(evaluation: Evaluation) -> list[Cell]:
        left, tangents = refine(problem, cells, [], 1, 0, evaluation, flattered_power=False)
        assert tangents == []
        assert left[:1] + left[-2:] == [cells[0], *cells[2:]]
        return left[1:-2]

    assert cut(found()) == refined(cells[1], found())
    assert cut(found(BRIGHT)) == refined(cells[1], found(BRIGHT))
    monkeypatch.setattr(refinement, "off_colour", lambda problem, evaluation: True)
    monkeypatch.setattr(refinement, "recoloured", lambda problem, cell, evaluation, numbers: [cell, cell_of()])
    assert cut(found(kept)) == [cells[1], cell_of()]
    # Colour is looked at where the light is right.
    assert cut(found(BRIGHT)) == refined(cells[1], found(BRIGHT))
    monkeypatch.setattr(refinement, "uneven", lambda problem, head, count: count == 2)
    assert [(p.count_low, p.count_high) for p in cut(found())] == [(1, 1), (3, 12)]


def test_every_number_below_an_uneven_one_is_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(refinement, "uneven", lambda problem, head, count: count in {5, 6, 7, 8})
    parts = refinement._without_uneven(plain_problem(), cell_of(), 8)
    assert [(p.count_low, p.count_high) for p in parts] == [(1, 4), (9, 12)]


def test_a_cut_is_a_ten_millionth_of_a_kelvin_from_where_the_light_is_right_at_the_least() -> None:
    # 6e-7 K from it a tenth of the way would be less than that: at 5e-7 K from its own board, 2.5e-7 W.
    lower, _ = refined(cell_of(), found(replace(LIGHT, achieved=100.0 - 3e-7), lux=100.0))
    assert 20.0 - lower.heat_high == pytest.approx(2.5e-7, rel=0.02)
    lower, _ = refined(cell_of(top=90.0, heat_high=35.0), found(replace(BRIGHT, achieved=100.0 + 6e-7)))
    assert lower.heat_high - 20.0 == pytest.approx(2.5e-7, rel=0.02)


def test_ends_that_are_just_those_of_a_cut() -> None:
    cell = cell_of(heat_low=11.0)
    assert refined(cell, found()) == [replace(cell, board=pytest.approx(42.0), own=True)]
    # No wider than the hair by which a top is above the truth.
    cell = cell_of(top=78.0 + 5e-7, heat_high=35.0)
    assert refined(cell, found(BRIGHT)) == [replace(cell, own=True)]
    head = head_of(diffused=False)
    exact = open_factor(plain_problem(), head, 2)
    parts = refined(cell_of(diffused=False, lux_per_lumen=exact * (1.0 + 1e-9), count_high=6), found())
    assert [(p.count_low, p.count_high) for p in parts] == [(1, 1), (2, 2), (3, 6)]
    problem = limited()
    most = most_by_number(problem, head, 2) * (1.0 + 1e-9)
    bright = replace(cell_of(diffused=False, count_high=6, top=90.0, heat_high=35.0), head=head, most=most)
    parts, _ = refine(problem, [bright], [], 0, 0, found(BRIGHT), flattered_power=False)
    assert [(p.count_low, p.count_high) for p in parts] == [(1, 1), (2, 2), (3, 6)]
