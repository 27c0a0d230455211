"""Dangers of lead, fuse, plug, battery and mains."""

import math
from dataclasses import replace

from dangers import (
    CONTINUOUS,
    COORDINATION,
    DERATING,
    DROP,
    EARTHED,
    EXTRA_LOW,
    FLIGHT,
    LIGHT_ON_BATTERY,
    MAKER,
    Danger,
    figure,
    on_battery,
    on_mains,
)
from judge import Found, of
from worlds import BATTERY_WORLD, MAINS_WORLD, Row

THIN = BATTERY_WORLD.but("cables", "FLEX", rating=6)
THIN_ON_MAINS = MAINS_WORLD.but("cables", "FLEX", rating=6)
HOT = BATTERY_WORLD.asking("power", ambient="50 degC").asking("safety", touch_temperature="70 degC")
BIG_PLUG_FUSE = MAINS_WORLD.but("fuses", "FUSE", rating=13)

LEAD = [
    Danger(
        "fuse above the cable's rating",
        COORDINATION,
        ("fuse protects the cable",),
        "the fuse is above what the cable carries",
        **on_battery(world=THIN),
        like="FUSE",
        column="rating",
        edge=6.0,
        more_is_worse=True,
    ),
    Danger(
        "lead too thin for its fuse",
        COORDINATION,
        ("fuse protects the cable",),
        "the fuse is above what the cable carries",
        **on_battery(),
        like="FLEX",
        column="rating",
        edge=5.0,
        cells={"area": 0.5},
    ),
    Danger(
        "lead too thin in hot air",
        DERATING,
        ("fuse protects the cable",),
        "the fuse is above what the cable carries",
        **on_battery(world=HOT),
        like="FLEX",
        column="rating",
        # At 50 °C the table has 0.58 for cords of 60 °C; the heat balance that it follows √(10 / 30).
        edge=5.0 / math.sqrt(10.0 / 30.0),
    ),
    Danger(
        "connector below its fuse",
        COORDINATION,
        ("fuse protects the connector",),
        "the fuse is above what the connector carries",
        **on_battery(),
        like="PLUG",
        column="rating",
        edge=5.0,
    ),
    Danger(
        "fuse too small for hours of load",
        CONTINUOUS,
        ("fuse carries the load",),
        "the load is above what the fuse carries for hours",
        **on_battery(),
        like="FUSE",
        column="rating",
        edge=figure("current", 1.25),
    ),
    *(
        Danger(
            f"{what} below the battery's voltage",
            MAKER,
            (f"{what} voltage",),
            f"the voltage is above that of the {what}",
            **on_battery(),
            like=like,
            column="voltage_max",
            edge=14.4,
        )
        for what, like in (
            ("fuse", "FUSE"),
            ("cable", "FLEX"),
            ("connector", "PLUG"),
        )
    ),
    *(
        Danger(
            f"{what} of the mains on a battery",
            MAKER,
            (f"{what} made for this supply",),
            f"the {what} is not for dc",
            **on_battery(),
            like=like,
            column="supply",
            at="dc",
            beyond=("ac",),
            cells={"voltage_max": 250},
        )
        for what, like in (("fuse", "FUSE"), ("connector", "PLUG"))
    ),
    Danger(
        "lead that drops too much",
        DROP,
        ("voltage drop",),
        "the lead drops too much",
        **on_battery(),
        like="FLEX",
        column="resistance",
        # 3 % of 12 V at the battery's lowest voltage: what is left of it drives the drivers' power, P = (V − D) I.
        edge=lambda figures, row: (
            1e3 * 0.36 / (of(figures, "current") * _at_light(figures) / (10.8 - 0.36)) / (4 * 1.1572)
        ),
        more_is_worse=True,
        cells={"resistance": 13.3},
        loses=True,
    ),
    Danger(
        "plug fuse too large for the flex",
        COORDINATION,
        ("fuse protects the cable",),
        "the fuse is above what the cable carries",
        **on_mains(world=THIN_ON_MAINS),
        like="FUSE",
        column="rating",
        edge=6.0,
        more_is_worse=True,
    ),
    Danger(
        "thin flex behind a plug fuse of 13 A",
        "BS 7671 Table 4F3A: 0.5 mm² carries 3 A, 0.75 mm² 6 A, 1 mm² 10 A, 1.25 mm² 13 A (seen second-hand)",
        ("fuse protects the cable",),
        "the fuse is above what the cable carries",
        **on_mains(world=BIG_PLUG_FUSE),
        like="FLEX",
        column="rating",
        at=13,
        beyond=(3, 6, 10, 12.87),
    ),
    Danger(
        "plug below its fuse",
        COORDINATION,
        ("fuse protects the connector",),
        "the fuse is above what the connector carries",
        **on_mains(),
        like="PLUG",
        column="rating",
        edge=3.0,
    ),
    *(
        Danger(
            f"{what} below the mains' voltage",
            MAKER,
            (f"{what} voltage",),
            f"the voltage is above that of the {what}",
            **on_mains(),
            like=like,
            column="voltage_max",
            edge=230.0,
        )
        for what, like in (
            ("fuse", "FUSE"),
            ("cable", "FLEX"),
            ("connector", "PLUG"),
        )
    ),
    *(
        Danger(
            f"{what} of a battery on the mains",
            MAKER,
            (f"{what} made for this supply",),
            f"the {what} is not for ac",
            **on_mains(),
            like=like,
            column="supply",
            at="ac",
            beyond=("dc",),
        )
        for what, like in (("fuse", "FUSE"), ("connector", "PLUG"))
    ),
    Danger(
        "metal on the mains without earth: two cores",
        EARTHED,
        ("cores of the lead (earth)",),
        "metal on the mains has no earth",
        **on_mains(world=MAINS_WORLD.but("panels", "BOARD", metal="yes")),
        like="FLEX",
        column="cores",
        at=3,
        beyond=(2,),
    ),
    Danger(
        "metal on the mains without earth: a metal board",
        EARTHED,
        ("cores of the lead (earth)",),
        "metal on the mains has no earth",
        **on_mains(world=MAINS_WORLD.but("cables", "FLEX", cores=2)),
        like="BOARD",
        column="metal",
        at="no",
        beyond=("yes",),
    ),
    Danger(
        "metal on the mains without earth: a plug of two poles",
        EARTHED,
        ("connector with earth",),
        "metal on the mains has no earth",
        **on_mains(world=MAINS_WORLD.but("panels", "BOARD", metal="yes")),
        like="PLUG",
        column="earth",
        at="yes",
        beyond=("no",),
    ),
    Danger(
        "load above the circuit",
        CONTINUOUS,
        ("mains circuit",),
        "the load is above what the circuit carries for hours",
        **on_mains(world=MAINS_WORLD.asking("power", circuit="0.1 A")),
        like="DRIVER",
        column="power_factor",
        # A bad power factor: 12 W for the LEDs, and the volt-amperes that 0.1 A / 1.25 leave behind the lead.
        edge=lambda figures, row: 12.0 / (230.0 * 0.08 - 4 * 13.3e-3 * (1 + 0.00393 * 40) * 0.08**2),
    ),
]


