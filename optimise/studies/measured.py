"""A built light against its prediction: how far readings are off, and the few factors that explain them.

The prediction is that of the exact check, made anew for the air and the places of the readings.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from optimise.model.build import Build
from optimise.model.exact import build_of
from optimise.model.face import lux_per_lumen
from optimise.model.operating import operating, strings_of
from optimise.model.stacks import layers_of
from optimise.parts import Catalogue, Fault
from optimise.parts.figures import with_measured
from optimise.parts.kinds import PART_KINDS
from optimise.parts.part import Part
from optimise.parts.tolerance import bad_end, good_end
from optimise.physics.fitting import LogFit, coverage_factor, expanded, fit_logs
from optimise.physics.leads import load_current, load_power
from optimise.scenario import Scenario
from optimise.studies.readings import Measured, Reading

Name = Literal["flux", "transmittance", "light", "thermal resistance", "input power", "usable energy"]

_CONVERGED = 1e-12
_ROUNDS = 200


@dataclass(frozen=True)
class Factors:
    """What a light is over what its parts state; 1 and None are as stated."""

    flux: float = 1.0
    transmittance: float = 1.0
    resistance: float | None = None
    """From board to air, K/W, in place of what the panel states or what is calculated."""
    power: float = 1.0
    """Power at the light's inlet; the board's heat is taken to go with it."""
    capacity: float = 1.0


@dataclass(frozen=True)
class Fitted:
    """One factor that was fitted, or several that the readings cannot tell apart as their product."""

    name: Name
    """`light` is flux times transmittance."""
    parts: tuple[str, ...]
    stated: float
    """The figure of the first part, canonical; of the input power, what is predicted, VA."""
    value: float
    factor: float
    scatter: float | None
    """Standard uncertainty of the factor's logarithm by the scatter; None where there are no readings to spare."""
    readings: int
    freedom: int
    meters: float | None = None
    """What the meters may move the factor's logarithm to either side (95 %); None where that is not stated."""

    @property
    def half_width(self) -> float | None:
        """Of the interval of the factor's logarithm (95 %), by all that is known; None where nothing is."""
        known = [] if self.scatter is None else [(self.scatter, float(self.freedom))]
        if self.meters is not None:
            # Stated at that confidence: normal, JCGM 100:2008, 4.3.4.
            known.append((self.meters / coverage_factor(math.inf), math.inf))
        return expanded(known) if known else None


@dataclass(frozen=True)
class Compared:
    """A reading beside its prediction, and what the tolerances of the parts let it be."""

    reading: Reading
    predicted: float
    least: float
    most: float
    fitted: float
    """What the build comes to with the factors fitted."""


class CannotFitError(ValueError):
    """The readings are of no light that works."""


def altered(build: Build, factors: Factors) -> Build:
    """Return a build with other figures of its parts, but for the sheet's; the power is no figure of a part."""
    battery, panel = build.battery, build.panel
    return replace(
        build,
        kinds=tuple(with_measured(kind, kind.flux * factors.flux) for kind in build.kinds),
        panel=panel if factors.resistance is None else with_measured(panel, factors.resistance),
        battery=None if battery is None else with_measured(battery, battery.capacity * factors.capacity),
    )


@dataclass(frozen=True)
class _State:
    """What a build comes to at full light, with the power at its inlet off by a factor."""

    flux: float
    board: float
    heat: float
    apparent: float
    resistance: float
    """Of the lead, both ways, ohm."""
    volts: float
    """Of the supply, nominal."""
    runtime: float | None


def _state(build: Build, scenario: Scenario, factors: Factors) -> _State:
    other = altered(build, factors)
    strings = [
        replace(
            each,
            emitter_heat=each.emitter_heat * factors.power,
            heat=each.heat * factors.power,
            power=each.power * factors.power,
            apparent=each.apparent * factors.power,
        )
        for each in strings_of(other, scenario)
    ]
    found = operating(other, strings, scenario)
    return _State(
        flux=found.flux,
        board=found.board,
        heat=math.fsum(each.heat for each in strings),
        apparent=math.fsum(each.apparent for each in strings),
        resistance=found.lead.resistance,
        volts=found.lead.nominal,
        runtime=found.runtime,
    )


def predicted(build: Build, scenario: Scenario, reading: Reading, factors: Factors | None = None) -> float:
    """Return what a reading should have been, in its unit, with the air of the scenario; by default as stated."""
    factors = factors or Factors()
    state = _state(build, scenario, factors)
    if reading.quantity in {"illuminance", "bare illuminance"}:
        assert reading.where is not None
        bare = reading.quantity == "bare illuminance"
        if bare:
            return state.flux * lux_per_lumen(replace(build, diffuser=None), reading.where)
        # Two sheets are one here, and a fit may come to more than a sheet can let through: the light goes with it.
        return state.flux * factors.transmittance * lux_per_lumen(build, reading.where)
    return _other_than_light(build, state, reading)


