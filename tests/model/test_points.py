"""Targets at points of their own: margins by hand, the search against looking at every build, the worst case."""

import math
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from comparison import NODES, compare
from oracle import OBJECTIVES, Oracle, TooManyError, drawn_case, own_figures
from plain_parts import EMITTER, PANEL, SCENARIO, catalogue, choice, on_offer
from random_catalogues import Case
from toleranced import with_tolerances

from optimise.columns.heads import NO_DIFFUSER
from optimise.model.cells import Cell, first_cells
from optimise.model.choice import ChannelChoice, Margin
from optimise.model.dimming import dimmed
from optimise.model.exact import evaluate, margin_of
from optimise.model.kept import everything
from optimise.model.light import crowded, hardest, least_spots, most_of
from optimise.model.problem import build_market, build_problem, problem_of
from optimise.model.refinement import refine
from optimise.model.search import best_build
from optimise.parts import Catalogue
from optimise.parts.tolerance import bad_end, delivered, good_end, tolerances_of
from optimise.scenario import Scenario
from optimise.scenario.points import Point


def asking(*points: Point, **light: float) -> Scenario:
    limits = SCENARIO.limits.model_copy(update={"mount": False})
    changed = SCENARIO.light.model_copy(update=light)
    return SCENARIO.model_copy(update={"light": changed, "points": points, "limits": limits})


def of(parts: Catalogue, chosen: object, scenario: Scenario, name: str) -> Margin:
    margin = margin_of(evaluate(chosen, parts, scenario), name)  # type: ignore[arg-type]
    assert margin is not None
    return margin


def offered(**changes: object) -> Catalogue:
    """Return the parts as owned."""
    parts = catalogue(EMITTER.model_copy(update=changes))
    return on_offer(parts, "own", 0)


def test_far_away_a_panel_is_a_point_with_a_cosine_at_both_ends() -> None:
    # 30° off the axis, at 20 m: cos⁴ of what falls ahead; turned towards the light by 30°, cos³.
    aside = 20.0 * math.tan(math.radians(30.0))
    flat = Point(name="flat", across=aside, distance=20.0, illuminance=1.0)
    turned = Point(name="turned", across=aside, distance=20.0, face_bearing=-30.0, illuminance_max=9.0)
    behind = Point(name="behind", face_bearing=180.0, stops=-9.0)
    scenario = asking(flat, turned, behind, distance=20.0)
    parts = catalogue(EMITTER)
    ahead = evaluate(choice("p", "cloth"), parts, scenario).lux
    cosine = math.cos(math.radians(30.0))
    of_flat = of(parts, choice("p", "cloth"), scenario, "illuminance at flat")
    assert (of_flat.kind, of_flat.required) == ("min", 1.0)
    assert of_flat.achieved == pytest.approx(ahead * cosine**4, rel=1e-3)
    of_turned = of(parts, choice("p", "cloth"), scenario, "illuminance at turned, at most")
    assert (of_turned.kind, of_turned.required) == ("max", 9.0)
    assert of_turned.achieved == pytest.approx(ahead * cosine**3, rel=1e-3)
    # Turned to the left it would look away from what is on its left.
    other = turned.model_copy(update={"face_bearing": 30.0})
    away = of(parts, choice("p", "cloth"), asking(other, distance=20.0), "illuminance at turned, at most")
    assert away.achieved == pytest.approx(ahead * cosine**3 * math.cos(math.radians(60.0)), rel=1e-3)
    of_behind = of(parts, choice("p", "cloth"), scenario, "illuminance at behind")
    assert of_behind.required == pytest.approx(100.0 / 2**9)
    assert of_behind.achieved == 0.0


@pytest.mark.parametrize("sheet", ["cloth", "film", None])
def test_the_face_that_is_turned_is_the_figure_that_it_was(sheet: str | None) -> None:
    scenario = asking(face_bearing=40.0, face_tilt=-10.0, face_illuminance=50.0, face_illuminance_max=80.0)
    e = evaluate(choice("p", sheet), catalogue(EMITTER), scenario)
    for name in ("illuminance on the turned face", "illuminance on the turned face, at most"):
        margin = margin_of(e, name)
        assert margin is not None
        assert margin.achieved == pytest.approx(e.figures["face_illuminance"][0], rel=1e-12)
    assert not any(name.startswith("illuminance on") for name in e.figures)