def _at_light(figures: Found) -> float:
    return 10.8 - of(figures, "voltage_drop")


SMALL = BATTERY_WORLD.but("batteries", "PACK", capacity=3, parallel_max=2)
SIX_VOLTS = BATTERY_WORLD.but(
    "batteries", "PACK", voltage=6, voltage_min=5.4, voltage_max=7.2, series_max=2, capacity=20
)
COLD = BATTERY_WORLD.asking("power", ambient="-10 degC")
AIR = BATTERY_WORLD.asking("travel", mode="air")
APPROVED = AIR.asking("travel", approval=True)
LONG = APPROVED.asking("power", runtime="16 h").but("batteries", "PACK", parallel_max=2, capacity=13)
TALL = (
    BATTERY_WORLD.but("drivers", "DRIVER", input_max=100)
    .but("fuses", "FUSE", voltage_max=100)
    .but("connectors", "PLUG", voltage_max=100)
)


def _emptied(figures: Found, row: Row) -> float:
    """Return for how much longer than asked the battery lasts, as a factor."""
    return of(figures, "runtime") / 3.0


SOURCE = [
    Danger(
        "battery over its continuous current",
        MAKER,
        ("battery current",),
        "the battery gives more than its continuous current",
        **on_battery(),
        like="PACK",
        column="current_max",
        edge=figure("current"),
    ),
    Danger(
        "more batteries in series than the maker allows",
        MAKER,
        ("batteries in series",),
        "more batteries in series than the maker allows",
        **on_battery(world=SIX_VOLTS, choice=replace(LIGHT_ON_BATTERY, battery_series=2)),
        like="PACK",
        column="series_max",
        at=2,
        beyond=(1, None),
    ),
    Danger(
        "more batteries in parallel than the maker allows",
        MAKER,
        ("batteries in parallel",),
        "more batteries in parallel than the maker allows",
        **on_battery(world=SMALL, choice=replace(LIGHT_ON_BATTERY, battery_parallel=2)),
        like="PACK",
        column="parallel_max",
        at=2,
        beyond=(1, None),
    ),
    Danger(
        "lead-acid discharged too deep",
        "lead-acid kept above 50 % for its life: design convention (from memory)",
        ("runtime",),
        "the battery is discharged deeper than it may be",
        **on_battery(),
        like="PACK",
        column="usable",
        edge=lambda figures, row: 0.5 / _emptied(figures, row),
        cells={"chemistry": "lead-acid", "usable": 0.5},
    ),
    Danger(
        "lead-acid below its cut-off at a high current",
        "Peukert (1897)",
        ("runtime",),
        "the battery is discharged deeper than it may be",
        **on_battery(),
        like="PACK",
        column="capacity",
        edge=lambda figures, row: 20.0 * _emptied(figures, row) ** (-1.0 / 1.3),
        cells={"chemistry": "lead-acid", "usable": 0.5, "peukert": 1.3},
    ),
    Danger(
        "battery emptied by the cold",
        "a maker's table of capacity, −16 % at 0 °C (seen second-hand)",
        ("runtime",),
        "the battery is discharged deeper than it may be",
        **on_battery(world=COLD),
        like="PACK",
        column="capacity_per_kelvin",
        edge=lambda figures, row: (1.0 - (1.0 - 35 * 0.005) / _emptied(figures, row)) / 35,
        more_is_worse=True,
        cells={"capacity": 8},
    ),
    *(
        Danger(
            f"{chemistry} used below {'freezing' if limit == 0 else 'its lowest temperature'}",
            MAKER,
            ("battery in the cold",),
            "the battery is colder than it may be",
            **on_battery(world=BATTERY_WORLD.asking("power", ambient=f"{limit} degC")),
            like="PACK",
            column="temperature_min",
            at=limit,
            beyond=(limit + 0.1, limit + 10),
            cells={"chemistry": chemistry},
        )
        for chemistry, limit in (("li-ion", 0), ("lifepo4", -10))
    ),
    Danger(
        "pack above extra-low voltage",
        EXTRA_LOW,
        ("battery voltage",),
        "the pack is above extra-low voltage",
        **on_battery(world=TALL),
        like="PACK",
        column="voltage_max",
        edge=60.0,
        more_is_worse=True,
        cells={"voltage": 48, "voltage_min": 40, "voltage_max": 55},
    ),
    Danger(
        "lithium above 100 Wh in the air",
        FLIGHT,
        ("batteries that may fly", "watt-hours of a battery"),
        "the battery holds too much energy to fly",
        **on_battery(world=AIR),
        like="PACK",
        column="capacity",
        edge=8.0,
        more_is_worse=True,
        cells={"chemistry": "li-ion", "voltage": 12.5},
    ),
    Danger(
        "lithium above 160 Wh in the air",
        FLIGHT,
        ("batteries that may fly", "watt-hours of a battery"),
        "the battery holds too much energy to fly",
        **on_battery(world=APPROVED),
        like="PACK",
        column="capacity",
        edge=12.8,
        more_is_worse=True,
        cells={"chemistry": "lifepo4", "voltage": 12.5},
    ),
    Danger(
        "three lithium batteries above 100 Wh in the air",
        FLIGHT,
        ("batteries that may fly",),
        "more than two batteries above 100 Wh fly",
        **on_battery(world=LONG, choice=replace(LIGHT_ON_BATTERY, battery_parallel=2)),
        like="PACK",
        column="capacity",
        at=13,
        beyond=(9,),
        cells={"chemistry": "li-ion", "parallel_max": 3, "peukert": 1},
        choice_beyond=replace(LIGHT_ON_BATTERY, battery_parallel=3),
    ),
    Danger(
        "lead-acid above 12 V in the air",
        FLIGHT,
        ("batteries that may fly",),
        "the lead-acid battery may not fly",
        **on_battery(world=AIR),
        like="PACK",
        column="voltage",
        edge=12.0,
        more_is_worse=True,
        cells={"chemistry": "lead-acid", "capacity": 8},
    ),
    Danger(
        "lead-acid above 100 Wh in the air",
        FLIGHT,
        ("batteries that may fly", "watt-hours of a battery"),
        "the lead-acid battery may not fly",
        **on_battery(world=AIR),
        like="PACK",
        column="capacity",
        edge=10.0,
        more_is_worse=True,
        cells={"chemistry": "lead-acid", "voltage": 10, "voltage_min": 9.5},
        loses=True,
    ),
]
