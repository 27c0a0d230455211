"""Dangers of the lead: cable, fuse and connector, earth and circuit."""

import math
from typing import Any

from dangers import (
    CONTINUOUS,
    COORDINATION,
    DERATING,
    DROP,
    EARTHED,
    MAKER,
    Danger,
    Told,
    figure,
    on_battery,
    on_mains,
)
from judge import Found, of
from worlds import BATTERY_WORLD, MAINS_WORLD

THIN = BATTERY_WORLD.but("cables", "FLEX", rating=6)
THIN_ON_MAINS = MAINS_WORLD.but("cables", "FLEX", rating=6)
HOT = BATTERY_WORLD.asking("power", ambient="50 degC").asking("safety", touch_temperature="70 degC")
BIG_PLUG_FUSE = MAINS_WORLD.but("fuses", "FUSE", rating=13)
METAL = MAINS_WORLD.but("panels", "BOARD", metal="yes")

ABOVE_CABLE: Told = (("fuse protects the cable",), "the fuse is above what the cable carries")
ABOVE_CONNECTOR: Told = (("fuse protects the connector",), "the fuse is above what the connector carries")
NO_EARTH: Told = (("cores of the lead (earth)",), "metal on the mains has no earth")


def below_voltage(light: dict[str, Any], whose: str, volts: float) -> list[Danger]:
    """Return the dangers of a lead, each part of which may bear less than the supply's highest voltage."""
    return [
        Danger(
            f"{what} below {whose}",
            MAKER,
            (f"{what} voltage",),
            f"the voltage is above that of the {what}",
            **light,
            like=like,
            column="voltage_max",
            edge=volts,
        )
        for what, like in (("fuse", "FUSE"), ("cable", "FLEX"), ("connector", "PLUG"))
    ]


def of_another_supply(light: dict[str, Any], how: str, right: str, wrong: str, **cells: Any) -> list[Danger]:
    """Return the dangers of what is made for one kind of current and used on the other."""
    return [
        Danger(
            f"{what} {how}",
            MAKER,
            (f"{what} made for this supply",),
            f"the {what} is not for {right}",
            **light,
            like=like,
            column="supply",
            at=right,
            beyond=(wrong,),
            cells=cells,
        )
        for what, like in (("fuse", "FUSE"), ("connector", "PLUG"))
    ]


def _at_light(figures: Found) -> float:
    return 10.8 - of(figures, "voltage_drop")


LEAD = [
    Danger(
        "fuse above the cable's rating",
        COORDINATION,
        *ABOVE_CABLE,
        **on_battery(world=THIN),
        like="FUSE",
        column="rating",
        edge=6.0,
        more_is_worse=True,
    ),
    Danger(
        "lead too thin for its fuse",
        COORDINATION,
        *ABOVE_CABLE,
        **on_battery(),
        like="FLEX",
        column="rating",
        edge=5.0,
        cells={"area": 0.5},
    ),
    Danger(
        "lead too thin in hot air",
        DERATING,
        *ABOVE_CABLE,
        **on_battery(world=HOT),
        like="FLEX",
        column="rating",
        # At 50 °C the table has 0.58 for cords of 60 °C; the heat balance that it follows √(10 / 30).
        edge=5.0 / math.sqrt(10.0 / 30.0),
    ),
    Danger(
        "connector below its fuse",
        COORDINATION,
        *ABOVE_CONNECTOR,
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
    *below_voltage(on_battery(), "the battery's voltage", 14.4),
    *of_another_supply(on_battery(), "of the mains on a battery", "dc", "ac", voltage_max=250),
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
        *ABOVE_CABLE,
        **on_mains(world=THIN_ON_MAINS),
        like="FUSE",
        column="rating",
        edge=6.0,
        more_is_worse=True,
    ),
    Danger(
        "thin flex behind a plug fuse of 13 A",
        "BS 7671 Table 4F3A: 0.5 mm² carries 3 A, 0.75 mm² 6 A, 1 mm² 10 A, 1.25 mm² 13 A (seen second-hand)",
        *ABOVE_CABLE,
        **on_mains(world=BIG_PLUG_FUSE),
        like="FLEX",
        column="rating",
        at=13,
        beyond=(3, 6, 10, 12.87),
    ),
    Danger(
        "plug below its fuse",
        COORDINATION,
        *ABOVE_CONNECTOR,
        **on_mains(),
        like="PLUG",
        column="rating",
        edge=3.0,
    ),
    *below_voltage(on_mains(), "the mains' voltage", 230.0),
    *of_another_supply(on_mains(), "of a battery on the mains", "ac", "dc"),
    Danger(
        "metal on the mains without earth: two cores",
        EARTHED,
        *NO_EARTH,
        **on_mains(world=METAL),
        like="FLEX",
        column="cores",
        at=3,
        beyond=(2,),
    ),
    Danger(
        "metal on the mains without earth: a metal board",
        EARTHED,
        *NO_EARTH,
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
        **on_mains(world=METAL),
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
