"""Two whites in one light: neither kind tempts the search into what is dangerous."""

import pytest
from dangers import BAIT, Danger
from judge import dangers_of
from table import BY_NAME, DANGERS
from worlds import World

from optimise.scenario.model import Objective

LEDS = [
    danger
    for danger in DANGERS
    if "LED" in danger.world.tables["emitters"] and "CLOTH" in danger.world.tables["diffusers"]
]
NOTHING_SAFE = {
    "load above the circuit",
    "more batteries in parallel than the maker allows",
    "three lithium batteries above 100 Wh in the air",
    "LEDs that make the board too hot to touch",
}
"""Two kinds take twice the drivers and the power: for these no part of the world is enough, and no build answers."""
FEW = [BY_NAME["emitter above its case temperature"]]


def assert_sound_mixture(world: World, objective: Objective, *, nothing_safe: bool = False) -> None:
    mixed = world.mixed()
    record = mixed.record(objective)
    if nothing_safe:
        assert record["status"] == "impossible"
        return
    assert record["status"] == "optimal"
    assert len({channel["emitter"] for channel in record["choice"]["channels"]}) == 2
    assert BAIT not in str(record["choice"])
    assert dangers_of(record, mixed.files) == []


@pytest.mark.parametrize("danger", FEW, ids=str)
def test_no_mixture(danger: Danger) -> None:
    assert_sound_mixture(danger.worlds(0.05)[0], "cost")


@pytest.mark.long
@pytest.mark.parametrize("danger", LEDS, ids=str)
def test_no_mixture_of_any(danger: Danger) -> None:
    for objective in ("cost", "mass"):
        assert_sound_mixture(danger.worlds(0.05)[0], objective, nothing_safe=danger.name in NOTHING_SAFE)
