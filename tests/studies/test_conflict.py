"""A conflict is impossible together, and possible without any one of its limits."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimise.model.search import possible
from optimise.parts import Catalogue, read_catalogue
from optimise.scenario import Scenario, read_scenario
from optimise.studies.conflict import conflict
from optimise.studies.limits import limits_asked

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    # Without what delivery costs: a conflict takes many searches, and how each is made is tested elsewhere.
    return replace(read_catalogue(ROOT / "catalogue"), suppliers=())


def changed(name: str, section: str, **values: object) -> Scenario:
    scenario = read_scenario(ROOT / "scenarios" / f"{name}.toml")
    return scenario.model_copy(update={section: getattr(scenario, section).model_copy(update=values)})


@pytest.mark.parametrize(
    "scenario",
    [
        changed("orchard-night", "limits", mass=0.4),
        changed("orchard-night", "light", illuminance=9000.0),
        changed("pottery-studio", "look", cri_min=99.0),
        changed("pottery-studio", "limits", budget=2000),
        changed("pottery-studio", "power", circuit=0.05),
    ],
    ids=["mass", "light", "colour", "budget", "circuit"],
)
def test_conflict_is_irreducible(catalogue: Catalogue, scenario: Scenario) -> None:
    assert not possible(catalogue, scenario)
    found = conflict(catalogue, scenario)
    assert found
    names = {limit.name for limit in found}
    others = [limit for limit in limits_asked(scenario, read_catalogue(ROOT / "catalogue")) if limit.name not in names]
    alone = scenario
    for limit in others:
        alone = limit.without(alone)
    assert not possible(catalogue, alone)
    for limit in found:
        assert possible(catalogue, limit.without(alone)), limit.name


def test_parts_that_never_go_together_have_no_conflict_of_limits(catalogue: Catalogue) -> None:
    bare = replace(catalogue, fuses=())
    scenario = read_scenario(ROOT / "scenarios" / "orchard-night.toml")
    assert not possible(bare, scenario)
    assert conflict(bare, scenario) is None


def test_only_limits_that_are_set_are_asked() -> None:
    scenario = read_scenario(ROOT / "scenarios" / "impossible-pier.toml")
    names = {limit.name for limit in limits_asked(scenario, read_catalogue(ROOT / "catalogue"))}
    assert {"budget", "mass", "runtime", "illuminance", "lead_length"} <= names
    assert "power" not in names
    assert "travel" not in names


def test_the_impossible_demonstration_is_possible_without_any_one(catalogue: Catalogue) -> None:
    scenario = read_scenario(ROOT / "scenarios" / "impossible-pier.toml")
    assert not possible(catalogue, scenario)
    for limit in limits_asked(scenario, read_catalogue(ROOT / "catalogue")):
        if limit.name in {"budget", "mass", "runtime", "illuminance"}:
            assert possible(catalogue, limit.without(scenario)), limit.name
