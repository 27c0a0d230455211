"""The exact check and the columns with a measured table of intensity, by hand. All parts are invented."""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, TALL, catalogue, choice

from optimise.columns.heads import NO_DIFFUSER, Boards, build_heads, grid_limits, measured_bounds, sharpened
from optimise.model.exact import build_of, evaluate
from optimise.model.limits import lies
from optimise.parts import Emitter, Panel
from optimise.parts.photometry import Photometry

FAN = Photometry(
    "C",
    np.array([0.0, 45.0, 90.0]),
    np.array([0.0, 90.0]),
    np.array([[100.0, 20.0, 0.0], [100.0, 100.0, 0.0]]),
    name="fan.ies",
)
"""Narrow along the piece, wide across it."""


def lux(emitter: Emitter, panel: str, diffuser: str | None) -> float:
    return evaluate(choice(panel, diffuser), catalogue(emitter), SCENARIO).lux


def flux_of_fan() -> float:
    """Return the flux by hand: the mean of the two planes (linear between them) over linear pieces of 45°."""
    mean = [100.0, 60.0, 0.0]
    total = 0.0
    for low, one, other in ((0.0, mean[0], mean[1]), (45.0, mean[1], mean[2])):
        steps = (np.arange(20_000) + 0.5) / 20_000
        angle = np.radians(low + 45.0 * steps)
        total += float(np.mean((one + (other - one) * steps) * np.sin(angle))) * math.radians(45.0)
    return 2.0 * math.pi * total


@pytest.mark.parametrize("panel", ["p", "t"])
def test_an_open_board_by_hand(panel: str) -> None:
    # Two pieces lie end to end along the longer side of the board, in cells of 0.4 m: at ±0.2 m from its middle,
    # 0.2 m long, by five places each. The panel that stands is the same, turned.
    part = catalogue(EMITTER).find(Panel, panel)
    assert lies(EMITTER, part) is (panel == "p")
    nodes, weights = np.polynomial.legendre.leggauss(5)
    total = 0.0
    for node, weight in zip(nodes, weights, strict=True):
        away = 0.2 + 0.1 * node
        angle = math.degrees(math.atan(away))  # below 45°, in the plane along the piece
        candela = 100.0 + (20.0 - 100.0) * angle / 45.0
        total += weight / 2.0 * candela * math.cos(math.radians(angle)) ** 3
    assert lux(EMITTER.measured(FAN), panel, None) == pytest.approx(2.0 * 1000.0 / flux_of_fan() * total, rel=1e-6)


def test_the_table_takes_the_place_of_the_beam_and_not_of_a_lambertian_sheet() -> None:
    measured = EMITTER.measured(FAN)
    assert lux(measured, "p", "cloth") == lux(EMITTER, "p", "cloth")
    assert lux(measured, "p", "film") < 0.7 * lux(EMITTER, "p", "film")
    assert lux(measured, "p", None) < 0.3 * lux(EMITTER, "p", None)
    wide = EMITTER.model_copy(update={"beam": 150.0})
    assert lux(wide.measured(FAN), "p", None) == lux(measured, "p", None)
    # Whatever the file's own flux: only its shape counts.
    louder = replace(FAN, candela=FAN.candela * 7.0, digest="")
    assert lux(EMITTER.measured(louder), "p", None) == pytest.approx(lux(measured, "p", None), rel=1e-12)
    assert lux(EMITTER.measured(louder), "p", "film") == pytest.approx(lux(measured, "p", "film"), rel=1e-12)


def test_a_film_over_a_turned_fan_is_not_the_film_over_the_fan() -> None:
    # On the wide board the fan is narrow along it; the film keeps some of that.
    square = EMITTER.model_copy(update={"length": 0.05})
    assert lies(square, PANEL)
    assert lies(square, TALL)
    wide, tall = lux(square.measured(FAN), "p", "film"), lux(square.measured(FAN), "t", "film")
    assert wide < 0.99 * tall


def test_columns_are_never_less_favourable_and_sharpened_they_are_exact() -> None:
    emitter = EMITTER.measured(FAN)
    boards = Boards([PANEL, TALL], SHEETS, SCENARIO)
    rough = build_heads([emitter], boards, grid_limits([emitter], [PANEL, TALL]))
    sharp = sharpened(rough, np.arange(len(rough)), [emitter], boards)
    assert len(rough) == 6
    for head in range(len(rough)):
        panel = (PANEL, TALL)[rough.panel[head]].part
        sheet = None if rough.diffuser[head] == NO_DIFFUSER else SHEETS[rough.diffuser[head]].part
        true = lux(emitter, panel, sheet) / 2000.0
        assert rough.lux_per_lumen[head] >= true
        if sheet is not None:
            assert sharp.lux_per_lumen[head] == pytest.approx(true, rel=1e-12)
    has, bounds = measured_bounds(np.array([0, 0]), np.array([0, 1]), [emitter], [PANEL, TALL], 1.0)
    assert has.all()
    assert np.all(bounds[:, 0] <= lux(emitter, "p", None) / 2000.0)


def test_a_head_that_is_dark_towards_the_subject_is_left_out() -> None:
    dark = Photometry("C", np.array([0.0, 60.0, 75.0, 90.0]), np.zeros(1), np.array([[0.0, 0.0, 50.0, 0.0]]))
    emitter = EMITTER.measured(dark)
    boards = Boards([PANEL], SHEETS, SCENARIO)
    heads = build_heads([emitter], boards, grid_limits([emitter], [PANEL]))
    assert sorted(heads.diffuser.tolist()) == [0, 1]
    assert lux(emitter, "p", None) == 0.0
    assert build_of(choice("p", None), catalogue(emitter)).emitter.photometric == dark