def test_a_point_without_a_target_is_a_figure_and_no_column_knows_it() -> None:
    scenario = asking(Point(name="wall", across=0.5))
    parts = offered()
    e = evaluate(choice("p", "cloth"), parts, scenario)
    assert e.figures["illuminance at wall"][0] == pytest.approx(
        evaluate(choice("p", "cloth"), parts, scenario).lux, rel=0.6
    )
    assert not any("wall" in margin.name for margin in e.margins)
    assert build_problem(parts, scenario).heads.spots.shape[1] == 0


def test_columns_count_the_hardest_of_all_that_is_asked_as_the_exact_check_does() -> None:
    points = (
        Point(name="a", across=0.6, face_bearing=-20.0, illuminance=70.0, illuminance_max=200.0),
        Point(name="b", up=-0.5, distance=1.4, stops=-1.0),
        Point(name="c", across=-0.2, distance=0.6, stops_max=1.0),
    )
    parts, scenario = offered(), asking(*points)
    problem = build_problem(parts, scenario)
    heads = np.arange(len(problem.heads))
    light, most = hardest(problem, heads), most_of(problem, heads)
    names = ("illuminance", "illuminance at a", "illuminance at b")
    tops = ("illuminance at a, at most", "illuminance at c, at most")
    for h in heads.tolist():
        sheet = int(problem.heads.diffuser[h])
        panel = problem.parts.panels[problem.heads.panel[h]].part
        chosen = choice(panel, None if sheet == NO_DIFFUSER else problem.parts.diffusers[sheet].part)
        lows = [of(parts, chosen, scenario, name) for name in names]
        highs = [of(parts, chosen, scenario, name) for name in tops]
        need = max(2000.0 * m.required / m.achieved for m in lows)
        cap = min(2000.0 * m.required / m.achieved for m in highs)
        if sheet == NO_DIFFUSER:
            assert 100.0 / light[h] <= need * (1 + 1e-9)
            assert most[h] >= cap * (1 - 1e-9)
        else:
            assert 100.0 / light[h] == pytest.approx(need, rel=1e-9)
            assert most[h] == pytest.approx(cap, rel=1e-9)
    assert crowded(problem, heads).all()
    assert (least_spots(problem, heads) <= problem.heads.spots * (1 + 1e-12)).all()


def test_what_is_enough_here_and_too_much_there_leaves_no_build() -> None:
    near = Point(name="near", distance=0.8, illuminance_max=90.0)
    assert best_build(offered(), asking(near), "cost").status == "impossible"
    assert (
        best_build(offered(), asking(near.model_copy(update={"illuminance_max": 9000.0})), "cost").status == "optimal"
    )


def test_a_dimmer_driver_is_chosen_where_the_cheaper_one_is_too_bright() -> None:
    parts = offered()
    (driver,) = parts.drivers
    # Lighter by far, and nothing but its current is greater.
    strong = driver.model_copy(update={"part": "a", "output_current": 0.7, "mass": 0.01})
    parts = replace(
        parts,
        emitters=(EMITTER.model_copy(update={"beam": 120.0, "current_min": 0.45, "current_max": 0.75}),),
        drivers=(driver, strong),
        panels=(PANEL,),
        diffusers=(),
        offers={**parts.offers, "a": parts.offers["d"]},
    )
    light = SCENARIO.light.model_copy(update={"illuminance": 10.0})
    free = asking().model_copy(update={"light": light})
    best = best_build(parts, free, "mass").evaluation
    assert best is not None
    assert [c.driver for c in best.choice.channels] == ["a"]
    for share in (0.99, 1.0):
        capped = free.model_copy(update={"points": (Point(name="x", illuminance_max=best.lux * share),)})
        found = best_build(parts, capped, "mass").evaluation
        assert found is not None
        assert ([c.driver for c in found.choice.channels] == ["a"]) is (share == 1.0)
        assert found.passes


