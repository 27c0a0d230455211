"""The light of heads, on the subject and on points, against plain sums over the face. All parts are invented."""

import math

import numpy as np
import pytest
from column_parts import MODULE

from optimise.columns.heads import (
    NO_DIFFUSER,
    Boards,
    Heads,
    beam_through,
    build_heads,
    even_enough,
    forward_shares,
    grid_limits,
    measured_bounds,
    sharpened,
)
from optimise.parts import Diffuser, Emitter, Panel
from optimise.parts.photometry import Photometry
from optimise.physics.cavity import box_transmittance
from optimise.physics.distributions import bare_beam, face_lux
from optimise.physics.evenness import Evenness, face_evenness
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Look, Power
from optimise.scenario.points import Point

EMITTER = MODULE.model_copy(update={"beam": 60.0, "back": 0.4})
PLAIN = Panel(part="p", width=0.8, height=0.5, usable=0.64, material="board", metal=False, mass=1.0)
BOX = PLAIN.model_copy(update={"part": "q", "depth": 0.1, "reflectance": 0.8})
# Of a box whose walls are not known, and of walls without a depth, nothing is worked out.
DEEP = PLAIN.model_copy(update={"part": "r", "depth": 0.1})
WHITE = PLAIN.model_copy(update={"part": "s", "reflectance": 0.8})
PANELS = [PLAIN, BOX, DEEP, WHITE]
FORWARD = [0.6, 0.92, 0.6, 0.92]
CLOTH = Diffuser(part="c", transmittance=0.6, reflectance=0.2, width=1.0, height=1.0, mass_per_area=0.3)
FILM = CLOTH.model_copy(update={"part": "f", "spread": 40.0})
GRID = CLOTH.model_copy(update={"part": "g", "grid": 50.0, "grid_transmittance": 0.9})
SHEETS = [CLOTH, FILM, GRID]
DISTANCE = 3.0
FAN = Photometry(
    "C", np.array([0.0, 45.0, 90.0]), np.array([0.0, 90.0]), np.array([[100.0, 20.0, 0.0], [100.0, 100.0, 0.0]])
)
"""Narrow along the piece, wide across it."""


def exponent(full_width: float) -> float:
    return math.log(0.5) / math.log(math.cos(math.radians(full_width / 2.0)))


def light(**changes: object) -> Light:
    return Light.model_validate({"illuminance": 100.0, "distance": DISTANCE, **changes})


def scenario(*points: Point, **sections: object) -> Scenario:
    power = Power(source="battery", runtime=3600.0, lead_length=2.0, ambient=20.0)
    return Scenario.model_validate({"light": light(), "power": power, "points": points, **sections})


def point(across: float, up: float, distance: float, bearing: float = 0.0, **asked: float) -> Point:
    return Point(name="there", across=across, up=up, distance=distance, face_bearing=bearing, **asked)


def built(
    wanted: Scenario, emitters: list[Emitter], panels: list[Panel], sheets: list[Diffuser]
) -> tuple[Heads, Heads]:
    """Every head as it is built, and with its light made exact."""
    boards = Boards(panels, sheets, wanted)
    heads = build_heads(emitters, boards, grid_limits(emitters, panels))
    return heads, sharpened(heads, np.arange(len(heads)), emitters, boards)


def by_sum(m: float, x: float, y: float, z: float, bearing: float = 0.0) -> float:
    """Lux per lumen of a face of 0.8 m by 0.5 m whose points have I0 cos^m t, on one turned to the right."""
    nodes, weights = np.polynomial.legendre.leggauss(60)
    across, up = x - 0.4 * nodes[:, None], y - 0.25 * nodes[None, :]
    square = across**2 + up**2 + z**2
    turn = math.radians(bearing)
    # From the face back to the panel: (−across, −up, −z), onto the normal of a face that is turned.
    onto = np.maximum(z * math.cos(turn) - across * math.sin(turn), 0.0)
    lux = (m + 1.0) / (2.0 * math.pi) * (z / np.sqrt(square)) ** m * onto / square**1.5
    return float(weights @ lux @ weights) / 4.0


