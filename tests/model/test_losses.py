"""Light lost behind the face, in a build: by hand, and what is said where it is not known."""

import math
from pathlib import Path

import numpy as np
import pytest
from test_exact import FILES, SCENARIO, choice

from optimise.columns.heads import Boards, build_heads, grid_limits
from optimise.model.exact import evaluate
from optimise.parts import Catalogue, InputError, read_catalogue
from optimise.physics.cavity import opposite_factor
from optimise.scenario import Scenario, read_scenario


def made(folder: Path, panel: str = ",", sheet: str = "", back: str = "") -> tuple[Catalogue, Scenario]:
    more = {
        "panels": ("depth [mm],reflectance", panel),
        "diffusers": ("reflectance", sheet),
        "emitters": ("back", back),
    }
    if sheet.count(","):
        more["diffusers"] = "reflectance,grid [deg],grid_transmittance", sheet
    for name, text in FILES.items():
        if name in more:
            head, row = text.splitlines()
            column, cell = more[name]
            text = f"{head},{column}\n{row},{cell}\n"
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    (folder / "job.toml").write_text(SCENARIO, encoding="utf-8")
    return read_catalogue(folder), read_scenario(folder / "job.toml")


def test_a_box_by_hand(tmp_path: Path) -> None:
    plain = evaluate(choice(battery=True), *made(tmp_path))
    boxed = evaluate(choice(battery=True), *made(tmp_path, "120,0.9", "0.3"))
    # A face of 0.5 × 0.4 m, walls of 0.12 m: areas of 0.2 and 0.216 m². Three unknowns: light on board, walls, sheet.
    ahead = float(opposite_factor(0.5, 0.4, 0.12))
    out = 0.2 * (1 - ahead) / 0.216
    exchange = np.array([[0, out, ahead], [1 - ahead, 1 - 2 * out, 1 - ahead], [ahead, out, 0]])
    reflected = np.diag([0.9, 0.9, 0.3])
    falling = np.linalg.solve(np.eye(3) - exchange @ reflected, exchange @ np.array([1.0, 0.0, 0.0]))
    assert boxed.lux / plain.lux == pytest.approx(falling[2], rel=1e-12)
    assert 1.0 < boxed.lux / plain.lux < 1.0 / 0.7


def test_a_grid_by_hand(tmp_path: Path) -> None:
    plain = evaluate(choice(battery=True), *made(tmp_path))
    width = math.degrees(2 * math.acos(0.5 ** (1 / 3)))
    # cos³ t is a half at half of that. The face's light straight ahead is as before, but for walls of 10 %; from
    # its edges, seen aslant, less comes.
    gridded = evaluate(choice(battery=True), *made(tmp_path, sheet=f",{width!r},0.9"))
    x, wx = np.polynomial.legendre.leggauss(60)
    square = (x[:, None] * 0.25) ** 2 + (x[None, :] * 0.2) ** 2 + 4.0
    cosine = 2.0 / np.sqrt(square)
    ratio = 0.9 * (wx @ (cosine**4 / square) @ wx) / (wx @ (cosine**2 / square) @ wx)
    assert gridded.lux / plain.lux == pytest.approx(ratio, rel=1e-8)
    assert 0.88 < gridded.lux / plain.lux < 0.9


def test_light_towards_the_board_by_hand(tmp_path: Path) -> None:
    plain = evaluate(choice(battery=True), *made(tmp_path))
    lost = evaluate(choice(battery=True), *made(tmp_path, back="0.4"))
    assert lost.lux == pytest.approx(0.6 * plain.lux, rel=1e-12)
    assert "P: reflectance is not stated; light towards the board is counted as lost." in lost.unchecked
    returned = evaluate(choice(battery=True), *made(tmp_path, ",0.8", back="0.4"))
    assert returned.lux == pytest.approx((1 - 0.4 * 0.2) * plain.lux, rel=1e-12)
    assert returned.heat == plain.heat


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"panel": "120,0.9", "sheet": "0.3"},
        {"sheet": ",50,0.9"},
        {"back": "0.4"},
        {"panel": "120,0.9", "sheet": "0.3,50,0.9", "back": "0.4"},
    ],
    ids=["plain", "box", "grid", "back", "all"],
)
def test_luminance_is_that_of_the_light_that_really_leaves_the_face(tmp_path: Path, asked: dict[str, str]) -> None:
    catalogue, scenario = made(tmp_path, **asked)
    far = scenario.model_copy(update={"light": scenario.light.model_copy(update={"distance": 50.0})})
    e = evaluate(choice(battery=True), catalogue, far)
    # From so far a face of 0.5 × 0.4 m is a point of intensity L A: E D² = L A (definition of luminance, CIE e-ILV).
    assert e.figures["luminance"][0] == pytest.approx(e.lux * 50.0**2 / (0.5 * 0.4), rel=2e-4)


def test_columns_promise_the_light_that_the_exact_check_finds(tmp_path: Path) -> None:
    catalogue, scenario = made(tmp_path, "120,0.9", "0.3", "0.4")
    boards = Boards(catalogue.panels, catalogue.diffusers, scenario)
    heads = build_heads(catalogue.emitters, boards, grid_limits(catalogue.emitters, catalogue.panels))
    e = evaluate(choice(battery=True), catalogue, scenario)
    flux = e.figures["luminous_flux"][0]
    assert flux is not None
    diffused = heads.lux_per_lumen[heads.diffuser == 0]
    assert diffused == pytest.approx([e.lux / flux], rel=1e-12)


@pytest.mark.parametrize(
    ("panel", "told"),
    [
        (",", "P: depth and reflectance are not stated; not counted: what the walls of the box take from the light."),
        ("120,", "P: reflectance is not stated; not counted: what the walls of the box take from the light."),
        (",0.9", "P: depth is not stated; not counted: what the walls of the box take from the light."),
    ],
)
def test_what_is_not_stated_is_told(tmp_path: Path, panel: str, told: str) -> None:
    assert told in evaluate(choice(battery=True), *made(tmp_path, panel)).unchecked


def test_a_stated_box_leaves_nothing_untold(tmp_path: Path) -> None:
    told = evaluate(choice(battery=True), *made(tmp_path, "0,0.9", back="0")).unchecked
    assert not any("light" in line and "walls" in line for line in told)


def test_a_diffuser_gives_no_more_than_it_gets(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="at most 1 together with transmittance"):
        made(tmp_path, sheet="0.5")