def _other_than_light(build: Build, state: _State, reading: Reading) -> float:
    if reading.quantity == "board temperature":
        return state.board
    if reading.quantity == "current":
        volts = state.volts if reading.where is None else reading.where
        return float(load_current(volts, state.resistance, state.apparent))
    assert build.battery is not None
    assert state.runtime is not None
    return state.runtime / build.battery.usable if reading.to_empty else state.runtime


def unfit(build: Build, scenario: Scenario, measured: Measured) -> Iterable[Fault]:
    """Yield what is wrong with readings for this build: those of what it has not, and those that cannot be."""
    state = _state(build, scenario, Factors())
    ambient = measured.ambient
    for reading in measured.readings:
        if reading.quantity == "bare illuminance" and build.diffuser is None:
            yield reading.fault(
                "a reading with the diffuser off", "none: this build has no diffuser", "Give it as lux."
            )
        if reading.quantity == "runtime" and build.battery is None:
            yield reading.fault("a running time", "one of a light on a battery: this one is on the mains")
        if reading.quantity == "board temperature" and ambient is None and not measured.air_refused:
            yield reading.fault(
                "a board's temperature alone",
                "the air's beside it: what the board sheds goes with the difference",
                'Say how warm the air was: ambient, such as "22 degC".',
            )
        elif reading.quantity == "board temperature" and ambient is not None and reading.value <= ambient:
            yield reading.fault(
                f"{reading.value:g} °C in air of {ambient:g} °C", "a board warmer than the air", "Measure it when warm."
            )
        if reading.quantity == "current":
            volts = state.volts if reading.where is None else reading.where
            most = volts / (2.0 * state.resistance) if state.resistance > 0.0 else math.inf
            if not math.isfinite(float(load_current(volts, state.resistance, state.apparent))):
                yield reading.fault(f"{volts:g} V", "a voltage at which the lead can carry the light's power")
            elif reading.value >= most:
                yield reading.fault(f"{reading.value:g} A", f"less than {most:.4g} A, the most that the lead gives")


def ends(build: Build) -> tuple[Build, Build]:
    """Return a build at the bad and at the good end of what its parts state as tolerances."""
    kinds: dict[str, Any] = {
        name: tuple(part for part in build.parts if type(part) is kind) for name, kind in PART_KINDS.items()
    }
    alone = Catalogue(**kinds, offers={}, suppliers=(), currency="", fingerprints={}, places={})
    return build_of(build.choice, bad_end(alone)), build_of(build.choice, good_end(alone))


def compare(build: Build, scenario: Scenario, readings: Sequence[Reading], factors: Factors) -> list[Compared]:
    """Return each reading beside what is predicted; `factors` are those fitted."""
    both = ends(build)
    found: list[Compared] = []
    for reading in readings:
        stated = predicted(build, scenario, reading)
        span = [stated, *(predicted(end, scenario, reading) for end in both)]
        found.append(Compared(reading, stated, min(span), max(span), predicted(build, scenario, reading, factors)))
    return found


def fit(build: Build, scenario: Scenario, readings: Sequence[Reading]) -> tuple[Factors, list[Fitted]]:
    """Return the factors that explain readings, and how each came about; the scenario has the air of the readings.

    Each kind of reading settles its own factors by least squares in logarithms: light the flux and, with the diffuser
    taken off as well, the transmittance; current the input power; the board's rise the thermal resistance; running time
    the capacity. Since a warmer board gives less light, and power warms it, all are gone through until none moves.
    Raises `CannotFitError` where no light would be left.
    """
    fitter = _Fitter(build, scenario, readings)
    factors = Factors()
    for _ in range(_ROUNDS):
        following = fitter.step(factors)
        if _apart(factors, following) <= _CONVERGED:
            return following, fitter.told(following)
        factors = following
    raise CannotFitError("no factors explain these readings together")


def _apart(one: Factors, other: Factors) -> float:
    pairs = zip(vars(one).values(), vars(other).values(), strict=True)
    return max(abs(math.log((b or 1.0) / (a or 1.0))) if (a is None) == (b is None) else math.inf for a, b in pairs)