@pytest.mark.parametrize("place", [(0.0, 0.0, DISTANCE, 0.0), (0.7, -0.3, 1.5, 0.0), (-0.5, 0.2, 2.0, -40.0)])
def test_light_on_the_subject_and_on_a_point(place: tuple[float, float, float, float]) -> None:
    x, y, z, bearing = place
    heads, sharp = built(scenario(point(x, y, z, bearing, illuminance=1.0)), [EMITTER], PANELS, SHEETS)
    assert len(heads) == 16
    boxed = box_transmittance(0.8, 0.5, 0.1, 0.8, np.full(3, 0.6), np.full(3, 0.2))
    film, grid = exponent(math.hypot(60.0, 40.0)), exponent(50.0)
    # A grid lets through on the axis what the cloth has there: (m + 1) / 2π of it is 1 / π.
    beams = {0: (1.0, 1.0, 1.0 / math.pi), 1: (film, 1.0, (film + 1.0) / (2.0 * math.pi))}
    beams[2] = grid, 0.9 * 2.0 / (grid + 1.0), 0.9 / math.pi
    for head, (panel, sheet) in enumerate(zip(heads.panel.tolist(), heads.diffuser.tolist(), strict=True)):
        forward = FORWARD[panel]
        if sheet == NO_DIFFUSER:
            # As if all of it came from the middle of the board, 60° wide.
            most = (exponent(60.0) + 1.0) / (2.0 * math.pi) * forward
            assert heads.lux_per_lumen[head] == pytest.approx(most / DISTANCE**2, rel=1e-9)
            assert not heads.rough[head]
            if x == 0.0:
                assert heads.spots[head] == pytest.approx(most / DISTANCE**2, rel=1e-9)
            continue
        through = forward * (float(boxed[sheet]) if panel == 1 else 0.6)
        m, share, axis = beams[sheet]
        assert heads.rough[head] == (sheet > 0)
        if sheet:
            assert heads.lux_per_lumen[head] == pytest.approx(axis * through / DISTANCE**2, rel=1e-9)
            if x == 0.0:
                assert heads.spots[head] == pytest.approx(axis * through / DISTANCE**2, rel=1e-9)
        expected = through * share * by_sum(m, 0.0, 0.0, DISTANCE)
        assert sharp.lux_per_lumen[head] == pytest.approx(expected, rel=1e-6), (panel, sheet)
        assert sharp.spots[head, 0] == pytest.approx(through * share * by_sum(m, *place), rel=1e-6), (panel, sheet)
        assert heads.spots[head, 0] >= sharp.spots[head, 0] * (1.0 - 1e-9)
    assert not sharp.rough.any()


def test_what_the_board_does_not_reflect_is_lost() -> None:
    np.testing.assert_allclose(forward_shares([EMITTER], PANELS), [FORWARD])


def test_a_face_turned_away_leaves_no_head_where_light_is_asked_there() -> None:
    away = point(0.0, 0.0, 1.0, 180.0, illuminance=1.0)
    assert len(built(scenario(away), [EMITTER], [PLAIN], SHEETS)[0]) == 0
    dark = point(0.0, 0.0, 1.0, 180.0, illuminance_max=1.0)
    heads, _ = built(scenario(dark), [EMITTER], [PLAIN], SHEETS)
    assert len(heads) == 4
    assert not heads.spots.any()
    # Past 90° it sees what lies far to its right: of a metre away from 0.18 m on, which the narrow board has not.
    narrow = PLAIN.model_copy(update={"part": "n", "width": 0.3})
    heads, _ = built(scenario(point(0.0, 0.0, 1.0, 100.0, illuminance=1.0)), [EMITTER], [PLAIN, narrow], [CLOTH])
    assert heads.panel.tolist() == [0, 0]
    assert np.all(heads.spots > 0.0)


def test_a_table_that_is_dark_ahead_makes_no_open_head() -> None:
    dark = Photometry("C", np.array([0.0, 60.0, 75.0, 90.0]), np.zeros(1), np.array([[0.0, 0.0, 50.0, 0.0]]))
    even = light(subject_width=0.2, subject_height=0.2, uniformity_min=0.1)
    for wanted in (scenario(), scenario(light=even)):
        heads, _ = built(wanted, [EMITTER.beaming(dark)], [PLAIN], [CLOTH])
        assert heads.diffuser.tolist() == [0]


