"""The light that leaves a face and what falls on a subject and on single faces, by sums over small pieces.

Each piece gives I = (m + 1) / 2π cos^m t for each lumen; E = I cos t' / r² (inverse-square and cosine law).
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, catalogue, choice

from optimise.model.build import Build
from optimise.model.choice import ChannelChoice
from optimise.model.exact import build_of
from optimise.model.face import leaving, luminance, lux_per_lumen, usable_size
from optimise.model.field import evenness, field_figures
from optimise.model.spots import spots_of
from optimise.physics.evenness import Evenness
from optimise.scenario import Scenario

FINE = 80
SPOTS = ((0.3, 0.1, 1.0, 0.0, 0.0), (-0.2, 0.4, 1.5, 30.0, -20.0))


def built(panel: str, sheet: str | None, number: int = 10, **changes: object) -> Build:
    """Return a build of so many pairs of emitters; the sheets have changes of their own."""
    return build_of(choice(panel, sheet, number), catalogue(EMITTER.model_copy(update=changes)))


def single(build: Build, number: int) -> Build:
    """Return the build with so many emitters."""
    channels = (ChannelChoice("d", 1, 1, 0.5, number),)
    return replace(build, choice=replace(build.choice, channels=channels))


def points_of(build: Build) -> tuple[np.ndarray, np.ndarray]:
    """Return where light comes from: over all of the sheet, or along each of twenty pieces of 0.2 m that fill a board.

    On the wide board four lie in a row, in five rows; on the tall one they stand, five in a row, in four rows.
    """
    width, height = build.panel.width, build.panel.height
    middle = (np.arange(FINE) + 0.5) / FINE - 0.5
    if build.diffuser is not None:
        x, y = np.meshgrid(width * middle, height * middle)
        return x.ravel(), y.ravel()
    wide = width > height
    columns, rows = (4, 5) if wide else (5, 4)
    across = width * ((np.arange(columns) + 0.5) / columns - 0.5)
    up = height * ((np.arange(rows) + 0.5) / rows - 0.5)
    x, y = (each.ravel()[:, None] for each in np.meshgrid(across, up))
    along = 0.2 * middle[None, :]
    return np.ravel(x + (along if wide else 0.0 * along)), np.ravel(y + (0.0 * along if wide else along))


def exponent(build: Build) -> float:
    """Return m from the width at half of the greatest intensity; widths of beam and sheet add as squares."""
    if build.diffuser is not None and build.diffuser.spread is None:
        return 1.0
    spread = 0.0 if build.diffuser is None or build.diffuser.spread is None else build.diffuser.spread
    return math.log(0.5) / math.log(math.cos(math.radians(math.hypot(20.0, spread)) / 2.0))


def summed(build: Build, spot: tuple[float, float, float, float, float]) -> float:
    """Return the lux on a spot for each lumen that leaves; its face is turned to the right and leant back, deg."""
    x, y = points_of(build)
    dx, dy, dz = spot[0] - x, spot[1] - y, spot[2]
    square = dx**2 + dy**2 + dz**2
    bearing, tilt = math.radians(spot[3]), math.radians(spot[4])
    # A face that is not turned looks back at the panel; to the right is +x, leant back looks up.
    normal = math.sin(bearing) * math.cos(tilt), math.sin(tilt), -math.cos(bearing) * math.cos(tilt)
    facing = -(dx * normal[0] + dy * normal[1] + dz * normal[2]) / np.sqrt(square)
    m = exponent(build)
    ahead = (dz / np.sqrt(square)) ** m * (m + 1.0) / (2.0 * math.pi)
    return float(np.mean(ahead * np.maximum(facing, 0.0) / square))


THROUGH = {"cloth": 0.5, "film": 0.8, None: 1.0}
ALL = [(panel, sheet) for panel in ("p", "t") for sheet in ("cloth", "film", None)]


@pytest.mark.parametrize(("panel", "sheet"), ALL)
def test_light_ahead_and_on_spots(panel: str, sheet: str | None) -> None:
    build = built(panel, sheet, back=0.4)
    # The board's reflectance is not stated: what goes towards it is lost.
    share = 0.6 * THROUGH[sheet]
    assert lux_per_lumen(build, 1.3) == pytest.approx(share * summed(build, (0.0, 0.0, 1.3, 0.0, 0.0)), rel=2e-4)
    assert spots_of(build, SPOTS) == pytest.approx([share * summed(build, spot) for spot in SPOTS], rel=3e-4)
    assert spots_of(build, ()) == ()


@pytest.mark.parametrize(("panel", "sheet"), ALL)
def test_light_on_a_subject_and_on_a_turned_face(panel: str, sheet: str | None) -> None:
    build = built(panel, sheet)
    light = SCENARIO.light.model_copy(
        update={"subject_width": 0.6, "subject_height": 0.4, "face_bearing": 40.0, "face_tilt": -15.0}
    )
    scenario = SCENARIO.model_copy(update={"light": light})
    found = evenness(build, scenario)
    assert found is not None
    # Nine points each way, by the trapezoid rule.
    lux = np.array(
        [[summed(build, (x, y, 1.0, 0.0, 0.0)) for x in np.linspace(-0.3, 0.3, 9)] for y in np.linspace(-0.2, 0.2, 9)]
    )
    ends = np.array([0.5, *[1.0] * 7, 0.5]) / 8.0
    assert found.least == pytest.approx(lux.min(), rel=5e-4)
    assert found.mean == pytest.approx(ends @ lux @ ends, rel=5e-4)
    figures = field_figures(build, scenario, found, 3000.0)
    through = 3000.0 * THROUGH[sheet]
    assert figures["mean_illuminance"] == (pytest.approx(through * float(ends @ lux @ ends), rel=5e-4), "lx")
    assert figures["least_illuminance"] == (pytest.approx(through * lux.min(), rel=5e-4), "lx")
    assert figures["uniformity"][0] == pytest.approx(lux.min() / float(ends @ lux @ ends), rel=5e-4)
    edge = np.concatenate([lux[0], lux[-1], lux[:, 0], lux[:, -1]])
    assert figures["edge_to_middle"][0] == pytest.approx(np.abs(np.log2(edge / lux[4, 4])).max(), rel=2e-3)
    turned = summed(build, (0.0, 0.0, 1.0, 40.0, -15.0))
    assert figures["face_illuminance"] == (pytest.approx(through * turned, rel=5e-4), "lx")


def test_what_is_not_asked_is_not_told() -> None:
    build = built("p", None)
    assert evenness(build, SCENARIO) is None
    assert field_figures(build, SCENARIO, None, 1000.0) == {}
    dark = field_figures(build, SCENARIO, Evenness(0.0, 1.0, math.inf), 1000.0)
    assert dark["edge_to_middle"] == (None, "stop")
    assert "face_illuminance" not in dark
    turned = SCENARIO.model_copy(update={"light": SCENARIO.light.model_copy(update={"face_tilt": 10.0})})
    assert set(field_figures(build, turned, None, 1000.0)) == {"face_illuminance"}


def asked() -> Scenario:
    light = SCENARIO.light.model_copy(update={"subject_width": 0.6, "face_bearing": 40.0})
    return SCENARIO.model_copy(update={"light": light})


@pytest.mark.parametrize("panel", ["p", "t"])
def test_emitters_that_do_not_fit_give_no_light(panel: str) -> None:
    full, over = single(built(panel, None), 20), single(built(panel, None), 21)
    assert lux_per_lumen(full, 1.0) > 0.0
    assert lux_per_lumen(over, 1.0) == 0.0
    assert min(spots_of(full, SPOTS)) > 0.0
    assert spots_of(over, SPOTS) == (0.0, 0.0)
    lit, none = evenness(full, asked()), evenness(over, asked())
    assert lit is not None
    assert lit.least > 0.0
    assert none == Evenness(0.0, 0.0, math.inf)
    assert (field_figures(full, asked(), lit, 9.0)["face_illuminance"][0] or 0.0) > 0.0
    assert field_figures(over, asked(), none, 9.0)["face_illuminance"] == (0.0, "lx")
    # Behind a sheet they are refused elsewhere; their light mixes all the same.
    behind = single(built(panel, "cloth"), 21)
    assert lux_per_lumen(behind, 1.0) > 0.0
    assert evenness(behind, asked()) is not None


def test_what_goes_back_comes_again_off_a_board_and_a_grid_takes_its_share() -> None:
    plain = built("p", None, back=0.4)
    assert leaving(plain)[0] == pytest.approx(0.6)
    bright = replace(plain, panel=PANEL.model_copy(update={"reflectance": 0.9}))
    assert leaving(bright)[0] == pytest.approx(1.0 - 0.4 * 0.1)
    assert leaving(bright)[1] == pytest.approx(exponent(plain))
    # cos³ t is at a half where cos t = 0.5^(1/3): a grid that makes cos t into cos³ t of 90 % ahead lets through
    # 0.9 ∫ cos³ t sin t dt / ∫ cos t sin t dt = 0.9 · 2 / 4.
    grid = math.degrees(2.0 * math.acos(0.5 ** (1.0 / 3.0)))
    sheet = SHEETS[0].model_copy(update={"grid": grid, "grid_transmittance": 0.9})
    share, beam = leaving(replace(plain, diffuser=sheet))
    assert share == pytest.approx(0.6 * 0.5 * 0.45, rel=1e-9)
    assert beam == pytest.approx(3.0, rel=1e-9)


def test_emitters_sit_on_the_usable_part_of_a_board() -> None:
    # A quarter of 1.6 m × 0.5 m, its sides halved, is all of 0.8 m × 0.25 m; the whole face is lit behind a sheet.
    large = PANEL.model_copy(update={"width": 1.6, "height": 0.5, "usable": 0.25})
    assert usable_size(large) == pytest.approx((0.8, 0.25))
    plain = single(built("p", None), 20)
    assert lux_per_lumen(replace(plain, panel=large), 1.0) == pytest.approx(lux_per_lumen(plain, 1.0), rel=1e-12)


def test_luminance_by_hand() -> None:
    cloth = built("p", "cloth", back=0.4)
    # A Lambertian face: M / π. 3000 lm, of which 0.6 · 0.5 leave through 0.8 m × 0.25 m.
    assert luminance(cloth, 3000.0, 99.0) == pytest.approx(3000.0 * 0.3 / 0.2 / math.pi, rel=1e-12)
    bare = built("p", None, back=0.4, emitting_area=2e-4)
    m = exponent(bare)
    assert luminance(bare, 3000.0, 150.0) == pytest.approx(150.0 * 0.6 * (m + 1.0) / (2.0 * math.pi) / 2e-4, rel=1e-12)
    assert luminance(built("p", None), 3000.0, 150.0) is None
    assert luminance(built("p", "cloth", emitting_area=2e-4), 3000.0, 9.0) == pytest.approx(7500.0 / math.pi)
