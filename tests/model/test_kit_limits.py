"""Limits that lights of a kit share: the mains circuit, and how many batteries one passenger may carry."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimise.model.choice import Choice, Margin
from optimise.model.kit import KitEvaluation, evaluate_kit
from optimise.model.search import best_build
from optimise.parts import Catalogue, read_catalogue
from optimise.scenario import KitLight, Scenario, read_scenario

ROOT = Path(__file__).parents[2]


def kit(scenario: Scenario, *counts: int, own_circuit: bool = False) -> Scenario:
    lights = tuple(
        KitLight(name=f"light {number}", count=count, job=scenario, own_circuit=own_circuit and number == 0)
        for number, count in enumerate(counts)
    )
    return scenario.model_copy(update={"kit": lights})


def margin(found: KitEvaluation, name: str) -> Margin | None:
    return next((margin for margin in found.margins if margin.name == name), None)


@pytest.fixture(scope="module")
def studio() -> tuple[Catalogue, Scenario, Choice]:
    catalogue = replace(read_catalogue(ROOT / "catalogue"), suppliers=())
    scenario = read_scenario(ROOT / "scenarios" / "pottery-studio.toml")
    best = best_build(catalogue, scenario, "mass").evaluation
    assert best is not None
    return catalogue, scenario, best.choice


def test_lights_share_the_circuit(studio: tuple[Catalogue, Scenario, Choice]) -> None:
    """Each takes 1.25 times its current of the circuit (NEC 210.20(A)), all of them together as well."""
    catalogue, scenario, choice = studio
    alone = evaluate_kit([choice], catalogue, kit(scenario, 1))
    current = alone.lights[0].figures["current"][0]
    assert current is not None
    power = scenario.power.model_copy(update={"circuit": 1.25 * 3.5 * current})
    scenario = scenario.model_copy(update={"power": power})
    for counts, holds in (((1, 2), True), ((2, 2), False), ((4,), False)):
        shared = margin(
            evaluate_kit([choice] * len(counts), catalogue, kit(scenario, *counts)), "mains circuit of all lights"
        )
        assert shared is not None
        assert shared.achieved == pytest.approx(1.25 * sum(counts) * current)
        assert shared.holds is holds
    apart = evaluate_kit([choice, choice], catalogue, kit(scenario, 2, 2, own_circuit=True))
    shared = margin(apart, "mains circuit of all lights")
    assert shared is not None
    assert shared.achieved == pytest.approx(1.25 * 2 * current)


def test_batteries_that_fly_are_counted_over_all_lights() -> None:
    """Two non-spillable lead-acid ones a passenger (IATA DGR 2.3, figure seen second-hand)."""
    catalogue = read_catalogue(ROOT / "catalogue")
    scenario = read_scenario(ROOT / "scenarios" / "orchard-night.toml")
    best = best_build(replace(catalogue, suppliers=()), scenario, "mass").evaluation
    assert best is not None
    lead = replace(best.choice, battery="BAT-PB12-07", battery_series=1, battery_parallel=1)
    for counts, holds in (((2,), True), ((1, 1), True), ((3,), False), ((1, 2), False)):
        found = evaluate_kit([lead] * len(counts), catalogue, kit(scenario, *counts))
        shared = margin(found, "lead-acid batteries that may fly")
        assert shared is not None
        assert (shared.required, shared.achieved, shared.holds) == (2, sum(counts), holds)
    mixed = evaluate_kit([lead, best.choice], catalogue, kit(scenario, 2, 1))
    assert {m.name: m.achieved for m in mixed.margins if "fly" in m.name} == {
        "lead-acid batteries that may fly": 2,
        "batteries that may fly": best.choice.batteries,
    }