@pytest.mark.parametrize("known", [True, False])
def test_builds_that_are_too_bright_are_cut_out_of_a_cell_and_the_others_are_not(known: bool) -> None:
    # A board in the heat, whose emitters lose light: the more heat, the dimmer each.
    parts = offered(flux_per_kelvin=-0.008, case_max=90.0)
    hot = asking(Point(name="x", illuminance_max=1.0))
    safety = hot.safety.model_copy(update={"touch_temperature": 110.0})
    hot = hot.model_copy(update={"safety": safety, "light": hot.light.model_copy(update={"illuminance": 1e-3})})
    heads = [("p", "cloth"), ("p", None)]
    for panel, sheet in heads:
        singles = {n: replace(choice(panel, sheet), channels=(ChannelChoice("d", 1, 1, 0.5, n),)) for n in range(1, 9)}
        lux = {n: evaluate(chosen, parts, hot).lux for n, chosen in singles.items()}
        limit = sorted(lux.values())[4]
        wanted = hot.model_copy(update={"points": (Point(name="x", illuminance_max=limit),)})
        problem = problem_of(build_market(parts, wanted), np.array([0]))
        head = next(
            i
            for i in range(len(problem.heads))
            if problem.heads.panel[i] == 0
            and (problem.heads.diffuser[i] == NO_DIFFUSER if sheet is None else problem.heads.diffuser[i] == 0)
        )
        cells: list[Cell] = [c for c in first_cells(problem, everything(problem)) if c.head == head]
        if not known:
            cells = [replace(cell, most=math.inf) if sheet is None else cell for cell in cells]
        for _ in range(60):
            bad = None
            for n, chosen in singles.items():
                e = evaluate(chosen, parts, wanted)
                margin = margin_of(e, "illuminance at x, at most")
                assert margin is not None
                for index, cell in enumerate(cells):
                    inside = cell.heat_low <= e.heat <= cell.heat_high and cell.count_low <= n <= cell.count_high
                    flux = e.figures["luminous_flux"][0] or 0.0
                    warm = (1 - 0.008 * (cell.top - 25.0)) / (1 - 0.008 * (e.board - 25.0))
                    admitted = inside and flux * warm <= cell.most * (1 + 1e-9)
                    if margin.holds:
                        continue
                    if admitted:
                        bad = index, e
            if bad is None:
                break
            cells, _ = refine(problem, cells, [], bad[0], 0, bad[1], flattered_power=False)
        assert bad is None
        for n, chosen in singles.items():
            e = evaluate(chosen, parts, wanted)
            if e.lux <= limit:
                flux = e.figures["luminous_flux"][0] or 0.0
                assert any(
                    cell.heat_low <= e.heat <= cell.heat_high
                    and cell.count_low <= n <= cell.count_high
                    and flux * (1 - 0.008 * (cell.top - 25.0)) / (1 - 0.008 * (e.board - 25.0))
                    <= cell.most * (1 + 1e-9)
                    for cell in cells
                ), n


def test_a_light_is_dimmed_no_lower_than_its_points_bear() -> None:
    parts = offered()
    (driver,) = parts.drivers
    parts = replace(parts, drivers=(driver.model_copy(update={"dimmable": "pwm", "dim_min": 0.01}),))
    full = evaluate(choice("p", "cloth"), parts, asking(Point(name="x", across=0.5)))
    there = full.figures["illuminance at x"][0]
    assert there is not None
    scenario = asking(Point(name="x", across=0.5, illuminance=there * 0.9), illuminance=full.lux * 0.5)
    found = dimmed(evaluate(choice("p", "cloth"), parts, scenario), parts, scenario)
    if not isinstance(found, tuple):
        assert found is not None
        assert found.level == pytest.approx(0.9, rel=1e-9)
    nearly = asking(Point(name="x", across=0.5, illuminance=there * 0.99), illuminance=full.lux * 0.5)
    assert dimmed(evaluate(choice("p", "cloth"), parts, nearly), parts, nearly) is None


# Against looking at every build -----------------------------------------------------------------------------

SMALL = NODES // 12
LARGER = NODES // 4


@pytest.mark.parametrize(("number", "source"), [(1, "battery+points"), (9, "mains+points"), (1, "battery+points,even")])
def test_the_best_of_all_builds_is_found(number: int, source: str) -> None:
    for objective in OBJECTIVES:
        compare(number, source, objective, SMALL)


