"""A safety figure is never assumed from a blank cell: the table is refused, the part left out, or the check told."""

from dataclasses import dataclass, replace

import pytest
from dangers import BAIT, LIGHT_ON_BATTERY, LIGHT_ON_MAINS, checked
from judge import dangers_of
from worlds import BATTERY_WORLD, MAINS_WORLD, MOUNT, TAPE_WORLD, TUBE_WORLD, World

from optimise.model.choice import Choice
from optimise.model.exact import evaluate
from optimise.parts import InputError

RATINGS = [
    *((BATTERY_WORLD, "fuses", "FUSE", column) for column in ("rating", "voltage_max", "supply")),
    *((BATTERY_WORLD, "cables", "FLEX", column) for column in ("area", "cores", "rating", "voltage_max")),
    *((BATTERY_WORLD, "connectors", "PLUG", column) for column in ("rating", "voltage_max", "supply")),
    *(
        (BATTERY_WORLD, "batteries", "PACK", column)
        for column in ("chemistry", "voltage", "voltage_min", "voltage_max", "capacity", "rated_time", "current_max")
    ),
    *(
        (BATTERY_WORLD, "drivers", "DRIVER", column)
        for column in ("input", "input_min", "input_max", "output_current", "output_min", "output_max", "power_max")
    ),
    *((TAPE_WORLD, "drivers", "DRIVER", column) for column in ("output_min", "output_max", "power_max")),
    *((TUBE_WORLD, "drivers", "BALLAST", column) for column in ("lamps", "lamp_power", "power_factor")),
    (TUBE_WORLD, "emitters", "TUBE", "power"),
    *((BATTERY_WORLD, "emitters", "LED", column) for column in ("current", "voltage")),
    (BATTERY_WORLD, "panels", "BOARD", "metal"),
    (BATTERY_WORLD.also("mounts", "MOUNT", MOUNT), "mounts", "MOUNT", "load"),
]


@pytest.mark.parametrize(("world", "kind", "code", "column"), RATINGS, ids=lambda v: v if isinstance(v, str) else "")
def test_a_rating_must_be_stated(world: World, kind: str, code: str, column: str) -> None:
    with pytest.raises(InputError) as error:
        world.but(kind, code, **{column: None}).catalogue  # noqa: B018 - reading is what is tried
    # A driver of constant current without a current is told to state the range of it.
    told = "current_min" if column == "output_current" else column
    assert any(fault.file == f"{kind}.csv" and told in str(fault) for fault in error.value.faults)


@dataclass(frozen=True)
class Blank:
    """A figure that may be left out, and the check that then is not made."""

    world: World
    choice: Choice
    kind: str
    code: str
    column: str
    limit: str | None
    """What the exact check calls the limit that then is none; None where it stands on another figure."""
    told: str = ""

    def __str__(self) -> str:
        return f"{self.code}: {self.column}"


COLD = BATTERY_WORLD.asking("power", ambient="-20 degC")
BLANKS = [
    Blank(BATTERY_WORLD, LIGHT_ON_BATTERY, "emitters", "LED", "case_max", "case temperature"),
    Blank(BATTERY_WORLD, LIGHT_ON_BATTERY, "emitters", "LED", "voltage_min", None, "the driver's window"),
    Blank(BATTERY_WORLD, LIGHT_ON_BATTERY, "emitters", "LED", "voltage_max", None, "the driver's window"),
    Blank(BATTERY_WORLD, LIGHT_ON_BATTERY, "emitters", "LED", "voltage_per_kelvin", None, "at a cold start"),
    Blank(BATTERY_WORLD, LIGHT_ON_BATTERY, "emitters", "LED", "resistance_junction_case", None, "junction temperature"),
    Blank(BATTERY_WORLD, LIGHT_ON_BATTERY, "panels", "BOARD", "temperature_max", "panel temperature", "what the board"),
    Blank(BATTERY_WORLD, LIGHT_ON_BATTERY, "panels", "BOARD", "heat_density_max", "heat under one emitter", "the spot"),
    Blank(COLD, LIGHT_ON_BATTERY, "batteries", "PACK", "temperature_min", "battery in the cold", "in the cold"),
    Blank(COLD, LIGHT_ON_BATTERY, "batteries", "PACK", "capacity_per_kelvin", None, "loss of capacity in the cold"),
    Blank(BATTERY_WORLD, LIGHT_ON_BATTERY, "batteries", "PACK", "peukert", None, "the same at any current"),
    Blank(
        BATTERY_WORLD.asking("look", flicker_max="0.05", shutter="1/48 s"),
        LIGHT_ON_BATTERY,
        "drivers",
        "DRIVER",
        "ripple",
        "DRIVER: flicker",
        "flicker",
    ),
    Blank(
        MAINS_WORLD.but("drivers", "DRIVER", isolated="yes"),
        LIGHT_ON_MAINS,
        "drivers",
        "DRIVER",
        "isolated",
        "DRIVER: isolated from the mains",
        "separated from the mains",
    ),
    Blank(
        MAINS_WORLD.but("panels", "BOARD", metal="yes").but("connectors", "PLUG", earth="yes"),
        LIGHT_ON_MAINS,
        "connectors",
        "PLUG",
        "earth",
        "connector with earth",
        "the earth at the plug",
    ),
]


