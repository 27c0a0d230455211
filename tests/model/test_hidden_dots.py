"""Dots on a diffuser as a limit: figures by hand, heads and numbers that show, and what that does to a search.

All parts are invented.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, catalogue, choice, on_offer
from ripples import ripple

from optimise.columns.heads import NO_DIFFUSER, Boards, build_heads, grid_limits
from optimise.model import dominance, even
from optimise.model.choice import ChannelChoice
from optimise.model.dots import lit_length, ripple_of
from optimise.model.exact import evaluate, margin_of
from optimise.model.kept import everything
from optimise.model.light import crowded
from optimise.model.problem import build_market, problem_of
from optimise.model.search import best_build
from optimise.parts import Catalogue
from optimise.scenario import Scenario
from optimise.studies.limits import Sliding, limits_asked

WIDE = EMITTER.model_copy(update={"beam": 120.0, "current_min": 0.5})
DEEP = PANEL.model_copy(update={"depth": 0.06, "thermal_resistance": 0.1})


def asking(limit: float | None, lux: float = 100.0) -> Scenario:
    """Return a job that takes no mount, with a limit on dots."""
    return SCENARIO.model_copy(
        update={
            "light": SCENARIO.light.model_copy(update={"illuminance": lux}),
            "look": SCENARIO.look.model_copy(update={"dots_max": limit}),
            "limits": SCENARIO.limits.model_copy(update={"mount": False}),
        }
    )


def offered(**parts: object) -> Catalogue:
    """Return the parts as owned, on one deep board but for what is given."""
    whole = replace(catalogue(WIDE), panels=(DEEP,), **parts)  # type: ignore[arg-type]
    return on_offer(whole, "own", 0)


def singles(number: int) -> tuple[ChannelChoice, ...]:
    return (ChannelChoice("d", 1, 1, 0.5, number),)


@pytest.mark.parametrize("sheet", ["cloth", "film"])
@pytest.mark.parametrize("number", [1, 4, 7, 20])
def test_the_figure_is_that_of_the_series(sheet: str, number: int) -> None:
    chosen = replace(choice("p", sheet), channels=singles(number))
    found = evaluate(chosen, offered(), asking(0.5))
    diffuser = next(one for one in SHEETS if one.part == sheet)
    wanted = ripple(WIDE, DEEP, diffuser, number, (4, 5), lying=True)
    assert 0.0 < wanted <= 1.0
    assert found.figures["dot_ripple"] == (pytest.approx(wanted, rel=1e-9), "")
    margin = margin_of(found, "dots on the diffuser")
    assert margin is not None
    assert (margin.kind, margin.required, margin.achieved) == ("max", 0.5, pytest.approx(wanted, rel=1e-9))
    assert margin.holds == (wanted <= 0.5)


def test_what_is_not_known_is_told_and_keeps_no_limit() -> None:
    flat = replace(offered(), panels=(PANEL,))
    for chosen, parts, note in (
        (choice("p", "cloth"), flat, "p: depth is not stated; not checked: dots on the diffuser."),
        (choice("p", "cloth"), offered(), "e: emitting_area is not stated; dots on the diffuser are those of pieces "),
        (choice("p", None), offered(), ""),
    ):
        found = evaluate(chosen, parts, asking(None))
        assert margin_of(found, "dots on the diffuser") is None
        told = [line for line in found.unchecked if "dots" in line]
        assert [line[: len(note)] for line in told] == ([note] if note else [])
        assert ("dot_ripple" in found.figures) == (chosen.diffuser is not None and parts is not flat)
        limited = margin_of(evaluate(chosen, parts, asking(0.999)), "dots on the diffuser")
        assert limited is not None
        assert limited.holds == ("dot_ripple" in found.figures)


def test_the_lit_line_of_a_piece() -> None:
    # 0.2 × 0.05 m; a lit area of a quarter of that has half its length.
    assert lit_length(EMITTER) == EMITTER.length
    lit = EMITTER.model_copy(update={"emitting_area": 0.0025})
    assert lit_length(lit) == pytest.approx(0.1, rel=1e-12)
    assert lit_length(lit.model_copy(update={"form": "tube"})) == EMITTER.length
    shorter, longer = (ripple_of(e, DEEP, SHEETS[0], 8) for e in (lit, EMITTER))
    assert shorter is not None
    assert longer is not None
    assert shorter > longer


def test_heads_without_a_sheet_or_a_known_depth_are_left_out() -> None:
    panels = [PANEL, DEEP.model_copy(update={"part": "q"})]
    heads = build_heads([WIDE], Boards(panels, SHEETS, asking(0.1)), grid_limits([WIDE], panels))
    assert NO_DIFFUSER not in heads.diffuser
    assert set(heads.panel.tolist()) == {1}
    free = build_heads([WIDE], Boards(panels, SHEETS, asking(None)), grid_limits([WIDE], panels))
    assert len(free) == 6


@pytest.mark.parametrize("known", [even.KNOWN, 3, 0])
def test_a_light_may_need_more_emitters_than_its_light_does(known: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # What is not known beforehand is cut out once a build has it: the answer is the same.
    monkeypatch.setattr(even, "KNOWN", known)
    parts = offered(diffusers=SHEETS[:1])
    choices = {n: replace(choice("p", "cloth"), channels=singles(n)) for n in range(1, 21)}
    bright = {n: evaluate(chosen, parts, asking(0.999, 1.0)) for n, chosen in choices.items()}
    lux = bright[1].lux / 2.0
    shown = {n: found.figures["dot_ripple"][0] or 0.0 for n, found in bright.items() if found.passes}
    for limit in (shown[4] * 1.001, min(shown.values()) * 1.001):
        fewest = min(n for n, value in shown.items() if value <= limit)
        assert fewest > 2
        result = best_build(parts, asking(limit, lux), "mass")
        assert result.status == "optimal"
        assert result.evaluation is not None
        assert result.evaluation.choice.emitters == fewest
    assert best_build(parts, asking(min(shown.values()) * 0.999, lux), "mass").status == "impossible"


def test_a_sheet_gives_way_only_to_one_that_spreads_alike() -> None:
    # The film is lighter and lets more through, but spreads less: it shows what the cloth hides.
    film = SHEETS[1].model_copy(update={"mass_per_area": 0.1})
    wide = film.model_copy(update={"part": "wide", "spread": None})
    for sheets, left in (((SHEETS[0], film), {0, 1}), ((SHEETS[0], wide), {1})):
        problem = problem_of(build_market(offered(diffusers=sheets), asking(0.5)), np.array([0]))
        assert crowded(problem, np.arange(len(problem.heads))).all()
        kept = dominance.drop_beaten(problem, everything(problem))
        assert set(problem.heads.diffuser[kept.heads].tolist()) == left


def test_channels_of_more_emitters_do_not_give_way_to_brighter_ones() -> None:
    # Three at full current are as bright as six at half, of as many watts: where six must be lit they are the worse.
    parts = offered(diffusers=SHEETS[:1])
    dimmed = parts.emitters[0].model_copy(update={"current_min": 0.25})
    strong = {"output_current": None, "current_min": 0.25, "current_max": 3.0, "power_max": 100.0}
    parts = replace(parts, emitters=(dimmed,), drivers=(parts.drivers[0].model_copy(update=strong),))
    problem = problem_of(build_market(parts, asking(0.5)), np.array([0]))

    def left() -> bool:
        kept = dominance.drop_beaten(problem, everything(problem)).channels
        six = problem.channels.count[kept] == 6
        return bool(np.isclose(problem.channels.current[kept[six]], 0.25).any())

    assert left()
    problem = problem_of(build_market(replace(parts, panels=(DEEP,)), SCENARIO.model_copy()), np.array([0]))
    some = problem.heads.take(problem.heads.diffuser != NO_DIFFUSER)
    problem = replace(problem, heads=some, head_cost=np.zeros(1), head_mass=np.zeros(1))
    assert not left()


def test_giving_up_the_limit_lets_bare_emitters_in() -> None:
    limit = next(one for one in limits_asked(asking(0.02), offered()) if one.name == "dots_max")
    assert isinstance(limit.gives, Sliding)
    assert (limit.asked, limit.shown(0.5), limit.shown(1.0)) == ("0.02", "0.5", "no limit")
    assert limit.changed(asking(0.02), 0.3).look.dots_max == 0.3
    assert limit.changed(asking(0.02), limit.gives.far).look.dots_max is None
    assert limit.without(asking(0.02)).look.dots_max is None


def test_runs_of_numbers_that_hide_are_those_of_the_exact_check() -> None:
    parts = offered(diffusers=SHEETS[:1])
    ripples = {n: ripple_of(WIDE, DEEP, SHEETS[0], n) or 0.0 for n in range(1, 21)}
    limit = sorted(ripples.values())[8]
    problem = problem_of(build_market(parts, asking(limit)), np.array([0]))
    runs = list(even.even_ranges(problem, 0))
    found = {n for low, high in runs for n in range(low, high + 1)}
    assert found == {n for n, value in ripples.items() if value <= limit * (1 + 1e-9)}
    assert len(runs) > 1 or math.isclose(min(found), 20 - len(found) + 1)
