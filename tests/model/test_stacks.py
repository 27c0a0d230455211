"""Two diffusers one behind the other: by hand, and the search against looking at every build. Invented parts."""

from dataclasses import replace

import pytest
from comparison import NODES, compare
from oracle import OBJECTIVES
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, catalogue, choice, on_offer

from optimise.columns.heads import NO_DIFFUSER
from optimise.model.choice import Choice
from optimise.model.exact import build_of, evaluate, margin_of, wants_of
from optimise.model.problem import build_problem
from optimise.model.search import best_build
from optimise.model.stacks import Stack, layers_of, stack_of, stacks_of
from optimise.parts import Catalogue, Diffuser
from optimise.physics.beams import beam_exponent, widened_beam
from optimise.physics.faces import lux_per_lumen
from optimise.report.parts_record import catalogue_of, parts_record
from optimise.report.record_parts import ChoiceRecord, choice_of, choice_record
from optimise.scenario import Scenario
from optimise.studies.alternatives import pieces_of

CLOTH = SHEETS[0].model_copy(update={"reflectance": 0.4, "mass_per_area": 0.3000001, "mired_shift": 20.0})
FILM = SHEETS[1].model_copy(update={"reflectance": 0.15, "width": 0.9, "height": 0.3, "mired_shift": -50.0})
VEIL = FILM.model_copy(update={"part": "veil", "spread": 40.0, "transmittance": 0.7})
GRID = FILM.model_copy(update={"part": "aaa", "grid": 40.0, "grid_transmittance": 0.9})
SHELF = (CLOTH, FILM, VEIL, GRID)


def parts(*sheets: Diffuser) -> Catalogue:
    found = replace(catalogue(EMITTER), diffusers=sheets or SHELF)
    return on_offer(found, "own")


def two(inner: str, outer: str, panel: str = "p") -> Choice:
    return replace(choice(panel, inner), second_diffuser=outer)


def stacking(**look: object) -> Scenario:
    limits = SCENARIO.limits.model_copy(update={"mount": False})
    return SCENARIO.model_copy(
        update={"look": SCENARIO.look.model_copy(update={"sheets_max": 2, **look}), "limits": limits}
    )


def test_a_worked_example_of_two_sheets() -> None:
    # 0.5 · 0.8 / (1 − 0.4 · 0.15) = 0.4 / 0.94; a cloth before a film still spreads all light evenly.
    e = evaluate(two("cloth", "film"), parts(), SCENARIO)
    through = 0.4 / 0.94
    assert e.lux == pytest.approx(2000.0 * through * float(lux_per_lumen(0.8, 0.25, 1.0)), rel=1e-12)
    single = evaluate(choice("p", "cloth"), parts(), SCENARIO)
    # 300.0001 g/m² and 300 g/m² on 0.2 m²: each rounded to the milligram.
    assert e.milligrams - single.milligrams == 60_000
    assert e.cents - single.cents == 100
    covers = {m.name: (m.required, m.achieved) for m in e.margins if "covers" in m.name}
    assert covers == {
        "diffuser covers, short side": (0.25, 1.0),
        "diffuser covers, long side": (0.8, 1.0),
        "second diffuser covers, short side": (0.25, 0.3),
        "second diffuser covers, long side": (0.8, 0.9),
    }
    assert sorted(line.part for line in e.bill if line.part in {"cloth", "film"}) == ["cloth", "film"]


def test_two_sheets_that_spread_add_their_spreads_and_their_shifts() -> None:
    both = stack_of(FILM, VEIL)
    assert both.spread == pytest.approx(50.0)
    assert both.mired_shift == -100.0
    assert (both.width, both.height) == (0.3, 0.9)
    e = evaluate(two("film", "veil"), parts(), SCENARIO)
    exponent = float(beam_exponent(widened_beam(20.0, 50.0)))
    through = 0.8 * 0.7 / (1.0 - 0.15**2)
    assert e.lux == pytest.approx(2000.0 * through * float(lux_per_lumen(0.8, 0.25, 1.0, exponent)), rel=1e-9)
    assert stack_of(CLOTH, VEIL).spread is None
    assert stack_of(VEIL, CLOTH).spread is None


def test_a_grid_is_never_inside_and_other_pairs_go_by_their_codes() -> None:
    pairs = [tuple(layer.part for layer in stack.layers) for stack in stacks_of(SHELF)]
    assert pairs == [
        ("cloth", "aaa"),
        ("film", "aaa"),
        ("veil", "aaa"),
        ("cloth", "cloth"),
        ("cloth", "film"),
        ("cloth", "veil"),
        ("film", "film"),
        ("film", "veil"),
        ("veil", "veil"),
    ]
    outside = stacks_of(SHELF)[0]
    assert (outside.grid, outside.grid_transmittance) == (40.0, 0.9)