@pytest.mark.long
@pytest.mark.parametrize("number", range(80))
@pytest.mark.parametrize(
    "source", ["battery+points", "mains+points", "battery+points,even", "mains+points,measured", "any+points"]
)
def test_the_best_of_all_builds_is_found_in_many_cases(number: int, source: str) -> None:
    for objective in OBJECTIVES:
        compare(number, source, objective, LARGER)


def pointed(number: int, source: str) -> tuple[Case, Catalogue]:
    """Return a random problem with points that the best build nearly fails, and its catalogue with tolerances."""
    rng = Random(f"{number} {source}")
    case, oracle = drawn_case(number, source, SMALL)
    best = oracle.best("cost").evaluation
    catalogue = with_tolerances(case.catalogue, rng, often=0.9, capacity=False)
    if best is None:
        return case, catalogue
    lux = best.lux * rng.uniform(0.8, 0.95)
    light = case.scenario.light.model_copy(update={"illuminance": lux})
    point = Point(name="x", illuminance_max=best.lux * rng.uniform(0.97, 1.15))
    scenario = case.scenario.model_copy(update={"light": light, "points": (point,)})
    return replace(case, scenario=scenario), catalogue


def worst_case(number: int, source: str, objective: str) -> str | None:
    case, catalogue = pointed(number, source)
    worst = bad_end(catalogue)
    try:
        answer = Oracle(worst, case.scenario, 10 * SMALL).best(objective)
    except TooManyError:
        return None
    result = best_build(worst, case.scenario, objective)
    if answer.build is None:
        assert result.status == "impossible", case.name
        return result.status
    assert result.status == "optimal", case.name
    found = result.evaluation
    assert found is not None
    assert own_figures(found.choice, worst, case.scenario)[0] == found.cents
    key = {"cost": (found.cents, answer.build.cents), "mass": (found.milligrams, answer.build.milligrams)}[objective]
    assert key[0] == key[1], case.name
    rng = Random(number)
    for _ in range(15):
        lot = {
            (part.part, figure): rng.choice([-1.0, 1.0, rng.uniform(-1.0, 1.0)]) * share
            for part in catalogue.parts()
            for figure, share in tolerances_of(part).items()
            if share is not None
        }
        assert evaluate(found.choice, delivered(catalogue, lot), case.scenario).passes, case.name
    return result.status


def test_in_the_worst_case_no_light_is_too_bright_however_it_is_delivered() -> None:
    found = [worst_case(number, source, "cost") for number in range(2, 5) for source in ("battery", "mains")]
    assert 2 <= found.count("optimal") < len(found)


@pytest.mark.long
@pytest.mark.parametrize("number", range(5, 60))
@pytest.mark.parametrize("source", ["battery", "mains"])
@pytest.mark.parametrize("objective", ["cost", "mass"])
def test_in_the_worst_case_no_light_is_too_bright_in_many_cases(number: int, source: str, objective: str) -> None:
    if worst_case(number, source, objective) is None:
        pytest.skip("too many builds to look at")


def test_the_other_end_is_what_delivery_may_come_to() -> None:
    told = EMITTER.model_dump() | {"flux_tolerance": 0.1, "voltage_tolerance": 0.05, "dynamic_resistance": 2.0}
    parts = catalogue(
        type(EMITTER)(
            **told,
        )
    )
    (bad,), (good,) = bad_end(parts).emitters, good_end(parts).emitters
    assert bad.other_end[0] == pytest.approx(1.1 / 0.9)
    assert good.other_end[0] == pytest.approx(0.9 / 1.1)
    assert bad.other_end[1] < 0.95 / 1.05 * good.heat_share / bad.heat_share
    assert catalogue(EMITTER).emitters[0].other_end == (1.0, 1.0)
    # The bad end never counts less light than the good one really has.
    scenario = asking(Point(name="x", illuminance_max=1e5))
    hot = EMITTER.model_copy(update={"flux_per_kelvin": -0.01, "flux_tolerance": 0.1, "voltage_tolerance": 0.05})
    for sheet in ("cloth", None):
        name = "illuminance at x, at most"
        high = of(bad_end(catalogue(hot)), choice("p", sheet), scenario, name).achieved
        true = of(good_end(catalogue(hot)), choice("p", sheet), scenario.model_copy(), "illuminance").achieved
        assert true <= high <= true * 1.02
