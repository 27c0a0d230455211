"""Many lights made to one choice at once: what each has left on every limit that the figures of its parts bear on.

The same sums as the exact check (`exact`), on arrays: one evaluation takes milliseconds, and thousands are wanted.
What does not hang on a figure that may be off is taken from the evaluation of the choice as stated.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from optimise.model.build import Build
from optimise.model.choice import ChannelChoice, Evaluation, Margin
from optimise.model.limits import CARRIES, LIGHT
from optimise.model.stacks import layers_of
from optimise.parts import Driver, Emitter, Part
from optimise.physics.arrays import Array
from optimise.physics.batteries import cold_factor, discharge_time
from optimise.physics.emitters import (
    REFERENCE_TEMPERATURE,
    forward_voltage,
    junction_temperature,
    relative_flux,
    temperature_factor,
)
from optimise.physics.heat import HOTTEST, board_temperature, heat_shed
from optimise.physics.leads import conductor_resistance, load_current
from optimise.scenario import Scenario

Deviations = Mapping[tuple[str, str], Array]
"""By how much each figure is off, a share for each light, by the part's code and the figure's name."""

_Achieved = tuple[str, Array | None, Array]
"""Name of a limit, what it requires where that moves too, and what is achieved."""


def left_on(
    build: Build, stated: Evaluation, scenario: Scenario, deviations: Deviations, lights: int
) -> dict[int, Array]:
    """Return what is left on each limit that may move, as `Margin.left`: shape (lights,), by its place in `margins`.

    stated: the evaluation of the same choice with every figure as stated; what `deviations` does not name is exact.
    """
    waiting: dict[str, list[tuple[Array | None, Array]]] = {}
    with np.errstate(invalid="ignore"):
        for name, required, achieved in _Lights(build, stated, scenario, deviations).achieved():
            waiting.setdefault(name, []).append((required, achieved))
        left: dict[int, Array] = {}
        for place, margin in enumerate(stated.margins):
            # Two kinds of channel with one driver have limits of one name, in the order of the channels.
            if waiting.get(margin.name):
                found = _left(margin, *waiting[margin.name].pop(0))
                left[place] = np.broadcast_to(found, (lights,))
    return left


def _left(margin: Margin, required: Array | None, achieved: Array) -> Array:
    asked = np.asarray(margin.required if required is None else required)
    gap = achieved - asked if margin.kind == "min" else asked - achieved
    scale = np.abs(asked - margin.zero)
    return np.asarray(np.where(scale > 0.0, gap / np.where(scale > 0.0, scale, 1.0), gap))


@dataclass(frozen=True)
class _String:
    """One entry of the channels: figures of one emitter, of a string, or of all these drivers."""

    channel: ChannelChoice
    driver: Driver
    watts: Array
    low: Array
    high: Array
    output: Array
    power: Array
    apparent: Array


class _Lights:
    """The figures of all lights, worked out in the order of the exact check."""

    def __init__(self, build: Build, stated: Evaluation, scenario: Scenario, deviations: Deviations) -> None:
        self.build, self.stated, self.scenario, self.deviations = build, stated, scenario, deviations
        emitter = build.emitter
        self.flux = emitter.flux * self.factor(emitter, "flux")
        self.volts = self.factor(emitter, "voltage")
        self.rated = emitter.watts * self.volts
        if emitter.heat_fraction is not None:
            self.heat_share = np.asarray(emitter.heat_fraction)
        else:
            # So much more light for so much less power is so much less heat.
            self.heat_share = 1.0 - (1.0 - emitter.heat_share) * (self.flux / emitter.flux) / self.volts
        pairs = zip(build.choice.channels, build.drivers, strict=True)
        self.strings = [self._string(channel, driver) for channel, driver in pairs]

    def factor(self, part: Part, figure: str) -> Array:
        """Return the figure of each light over the stated one; 1 where it is exact."""
        return np.asarray(1.0 + self.deviations.get((part.part, figure), np.zeros(())))

    def _string(self, channel: ChannelChoice, driver: Driver) -> _String:
        emitter = self.build.emitter
        if emitter.drive == "constant current":
            ambient = self.scenario.power.ambient
            hot = max(emitter.case_max or REFERENCE_TEMPERATURE, REFERENCE_TEMPERATURE)
            watts = channel.current * self._voltage(emitter.voltage, channel, REFERENCE_TEMPERATURE)
            low = channel.series * self._voltage(emitter.voltage_min, channel, hot)
            high = channel.series * self._voltage(emitter.voltage_max, channel, min(ambient, REFERENCE_TEMPERATURE))
            strongest = channel.current * self._voltage(emitter.voltage_max, channel, REFERENCE_TEMPERATURE)
        else:
            watts = strongest = self.rated
            low = high = np.asarray(channel.series * (emitter.voltage or 0.0))
        power = channel.emitters * watts / driver.efficiency
        factor = driver.power_factor if driver.input == "ac" and driver.power_factor is not None else 1.0
        output = channel.series * channel.parallel * strongest
        return _String(channel, driver, watts, low, high, output, power, power / factor)

    def _voltage(self, rated: float | None, channel: ChannelChoice, junction: float) -> Array:
        emitter = self.build.emitter
        return forward_voltage(
            (rated if rated is not None else emitter.voltage or 0.0) * self.volts,
            channel.current,
            emitter.current or 0.0,
            emitter.dynamic_resistance,
            emitter.voltage_per_kelvin,
            junction,
        )

    def board(self) -> Array:
        """Return the temperature of each board, °C."""
        panel, ambient = self.build.panel, self.scenario.power.ambient
        heat = np.asarray(sum(s.channel.emitters * s.watts * self.heat_share for s in self.strings))
        if panel.thermal_resistance is not None:
            return np.asarray(ambient + heat * panel.thermal_resistance)
        most = heat_shed(ambient + HOTTEST, ambient, panel.width, panel.height, panel.faces, panel.emissivity)
        return board_temperature(
            np.minimum(heat, most), ambient, panel.width, panel.height, panel.faces, panel.emissivity
        )

    def lux(self, board: Array) -> Array:
        """Return the illuminance, lx: the stated one in proportion to the flux."""
        emitter: Emitter = self.build.emitter
        flux = self.stated.figures["luminous_flux"][0] or 0.0
        per_lumen = self.stated.lux / flux if flux > 0.0 else 0.0
        total = np.zeros(())
        for string in self.strings:
            heat = string.watts * self.heat_share
            junction = junction_temperature(board, heat, emitter.resistance_junction_case or 0.0)
            drive = 1.0
            if emitter.drive == "constant current" and emitter.current:
                drive = string.channel.current / emitter.current
            each = self.flux * relative_flux(drive, emitter.droop)
            total = total + string.channel.emitters * each * temperature_factor(junction, emitter.flux_per_kelvin)
        return np.asarray(total * per_lumen)

    def masses(self) -> tuple[Array, Array]:
        """Return the masses of the heads and of everything carried, kg."""
        build, choice, scenario = self.build, self.build.choice, self.scenario

        def of(part: Part, mass: float) -> Array:
            return np.rint(np.round(mass * self.factor(part, "mass") * 1e6, 3))

        head = of(build.panel, build.panel.mass) + choice.emitters * of(build.emitter, build.emitter.mass)
        for channel, driver in zip(choice.channels, build.drivers, strict=True):
            head = head + channel.number * of(driver, driver.mass)
        for sheet in layers_of(build.diffuser):
            head = head + of(sheet, sheet.mass_per_area * build.panel.width * build.panel.height)
        if build.mount is not None:
            head = head + of(build.mount, build.mount.mass)
        whole = head + of(build.fuse, build.fuse.mass) + of(build.connector, build.connector.mass)
        whole = whole + of(build.cable, build.cable.mass_per_length * scenario.power.lead_length)
        if build.battery is not None:
            whole = whole + choice.batteries * of(build.battery, build.battery.mass)
        return head / 1e6, whole / 1e6

    def runtime(self, current: Array) -> Array:
        """Return the runtimes, s, at the currents from the pack at its nominal voltage."""
        battery = self.build.battery
        assert battery is not None
        flows = np.isfinite(current)
        each = np.where(flows, current, 1.0) / self.build.choice.battery_parallel
        capacity = battery.capacity * self.factor(battery, "capacity")
        rated = capacity / each if battery.rated_time is None else np.asarray(battery.rated_time)
        time = discharge_time(each, capacity, rated, battery.peukert)
        cold = cold_factor(self.scenario.power.ambient, battery.capacity_per_kelvin)
        return np.where(flows, time * battery.usable * cold, 0.0)

    def achieved(self) -> Iterator[_Achieved]:
        """Yield what is achieved on every limit that a figure that may be off bears on."""
        build, scenario, emitter = self.build, self.scenario, self.build.emitter
        board = self.board()
        lux = self.lux(board)
        for margin in self.stated.margins:
            if margin.name.startswith(LIGHT):
                yield margin.name, None, lux * (margin.achieved / self.stated.lux if self.stated.lux > 0.0 else 0.0)
        for name in ("touch temperature", "case temperature", "panel temperature"):
            yield name, None, board
        hottest = np.maximum.reduce(np.broadcast_arrays(self.rated, *(string.watts for string in self.strings)))
        density = hottest * self.heat_share / emitter.area
        yield "heat under one emitter", None, density / 1e4
        head, whole = self.masses()
        yield "mass", None, whole
        yield "mount load", None, head
        apparent = np.asarray(sum(s.apparent for s in self.strings))
        warm = conductor_resistance(build.cable.ohms_per_metre, build.cable.conductor_max)
        resistance = 2.0 * scenario.power.lead_length * warm
        if build.battery is None:
            nominal = lowest = scenario.power.mains_voltage or 0.0
        else:
            series = build.choice.battery_series
            nominal, lowest = series * build.battery.voltage, series * build.battery.voltage_min
        current = load_current(lowest, resistance, apparent)
        carried = ~np.isnan(current)
        current = np.where(carried, current, np.inf)
        steady = np.where(carried, load_current(nominal, resistance, apparent), np.inf)
        yield "power", None, np.asarray(sum(s.power for s in self.strings)) + steady**2 * resistance
        if build.battery is not None:
            yield "runtime", None, self.runtime(steady) / 3600.0
            yield "battery current", None, current
        yield "voltage drop", None, current * resistance
        needed = scenario.safety.continuous_factor * current
        yield CARRIES, needed, np.asarray(build.fuse.rating)
        yield "mains circuit", None, needed
        for string in self.strings:
            code = string.driver.part
            yield f"{code}: input, low", None, lowest - current * resistance
            if string.driver.output != "ballast":
                yield f"{code}: output, low", None, string.low
                yield f"{code}: output, high", None, string.high
                yield f"{code}: output power", None, string.output
                top = string.driver.output_max or 0.0
                yield f"{code}: touchable voltage", None, np.maximum(string.high, top)
