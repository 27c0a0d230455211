"""How evenly the subject is lit: figures by hand, heads that cannot, numbers that do not. Invented parts."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, TALL, catalogue, choice

from optimise.columns.heads import NO_DIFFUSER, Boards, build_heads, grid_limits
from optimise.model import even
from optimise.model.cells import Cell
from optimise.model.choice import ChannelChoice, Evaluation
from optimise.model.exact import evaluate, margin_of
from optimise.model.light import crowded
from optimise.model.market import build_market
from optimise.model.problem import problem_of
from optimise.model.refinement import refine
from optimise.model.search import best_build
from optimise.parts import Catalogue, Emitter, Offer
from optimise.scenario import Scenario
from optimise.scenario.light import Light


def asking(**changes: float) -> Scenario:
    light = SCENARIO.light.model_copy(update={"subject_width": 1.0, "subject_height": 0.5, **changes})
    return SCENARIO.model_copy(update={"light": light})


def achieved(evaluation: Evaluation, name: str) -> float:
    margin = margin_of(evaluation, name)
    assert margin is not None
    return margin.achieved


def corner(a: float, b: float) -> float:
    """Return the configuration factor to a parallel rectangle a × b (with sign) from 1 m before its corner."""
    return (
        a / math.hypot(1.0, a) * math.atan(b / math.hypot(1.0, a))
        + b / math.hypot(1.0, b) * math.atan(a / math.hypot(1.0, b))
    ) / (2.0 * math.pi)


def test_a_lambertian_panel_by_hand() -> None:
    wanted = asking(uniformity_min=0.9, edge_stops_max=0.1)
    e = evaluate(choice("p", "cloth"), catalogue(EMITTER), wanted)
    factors = np.zeros((9, 9))
    for i, x in enumerate(np.linspace(-0.5, 0.5, 9)):
        for j, y in enumerate(np.linspace(-0.25, 0.25, 9)):
            factors[i, j] = sum(corner(a, b) for a in (0.4 - x, 0.4 + x) for b in (0.125 - y, 0.125 + y))
    ends = np.array([0.5, 1, 1, 1, 1, 1, 1, 1, 0.5]) / 8.0
    mean = float(ends @ factors @ ends)
    assert achieved(e, "uniformity") == pytest.approx(factors.min() / mean, rel=1e-9)
    assert achieved(e, "edge to middle") == pytest.approx(math.log2(factors[4, 4] / factors[0, 0]), rel=1e-9)
    # 2000 lm through the cloth of 50 %, spread over 0.8 m × 0.25 m.
    assert e.figures["mean_illuminance"][0] == pytest.approx(1000.0 * mean / 0.2, rel=1e-9)
    assert e.figures["least_illuminance"][0] == pytest.approx(1000.0 * factors.min() / 0.2, rel=1e-9)
    assert not e.passes
    assert {m.name for m in e.margins if not m.holds} >= {"uniformity", "edge to middle"}


def test_without_a_subject_nothing_is_said_of_it_and_without_a_limit_only_figures_are() -> None:
    names = {"mean_illuminance", "least_illuminance", "uniformity", "edge_to_middle"}
    bare = evaluate(choice("p", None), catalogue(EMITTER), SCENARIO)
    sized = evaluate(choice("p", None), catalogue(EMITTER), asking())
    assert not names & bare.figures.keys()
    assert names <= sized.figures.keys()
    for e in (bare, sized):
        assert margin_of(e, "uniformity") is None
        assert margin_of(e, "edge to middle") is None


def test_heads_that_cannot_light_evenly_are_left_out_and_the_others_are_not() -> None:
    panels = [PANEL, TALL]
    found = {}
    for panel in ("p", "t"):
        for sheet in ("cloth", "film"):
            e = evaluate(choice(panel, sheet), catalogue(EMITTER), asking())
            found[panel, sheet] = e.figures["uniformity"][0] or 0.0
    for limit in (*found.values(), min(found.values()) * 0.99, max(found.values()) * 1.01):
        boards = Boards(panels, SHEETS, asking(uniformity_min=limit))
        heads = build_heads([EMITTER], boards, grid_limits([EMITTER], panels))
        kept = {
            (panels[p].part, SHEETS[d].part)
            for p, d in zip(heads.panel.tolist(), heads.diffuser.tolist(), strict=True)
            if d != NO_DIFFUSER
        }
        assert kept == {head for head, share in found.items() if share >= limit}
        assert (heads.diffuser == NO_DIFFUSER).sum() == 2


def offered(emitter: Emitter = EMITTER) -> Catalogue:
    """Return the parts as owned."""
    parts = catalogue(emitter)
    offers = {p.part: (Offer(part=p.part, supplier="own", price=0),) for p in parts.parts()}
    return replace(parts, offers=offers)


def test_numbers_of_emitters_that_light_unevenly_are_cut_out_of_a_cell() -> None:
    # Twenty pieces at most on the wide board, all of them in pairs; a bare beam of 20° shows where they are.
    share = {
        n: evaluate(choice("p", None, n), catalogue(EMITTER), asking()).figures["uniformity"][0] or 0.0
        for n in range(1, 11)
    }
    limit = sorted(share.values())[6]
    wanted = asking(uniformity_min=limit)
    wanted = wanted.model_copy(update={"limits": wanted.limits.model_copy(update={"mount": False})})
    parts = offered()
    problem = problem_of(build_market(parts, wanted), np.array([0]))
    head = int(np.flatnonzero((problem.heads.diffuser == NO_DIFFUSER) & (problem.heads.panel == 0))[0])
    assert crowded(problem, np.array([head])).tolist() == [True]
    cells = [Cell(head, 25.0, 60.0, float(problem.heads.lux_per_lumen[head]), 0.0, 100.0, 1, 20)]
    for n in range(1, 11):
        e = evaluate(choice("p", None, n), parts, wanted)
        index = next((i for i, c in enumerate(cells) if c.count_low <= 2 * n <= c.count_high), None)
        margin = margin_of(e, "uniformity")
        assert margin is not None
        if not margin.holds and index is not None:
            cells, tangents = refine(problem, cells, [], index, 0, e, flattered_power=False)
            assert tangents == []
    left = {c for cell in cells for c in range(cell.count_low, cell.count_high + 1)}
    assert {2 * n for n in share if share[n] >= limit} <= left
    assert not {2 * n for n in share if share[n] < limit * (1 - 1e-9)} & left


def test_a_head_that_is_uneven_with_any_number_stays_as_a_cell_that_holds_none() -> None:
    wanted = asking(uniformity_min=0.999)
    wanted = wanted.model_copy(update={"limits": wanted.limits.model_copy(update={"mount": False})})
    parts = offered()
    problem = problem_of(build_market(parts, wanted), np.array([0]))
    assert (problem.heads.diffuser == NO_DIFFUSER).all()
    cell = Cell(0, 25.0, 60.0, float(problem.heads.lux_per_lumen[0]), 0.0, 100.0, 1, 20)
    e = evaluate(choice(("p", "t")[problem.heads.panel[0]], None), parts, wanted)
    (left,), _ = refine(problem, [cell], [], 0, 0, e, flattered_power=False)
    assert (left.count_low, left.count_high) == (0, 0)


def near(limit: float) -> Scenario:
    """Return a job that asks for hardly any light, near and even over a wide line."""
    light = Light(illuminance=1.0, distance=0.3, subject_width=0.9, uniformity_min=limit)
    return SCENARIO.model_copy(update={"light": light, "limits": SCENARIO.limits.model_copy(update={"mount": False})})


@pytest.mark.parametrize("known", [even.KNOWN, 3, 0])
def test_an_open_board_may_need_more_emitters_than_its_light_does(known: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # What is not known beforehand is cut out once a build has it: the answer is the same.
    monkeypatch.setattr(even, "KNOWN", known)
    wide = EMITTER.model_copy(update={"beam": 120.0, "current_min": 0.5})
    parts = replace(offered(wide), panels=(PANEL,), diffusers=())

    def share(number: int) -> float:
        single = replace(choice("p", None), channels=(ChannelChoice("d", 1, 1, 0.5, number),))
        found = evaluate(single, parts, near(1e-6))
        return (found.figures["uniformity"][0] or 0.0) if found.passes else 0.0

    shares = {n: share(n) for n in range(1, 21)}
    for limit in (shares[1] * 1.001, max(shares.values()) * 0.999):
        result = best_build(parts, near(limit), "mass")
        fewest = min(n for n, value in shares.items() if value >= limit)
        assert fewest > 1
        assert result.status == "optimal"
        assert result.evaluation is not None
        assert result.evaluation.choice.emitters == fewest
        # One piece alone gives more light than is asked for.
        assert result.evaluation.lux / fewest > 2.0
    assert best_build(parts, near(max(shares.values()) * 1.001), "mass").status == "impossible"


def test_runs_of_even_numbers_are_those_of_the_exact_check() -> None:
    parts = replace(offered(EMITTER.model_copy(update={"beam": 60.0})), panels=(PANEL,), diffusers=())
    single = {n: replace(choice("p", None), channels=(ChannelChoice("d", 1, 1, 0.5, n),)) for n in range(1, 11)}
    shares = {n: evaluate(chosen, parts, near(0.5)).figures["uniformity"][0] or 0.0 for n, chosen in single.items()}
    wanted = near(sorted(shares.values())[5])
    good = {n for n, share in shares.items() if share >= sorted(shares.values())[5]}
    problem = problem_of(build_market(parts, wanted), np.array([0]))
    assert len(problem.heads) == 1
    runs = list(even.even_ranges(problem, 0))
    assert {n for low, high in runs for n in range(low, high + 1) if n <= 10} == good
    assert 0 < len(good) < 10
    assert all(high + 1 < low for (_, high), (low, _) in pairwise(runs))


@pytest.mark.parametrize("sheet", ["cloth", "film", None])
def test_a_face_that_turns_aside_gets_its_cosine_of_the_light(sheet: str | None) -> None:
    # From 20 m the panel is a point: a face turned or leant by 60° gets half, one that is turned away nothing.
    for bearing, tilt, share in ((60.0, 0.0, 0.5), (0.0, 60.0, 0.5), (60.0, 60.0, 0.25), (180.0, 0.0, 0.0)):
        light = SCENARIO.light.model_copy(update={"distance": 20.0, "face_bearing": bearing, "face_tilt": tilt})
        far = SCENARIO.model_copy(update={"light": light})
        e = evaluate(choice("p", sheet), catalogue(EMITTER), far)
        assert e.figures["face_illuminance"][0] == pytest.approx(share * e.lux, rel=2e-3, abs=1e-12)
    assert "face_illuminance" not in evaluate(choice("p", sheet), catalogue(EMITTER), SCENARIO).figures
