"""Dangers of the head: heat, weather, mount."""

from dataclasses import replace

from dangers import (
    COMMON,
    ENCLOSED,
    LIGHT_ON_BATTERY,
    MAKER,
    Danger,
    Told,
    figure,
    of_tubes,
    on_battery,
)
from judge import of
from worlds import BATTERY_WORLD, MOUNT

WARM = BATTERY_WORLD.but("panels", "BOARD", thermal_resistance=4)
FINE = BATTERY_WORLD.but("emitters", "LED", current=0.4, current_max=0.5, current_min=0.3, dynamic_resistance=2)

TOUCHED: Told = (("touch temperature",), "the board burns who touches it")
HOT_CASE: Told = (("case temperature",), "the emitter's case is hotter than it bears")
HOT_SPOT: Told = (("heat under one emitter",), "the spot under an emitter is hotter than the board bears")
NOT_FOR_WEATHER: Told = (
    ("ingress protection, solids", "ingress protection, water"),
    "a part is not made for this weather",
)

HEAT = [
    Danger(
        "board too hot to touch",
        "60 °C: " + COMMON,
        *TOUCHED,
        **on_battery(),
        like="BOARD",
        column="thermal_resistance",
        edge=lambda figures, row: 40.0 / of(figures, "heat"),
        more_is_worse=True,
    ),
    Danger(
        "LEDs that make the board too hot to touch",
        "60 °C: " + COMMON,
        *TOUCHED,
        **on_battery(world=WARM),
        like="LED",
        column="heat_fraction",
        # 40 K over 4 K/W are 10 W, of 12 W.
        edge=10.0 / 12.0,
        more_is_worse=True,
    ),
    Danger(
        "board above its own temperature",
        MAKER,
        ("panel temperature",),
        "the board is hotter than it bears",
        **on_battery(),
        like="BOARD",
        column="temperature_max",
        edge=figure("board_temperature"),
        # By convection and radiation, as the model works it out.
        cells={"thermal_resistance": None},
    ),
    Danger(
        "emitter above its case temperature",
        MAKER,
        *HOT_CASE,
        **on_battery(),
        like="LED",
        column="case_max",
        edge=figure("board_temperature"),
    ),
    Danger(
        "tube above its case temperature",
        MAKER,
        *HOT_CASE,
        **of_tubes(),
        like="TUBE",
        column="case_max",
        edge=figure("board_temperature"),
    ),
    Danger(
        "hot spot on a board that spreads no heat",
        MAKER,
        *HOT_SPOT,
        **on_battery(),
        like="BOARD",
        column="heat_density_max",
        # 6 W, of which 60 % are heat, on 10 cm × 2 cm.
        edge=6.0 * 0.6 / 20.0,
    ),
    Danger(
        "hot spot under emitters above their rated current",
        MAKER,
        *HOT_SPOT,
        **on_battery(world=FINE),
        like="BOARD",
        column="heat_density_max",
        # Rated 0.4 A at 12 V, run at 0.5 A and 12.2 V.
        edge=0.5 * 12.2 * 0.6 / 20.0,
    ),
]

WET = BATTERY_WORLD.asking("limits", ip="IP44")
BARE = WET.asking("look", diffused=None).without("diffusers")
CARRIED = BATTERY_WORLD.also("mounts", "MOUNT", MOUNT).asking("limits", mount=None)
TOO_LITTLE = ("IP43", "IP34", "IPX4", "IP4X", None)

HOUSING = [
    *(
        Danger(
            f"{what} not made for the weather",
            ENCLOSED,
            *NOT_FOR_WEATHER,
            **on_battery(world=WET),
            like=like,
            column="ip",
            at="IP44",
            beyond=TOO_LITTLE,
        )
        for what, like in (("board", "BOARD"), ("driver", "DRIVER"), ("battery", "PACK"))
    ),
    Danger(
        "bare emitters not made for the weather",
        ENCLOSED,
        *NOT_FOR_WEATHER,
        **on_battery(world=BARE, choice=replace(LIGHT_ON_BATTERY, diffuser=None)),
        like="LED",
        column="ip",
        at="IP44",
        beyond=TOO_LITTLE,
    ),
    Danger(
        "mount below the head's mass",
        MAKER,
        ("mount load",),
        "the mount does not carry the head",
        **on_battery(world=CARRIED, choice=replace(LIGHT_ON_BATTERY, mount="MOUNT")),
        like="MOUNT",
        column="load",
        edge=figure("head_mass"),
    ),
]
