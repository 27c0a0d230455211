"""Dots on a diffuser against a sum over a grid without end, and what the box takes, by hand. Invented parts."""

import math
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SHEETS, TALL, catalogue, choice
from random_catalogues import random_table
from ripples import ripple

from optimise.model.dots import dots, least_ripple, lit_length, ripple_of
from optimise.model.exact import build_of
from optimise.model.losses import through, untold_of_losses
from optimise.parts import Emitter, Panel
from optimise.physics.cavity import opposite_factor

CLOTH, FILM = SHEETS
DEEP = {"depth": 0.06}
BOX = PANEL.model_copy(update=DEEP)
TALL_BOX = TALL.model_copy(update=DEEP)
WIDE = EMITTER.model_copy(update={"beam": 100.0})


def module(**changes: object) -> Emitter:
    return WIDE.model_copy(update=changes)


@pytest.mark.parametrize("panel", [BOX, TALL_BOX], ids=["wide", "tall"])
@pytest.mark.parametrize("number", [1, 6, 20])
@pytest.mark.parametrize("area", [None, 4e-4])
def test_the_ripple_is_that_of_the_series(panel: Panel, number: int, area: float | None) -> None:
    emitter = module(emitting_area=area)
    grid, lying = ((4, 5), True) if panel is BOX else ((5, 4), False)
    # `ripple` has a line as long as the piece; the lit area has the piece's shape, 4 : 1, so it is √(A · 4) long.
    length = 0.2 if area is None else math.sqrt(area * 4.0)
    lit = emitter.model_copy(update={"length": length, "emitting_area": None})
    found = ripple_of(emitter, panel, FILM, number)
    assert found == pytest.approx(ripple(lit, panel, FILM, number, grid, lying=lying), rel=1e-9)
    assert 0.0 < found <= 1.0


def test_how_long_a_piece_is_lit() -> None:
    assert lit_length(module()) == 0.2
    # 4 cm² of the shape of 0.2 m × 0.05 m: 4 cm × 1 cm.
    assert lit_length(module(emitting_area=4e-4)) == pytest.approx(0.04)
    assert lit_length(module(emitting_area=0.09)) == 0.2
    assert lit_length(module(form="tube", emitting_area=4e-4)) == 0.2
    assert lit_length(module(form="strip", emitting_area=4e-4)) == 0.2


@pytest.mark.parametrize("panel", [BOX, TALL_BOX], ids=["wide", "tall"])
@pytest.mark.parametrize("area", [None, 4e-4])
def test_no_number_shows_less_than_the_least_and_a_full_board_shows_just_that(panel: Panel, area: float | None) -> None:
    emitter = module(emitting_area=area)
    least = least_ripple(emitter, panel, CLOTH)
    found = [ripple_of(emitter, panel, CLOTH, number) or 0.0 for number in range(1, 21)]
    assert 0.0 < least <= min(found) * (1.0 + 1e-9)
    assert least == pytest.approx(found[-1], rel=1e-9)


def test_what_is_not_known_or_does_not_fit() -> None:
    assert ripple_of(WIDE, BOX, None, 4) is None
    assert ripple_of(WIDE, PANEL, CLOTH, 4) is None
    assert least_ripple(WIDE, PANEL, CLOTH) == 0.0
    measured = WIDE.beaming(random_table(Random(1)))
    assert least_ripple(measured, BOX, CLOTH) == 0.0
    assert ripple_of(WIDE, BOX, CLOTH, 21) == ripple_of(WIDE, BOX, CLOTH, 0) == 1.0
    assert (ripple_of(WIDE, BOX, CLOTH, 20) or 1.0) < 1.0
    assert (ripple_of(WIDE, BOX, CLOTH, 1) or 0.0) > 0.0
    huge = module(length=2.0, width=1.0)
    assert least_ripple(huge, BOX, CLOTH) == 0.0
    assert ripple_of(huge, BOX, CLOTH, 1) == 1.0


def test_dots_of_two_kinds_are_not_told() -> None:
    build = replace(build_of(choice("p", "cloth", 2), catalogue(WIDE)), panel=BOX)
    assert dots(build) == ripple_of(WIDE, BOX, CLOTH, 4)
    assert dots(replace(build, kinds=(WIDE, WIDE))) is None


def test_what_leaves_a_box_by_three_unknowns() -> None:
    box = PANEL.model_copy(update={"depth": 0.12, "reflectance": 0.9})
    sheet = CLOTH.model_copy(update={"reflectance": 0.3})
    # Light on board, walls and sheet: a face of 0.8 m × 0.25 m and walls of 2 · 1.05 m · 0.12 m.
    ahead = float(opposite_factor(0.8, 0.25, 0.12))
    out = 0.2 * (1 - ahead) / 0.252
    exchange = np.array([[0, out, ahead], [1 - ahead, 1 - 2 * out, 1 - ahead], [ahead, out, 0]])
    reflected = np.diag([0.9, 0.9, 0.3])
    falling = np.linalg.solve(np.eye(3) - exchange @ reflected, exchange @ np.array([1.0, 0.0, 0.0]))
    assert through(box, sheet) == pytest.approx(0.5 * falling[2], rel=1e-9)
    assert through(box, None) == 1.0
    for blank in ("depth", "reflectance"):
        assert through(box.model_copy(update={blank: None}), sheet) == 0.5
    assert through(PANEL, FILM) == 0.8


WALLS = "not counted: what the walls of the box take from the light."


@pytest.mark.parametrize(
    ("panel", "told"),
    [
        ({}, f"p: depth and reflectance are not stated; {WALLS}"),
        ({"depth": 0.1}, f"p: reflectance is not stated; {WALLS}"),
        ({"reflectance": 0.9}, f"p: depth is not stated; {WALLS}"),
        ({"depth": 0.1, "reflectance": 0.9}, None),
    ],
)
def test_what_of_a_box_is_not_counted(panel: dict[str, float], told: str | None) -> None:
    board = PANEL.model_copy(update=panel)
    assert list(untold_of_losses(EMITTER, board, CLOTH)) == ([] if told is None else [told])
    assert list(untold_of_losses(EMITTER, board, None)) == []


def test_what_of_the_light_towards_the_board_is_not_counted() -> None:
    bright = PANEL.model_copy(update={"reflectance": 0.9})
    tube = module(form="tube")
    unknown = "e: back is not stated; not counted: light that goes towards the board."
    lost = "p: reflectance is not stated; light towards the board is counted as lost."
    assert list(untold_of_losses(tube, bright, None)) == [unknown]
    assert list(untold_of_losses(tube, PANEL, None)) == [unknown]
    assert list(untold_of_losses(tube.model_copy(update={"back": 0.0}), PANEL, None)) == []
    assert list(untold_of_losses(tube.model_copy(update={"back": 0.5}), PANEL, None)) == [lost]
    assert list(untold_of_losses(tube.model_copy(update={"back": 0.5}), bright, None)) == []
    assert list(untold_of_losses(module(back=0.1), PANEL, None)) == [lost]
