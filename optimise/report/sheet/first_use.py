"""The test plan before first use: what is measured, what is to be read, and how far off it may be."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimise.physics.leads import conductor_resistance
from optimise.report.lamp import Lamp
from optimise.report.sheet.field import Spot
from optimise.report.sheet.light import lux_at
from optimise.report.sheet.wiring import Circuit, gathered_feeds
from optimise.report.terminal import number

ROOM = 20.0
"""°C of the room in which it is first tried."""

LOOSE = 0.1
"""Share by which a reading may be off where the catalogue states no tolerance (common practice, no source)."""

METER = 0.05
"""What an illuminance meter itself may be off (common practice, no source)."""


@dataclass(frozen=True)
class Test:
    """One line of the plan."""

    key: str
    name: str
    how: str
    expected: str
    unit: str
    """Of what is filled in; empty where it is only ticked."""
    called: str = ""
    """What the job calls the place, as users write it."""


Row = tuple[str, str, str, str] | tuple[str, str, str, str, str]


def plan_of(lamp: Lamp, circuit: Circuit, spots: Sequence[Spot]) -> list[Test]:
    """Return the tests in the order in which they are made: nothing is switched on before the cold ones hold.

    spots: the places of the job with targets of their own, with the light on each in its air.
    """
    rows: list[Row] = [*_cold(lamp, circuit), *_warm(lamp, circuit), *_at_spots(lamp, spots), *_last(lamp)]
    return [Test(f"test-{lamp.key}-{place}", *row) for place, row in enumerate(rows, 1)]


def _cold(lamp: Lamp, circuit: Circuit) -> Iterator[tuple[str, str, str, str]]:
    live, back = circuit.poles
    length = lamp.scenario.power.lead_length
    one = length * float(conductor_resistance(lamp.build.cable.ohms_per_metre, ROOM))
    yield (
        "Continuity of the lead",
        "Source off and unplugged. Ohmmeter from end to end, each conductor by itself.",
        f"{number(one, 'Ω')} or a little more (up to 0.2 Ω for the meter's own leads)",
        "Ω",
    )
    yield (
        "No short circuit",
        f"Drivers not yet connected. Ohmmeter between {live} and {back} at terminals T1.",
        "more than 1 MΩ",
        "MΩ",
    )
    if circuit.mains:
        if circuit.earth or lamp.build.panel.metal:
            yield (
                "Protective earth",
                "From the plug's earth pin to every metal part that can be touched; with at least 10 A if you can.",
                "0.5 Ω or less (IEC 60598-1, 7.2.3, from memory)",
                "Ω",
            )
        yield (
            "Insulation",
            "Insulation tester, 500 V: live and neutral joined, against every metal part that can be touched.",
            "more than 1 MΩ for class I, 2 MΩ for class II (IEC 60364-6 and IEC 60598-1, from memory)",
            "MΩ",
        )
    elif lamp.build.panel.metal:
        yield (
            "Insulation from the board",
            f"Ohmmeter from {live} and from {back} at T1, and from every string, to the bare metal of the board.",
            "more than 1 MΩ",
            "MΩ",
        )
    lead = circuit.lead
    if circuit.mains:
        yield (
            "Polarity",
            "Fuse and any switch are in the live conductor; live goes to L at every driver. By continuity, unplugged.",
            "as in the diagram",
            "",
        )
    else:
        yield (
            "Polarity and voltage",
            "Battery connected, drivers not yet: voltmeter at T1, red to +.",
            f"+{number(lead.lowest, 'V')} to +{number(lead.highest, 'V')}, with its sign",
            "V",
        )


def _off(tolerance: float | None, least: float) -> float:
    """Return by how much a figure may be off, a share: what is not stated is loose."""
    return LOOSE if tolerance is None else max(tolerance, least)


def _warm(lamp: Lamp, circuit: Circuit) -> Iterator[tuple[str, str, str, str]]:
    lead = circuit.lead
    off = max(_off(kind.voltage_tolerance, 0.05) for kind in lamp.build.kinds)
    low, high = lead.nominal_current * (1.0 - off), lead.nominal_current * (1.0 + off)
    at = f"at {number(lead.nominal, 'V')}"
    full = "" if circuit.mains else f"; up to {number(lead.current, 'A')} when it is nearly empty"
    yield (
        "Current at first power",
        "Full light, ammeter or clamp in the live conductor. Switch off at once if it is far off, smells or flickers.",
        f"{number(low, 'A')} to {number(high, 'A')} {at}{full}",
        "A",
    )
    for feed in gathered_feeds(circuit):
        if feed.lamps:
            yield (f"Lamps of {feed.mark}", "All lamps light, evenly, without their ends glowing.", "all of them", "")
            continue
        total = number(feed.amps * feed.parallel, "A")
        each = "" if feed.parallel == 1 else f", {number(feed.amps, 'A')} ± 20 % in each of {feed.parallel} strings"
        yield (
            f"Output of {feed.mark}",
            "Voltmeter across the output under load; clamp meter round its + wire.",
            f"{number(feed.low, 'V')} to {number(feed.high, 'V')}; {total} ± 10 %{each}",
            "V",
        )
    room = lamp.at(ROOM).state
    yield (
        "Temperature after 30 minutes",
        f"Full light, still air of {ROOM:g} °C, thermometer on the board beside the emitter in the middle.",
        f"{number(room.board, 'degC')} once it is steady ({room.board - ROOM:.0f} K above the air); "
        f"stop at {number(lamp.scenario.safety.touch_temperature, 'degC')}",
        "°C",
    )
    light = lamp.scenario.light
    yield (
        f"Light at {number(light.distance, 'm')}",
        "After those 30 minutes, dark room: meter flat, facing the light, straight ahead of its middle.",
        _lux_to_read(lux_at(lamp.at(ROOM), light.distance), lamp),
        "lx",
    )


def _lux_to_read(lux: float, lamp: Lamp) -> str:
    off = max(_off(kind.flux_tolerance, 0.0) for kind in lamp.build.kinds) + METER
    low, high = lux * (1.0 - off), lux * (1.0 + off)
    return f"{number(low, 'lx')} to {number(high, 'lx')} ({number(lux, 'lx')} ± {100.0 * off:.0f} %)"


def _at_spots(lamp: Lamp, spots: Sequence[Spot]) -> Iterator[Row]:
    # All spots lose the same share of their light in warmer air.
    share = lamp.at(ROOM).state.flux / lamp.state.flux
    for spot in spots:
        lux = share * spot.lux
        limits = (("at least", spot.least), ("at most", spot.most))
        asked = [f"{word} {number(limit, 'lx')}" for word, limit in limits if limit is not None]
        told = _lux_to_read(lux, lamp) if lux > 0.0 else "none of its light: the face is turned away"
        yield (
            f"Light at {spot.mark}",
            f"Still warm, dark room: meter {_where(spot)}, {spot.face}, as seen facing the light.",
            f"{told}; the job asks for {' and '.join(asked)}" if asked else told,
            "lx",
            spot.name,
        )


def _where(spot: Spot) -> str:
    """Return where a spot is, as one walks there from the light."""
    found = [f"{number(spot.distance, 'm')} before the front of the light"]
    for value, plus, minus in (
        (spot.across, "to the right of", "to the left of"),
        (spot.up, "above", "below"),
    ):
        if value:
            found.append(f"{number(abs(value), 'm')} {plus if value > 0.0 else minus} its axis")
    return ", ".join(found)


def _last(lamp: Lamp) -> Iterator[tuple[str, str, str, str]]:
    seconds, battery = lamp.at(ROOM).state.runtime, lamp.build.battery
    if seconds is not None and battery is not None:
        hours, share = seconds / 3600.0, f"{100.0 * battery.usable:.0f} %"
        # Lithium packs end a run by themselves; of the others, to go on is to spoil them.
        guarded = battery.chemistry in {"li-ion", "lifepo4"} and battery.usable < 1.0
        whole = f", {number(hours / battery.usable, 'h')} until its protection ends it" if guarded else ""
        yield (
            "First full run",
            f"From full, watched, in air of {ROOM:g} °C, until {share} of the charge is used.",
            f"{number(0.9 * hours, 'h')} or more ({number(hours, 'h')} expected{whole})",
            "h",
        )
