"""Dangers of drivers and of the strings on them."""

import math
from dataclasses import replace

from dangers import EXTRA_LOW, LIGHT_ON_BATTERY, MAKER, Danger, Told, of_tape, of_tubes, on_battery, on_mains
from judge import of
from worlds import BATTERY_WORLD

from optimise.model.choice import ChannelChoice

FROST = BATTERY_WORLD.asking("power", ambient="-20 degC")
DAMP = BATTERY_WORLD.but("drivers", "DRIVER", output_max=30).asking("safety", string_voltage="30 V")

DAMP_SOURCE = "IEC 60598-1:2008, 8.2.3: 30 V dc where it is damp (seen second-hand), as the scenario sets it"
POWER: Told = (("{bait}: output power",), "the string takes more power than the driver gives")
CURRENT: Told = (("emitter current, high",), "the emitter's current is above the most that it bears")
INPUT_HIGH: Told = (("{bait}: input, high",), "the supply is above the driver's input")

DRIVERS = [
    *(
        Danger(
            name,
            MAKER,
            ("{bait}: output, high",),
            "the string is above the driver's output",
            **light,
            like="DRIVER",
            column="output_max",
            # Two of 12.5 V at the top of the maker's spread, 0.01 V more for each kelvin below 25 °C.
            edge=2 * volts,
        )
        for name, light, volts in (
            ("string above the driver's output", on_battery(), 12.55),
            ("string above the driver's output at a cold start", on_battery(world=FROST), 12.95),
        )
    ),
    *(
        Danger(
            name,
            source,
            ("{bait}: touchable voltage",),
            "a loose string can be touched at more than extra-low voltage",
            **light,
            like="DRIVER",
            column="output_max",
            edge=volts,
            more_is_worse=True,
        )
        for name, source, light, volts in (
            ("driver above extra-low voltage with its string unplugged", EXTRA_LOW, on_battery(), 60.0),
            ("driver of the mains above extra-low voltage with its string unplugged", EXTRA_LOW, on_mains(), 60.0),
            ("driver above the limit for the damp", DAMP_SOURCE, on_battery(world=DAMP), 30.0),
            ("strip on more than extra-low voltage", EXTRA_LOW, of_tape(), 60.0),
        )
    ),
    Danger(
        "driver over its power",
        MAKER,
        *POWER,
        **on_battery(),
        like="DRIVER",
        column="power_max",
        edge=2 * 12.5 * 0.5,
    ),
    Danger(
        "driver that gives the LEDs too much current",
        MAKER,
        *CURRENT,
        **on_battery(),
        like="DRIVER",
        column="output_current",
        edge=0.5,
        more_is_worse=True,
        choice_beyond=replace(LIGHT_ON_BATTERY, channels=(ChannelChoice("DRIVER", 2, 1, 0.505, 1),)),
    ),
    Danger(
        "LEDs that bear less than the driver gives",
        MAKER,
        *CURRENT,
        **on_battery(),
        like="LED",
        column="current_max",
        edge=0.5,
        cells={"current": 0.4, "current_min": 0.3, "current_max": 0.5},
    ),
    Danger(
        "strip over the current of its supply",
        MAKER,
        ("{bait}: output current",),
        "the strings take more current than the driver gives",
        **of_tape(),
        like="DRIVER",
        column="output_current",
        edge=0.5,
    ),
    Danger(
        "strip over the power of its supply",
        MAKER,
        *POWER,
        **of_tape(),
        like="DRIVER",
        column="power_max",
        edge=6.0,
    ),
    Danger(
        "strip on a driver of constant current",
        MAKER,
        ("{bait}: made for these emitters",),
        "the driver is not for these emitters",
        **of_tape(),
        like="DRIVER",
        column="output",
        at="constant voltage",
        beyond=("constant current",),
        cells={"output_current": 0.5},
    ),
    Danger(
        "lamp too strong for its ballast",
        MAKER,
        ("{bait}: lamp power at most",),
        "the lamp is not that of the ballast",
        **of_tubes(),
        like="BALLAST",
        column="lamp_power",
        edge=18.0,
    ),
    Danger(
        "lamp too weak for its ballast",
        MAKER,
        ("{bait}: lamp power",),
        "the lamp is not that of the ballast",
        **of_tubes(),
        like="BALLAST",
        column="lamp_power",
        edge=18.0,
        more_is_worse=True,
    ),
    Danger(
        "driver below the full battery's voltage",
        MAKER,
        *INPUT_HIGH,
        **on_battery(),
        like="DRIVER",
        column="input_max",
        edge=14.4,
    ),
    Danger(
        "driver above the empty battery's voltage",
        MAKER,
        ("{bait}: input, low",),
        "the supply falls below the driver's input",
        **on_battery(),
        like="DRIVER",
        column="input_min",
        edge=lambda figures, row: 10.8 - of(figures, "voltage_drop"),
        more_is_worse=True,
    ),
    Danger(
        "driver of another mains voltage",
        MAKER,
        *INPUT_HIGH,
        **on_mains(),
        like="DRIVER",
        column="input_max",
        edge=230.0,
    ),
    Danger(
        "driver of a battery on the mains",
        MAKER,
        ("{bait}: made for this supply",),
        "the driver is not for this supply",
        **on_mains(),
        like="DRIVER",
        column="input",
        at="ac",
        beyond=("dc",),
    ),
    Danger(
        "strings that are not separated from the mains",
        "IEC 61140, class III; IEC 61558-1, 3.7.16 (seen second-hand)",
        ("{bait}: isolated from the mains",),
        "the strings are not separated from the mains",
        **on_mains(),
        like="DRIVER",
        column="isolated",
        at="yes",
        beyond=("no",),
    ),
    Danger(
        "light that flickers",
        "the scenario's limit; of a sine's depth one shutter opening leaves sin(π f T) / (π f T) (by integration)",
        ("{bait}: flicker",),
        "the light flickers more than is allowed",
        **on_battery(world=BATTERY_WORLD.asking("look", flicker_max="0.05", shutter="1/48 s")),
        like="DRIVER",
        column="ripple",
        # m s = (2^x − 1) / (2^x + 1), s = |sin(π f T) / (π f T)| with f T = 100 / 48.
        edge=(2**0.05 - 1) / (2**0.05 + 1) * (math.pi * 100 / 48) / abs(math.sin(math.pi * 100 / 48)),
        more_is_worse=True,
        cells={"ripple_frequency": 100},
    ),
]
