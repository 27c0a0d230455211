"""Heads: what fits, what is covered, how much heat and light, by hand."""

import math

import numpy as np
import pytest
from column_parts import BOARD, MODULE

from optimise.columns.heads import (
    NO_DIFFUSER,
    Boards,
    Heads,
    beam_through,
    build_heads,
    grid_limits,
    sharpened,
    usable_size,
)
from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.faces import lux_per_lumen
from optimise.physics.heat import heat_shed
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Limits, Look, Power, Safety

# Invented figures.
EMITTER = MODULE.model_copy(update={"beam": 60.0, "case_max": 85.0})
SHEET = Diffuser(part="d", transmittance=0.6, width=0.45, height=0.6, mass_per_area=0.3)
BEAMED = Diffuser(part="b", transmittance=0.8, spread=40.0, width=1.0, height=1.0, mass_per_area=0.3)


def scenario(**changes: object) -> Scenario:
    sections: dict[str, object] = {
        "light": Light(illuminance=100.0, distance=2.0),
        "power": Power(source="battery", runtime=3600.0, lead_length=2.0, ambient=20.0),
    }
    return Scenario.model_validate({**sections, **changes})


def built(emitters: list[Emitter], panels: list[Panel], sheets: list[Diffuser], wanted: Scenario) -> Heads:
    boards = Boards(panels, sheets, wanted)
    heads = build_heads(emitters, boards, grid_limits(emitters, panels))
    return sharpened(heads, np.arange(len(heads)), emitters, boards)


def test_usable_part_keeps_the_shape() -> None:
    assert usable_size(BOARD) == pytest.approx((0.4, 0.32))


def test_grid_takes_the_better_way_round() -> None:
    columns, rows = grid_limits([EMITTER], [BOARD])
    # Along the width: 4 × 10 = 40; upright: 13 × 3 = 39.
    assert (int(columns[0, 0]), int(rows[0, 0])) == (4, 10)
    narrow = BOARD.model_copy(update={"width": 0.12, "height": 1.0, "usable": 1.0})
    columns, rows = grid_limits([EMITTER], [narrow])
    assert (int(columns[0, 0]), int(rows[0, 0])) == (4, 10)
    assert int(columns[0, 0]) * int(rows[0, 0]) > 1 * 33


def test_what_is_too_long_does_not_fit() -> None:
    tube = EMITTER.model_copy(update={"length": 1.2})
    columns, rows = grid_limits([tube], [BOARD])
    assert int(columns[0, 0] * rows[0, 0]) == 0
    assert len(built([tube], [BOARD], [SHEET], scenario())) == 0


@pytest.mark.parametrize(
    ("width", "height", "fits"), [(0.5, 0.4, True), (0.4, 0.5, True), (0.49, 0.49, False), (0.6, 0.39, False)]
)
def test_a_sheet_may_be_turned_but_not_stretched(width: float, height: float, fits: bool) -> None:
    sheet = SHEET.model_copy(update={"width": width, "height": height})
    boards = Boards([BOARD], [sheet], scenario(look=Look(diffused=True)))
    assert (boards.diffuser.tolist() == [0]) is fits


def test_open_and_covered_heads_and_their_light() -> None:
    heads = built([EMITTER], [BOARD], [SHEET, BEAMED], scenario())
    light = dict(zip(heads.diffuser.tolist(), heads.lux_per_lumen.tolist(), strict=True))
    assert set(light) == {NO_DIFFUSER, 0, 1}
    m = math.log(0.5) / math.log(math.cos(math.radians(30)))
    assert light[NO_DIFFUSER] == pytest.approx((m + 1) / (2 * math.pi) / 4)
    # A small diffused face two metres away is nearly a point: within 3 % of transmittance / (π d²).
    assert light[0] == pytest.approx(0.6 / math.pi / 4, rel=0.03)
    assert light[0] < 0.6 / math.pi / 4
    wide = math.hypot(60.0, 40.0)
    assert beam_through(EMITTER, BEAMED)[0] == pytest.approx(math.log(0.5) / math.log(math.cos(math.radians(wide / 2))))
    assert light[0] < light[1] < light[NO_DIFFUSER]


def test_diffused_is_a_limit() -> None:
    wanted = scenario(look=Look(diffused=True))
    heads = built([EMITTER], [BOARD], [SHEET], wanted)
    assert heads.diffuser.tolist() == [0]


def test_open_emitters_need_the_ip_code_that_a_sheet_would_give() -> None:
    wanted = scenario(limits=Limits(ip="IP44"))
    heads = built([EMITTER], [BOARD], [SHEET], wanted)
    assert heads.diffuser.tolist() == [0]
    sealed = EMITTER.model_copy(update={"ip": "IP65"})
    heads = built([sealed], [BOARD], [SHEET], wanted)
    assert sorted(heads.diffuser.tolist()) == [NO_DIFFUSER, 0]


def test_lowest_temperature_limit_rules() -> None:
    def limit(panel: Panel, touch: float) -> float:
        return float(built([EMITTER], [panel], [], scenario(safety=Safety(touch_temperature=touch))).limit[0])

    assert limit(BOARD, 60.0) == 60.0
    assert limit(BOARD, 100.0) == 85.0
    assert limit(BOARD.model_copy(update={"temperature_max": 50.0}), 60.0) == 50.0


def test_heat_limit_is_what_the_board_sheds_at_its_limit_or_its_measured_resistance() -> None:
    heads = built([EMITTER], [BOARD], [], scenario())
    assert heads.heat_max[0] == pytest.approx(float(heat_shed(60.0, 20.0, 0.5, 0.4, 1, 0.8)))
    measured = BOARD.model_copy(update={"thermal_resistance": 0.8})
    heads = built([EMITTER], [measured], [], scenario())
    assert heads.heat_max[0] == pytest.approx(40.0 / 0.8)


def test_a_rough_light_is_never_less_than_the_exact_one() -> None:
    panels = [BOARD, BOARD.model_copy(update={"part": "q", "width": 0.9, "height": 0.9})]
    sheets = [BEAMED, BEAMED.model_copy(update={"part": "c", "spread": 80.0})]
    boards = Boards(panels, sheets, scenario(look=Look(diffused=True)))
    rough = build_heads([EMITTER], boards, grid_limits([EMITTER], panels))
    assert rough.rough.all()
    exact = sharpened(rough, np.arange(len(rough)), [EMITTER], boards)
    assert not exact.rough.any()
    assert np.all(exact.lux_per_lumen < rough.lux_per_lumen)
    for head, panel, sheet, lux in zip(range(4), exact.panel, exact.diffuser, exact.lux_per_lumen, strict=True):
        size = panels[panel].width, panels[panel].height
        through = sheets[sheet].transmittance
        beam, _ = beam_through(EMITTER, sheets[sheet])
        assert isinstance(beam, float)
        assert lux == pytest.approx(through * float(lux_per_lumen(*size, 2.0, beam))), head


def test_hotter_air_than_the_limit_leaves_no_head() -> None:
    cool = BOARD.model_copy(update={"temperature_max": 40.0})
    hot = scenario(power=Power(source="battery", runtime=3600.0, lead_length=2.0, ambient=45.0))
    assert len(built([EMITTER], [cool], [SHEET], hot)) == 0


def test_nothing_to_build_from_is_empty_and_not_an_error() -> None:
    assert len(built([], [], [], scenario())) == 0
