"""The circuit of a light: every wire with its current, every point with its voltage, and the marks of the parts.

Every current is that of a closed loop, so that at each point what comes in goes out.
"""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from optimise.model.build import Lead, Strings
from optimise.parts.conductors import flexible_area
from optimise.physics.leads import load_current
from optimise.report.lamp import Lamp


@dataclass(frozen=True)
class Wire:
    """One wire, or one branch of a part, and the current that goes from its start to its end."""

    start: str
    end: str
    pole: str
    """+, −, L, N, PE, or nothing for what lies inside a part."""
    amps: float
    """At the supply's nominal voltage, full light."""
    area: float | None = None
    """Stated area of the conductor, m²."""
    least: float | None = None
    """Least area, mm², that bears what may flow; None where no common size does, or it does not apply."""
    length: float | None = None
    """m; None where it hangs on how the board is laid out."""


@dataclass(frozen=True)
class Feed:
    """One driver with its strings; `alike` equal ones where they are not drawn one by one."""

    mark: str
    driver: str
    series: int
    parallel: int
    amps_in: float
    volts_out: float | None
    """Of one string at 25 °C; None for lamps on a ballast."""
    low: float
    high: float
    amps: float
    """In one string; 0 for lamps, where it is not stated."""
    alike: int = 1

    @property
    def lamps(self) -> bool:
        """Whether it is a ballast with lamps."""
        return self.volts_out is None


@dataclass(frozen=True)
class Circuit:
    """The whole circuit at the supply's nominal voltage."""

    mains: bool
    lead: Lead
    feeds: tuple[Feed, ...]
    wires: tuple[Wire, ...]
    earth: bool
    packs: int
    """Parallel branches of the battery pack."""
    series: int
    at_light: float
    """Voltage at the light's terminals, nominal, V."""

    @property
    def poles(self) -> tuple[str, str]:
        """What the two conductors of the lead are called."""
        return ("L", "N") if self.mains else ("+", "−")


def circuit_of(lamp: Lamp) -> Circuit:
    """Return the circuit of a light, each of its drivers by itself."""
    lead, build = lamp.state.lead, lamp.build
    current = lead.nominal_current
    at_light = lead.nominal - current * lead.resistance
    feeds = tuple(_feeds(lamp.strings, at_light))
    earth = lamp.mains and build.cable.cores >= 3
    series, packs = (1, 1) if lamp.mains else (build.choice.battery_series, build.choice.battery_parallel)
    wires = tuple(_wires(lamp, feeds, current, packs, earth))
    return Circuit(lamp.mains, lead, feeds, wires, earth, packs, series, at_light)


def _feeds(strings: list[Strings], at_light: float) -> Iterator[Feed]:
    number = 0
    for string in strings:
        channel, driver = string.channel, string.driver
        each_in = string.apparent / channel.number / at_light
        volts: float | None = None
        if channel.current > 0.0 and driver.output != "ballast":
            watts = string.power * driver.efficiency / channel.number
            volts = watts / (channel.parallel * channel.current)
        for _ in range(channel.number):
            number += 1
            yield Feed(
                mark=f"U{number}",
                driver=driver.part,
                series=channel.series,
                parallel=channel.parallel,
                amps_in=each_in,
                volts_out=volts,
                low=string.low,
                high=string.high,
                amps=0.0 if volts is None else channel.current,
            )


def _wires(lamp: Lamp, feeds: tuple[Feed, ...], current: float, packs: int, earth: bool) -> Iterator[Wire]:
    cable, rating = lamp.build.cable, lamp.build.fuse.rating
    length = lamp.scenario.power.lead_length
    live, back = ("L", "N") if lamp.mains else ("+", "−")
    inlet = flexible_area(rating)
    for _ in range(packs):
        yield Wire(f"B1{back}", f"B1{live}", "", current / packs)
    yield Wire(f"B1{live}", "F1", live, current, least=inlet)
    yield Wire("F1", f"X1{live}", live, current, least=inlet)
    yield Wire(f"X1{live}", f"T1{live}", live, current, cable.area, length=length)
    for feed in feeds:
        yield Wire(f"T1{live}", f"{feed.mark} in {live}", live, feed.amps_in, least=inlet)
        yield Wire(f"{feed.mark} in {live}", f"{feed.mark} in {back}", "", feed.amps_in)
        yield Wire(f"{feed.mark} in {back}", f"T1{back}", back, feed.amps_in, least=inlet)
        yield from _outputs(feed)
    yield Wire(f"T1{back}", f"X1{back}", back, current, cable.area, length=length)
    yield Wire(f"X1{back}", f"B1{back}", back, current, least=inlet)
    if earth:
        yield Wire("X1 PE", "T1 PE", "PE", 0.0, cable.area, length=length)
        yield Wire("T1 PE", "board, frame and cases", "PE", 0.0, least=None if inlet is None else max(inlet, 0.75))