def test_bounds_of_tables_are_of_those_that_have_one() -> None:
    emitters = [EMITTER, EMITTER.beaming(FAN)]
    rows, columns = np.array([0, 1, 1]), np.array([0, 0, 1])
    has, bounds = measured_bounds(rows, columns, emitters, PANELS, DISTANCE)
    assert has.tolist() == [False, True, True]
    assert bounds.shape == (2, 2)
    beam = bare_beam(60.0, FAN)
    assert not isinstance(beam, float)
    # Nowhere is it brighter than straight ahead, nor darker than from any corner of the usable part.
    np.testing.assert_allclose(bounds[:, 1], beam.axis / DISTANCE**2, rtol=1e-9)
    corner = float(beam.towards(0.32, 0.2, DISTANCE)) * DISTANCE / (0.32**2 + 0.2**2 + DISTANCE**2) ** 1.5
    assert np.all(bounds[:, 0] > 0.0)
    assert np.all(bounds[:, 0] <= corner)


def test_a_face_of_a_table_is_integrated_for_each_way_that_it_lies() -> None:
    boards = Boards([PLAIN], [FILM], scenario())
    beam = bare_beam(60.0, FAN)
    lying, upright = boards.beamed(0, beam, True), boards.beamed(0, beam, False)
    assert lying == pytest.approx(face_lux(beam, 0.8, 0.5, DISTANCE, True), rel=1e-12)
    assert upright == pytest.approx(face_lux(beam, 0.8, 0.5, DISTANCE, False), rel=1e-12)
    # The narrow way along the longer side costs more.
    assert lying < 0.999 * upright
    assert boards.beamed(0, 1.0, True) == boards.beamed(0, 1.0, False)


def test_light_that_is_not_even_enough_makes_no_covered_head() -> None:
    wide = {"subject_width": 2.0, "subject_height": 1.5, "distance": 1.5}
    found = face_evenness(1.0, 0.8, 0.5, 1.5, True, (2.0, 1.5))
    for share, kept in ((0.999 * found.share, [NO_DIFFUSER, 0]), (1.001 * found.share, [NO_DIFFUSER])):
        heads, _ = built(scenario(light=light(**wide, uniformity_min=share)), [EMITTER], [PLAIN], [CLOTH])
        assert heads.diffuser.tolist() == kept


def test_evenness_of_a_table_is_that_of_the_way_in_which_it_lies() -> None:
    # Square pieces lie along either board, and the beam is narrow along them.
    square, tall = EMITTER.beaming(FAN).model_copy(update={"length": 0.03}), PLAIN.model_copy(update={"height": 1.5})
    film = FILM.model_copy(update={"spread": 10.0, "width": 2.0, "height": 2.0})
    wide = {"subject_width": 3.0, "distance": 1.5}

    through, _ = beam_through(square, film)
    along, across = (face_evenness(through, 0.8, 1.5, 1.5, lying, (3.0, 0.0)).share for lying in (True, False))
    assert along < 0.9 * across
    for share, kept in ((0.999 * along, [NO_DIFFUSER, 0]), (1.001 * along, [NO_DIFFUSER])):
        heads, _ = built(scenario(light=light(**wide, uniformity_min=share)), [square], [tall], [film])
        assert heads.diffuser.tolist() == kept


@pytest.mark.parametrize(
    ("least", "edge", "enough"),
    [
        (0.5, 1.0, True),
        (0.5 * (1.0 - 5e-9), 1.0 + 5e-9, True),
        (0.5 * (1.0 - 1e-6), 1.0, False),
        (0.5, 1.0 + 1e-6, False),
        (0.4, 0.5, False),
        (0.9, 1.5, False),
    ],
)
def test_even_enough_is_both_limits_up_to_rounding(least: float, edge: float, enough: bool) -> None:
    asked = light(subject_width=1.0, uniformity_min=0.5, edge_stops_max=1.0)
    assert even_enough(Evenness(least, 1.0, edge), asked) is enough
    # Each by itself.
    assert even_enough(Evenness(least, 1.0, 99.0), light(subject_width=1.0, uniformity_min=0.5)) is (least > 0.4999999)
    assert even_enough(Evenness(0.01, 1.0, edge), light(subject_width=1.0, edge_stops_max=1.0)) is (edge < 1.0000001)


def test_dots_are_limited_only_where_the_depth_of_the_box_is_known() -> None:
    small = CLOTH.model_copy(update={"width": 0.5, "height": 0.5})
    for sheets, pairs in (([CLOTH], [(1, 0), (2, 0)]), ([small], []), ([small, CLOTH], [(1, 1), (2, 1)])):
        heads, _ = built(scenario(look=Look(dots_max=0.1)), [EMITTER], PANELS, sheets)
        assert list(zip(heads.panel.tolist(), heads.diffuser.tolist(), strict=True)) == pairs
