"""The demonstration scenarios are sound, say that they are invented, and fit the demonstration catalogue."""

from pathlib import Path

import pytest

from optimise.parts import read_catalogue
from optimise.scenario import read_scenario

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "scenarios").glob("*.toml"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_scenario_is_sound_and_says_that_it_is_invented(path: Path) -> None:
    scenario = read_scenario(path)
    assert scenario.title
    assert "invented" in scenario.note.lower()


def test_scenarios_ask_for_different_things() -> None:
    scenarios = [read_scenario(path) for path in FILES]
    assert len({scenario.title for scenario in scenarios}) == len(FILES)
    assert {scenario.power.source for scenario in scenarios} == {"battery", "mains", "any"}
    assert {scenario.search.objective for scenario in scenarios} == {"cost", "mass", "power"}
    assert {scenario.travel.mode for scenario in scenarios} == {"road", "air"}
    assert {scenario.light.illuminance is None for scenario in scenarios} == {True, False}


def test_scenarios_pay_in_the_currency_of_the_catalogue() -> None:
    currency = read_catalogue(ROOT / "catalogue").currency
    assert {read_scenario(path).currency for path in FILES} - {None} == {currency}
