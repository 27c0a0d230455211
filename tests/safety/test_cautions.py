"""What no calculation can make safe is told: every build calls for its cautions, and for no others.

The rules are those of the trade (common practice, no source) unless a source stands beside them.
"""

from dataclasses import replace

import pytest
from dangers import LIGHT_ON_BATTERY, LIGHT_ON_MAINS, TUBES
from worlds import BATTERY_WORLD, MAINS_WORLD, MOUNT, TUBE_WORLD, World

from optimise.model.choice import Choice
from optimise.model.exact import evaluate
from optimise.model.market import build_market
from optimise.report.words import cautions_for

LITHIUM = BATTERY_WORLD.but("batteries", "PACK", chemistry="li-ion")
FROST = LITHIUM.but("batteries", "PACK", temperature_min=None).asking("power", ambient="-1 degC")
LEAD = BATTERY_WORLD.but("batteries", "PACK", chemistry="lead-acid", parallel_max=2, series_max=2)
METAL = MAINS_WORLD.but("panels", "BOARD", metal="yes")
PLAIN = BATTERY_WORLD.but("panels", "BOARD", heat_density_max=None)
HOT = BATTERY_WORLD.but("panels", "BOARD", thermal_resistance=4)
HUNG = BATTERY_WORLD.also("mounts", "MOUNT", MOUNT)
OPEN = replace(LIGHT_ON_BATTERY, diffuser=None)
PAIR = replace(LIGHT_ON_BATTERY, battery_parallel=2)
ROW = replace(LIGHT_ON_BATTERY, battery_series=2)

TOLD = [
    ("a battery", BATTERY_WORLD, LIGHT_ON_BATTERY, ["fuse at the battery", "short-circuit current"]),
    (
        "lithium",
        LITHIUM,
        LIGHT_ON_BATTERY,
        ["never build, open or repair", "own charger", "above freezing"],
    ),
    ("lithium in the frost", FROST, LIGHT_ON_BATTERY, ["not be charged below freezing"]),
    ("lead-acid", LEAD, LIGHT_ON_BATTERY, ["cut-off voltage", "acid burns"]),
    ("batteries in parallel", LEAD, PAIR, ["equal make", "a fuse for each parallel branch"]),
    ("batteries in series", LEAD, ROW, ["equal make"]),
    ("a flight", BATTERY_WORLD.asking("travel", mode="air"), LIGHT_ON_BATTERY, ["in the cabin", "The airline decides"]),
    ("mains", MAINS_WORLD, LIGHT_ON_MAINS, ["isolate", "residual-current device", "licensed", "local codes"]),
    ("metal on mains", METAL, LIGHT_ON_MAINS, ["protective earth", "test the bond"]),
    ("mains without metal", MAINS_WORLD, LIGHT_ON_MAINS, ["not double-insulated"]),
    ("tubes", TUBE_WORLD, TUBES, ["mercury", "dangerous voltage", "cover every holder"]),
    ("a board that is no heat sink", PLAIN, LIGHT_ON_BATTERY, ["Fire", "hot spots"]),
    ("a hot board", HOT, LIGHT_ON_BATTERY, ["Heat:"]),
    ("a mount", HUNG, replace(LIGHT_ON_BATTERY, mount="MOUNT"), ["safety bond", "keep people clear"]),
    ("bare emitters", BATTERY_WORLD, OPEN, ["do not look into the source"]),
    ("a higher voltage", BATTERY_WORLD.asking("safety", string_voltage="61 V"), LIGHT_ON_BATTERY, ["can kill"]),
    ("a hotter touch", BATTERY_WORLD.asking("safety", touch_temperature="61 degC"), LIGHT_ON_BATTERY, ["can burn"]),
    ("a longer drop", BATTERY_WORLD.asking("safety", voltage_drop="3.1 %"), LIGHT_ON_BATTERY, ["drop out"]),
    ("a tighter fuse", BATTERY_WORLD.asking("safety", continuous_factor="1.2"), LIGHT_ON_BATTERY, ["run hot and open"]),
]
"""What is built, and words that must be said."""


def cautions(world: World, choice: Choice) -> str:
    evaluation = evaluate(choice, world.catalogue, world.scenario)
    return "\n".join(cautions_for(evaluation, build_market(world.catalogue, world.scenario)))


@pytest.mark.parametrize(("what", "world", "choice", "words"), TOLD, ids=[told[0] for told in TOLD])
def test_a_build_calls_for_its_cautions(what: str, world: World, choice: Choice, words: list[str]) -> None:
    told = cautions(world, choice)
    assert [word for word in words if word not in told] == []
    assert "not a test report" in told


@pytest.mark.parametrize(
    ("world", "choice", "words"),
    [
        (
            BATTERY_WORLD,
            LIGHT_ON_BATTERY,
            ["residual", "earth", "Lithium", "Lead-acid", "Several", "Cold"],
        ),
        (BATTERY_WORLD, LIGHT_ON_BATTERY, ["Air", "Fire", "Heat:", "Height", "Tubes", "You raised", "You lowered"]),
        (MAINS_WORLD, LIGHT_ON_MAINS, ["Battery", "bond every", "Tubes"]),
    ],
    ids=["battery", "battery, no more", "mains"],
)
def test_and_for_no_others(world: World, choice: Choice, words: list[str]) -> None:
    told = cautions(world, choice)
    assert [word for word in words if word in told] == []