@pytest.mark.parametrize("blank", BLANKS, ids=str)
def test_a_check_that_was_not_made_is_told(blank: Blank) -> None:
    stated = evaluate(blank.choice, blank.world.catalogue, blank.world.scenario)
    without = blank.world.but(blank.kind, blank.code, **{blank.column: None})
    silent = evaluate(blank.choice, without.catalogue, without.scenario)
    new = [line for line in silent.unchecked if line not in stated.unchecked]
    assert any(line.startswith(blank.code) and blank.column in line for line in new), new
    assert any((blank.told or blank.limit or "") in line for line in new), new
    before, after = ({margin.name for margin in e.margins} for e in (stated, silent))
    assert before - after == ({blank.limit} if blank.limit else set())


def test_the_rating_of_the_circuit_is_missed_where_it_is_not_stated() -> None:
    world = MAINS_WORLD.asking("power", circuit=None)
    found = evaluate(LIGHT_ON_MAINS, world.catalogue, world.scenario)
    assert any("power.circuit" in line and "not checked" in line for line in found.unchecked)


def test_the_weather_at_the_plug_is_told_as_not_checked() -> None:
    """Connectors and fuses have no column for it, so that where it is asked for, it is said."""
    wet = BATTERY_WORLD.asking("limits", ip="IP44")
    lines = evaluate(LIGHT_ON_BATTERY, wet.catalogue, wet.scenario).unchecked
    assert any("PLUG" in line and "FUSE" in line and "ingress protection" in line for line in lines)
    dry = evaluate(LIGHT_ON_BATTERY, BATTERY_WORLD.catalogue, BATTERY_WORLD.scenario).unchecked
    assert not any("ingress" in line for line in dry)


@pytest.mark.parametrize(
    ("kind", "like", "cells"),
    [
        # Blank is the rated current, one battery, one in parallel, and no code.
        ("emitters", "LED", {"current": 0.4, "current_min": 0.3, "current_max": None}),
        # The most heat that physics allows: 1 − 1000 lm / 6 W / 683 lm/W are 75.6 %, over 4 K/W 56 K above the air.
        ("emitters", "LED", {"heat_fraction": None, "flux": 300}),
    ],
    ids=["current_max", "heat_fraction"],
)
def test_a_blank_is_taken_at_its_worst(kind: str, like: str, cells: dict[str, float | None]) -> None:
    world = BATTERY_WORLD.but("panels", "BOARD", thermal_resistance=3.6).tempting(kind, like, BAIT, **cells)
    _, missed = checked(replace(LIGHT_ON_BATTERY, emitter=BAIT), world.catalogue, world.scenario)
    assert missed
    record = world.record()
    assert BAIT not in str(record["choice"])
    assert dangers_of(record, world.files) == []


def test_what_is_left_out_for_a_blank_is_told() -> None:
    record = BATTERY_WORLD.asking("limits", ip="IP44").tempting("drivers", "DRIVER", BAIT, ip=None).record()
    assert BAIT not in str(record["choice"])
    assert any("IP code not stated" in note for note in record["notes"])


def test_no_fuse_is_no_build() -> None:
    """IEC 60364-4-43: every lead has its protection at the source (from memory)."""
    bare = BATTERY_WORLD.without("fuses")
    assert bare.search().status == "impossible"
    # A fuse that cannot break direct current is none, however little it costs.
    wrong = bare.also("fuses", "WRONG", BATTERY_WORLD.tables["fuses"]["FUSE"] | {"supply": "ac", "voltage_max": 250})
    assert wrong.search().status == "impossible"
    assert bare.also("fuses", "RIGHT", BATTERY_WORLD.tables["fuses"]["FUSE"]).search().status == "optimal"


@pytest.mark.parametrize(
    ("world", "code"), [(BATTERY_WORLD, "DRIVER"), (TUBE_WORLD, "BALLAST")], ids=["battery", "ballast"]
)
def test_isolation_is_of_drivers_of_strings_on_the_mains_alone(world: World, code: str) -> None:
    with pytest.raises(InputError) as error:
        world.but("drivers", code, isolated="yes").catalogue  # noqa: B018 - reading is what is tried
    assert "isolated" in str(error.value.faults[0])
