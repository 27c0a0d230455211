"""How long it runs, how the voltage falls, how warm it gets, in the job's air and in other air."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from markupsafe import Markup

from optimise.physics.batteries import resting_voltage
from optimise.physics.leads import load_current
from optimise.report.drawing import even_steps
from optimise.report.lamp import Lamp
from optimise.report.sheet.chart import Axis, across, chart, up
from optimise.report.terminal import number

FREEZING = 0.0
ROOM = 25.0
"""°C at which capacities are rated."""

_APART = 10.0
"""K by which the cold that is told is colder than the job, at least."""

_STEPS = 60

_LOOKS = (("third", "start", 7.0, 5.0), ("curve", "middle", 0.0, 20.0), ("second", "end", -7.0, 7.0))
"""From the warmest air to the coldest: look of the line, and where its lettering stands about its end."""


@dataclass(frozen=True)
class Run:
    """One discharge: the voltage at the battery's terminals, V, and at the light's, over the time in h."""

    air: float
    hours: float
    hour: tuple[float, ...]
    volts: tuple[float, ...]
    at_light: tuple[float, ...]


def airs(lamp: Lamp) -> list[float]:
    """Return the temperatures that are told, °C: the job's, the cold, and that of the battery's rating."""
    battery = lamp.build.battery
    ambient = lamp.scenario.power.ambient
    cold = FREEZING if ambient >= FREEZING + _APART else FREEZING - 2.0 * _APART
    if battery is not None and battery.temperature_min is not None:
        cold = max(cold, battery.temperature_min)
    others = {air for air in (ROOM, cold) if abs(air - ambient) >= _APART / 2.0 and (air == ROOM or air < ambient)}
    return sorted({ambient} | others, reverse=True)


def run_of(lamp: Lamp, air: float) -> Run | None:
    """Return the discharge in air of a temperature; None on mains.

    It ends when the runtime of the record's physics is over. In between, the voltage follows the three that the
    catalogue states, full, nominal and empty, over the charge (`physics.batteries.resting_voltage`), and time goes
    with the charge taken at the current that a load of constant power draws at each voltage.
    """
    battery = lamp.build.battery
    state = lamp.at(air).state
    if battery is None or state.runtime is None:
        return None
    series, lead = lamp.build.choice.battery_series, state.lead
    power = lead.nominal_current * (lead.nominal - lead.nominal_current * lead.resistance)
    taken = battery.usable * np.linspace(0.0, 1.0, _STEPS + 1)
    volts = series * resting_voltage(taken, battery.voltage_max, battery.voltage, battery.voltage_min)
    amps = load_current(volts, lead.resistance, power)
    pieces = [2.0 / float(a + b) for a, b in pairwise(amps)]
    total, hours = sum(pieces), state.runtime / 3600.0
    hour, past = [0.0], 0.0
    for piece in pieces:
        past += piece
        hour.append(hours * past / total)
    at_light = volts - amps * lead.resistance
    return Run(air, hours, tuple(hour), tuple(volts.tolist()), tuple(at_light.tolist()))


def runs_of(lamp: Lamp) -> list[Run]:
    """Return the discharges in the job's air, in the cold and at the rating, warmest first; none on mains."""
    found = [run_of(lamp, air) for air in airs(lamp)]
    return [run for run in found if run is not None]


def runtime_chart(lamp: Lamp, runs: list[Run]) -> Markup:
    """Return the voltage at the battery over time, a line for each temperature."""
    low = min(min(run.at_light) for run in runs)
    high = max(max(run.volts) for run in runs)
    ticks = even_steps(low * 0.98, high * 1.02, 6)
    longest = max(run.hours for run in runs)
    level = Axis(0.0, longest * 1.08, even_steps(0.0, longest * 1.08, 7), "running time [h]")
    upright = Axis(min(low * 0.98, ticks[0]), max(high * 1.02, ticks[-1]), ticks, "voltage [V]")
    told = "; ".join(f"{number(run.air, 'degC')}: {number(run.hours, 'h')}" for run in runs)
    drawing = chart(
        f"run-{lamp.key}",
        "Voltage over running time",
        f"From full to the end of the usable charge. Running time by temperature of the air: {told}.",
        level,
        upright,
    )
    x, y = across(level), up(upright)
    for index, run in enumerate(runs):
        look, anchor, beside, below = _LOOKS[index if len(runs) > 2 else index + 1]
        drawing.path(look, [(x(t), y(v)) for t, v in zip(run.hour, run.volts, strict=True)])
        end = x(run.hour[-1]), y(run.volts[-1])
        drawing.circle("dot", *end, 3.5)
        drawing.words(number(run.air, "degC"), end[0] + beside, end[1] + below, anchor, "halo")
    driver = max(driver.input_min for driver in lamp.build.drivers)
    if upright.low <= driver <= upright.high:
        drawing.line("mark", x(0.0), y(driver), x(level.high), y(driver))
        drawing.words("drivers stop", x(0.0) + 8.0, y(driver) - 6.0, "start", "halo")
    return drawing.markup()


@dataclass(frozen=True)
class Warmth:
    """How warm the board and the junctions get in air of a temperature."""

    air: float
    board: float
    flux: float
    hours: float | None


def warmth_of(lamp: Lamp) -> list[Warmth]:
    """Return the state of the light in colder and warmer air than the job's, coldest first."""
    ambient = lamp.scenario.power.ambient
    found = []
    for air in sorted({*airs(lamp), ambient, 35.0}):
        state = lamp.at(air).state
        hours = None if state.runtime is None else state.runtime / 3600.0
        found.append(Warmth(air, state.board, state.flux, hours))
    return found
