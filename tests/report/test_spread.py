"""Tolerances as a person reads them, and as the record holds them."""

import json
import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

from optimise.model.choice import Margin
from optimise.model.search import Result, best_build
from optimise.parts import Catalogue, Emitter, read_catalogue
from optimise.parts.tolerance import bad_end
from optimise.report.record import Record, json_schema, make_record, to_json
from optimise.report.record_parts import EndRecord, MarginRecord
from optimise.report.spread import tolerance_line, tolerance_rows
from optimise.report.words import cautions_for, tolerance_notes
from optimise.scenario import Scenario, read_scenario
from optimise.studies.tolerances import Ends, Tolerances, over_tolerances

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return read_catalogue(ROOT / "catalogue")


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return read_scenario(ROOT / "scenarios" / "orchard-night.toml")


@pytest.fixture(scope="module")
def ordinary(catalogue: Catalogue, scenario: Scenario) -> Result:
    return best_build(catalogue, scenario)


@pytest.fixture(scope="module")
def spread(ordinary: Result, catalogue: Catalogue, scenario: Scenario) -> Tolerances:
    assert ordinary.evaluation is not None
    return over_tolerances(ordinary.evaluation.choice, catalogue, scenario)


def record(result: Result, spread: Tolerances | None, worst_case: bool = False) -> Record:
    made = make_record(result, result.objective, "0" * 64, worst_case=worst_case, tolerances=spread)
    jsonschema.validate(json.loads(to_json(made)), json.loads(json_schema()))
    return made


def margin(name: str, unit: str, worst: tuple[float, float], best: tuple[float, float], share: float) -> MarginRecord:
    def end(achieved: float, left: float) -> EndRecord:
        return EndRecord(required=10.0, achieved=achieved, left=left)

    return MarginRecord(
        name=name, kind="min", required=10.0, achieved=12.0, unit=unit, left=0.2, source="test",
        worst=end(*worst), best=end(*best), share=share,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("unit", "end", "text"),
    [
        ("lx", (11.0, 0.1), "10.0%"),
        ("lx", (9.5, -0.05), "missed by 5.0%"),
        ("lx", (9.999, -0.0001), "0.0%"),
        ("lx", (40.0, 3.0), "4.0 × asked"),
        ("degC", (6.0, 0.4), "4 K"),
        ("degC", (14.0, -0.4), "missed by 4 K"),
    ],
)
def test_what_is_left_at_an_end_says_whether_it_is_missed(unit: str, end: tuple[float, float], text: str) -> None:
    assert tolerance_rows([margin("a", unit, end, (12.0, 0.2), 1.0)])[0][:2] == ("a", text)


def test_what_has_no_finite_figure_is_missed() -> None:
    nothing = EndRecord(required=None, achieved=3.0, left=None)
    row = tolerance_rows([margin("a", "A", (1.0, 0.1), (1.0, 0.1), 0.5).model_copy(update={"worst": nothing})])
    assert row == [("a", "missed", "10.0%", "50.0%")]


@pytest.mark.parametrize(
    ("share", "text"), [(1.0, "100.0%"), (0.0, "0.0%"), (0.99999, "99.9%"), (0.00001, "0.1%"), (0.123, "12.3%")]
)
def test_only_all_are_all_and_only_none_are_none(share: float, text: str) -> None:
    assert tolerance_rows([margin("a", "lx", (11.0, 0.1), (12.0, 0.2), share)])[0][3] == text


def test_a_limit_that_no_tolerance_moves_has_no_row() -> None:
    still = margin("a", "lx", (11.0, 0.1), (12.0, 0.2), 1.0).model_copy(update={"worst": None, "best": None})
    assert tolerance_rows([still]) == []


def test_record_of_an_ordinary_build_has_both_ends(ordinary: Result, spread: Tolerances) -> None:
    made = record(ordinary, spread)
    assert (made.worst_case, made.nominal) == (False, None)
    assert made.tolerances is not None
    assert ("LED-BAR9-5692", "flux", 0.07) in [(t.part, t.figure, t.tolerance) for t in made.tolerances.stated]
    assert (made.tolerances.draws, made.tolerances.seed) == (1000, 1)
    moved = {m.name: m for m in made.margins if m.worst is not None}
    light = moved["illuminance"]
    assert light.worst is not None
    assert light.best is not None
    assert light.worst.left is not None
    assert light.best.left is not None
    assert light.worst.left < 0 <= light.left < light.best.left
    assert light.share is not None
    assert made.tolerances.share is not None
    assert 0 < made.tolerances.share <= light.share < 1
    assert all((m.worst is None) == (m.best is None) == (m.share is None) for m in made.margins)
    assert "panel width" not in moved
    line = tolerance_line(made)
    assert line is not None
    assert line.startswith("Of 1000 made lights (drawn from seed 1), ")


def test_record_without_tolerances_has_none(ordinary: Result) -> None:
    made = record(ordinary, None)
    assert made.tolerances is None
    assert tolerance_line(made) is None
    assert all(m.worst is None and m.share is None for m in made.margins)


def test_an_end_that_is_not_finite_is_null(ordinary: Result, spread: Tolerances) -> None:
    worst = Margin("fuse carries the load", "min", math.inf, 3.0, "A", "test")
    ends = tuple(Ends(worst, worst, 0.0) if end is not None else None for end in spread.ends)
    text = json.loads(to_json(record(ordinary, replace(spread, ends=ends))))
    shown = [m["worst"] for m in text["margins"] if m["worst"] is not None]
    assert shown
    assert all(end == {"required": None, "achieved": 3.0, "left": None} for end in shown)


def notes(spread: Tolerances | None, worst_case: bool) -> str:
    found: Iterator[str] = tolerance_notes(spread, worst_case)
    return "\n".join(found)


def test_what_is_not_stated_is_told_of_a_worst_case_alone(spread: Tolerances) -> None:
    assert "not stated" not in notes(spread, worst_case=False)
    told = notes(spread, worst_case=True)
    assert "Tolerance not stated for CON-DC5 (mass), DIF-FILM-HALF (mass), " in told
    assert "LED-BAR9-5692" not in told
    assert "evenly within its tolerance" in told
    assert notes(None, worst_case=True) == "Where a tolerance is not stated, the figure is taken as exact."
    assert notes(None, worst_case=False) == ""


def test_a_worst_case_still_tells_what_the_files_leave_blank(catalogue: Catalogue, scenario: Scenario) -> None:
    blank = tuple(
        part.model_copy(update={"voltage_min": None}) if isinstance(part, Emitter) else part
        for part in catalogue.emitters
    )
    stated = replace(catalogue, emitters=blank)
    result = best_build(bad_end(stated), scenario)
    assert result.evaluation is not None
    made = record(result, over_tolerances(result.evaluation.choice, stated, scenario), worst_case=True)
    assert [note for note in made.notes if "voltage_min or voltage_max is not stated" in note]


def test_the_caution_on_looking_into_it_counts_the_brightest(ordinary: Result) -> None:
    assert ordinary.evaluation is not None
    flux = ordinary.evaluation.figures["luminous_flux"][0]
    assert flux is not None

    def bright(lumens: float | None) -> bool:
        assert ordinary.evaluation is not None
        cautions = cautions_for(ordinary.evaluation, ordinary.market, lumens)
        return any(line.startswith("Bright light") for line in cautions)

    assert not bright(None)
    assert not bright(flux)
    assert bright(100 * flux)