def test_two_of_one_part_are_two_pieces_of_one_sheet_where_both_go_on_it() -> None:
    wide = FILM.model_copy(update={"width": 1.0, "height": 0.6})
    for sheet, sheets in ((wide, 1), (FILM, 2)):
        held = parts(sheet)
        chosen = two("film", "film")
        (want,) = (w for w in wants_of(build_of(chosen, held), SCENARIO) if w.part == "film")
        assert want.pieces == 2
        e = evaluate(chosen, held, SCENARIO)
        assert [line.purchase.packs for line in e.bill if line.part == "film"] == [sheets]
        assert e.cents - evaluate(choice("p", "film"), held, SCENARIO).cents == 100 * (sheets - 1)


def test_columns_count_two_sheets_as_the_exact_check_does() -> None:
    boxed = PANEL.model_copy(update={"depth": 0.1, "reflectance": 0.8})
    held = replace(parts(), panels=(boxed,))
    problem = build_problem(held, stacking())
    assert (problem.heads.diffuser >= len(SHELF)).sum() == 9
    for h in range(len(problem.heads)):
        index = int(problem.heads.diffuser[h])
        if index == NO_DIFFUSER:
            continue
        layers = layers_of(problem.parts.diffusers[index])
        chosen = replace(choice("p", layers[0].part), second_diffuser=layers[1].part if len(layers) > 1 else None)
        e = evaluate(chosen, held, stacking())
        assert problem.heads.lux_per_lumen[h] * 2000.0 == pytest.approx(e.lux, rel=1e-12)
        assert problem.head_mass[h] + 2 * 20_000 + 100_000 + 1_000_000 + 100_000 == e.milligrams
        assert problem.head_cost[h] + 700.0 == e.cents
    assert len(build_problem(held, SCENARIO).parts.diffusers) == len(SHELF)


def test_two_filters_are_found_where_one_does_not_do() -> None:
    warm = EMITTER.model_copy(update={"cct": 5000.0})
    held = replace(parts(), emitters=(warm,))
    wanted = 1e6 / (1e6 / 5000.0 - 100.0)
    job = stacking(cct_min=wanted * 0.99, cct_max=wanted * 1.01)
    found = best_build(held, job, "mass").evaluation
    assert found is not None
    assert len(found.choice.sheets) == 2
    assert set(found.choice.sheets) <= {"film", "veil", "aaa"}
    one = job.model_copy(update={"look": job.look.model_copy(update={"sheets_max": 1})})
    assert best_build(held, one, "mass").status == "impossible"
    refused = margin_of(evaluate(found.choice, held, one), "diffusers")
    assert refused is not None
    assert not refused.holds


def test_a_note_tells_that_light_between_the_sheets_is_not_counted_where_it_is_not_known() -> None:
    told = evaluate(two("cloth", "film"), parts(*SHEETS), SCENARIO).unchecked
    assert sum("to and fro between the sheets" in line for line in told) == 2
    assert not any("to and fro" in line for line in evaluate(two("cloth", "film"), parts(), SCENARIO).unchecked)


def test_records_hold_both_sheets_and_those_of_before_are_read() -> None:
    chosen = two("cloth", "film")
    record = choice_record(chosen)
    assert (record.diffuser, record.second_diffuser, record.sheets) == ("cloth", "film", "cloth + film")
    assert choice_of(record) == chosen
    before = record.model_dump()
    del before["second_diffuser"]
    assert choice_of(ChoiceRecord(**before)) == choice("p", "cloth")
    kept = parts_record(chosen, parts())
    again = catalogue_of(kept, "EUR")
    assert [sheet.part for sheet in again.diffusers] == ["cloth", "film"]
    assert evaluate(chosen, again, SCENARIO).lux == evaluate(chosen, parts(), SCENARIO).lux
    assert {("diffuser", "cloth"), ("diffuser", "film")} <= pieces_of(chosen)
    assert isinstance(build_of(chosen, parts()).diffuser, Stack)
    assert margin_of(evaluate(chosen, parts(), stacking(diffused=True)), "diffuser fitted") is not None


@pytest.mark.parametrize(("number", "source"), [(11, "battery+stacked"), (9, "mains+stacked,points")])
def test_the_best_of_all_builds_is_found_with_two_sheets(number: int, source: str) -> None:
    for objective in OBJECTIVES:
        compare(number, source, objective, NODES // 12)


@pytest.mark.long
@pytest.mark.parametrize("number", range(60))
@pytest.mark.parametrize(
    "source", ["battery+stacked", "mains+stacked,points", "battery+stacked,even", "mains+stacked,measured"]
)
def test_the_best_of_all_builds_is_found_with_two_sheets_in_many_cases(number: int, source: str) -> None:
    for objective in OBJECTIVES:
        compare(number, source, objective, NODES // 8)
