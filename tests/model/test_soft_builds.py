"""Softness in a build: figures and margins by hand, panels left out."""

import math
from pathlib import Path

import pytest
from test_exact import FILES, SCENARIO, choice

from optimise.columns.eligible import eligible_parts
from optimise.model.exact import evaluate, margin_of
from optimise.parts import Catalogue, read_catalogue
from optimise.scenario import Scenario, read_scenario
from optimise.studies.limits import limits_asked


def made(folder: Path, look: str) -> tuple[Catalogue, Scenario]:
    for name, text in FILES.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    (folder / "job.toml").write_text(f"{SCENARIO}[look]\n{look}\n", encoding="utf-8")
    return read_catalogue(folder), read_scenario(folder / "job.toml")


def test_figures_by_hand(tmp_path: Path) -> None:
    # A face of 0.5 × 0.4 m at 2 m, a background 1.2 m behind the subject.
    e = evaluate(choice(battery=True), *made(tmp_path, 'background = "1.2 m"'))
    assert e.figures["penumbra"] == (pytest.approx(0.4 * 1.2 / 2.0), "m")
    assert e.figures["source_angle"] == (pytest.approx(2 * math.degrees(math.atan(0.1))), "deg")
    assert e.figures["catch_light"] == (pytest.approx(0.5 * 7.8 / (4.0 + 0.0078)), "mm")
    assert margin_of(e, "penumbra") is None


@pytest.mark.parametrize(("asked", "kept"), [("0.24 m", True), ("0.241 m", False)])
def test_a_panel_whose_shadows_are_too_sharp_is_left_out(tmp_path: Path, asked: str, kept: bool) -> None:
    catalogue, scenario = made(tmp_path, f'background = "1.2 m"\npenumbra_min = "{asked}"')
    assert bool(eligible_parts(catalogue, scenario).panels) is kept
    margin = margin_of(evaluate(choice(battery=True), catalogue, scenario), "penumbra")
    assert margin is not None
    assert margin.achieved == pytest.approx(0.24)
    assert margin.holds is kept
    limit = next(limit for limit in limits_asked(scenario, catalogue) if limit.name == "penumbra_min")
    widths = limit.gives.values  # type: ignore[union-attr]
    assert widths == ((None,) if kept else (pytest.approx(0.24), None))
    assert len(eligible_parts(catalogue, limit.changed(scenario, widths[0])).panels) == 1


def test_without_a_background_there_is_no_penumbra(tmp_path: Path) -> None:
    e = evaluate(choice(battery=True), *made(tmp_path, ""))
    assert e.figures["penumbra"][0] is None
