"""What a build does at a level of light: its strings, the heat of its board, its lead, how long it runs.

Part of the exact check, with no column and no linearisation.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimise.model.build import Build, Lead, Strings
from optimise.parts import Emitter, Panel
from optimise.physics.batteries import cold_factor, discharge_time
from optimise.physics.emitters import (
    REFERENCE_TEMPERATURE,
    forward_voltage,
    junction_temperature,
    relative_flux,
    temperature_factor,
)
from optimise.physics.heat import HOTTEST, TooHotError, board_temperature
from optimise.physics.leads import conductor_resistance, load_current
from optimise.scenario import Scenario


def strings_of(build: Build, scenario: Scenario) -> list[Strings]:
    """Return what each entry of a build's channels does electrically."""
    ambient = scenario.power.ambient
    result: list[Strings] = []
    for channel, driver in zip(build.choice.channels, build.drivers, strict=True):
        emitter = build.emitter_of(channel)
        if emitter.drive == "constant current":
            assert emitter.current is not None
            assert emitter.voltage is not None

            def voltage(
                rated: float | None, junction: float, current: float = channel.current, emitter: Emitter = emitter
            ) -> float:
                return float(
                    forward_voltage(
                        rated if rated is not None else emitter.voltage or 0.0,
                        current,
                        emitter.current or 0.0,
                        emitter.dynamic_resistance,
                        emitter.voltage_per_kelvin,
                        junction,
                    )
                )

            drive = channel.current / emitter.current
            watts = channel.current * voltage(emitter.voltage, REFERENCE_TEMPERATURE)
            low = channel.series * voltage(
                emitter.voltage_min, max(emitter.case_max or REFERENCE_TEMPERATURE, REFERENCE_TEMPERATURE)
            )
            high = channel.series * voltage(emitter.voltage_max, min(ambient, REFERENCE_TEMPERATURE))
            strongest = channel.current * voltage(emitter.voltage_max, REFERENCE_TEMPERATURE)
        else:
            drive, watts, strongest = 1.0, emitter.watts, emitter.watts
            low = high = channel.series * (emitter.voltage or 0.0)
        heat = watts * emitter.heat_share
        power = channel.emitters * watts / driver.efficiency
        factor = driver.power_factor if driver.input == "ac" and driver.power_factor is not None else 1.0
        flux = float(emitter.flux * relative_flux(drive, emitter.droop))
        result.append(
            Strings(
                channel=channel,
                driver=driver,
                emitter=emitter,
                low=low,
                high=high,
                output=channel.series * channel.parallel * strongest,
                flux=flux,
                emitter_heat=heat,
                heat=channel.emitters * heat,
                power=power,
                apparent=power / factor,
            )
        )
    return result


def _board(panel: Panel, heat: float, ambient: float) -> float:
    if panel.thermal_resistance is not None:
        return ambient + heat * panel.thermal_resistance
    try:
        return float(board_temperature(heat, ambient, panel.width, panel.height, panel.faces, panel.emissivity))
    except TooHotError:
        return ambient + HOTTEST  # at least so hot: every limit is missed all the same


def _flux(build: Build, strings: Sequence[Strings], board: float) -> tuple[tuple[float, ...], float | None]:
    """Return the flux of each kind of emitter, lm, at the board's temperature, and the hottest junction, °C."""
    fluxes, hottest = dict.fromkeys(build.choice.kinds, 0.0), board
    for string in strings:
        emitter = string.emitter
        junction = float(junction_temperature(board, string.emitter_heat, emitter.resistance_junction_case or 0.0))
        hottest = max(hottest, junction)
        lit = string.channel.emitters * string.flux * float(temperature_factor(junction, emitter.flux_per_kelvin))
        fluxes[emitter.part] += lit
    known = all(kind.resistance_junction_case is not None for kind in build.kinds)
    return tuple(fluxes.values()), hottest if known else None


def brightest(build: Build, strings: Sequence[Strings], board: float, ambient: float) -> tuple[float, float]:
    """Return the flux, lm, that is never passed over the tolerances of the emitters, and its relative slope, 1/K.

    It is that of the other end (`parts.tolerance`), where there is one; else the flux itself. The slope is over the
    board's temperature.
    """
    flux = slope = 0.0
    for string in strings:
        emitter = string.emitter
        light, heat = emitter.other_end
        rise = heat * string.emitter_heat * (emitter.resistance_junction_case or 0.0)
        junction = ambient + heat * (board - ambient) + rise
        each = light * string.channel.emitters * string.flux
        flux += each * float(temperature_factor(junction, emitter.flux_per_kelvin))
        slope += each * heat * emitter.flux_per_kelvin
    return flux, slope / flux if flux > 0.0 else 0.0


def _lead(build: Build, apparent: float, scenario: Scenario) -> Lead:
    per_metre = build.cable.ohms_per_metre
    warm = float(conductor_resistance(per_metre, build.cable.conductor_max))
    resistance = 2.0 * scenario.power.lead_length * warm
    if build.battery is None:
        nominal = lowest = highest = scenario.power.mains_voltage or math.nan
    else:
        series = build.choice.battery_series
        nominal, lowest, highest = (
            series * v for v in (build.battery.voltage, build.battery.voltage_min, build.battery.voltage_max)
        )
    current = float(load_current(lowest, resistance, apparent))
    nominal_current = float(load_current(nominal, resistance, apparent))
    if np.isnan(current):
        current = nominal_current = math.inf
    return Lead(
        resistance=resistance,
        nominal=nominal,
        lowest=lowest,
        highest=highest,
        current=current,
        nominal_current=nominal_current,
        drop=current * resistance,
        loss=nominal_current**2 * resistance,
    )


def _runtime(build: Build, current: float, scenario: Scenario) -> float | None:
    """Return the runtime at the nominal voltage, s; None on mains."""
    battery = build.battery
    if battery is None:
        return None
    if math.isinf(current):
        return 0.0
    each = current / build.choice.battery_parallel
    rated = battery.rated_time if battery.rated_time is not None else battery.capacity / each
    time = float(discharge_time(each, battery.capacity, rated, battery.peukert))
    return time * battery.usable * float(cold_factor(scenario.power.ambient, battery.capacity_per_kelvin))


@dataclass(frozen=True)
class Operating:
    """What channels come to on their board and lead."""

    fluxes: tuple[float, ...]
    """Of each kind of emitter at the board's temperature, lm."""
    hottest: float | None
    """The hottest junction, °C; None where a thermal resistance is not stated."""
    heat: float
    """W."""
    board: float
    apparent: float
    """VA that the drivers take."""
    watts: float
    """Drawn from the supply at the nominal voltage, W."""
    lead: Lead
    runtime: float | None
    """s; None on mains."""

    @property
    def flux(self) -> float:
        """Of all emitters at the board's temperature, lm."""
        return sum(self.fluxes)


def operating(build: Build, strings: Sequence[Strings], scenario: Scenario) -> Operating:
    """Return what channels come to in a build, be they its own or turned down."""
    heat, apparent = math.fsum(s.heat for s in strings), math.fsum(s.apparent for s in strings)
    board = _board(build.panel, heat, scenario.power.ambient)
    fluxes, hottest = _flux(build, strings, board)
    lead = _lead(build, apparent, scenario)
    watts = math.fsum(s.power for s in strings) + lead.loss
    runtime = _runtime(build, lead.nominal_current, scenario)
    return Operating(fluxes, hottest, heat, board, apparent, watts, lead, runtime)
