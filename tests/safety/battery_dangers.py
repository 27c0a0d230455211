"""Dangers of batteries: current, depth, cold, voltage, flight."""

from dataclasses import replace

from dangers import EXTRA_LOW, FLIGHT, LIGHT_ON_BATTERY, MAKER, Danger, Told, figure, on_battery
from judge import Found, of
from worlds import BATTERY_WORLD, Row

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

TOO_DEEP: Told = (("runtime",), "the battery is discharged deeper than it may be")


def _emptied(figures: Found, row: Row) -> float:
    """Return for how much longer than asked the battery lasts, as a factor."""
    return of(figures, "runtime") / 3.0


BATTERIES = [
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
        *TOO_DEEP,
        **on_battery(),
        like="PACK",
        column="usable",
        edge=lambda figures, row: 0.5 / _emptied(figures, row),
        cells={"chemistry": "lead-acid", "usable": 0.5},
    ),
    Danger(
        "lead-acid below its cut-off at a high current",
        "Peukert (1897)",
        *TOO_DEEP,
        **on_battery(),
        like="PACK",
        column="capacity",
        edge=lambda figures, row: 20.0 * _emptied(figures, row) ** (-1.0 / 1.3),
        cells={"chemistry": "lead-acid", "usable": 0.5, "peukert": 1.3},
    ),
    Danger(
        "battery emptied by the cold",
        "a maker's table of capacity, −16 % at 0 °C (seen second-hand)",
        *TOO_DEEP,
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
    *(
        Danger(
            f"lithium above {most} Wh in the air",
            FLIGHT,
            ("batteries that may fly", "watt-hours of a battery"),
            "the battery holds too much energy to fly",
            **on_battery(world=world),
            like="PACK",
            column="capacity",
            edge=most / 12.5,
            more_is_worse=True,
            cells={"chemistry": chemistry, "voltage": 12.5},
        )
        for most, chemistry, world in ((100, "li-ion", AIR), (160, "lifepo4", APPROVED))
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