def _outputs(feed: Feed) -> Iterator[Wire]:
    if feed.lamps:
        return
    total = feed.amps * feed.parallel
    whole, each = flexible_area(total), flexible_area(feed.amps)
    plus, minus = f"{feed.mark} out +", f"{feed.mark} out −"
    yield Wire(minus, plus, "", total)
    if feed.parallel == 1:
        yield Wire(plus, f"{feed.mark} S1 +", "+", total, least=whole)
        yield Wire(f"{feed.mark} S1 +", f"{feed.mark} S1 −", "", total)
        yield Wire(f"{feed.mark} S1 −", minus, "−", total, least=whole)
        return
    block = f"T{int(feed.mark[1:]) + 1}"
    yield Wire(plus, f"{block}+", "+", total, least=whole)
    for string in range(1, feed.parallel + 1):
        name = f"{feed.mark} S{string}"
        yield Wire(f"{block}+", f"{name} +", "+", feed.amps, least=each)
        yield Wire(f"{name} +", f"{name} −", "", feed.amps)
        yield Wire(f"{name} −", f"{block}−", "−", feed.amps, least=each)
    yield Wire(f"{block}−", minus, "−", total, least=whole)


def listed(circuit: Circuit) -> list[Wire]:
    """Return the wires that are to be made: those of drivers and strings that are alike in one line for all of them."""
    found: list[Wire] = []
    groups = {feed.mark.split()[0]: feed for feed in gathered_feeds(circuit)}
    for wire in circuit.wires:
        point = _OF_DRIVER.search(wire.start) or _OF_DRIVER.search(wire.end)
        if not wire.pole or (point and (point[1] not in groups or (point[2] or "S1") != "S1")):
            continue
        if point is None:
            found.append(wire)
            continue
        feed = groups[point[1]]
        found.append(replace(wire, start=_for_all(wire.start, feed), end=_for_all(wire.end, feed)))
    return found


_OF_DRIVER = re.compile(r"(U\d+) (?:(S\d+)|in|out)")


def _for_all(point: str, feed: Feed) -> str:
    """Return what a point of the first of equal drivers and strings is called where it stands for all of them."""
    first = int(feed.mark.split()[0][1:])
    if feed.parallel > 1:
        point = point.replace(" S1 ", f" S1…S{feed.parallel} ")
    if feed.alike > 1:
        point = point.replace(f"U{first} ", f"U{first}…U{first + feed.alike - 1} ")
        point = re.sub(f"^T{first + 1}(?=[+−])", f"T{first + 1}…T{first + feed.alike} ", point)
    return point


def unbalanced(circuit: Circuit) -> dict[str, float]:
    """Return the current that is left over at every point, A: nothing, but for rounding."""
    sums: dict[str, list[float]] = {}
    for wire in circuit.wires:
        sums.setdefault(wire.start, []).append(-wire.amps)
        sums.setdefault(wire.end, []).append(wire.amps)
    return {point: math.fsum(parts) for point, parts in sums.items()}


@dataclass(frozen=True)
class Point:
    """Where to put a meter: what is to be read there at full light."""

    where: str
    volts: float | None
    low: float | None
    high: float | None
    amps: float | None
    note: str = ""


def points_of(circuit: Circuit) -> list[Point]:
    """Return the points from source to strings; voltages against the other pole, currents through the live one.

    Equal drivers stand in one line.
    """
    lead, amps = circuit.lead, circuit.lead.nominal_current
    drop = amps * lead.resistance
    least, most = lead.lowest - lead.drop, _at_light(lead, lead.highest, amps * circuit.at_light)
    source = "Socket" if circuit.mains else "Battery B1"
    found = [
        Point(source, lead.nominal, lead.lowest, lead.highest, amps),
        Point("After fuse F1, at connector X1", lead.nominal, lead.lowest, lead.highest, amps),
        Point(
            "Terminals T1 at the light",
            circuit.at_light,
            least,
            most,
            amps,
            f"{drop:.3g} V lost in the lead",
        ),
    ]
    if circuit.packs > 1:
        branch = f"Each of {circuit.packs} parallel branches of B1"
        found.insert(1, Point(branch, lead.nominal, lead.lowest, lead.highest, amps / circuit.packs))
    for feed in gathered_feeds(circuit):
        marks = feed.mark if feed.alike == 1 else f"each of {feed.mark}"
        found.append(Point(f"Input of {marks}", circuit.at_light, least, most, feed.amps_in))
        if feed.lamps:
            found.append(Point(f"Lamp wires of {marks}", None, None, None, None, "dangerous voltage: do not measure"))
            continue
        total = feed.amps * feed.parallel
        found.append(Point(f"Output of {marks}", feed.volts_out, feed.low, feed.high, total))
        strings = f"Each of {feed.parallel} strings of {marks}" if feed.parallel > 1 else f"String of {marks}"
        found.append(Point(strings, feed.volts_out, feed.low, feed.high, feed.amps, f"{feed.series} in series"))
    return found


def _at_light(lead: Lead, volts: float, power: float) -> float:
    """Return the voltage at the light where the supply gives `volts` and the light takes `power` W."""
    return volts - float(load_current(volts, lead.resistance, power)) * lead.resistance


def gathered_feeds(circuit: Circuit) -> list[Feed]:
    """Return the drivers of a circuit, those that are alike once, with the marks of the first and the last."""
    found: list[Feed] = []
    for _, same in groupby(circuit.feeds, key=_same):
        run = list(same)
        marks = run[0].mark if len(run) == 1 else f"{run[0].mark} to {run[-1].mark}"
        found.append(replace(run[0], mark=marks, alike=len(run)))
    return found


def _same(feed: Feed) -> tuple[object, ...]:
    return feed.driver, feed.series, feed.parallel, feed.amps, feed.volts_out
