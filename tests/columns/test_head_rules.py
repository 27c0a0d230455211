"""Which heads there are, how many emitters they hold and how warm they may get, by hand. All parts are invented."""

import numpy as np
import pytest
from column_parts import BOARD, MODULE

from optimise.columns.heads import (
    NO_DIFFUSER,
    Boards,
    Heads,
    build_heads,
    grid_limits,
    lies,
    mixed_heads,
)
from optimise.parts import Diffuser, Emitter, Panel
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Look, Power

EMITTER = MODULE.model_copy(update={"heat_fraction": 0.5, "case_max": 55.0, "cct": 4000.0})
SHEET = Diffuser(part="s", transmittance=0.6, width=1.0, height=1.0, mass_per_area=0.3)


def scenario(**sections: object) -> Scenario:
    power = Power(source="battery", runtime=3600.0, lead_length=2.0, ambient=20.0)
    return Scenario.model_validate({"light": Light(illuminance=100.0, distance=2.0), "power": power, **sections})


def of(**changes: object) -> Emitter:
    return EMITTER.model_copy(update=changes)


def on(**changes: object) -> Panel:
    return BOARD.model_copy(update=changes)


def built(emitter: Emitter, panel: Panel, sheets: tuple[Diffuser, ...] = (), *, look: Look | None = None) -> Heads:
    boards = Boards([panel], sheets, scenario(look=look or Look()))
    return build_heads([emitter], boards, grid_limits([emitter], [panel]))


def fit(room: float, side: float) -> int:
    """Count pieces put side by side until one more would stick out."""
    number = 0
    while (number + 1) * side <= room + 1e-9:
        number += 1
    return number


SIZES = [(0.4, 0.32), (0.4, 0.4), (0.2, 1.1), (1.1, 0.2), (0.05, 0.31), (0.31, 0.05), (0.12, 0.07), (0.06, 0.06)]


@pytest.mark.parametrize("room", SIZES)
def test_the_grid_is_the_better_of_two_and_lies_where_both_hold_as_many(room: tuple[float, float]) -> None:
    panel = on(width=room[0], height=room[1], usable=1.0)
    for length, width in ((0.1, 0.03), (0.03, 0.1), (0.05, 0.05), (0.3, 0.02), (0.07, 0.06)):
        emitter = of(length=length, width=width)
        along = fit(room[0], length), fit(room[1], width)
        upright = fit(room[0], width), fit(room[1], length)
        lying = along[0] * along[1] >= upright[0] * upright[1]
        columns, rows = grid_limits([emitter], [panel])
        assert (int(columns[0, 0]), int(rows[0, 0])) == (along if lying else upright)
        assert lies(emitter, panel) is lying


def test_a_head_holds_as_many_as_its_grid() -> None:
    # 0.4 m by 0.32 m are four by ten of 0.1 m by 0.03 m.
    (head,) = built(EMITTER, BOARD).capacity.tolist()
    assert head == 40
    # One is enough for a head.
    assert built(EMITTER, on(width=0.11, height=0.05, usable=1.0)).capacity.tolist() == [1]


def test_a_board_bears_the_heat_under_an_emitter_or_is_none_for_it() -> None:
    # 8.4 W, half of it heat, over 30 cm²: 1400 W/m².
    assert EMITTER.heat_density == pytest.approx(1400.0)
    assert len(built(EMITTER, on(heat_density_max=EMITTER.heat_density))) == 1
    assert len(built(EMITTER, on(heat_density_max=0.999 * EMITTER.heat_density))) == 0
    assert len(built(EMITTER, BOARD)) == 1


def test_a_board_that_may_hardly_get_warmer_is_a_head_all_the_same() -> None:
    heads = built(EMITTER, on(temperature_max=20.05))
    assert heads.limit.tolist() == [20.05]
    assert 0.0 < heads.heat_max[0] < 1.0


def test_each_head_must_have_the_colour_by_itself_unless_it_is_mixed() -> None:
    look = Look(cct_min=3300.0, cct_max=3400.0)
    warmer = SHEET.model_copy(update={"part": "t", "mired_shift": 50.0})
    sheets = SHEET, warmer
    assert built(EMITTER, BOARD, sheets).diffuser.tolist() == [NO_DIFFUSER, 0, 1]
    # 250 mired and 50 are 300 mired, 3333 K, behind the filter alone.
    assert built(EMITTER, BOARD, sheets, look=look).diffuser.tolist() == [1]
    # And bare or behind a sheet without a shift of what has it already.
    assert built(of(cct=3333.0), BOARD, sheets, look=look).diffuser.tolist() == [NO_DIFFUSER, 0]
    narrow = Look(cct_min=3998.0, cct_max=4002.0)
    assert built(EMITTER, BOARD, sheets, look=narrow).diffuser.tolist() == [NO_DIFFUSER, 0]
    # Of the right colour it must fit all the same.
    assert len(built(of(length=2.0), BOARD, sheets, look=narrow)) == 0
    boards = Boards([BOARD], sheets, scenario(look=look))
    every = build_heads([EMITTER], boards, grid_limits([EMITTER], [BOARD]), coloured=False)
    assert every.diffuser.tolist() == [NO_DIFFUSER, 0, 1]


def test_two_kinds_share_places_that_are_roomy_enough_for_either() -> None:
    boards = Boards([BOARD], [SHEET], scenario())
    both = of(part="o", length=0.08, width=0.04)
    for pair in ((EMITTER, both), (both, EMITTER)):
        heads = mixed_heads(pair, boards, np.array([True]))
        # 0.4 m by 0.32 m are four by eight of 0.1 m by 0.04 m.
        assert (heads.columns.tolist(), heads.rows.tolist()) == ([4], [8])
        assert heads.diffuser.tolist() == [0]


def test_two_kinds_are_mixed_where_both_may_be_and_as_the_cooler_one_allows() -> None:
    # The second is too hot for the middle panel; sheets 1 and 3 do not make their light alike.
    sheets = [SHEET.model_copy(update={"part": f"s{i}"}) for i in range(5)]
    alike = np.array([True, False, True, False, True])
    panels = [on(part=f"p{i}", width=0.5 + 0.1 * i) for i in range(4)]
    panels[1] = panels[1].model_copy(update={"heat_density_max": 1500.0})
    window = Look(cct_min=3900.0, cct_max=4100.0)
    boards = Boards(panels, sheets, scenario(look=window))
    one = of(cct=2700.0, case_max=45.0)
    other = of(part="o", cct=6500.0, case_max=55.0, heat_fraction=0.6)
    assert other.heat_density == pytest.approx(1680.0)
    for pair in ((one, other), (other, one)):
        heads = mixed_heads(pair, boards, alike)
        expected = [(p, s) for p in (0, 2, 3) for s in (0, 2, 4)]
        assert list(zip(heads.panel.tolist(), heads.diffuser.tolist(), strict=True)) == expected
        cooler = build_heads([one], boards, grid_limits([one], panels), coloured=False)
        heat = dict(zip(cooler.panel.tolist(), cooler.heat_max.tolist(), strict=True))
        assert heads.limit.tolist() == [45.0] * 9
        assert heads.heat_max.tolist() == pytest.approx([heat[p] for p, _ in expected])
        assert len(set(heads.heat_max.tolist())) == 3
