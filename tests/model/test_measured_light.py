"""The exact check and the columns with a measured table of intensity, by hand. All parts are invented."""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, TALL, catalogue, choice

from optimise.columns.heads import NO_DIFFUSER, Boards, build_heads, grid_limits, measured_bounds, sharpened
from optimise.model.choice import Evaluation
from optimise.model.exact import build_of, evaluate
from optimise.model.fitting import lies
from optimise.parts import Diffuser, Emitter, Panel
from optimise.parts.photometry import Photometry
from optimise.physics.scattering import scattered

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
    assert lux(EMITTER.beaming(FAN), panel, None) == pytest.approx(2.0 * 1000.0 / flux_of_fan() * total, rel=1e-6)


def test_the_table_takes_the_place_of_the_beam_and_not_of_a_lambertian_sheet() -> None:
    measured = EMITTER.beaming(FAN)
    assert lux(measured, "p", "cloth") == lux(EMITTER, "p", "cloth")
    assert lux(measured, "p", "film") < 0.7 * lux(EMITTER, "p", "film")
    assert lux(measured, "p", None) < 0.3 * lux(EMITTER, "p", None)
    wide = EMITTER.model_copy(update={"beam": 150.0})
    assert lux(wide.beaming(FAN), "p", None) == lux(measured, "p", None)
    # Whatever the file's own flux: only its shape counts.
    louder = replace(FAN, candela=FAN.candela * 7.0, digest="")
    assert lux(EMITTER.beaming(louder), "p", None) == pytest.approx(lux(measured, "p", None), rel=1e-12)
    assert lux(EMITTER.beaming(louder), "p", "film") == pytest.approx(lux(measured, "p", "film"), rel=1e-12)


def test_a_film_over_a_turned_fan_is_not_the_film_over_the_fan() -> None:
    # On the wide board the fan is narrow along it; the film keeps some of that.
    square = EMITTER.model_copy(update={"length": 0.05})
    assert lies(square, PANEL)
    assert lies(square, TALL)
    wide, tall = lux(square.beaming(FAN), "p", "film"), lux(square.beaming(FAN), "t", "film")
    assert wide < 0.99 * tall


BOTH_WAYS = Photometry(
    "C",
    np.array([0.0, 90.0, 180.0]),
    np.array([0.0]),
    np.array([[100.0, 100.0, 100.0]]),
    name="bulb.ies",
)
"""Half of its light goes ahead."""
GRID = SHEETS[1].model_copy(update={"grid": 40.0, "grid_transmittance": 0.9})
BOX = {"depth": 0.1, "reflectance": 0.8}


def built(emitter: Emitter, panel: Panel, sheet: Diffuser | None) -> Evaluation:
    parts = catalogue(emitter)
    held = replace(parts, panels=(panel,), diffusers=parts.diffusers if sheet is None else (sheet,))
    return evaluate(choice(panel.part, None if sheet is None else sheet.part), held, SCENARIO)


def test_light_past_90_degrees_goes_to_the_board_and_comes_back_as_it_reflects() -> None:
    bulb, white = EMITTER.beaming(BOTH_WAYS), PANEL.model_copy(update={"reflectance": 0.8})
    for sheet in (None, *SHEETS):
        dark = built(bulb, PANEL, sheet).lux
        assert built(bulb, white, sheet).lux == pytest.approx(dark * (0.5 + 0.5 * 0.8) / 0.5, rel=1e-12)
        # What the file says stands in place of what is stated.
        assert built(bulb.model_copy(update={"back": 0.1}), white, sheet).lux == built(bulb, white, sheet).lux
    # A sheet that knows no direction gets the half that goes ahead.
    assert built(bulb, PANEL, SHEETS[0]).lux == pytest.approx(0.5 * built(EMITTER, PANEL, SHEETS[0]).lux, rel=1e-12)
    # Of a bare board it is the intensity as measured: a lumen for 4π of it.
    lambertian = EMITTER.model_copy(update={"length": 1e-3, "width": 1e-3})
    found = built(lambertian.beaming(BOTH_WAYS), PANEL, None)
    assert found.lux < 2000.0 / (4.0 * math.pi)
    # A file that ends at 90° leaves it to what is stated.
    fan = EMITTER.beaming(FAN)
    some = built(fan.model_copy(update={"back": 0.3}), PANEL, None).lux
    assert some == pytest.approx(0.7 * built(fan, PANEL, None).lux, rel=1e-12)