class _Fitter:
    """The readings by kind, and the last fit of each."""

    def __init__(self, build: Build, scenario: Scenario, readings: Sequence[Reading]) -> None:
        self.build, self.scenario = build, scenario
        self.light = [r for r in readings if r.quantity in {"illuminance", "bare illuminance"}]
        self.current = [r for r in readings if r.quantity == "current"]
        self.board = [r for r in readings if r.quantity == "board temperature"]
        self.runtime = [r for r in readings if r.quantity == "runtime"]
        behind = [1.0 if r.quantity == "illuminance" and build.diffuser is not None else 0.0 for r in self.light]
        # One column where all readings are behind the sheet, or none is: the two factors are then one.
        self.parted = 0.0 < sum(behind) < len(behind)
        self.together = bool(behind) and all(behind)
        rows = [[1.0, share] for share in behind] if self.parted else [[1.0]] * len(behind)
        self.design = np.array(rows)
        self.fits: dict[str, LogFit] = {}

    def _one(self, name: str, logs: list[float]) -> float:
        self.fits[name] = fit_logs(np.ones((len(logs), 1)), np.array(logs))
        return math.exp(float(self.fits[name].logs[0]))

    def step(self, now: Factors) -> Factors:
        """Return factors that explain the readings better than those of now."""
        ambient = self.scenario.power.ambient
        if self.current:
            stated = _state(self.build, self.scenario, replace(now, power=1.0))
            logs = [
                math.log(float(load_power(r.where or stated.volts, stated.resistance, r.value)) / stated.apparent)
                for r in self.current
            ]
            now = replace(now, power=self._one("power", logs))
        if self.board:
            heat = _state(self.build, self.scenario, now).heat
            if not heat > 0.0:
                raise CannotFitError("by the catalogue this board has no heat to shed")
            logs = [math.log((r.value - ambient) / heat) for r in self.board]
            now = replace(now, resistance=self._one("resistance", logs))
        if self.light:
            now = self._lit(now)
        if self.runtime:
            now = self._run(now)
        return now

    def _lit(self, now: Factors) -> Factors:
        logs = [self._off(reading, now) for reading in self.light]
        moved = fit_logs(self.design, np.array(logs))
        self.fits["light"] = moved
        flux = now.flux * math.exp(float(moved.logs[0]))
        if not self.parted:
            return replace(now, flux=flux)
        return replace(now, flux=flux, transmittance=now.transmittance * math.exp(float(moved.logs[1])))

    def _run(self, now: Factors) -> Factors:
        # By Peukert's law the time goes with a power of the capacity: its slope is found by a small step.
        small = 1e-4
        moved = replace(now, capacity=now.capacity * math.exp(small))
        first = self.runtime[0]
        slope = (self._off(first, now) - self._off(first, moved)) / small
        logs = [self._off(reading, now) / slope for reading in self.runtime]
        return replace(now, capacity=now.capacity * self._one("capacity", logs))

    def _off(self, reading: Reading, now: Factors) -> float:
        value = predicted(self.build, self.scenario, reading, now)
        if not value > 0.0:
            where = f"so warm or cold, or at {reading.where:g} m" if reading.where is not None else "so warm or cold"
            raise CannotFitError(f"{where} this light would have no {reading.quantity} at all, by its catalogue")
        return math.log(reading.value / value)

    def told(self, factors: Factors) -> list[Fitted]:
        """Return what was fitted, in the order in which a person asks."""
        build = self.build
        kinds, sheet, battery = build.kinds, build.diffuser, build.battery
        found: list[Fitted] = []
        if self.light and self.together and sheet is not None:
            found.append(
                _told("light", (*kinds, *layers_of(sheet)), kinds[0].flux, factors.flux, self.fits["light"], self.light)
            )
        elif self.light:
            found.append(_told("flux", kinds, kinds[0].flux, factors.flux, self.fits["light"], self.light))
        if self.parted and sheet is not None:
            stated, by = sheet.transmittance, self.fits["light"]
            found.append(_told("transmittance", layers_of(sheet), stated, factors.transmittance, by, self.light, 1))
        if self.current:
            stated = _state(build, self.scenario, replace(factors, power=1.0)).apparent
            drivers = tuple({driver.part: driver for driver in build.drivers}.values())
            found.append(_told("input power", drivers, stated, factors.power, self.fits["power"], self.current))
        if self.board and factors.resistance is not None:
            stated, by = resistance_of(build, self.scenario, factors), self.fits["resistance"]
            ratio = factors.resistance / stated
            found.append(_told("thermal resistance", (build.panel,), stated, ratio, by, self.board))
        if self.runtime and battery is not None:
            stated, by = battery.capacity, self.fits["capacity"]
            found.append(_told("usable energy", (battery,), stated, factors.capacity, by, self.runtime))
        return found


def _told(
    name: Name,
    parts: Sequence[Part],
    stated: float,
    factor: float,
    by: LogFit,
    readings: Sequence[Reading],
    place: int = 0,
) -> Fitted:
    deviation = float(by.deviations[place])
    return Fitted(
        name=name,
        parts=tuple(part.part for part in parts),
        stated=stated,
        value=stated * factor,
        factor=factor,
        scatter=None if math.isnan(deviation) else deviation,
        readings=len(readings),
        freedom=by.freedom,
    )


def resistance_of(build: Build, scenario: Scenario, factors: Factors) -> float:
    """Return the thermal resistance that is predicted at the heat of a state, K/W: stated, or by convection."""
    state = _state(build, scenario, replace(factors, resistance=None))
    return (state.board - scenario.power.ambient) / state.heat


def heat_of(build: Build, scenario: Scenario, factors: Factors) -> float:
    """Return the heat of the board, W, with these factors."""
    return _state(build, scenario, factors).heat
