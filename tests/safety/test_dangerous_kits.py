"""In a kit no light is dangerous, nor are all of them together."""

from typing import Any

import pytest
from dangers import BAIT, SAFE, Danger
from judge import dangers_of
from table import DANGERS
from worlds import BATTERY, BATTERY_WORLD, FUSE, MAINS_WORLD, PLUG, World

from optimise.model.kit_search import KitResult, best_kit
from optimise.report.kit import make_kit_record
from optimise.scenario.model import Objective


def lights_of(result: KitResult) -> list[dict[str, Any]]:
    """Return the records of the lights, as JSON tells them."""
    lights: list[dict[str, Any]] = make_kit_record(result, "").model_dump(mode="json")["lights"]
    return lights


def assert_sound_kit(world: World, objective: Objective) -> None:
    world = world.as_kit("key", "fill")
    result = best_kit(world.catalogue, world.scenario, objective)
    assert result.status == "optimal"
    lights = lights_of(result)
    assert len(lights) == 2
    for light in lights:
        assert BAIT not in str(light["choice"])
        assert SAFE in str(light["choice"])
        assert dangers_of(light, world.files) == []


@pytest.mark.long
@pytest.mark.parametrize(
    ("danger", "objective"),
    [(danger, "mass" if number % 2 and not danger.loses else "cost") for number, danger in enumerate(DANGERS)],
    ids=str,
)
def test_no_light_of_any_kit(danger: Danger, objective: Objective) -> None:
    if danger.name in {"load above the circuit", "three lithium batteries above 100 Wh in the air"}:
        pytest.skip("lights share the circuit, and what may fly: see below")
    assert_sound_kit(danger.temptations()[0], objective)


def either(circuit: str) -> World:
    """Return a world in which mains costs nothing, and a battery much."""
    world = MAINS_WORLD.also("batteries", "PACK", BATTERY).also(
        "drivers", "DC", BATTERY_WORLD.tables["drivers"]["DRIVER"]
    )
    world = world.also("fuses", "BLADE", FUSE).also("connectors", "PAIR", PLUG)
    free = {"DRIVER": 0.0, "FUSE": 0.0, "PLUG": 0.0}
    return world.asking("power", source="any", circuit=circuit, runtime="1 h").costing(**free)


@pytest.mark.parametrize(("circuit", "on_mains"), [("0.152 A", 1), pytest.param("0.153 A", 2, marks=pytest.mark.long)])
def test_the_circuit_carries_all_lights(circuit: str, on_mains: int) -> None:
    """Each light alone takes 0.061 A, and 125 % of two are 0.1526 A (NEC 210.20(A), seen second-hand)."""
    world = either(circuit).as_kit("key", "fill")
    lights = lights_of(best_kit(world.catalogue, world.scenario))
    mains = [light for light in lights if light["choice"]["battery"] is None]
    assert len(mains) == on_mains
    assert 1.25 * sum(light["figures"]["current"]["value"] for light in mains) <= float(circuit.split()[0])
    assert all(dangers_of(light, world.files) == [] for light in lights)


def flying(names: tuple[str, ...], count: int) -> list[str]:
    """Return the batteries of the best kit where one of 144 Wh costs nothing, by light."""
    big = {"chemistry": "li-ion", "capacity": 12}
    world = BATTERY_WORLD.tempting("batteries", "PACK", BAIT, **big).asking("travel", mode="air", approval=True)
    world = world.as_kit(*names, count=count)
    return [light["choice"]["battery"] for light in lights_of(best_kit(world.catalogue, world.scenario))]


@pytest.mark.parametrize(("count", "battery"), [(2, BAIT), (3, "PACK")])
def test_what_flies_is_counted_over_equal_lights(count: int, battery: str) -> None:
    """Of lithium above 100 Wh a passenger may carry two (IATA DGR 2.3, seen second-hand)."""
    assert flying(("key",), count) == [battery]


@pytest.mark.long
@pytest.mark.parametrize("names", [("a", "b"), ("a", "b", "c")], ids=["two", "three"])
def test_what_flies_is_counted_over_all_lights(names: tuple[str, ...]) -> None:
    found = flying(names, 1)
    assert found.count(BAIT) == 2
    assert found.count("PACK") == len(names) - 2