def test_a_grid_before_a_film_by_a_plain_sum() -> None:
    beam = scattered(FAN, 30.0)
    passes = math.log(0.5) / math.log(math.cos(math.radians(20.0))) - 1.0
    x = (np.arange(200) + 0.5) / 200 - 0.5
    across, up = x[:, None] * PANEL.width, x[None, :] * PANEL.height
    assert SCENARIO.light.distance == 1.0
    square = across**2 + up**2 + 1.0
    light = beam.towards(across, up, 1.0 + 0.0 * square) * square ** (-(passes + 3.0) / 2.0)
    expected = 2000.0 * 0.8 * 0.9 * float(light.mean())
    assert built(EMITTER.beaming(FAN), PANEL, GRID).lux == pytest.approx(expected, rel=1e-3)


def test_luminance_is_by_the_intensity_straight_ahead() -> None:
    fan = EMITTER.beaming(FAN).model_copy(update={"emitting_area": 1e-3})
    assert fan.photometric is FAN
    bare = built(fan, PANEL, None).figures["luminance"][0]
    # 1000 lm a piece, of which 100 cd for each `flux_of_fan` go straight ahead.
    assert bare == pytest.approx(1000.0 * 100.0 / flux_of_fan() / 1e-3, rel=1e-6)
    film = built(fan, PANEL, SHEETS[1])
    area = PANEL.width * PANEL.height
    assert film.figures["luminance"][0] == pytest.approx(2000.0 * 0.8 * scattered(FAN, 30.0).axis / area, rel=1e-12)
    # A grid leaves what is seen from straight ahead, but for its walls.
    gridded = built(fan, PANEL, GRID).figures["luminance"][0]
    assert gridded == pytest.approx(0.9 * (film.figures["luminance"][0] or 0.0), rel=1e-6)


@pytest.mark.parametrize("table", [FAN, BOTH_WAYS])
def test_columns_are_exact_behind_boxes_and_grids_with_light_that_goes_back(table: Photometry) -> None:
    emitter = EMITTER.model_copy(update={"back": 0.4}).beaming(table)
    panels = [PANEL.model_copy(update=BOX), TALL]
    sheets = (SHEETS[0], SHEETS[0].model_copy(update={"part": "g", "grid": 60.0, "grid_transmittance": 0.8}), GRID)
    boards = Boards(panels, sheets, SCENARIO)
    rough = build_heads([emitter], boards, grid_limits([emitter], panels))
    sharp = sharpened(rough, np.arange(len(rough)), [emitter], boards)
    assert len(rough) == 8
    for head in range(len(rough)):
        sheet = None if rough.diffuser[head] == NO_DIFFUSER else sheets[rough.diffuser[head]]
        true = built(emitter, panels[rough.panel[head]], sheet).lux / 2000.0
        assert rough.lux_per_lumen[head] >= true
        if sheet is not None:
            assert sharp.lux_per_lumen[head] == pytest.approx(true, rel=1e-12)


def test_columns_are_never_less_favourable_and_sharpened_they_are_exact() -> None:
    emitter = EMITTER.beaming(FAN)
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
    emitter = EMITTER.beaming(dark)
    boards = Boards([PANEL], SHEETS, SCENARIO)
    heads = build_heads([emitter], boards, grid_limits([emitter], [PANEL]))
    assert sorted(heads.diffuser.tolist()) == [0, 1]
    assert lux(emitter, "p", None) == 0.0
    assert build_of(choice("p", None), catalogue(emitter)).emitter.photometric == dark
