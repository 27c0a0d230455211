"""A build that gives more light than asked, dimmed to what is asked: power, current, runtime and flicker then."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from optimise.model.build import Build, Strings
from optimise.model.choice import Evaluation
from optimise.model.exact import build_of
from optimise.model.limits import LIGHT
from optimise.model.modulation import driver_flicker
from optimise.model.operating import operating, strings_of
from optimise.parts import Catalogue, Driver
from optimise.scenario import Scenario

LEAST = 0.05
"""Stops above what is asked from which dimming is worked out: less is not seen (common practice, no source)."""

_ROUNDS = 100


@dataclass(frozen=True)
class Dimmed:
    """A build at the light asked for."""

    level: float
    """Its light as a share of full light."""
    drive: float
    """Current, or time switched on, as a share of that at full light."""
    lux: float
    watts: float
    """Drawn from the supply, the loss in the lead included, at the nominal voltage."""
    current: float
    """In the lead at the lowest voltage, A."""
    runtime: float | None
    """s; None on mains."""
    board: float
    """°C."""
    flicker: float | None
    """Stops; None where it is not known, infinite where some exposures get no light."""
    missed: tuple[str, ...]
    """What does not bear being dimmed so far, in words."""


def dimmable(build: Build) -> tuple[str, ...]:
    """Return why a build cannot be dimmed, or why that is not known, in words; empty where it can be."""
    drivers = dict.fromkeys(build.drivers)
    fixed = tuple(f"{d.part} does not dim." for d in drivers if d.dimmable == "no")
    return fixed + tuple(
        f"{d.part}: dimmable is not stated; not worked out: power, runtime and flicker at the light asked for."
        for d in drivers
        if d.dimmable is None
    )


def _level(evaluation: Evaluation) -> float:
    """Return the share of its light that does ahead and at every point."""
    lit = [margin for margin in evaluation.margins if margin.name.startswith(LIGHT) and margin.kind == "min"]
    return max(margin.required / margin.achieved if margin.achieved > 0.0 else math.inf for margin in lit)


def dimmed(evaluation: Evaluation, catalogue: Catalogue, scenario: Scenario) -> Dimmed | tuple[str, ...] | None:
    """Return a build dimmed to the light asked for, or in words why not; None where it gives no more than asked.

    All drivers are turned down alike. One that dims by current feeds its emitters less; one that switches (and any that
    is not of constant current) gives so much less light, power and heat. Drivers keep their efficiency and power
    factor, which flatters them at a low level. The light is in proportion to the flux, on the cooler board.
    """
    level = _level(evaluation)
    if not level * 2.0**LEAST < 1.0:
        return None
    build = build_of(evaluation.choice, catalogue)
    why = dimmable(build)
    if why:
        return why
    full = operating(build, strings_of(build, scenario), scenario)

    def above(drive: float) -> float:
        return operating(build, _turned_down(build, drive, scenario), scenario).flux / full.flux - level

    drive = _root(above, -level, 1.0 - level)
    strings = _turned_down(build, drive, scenario)
    state = operating(build, strings, scenario)
    return Dimmed(
        level=level,
        drive=drive,
        lux=evaluation.lux * state.flux / full.flux,
        watts=state.watts,
        current=state.lead.current,
        runtime=state.runtime,
        board=state.board,
        flicker=_flicker(build.drivers, drive, scenario),
        missed=tuple(_missed(build, strings, level)),
    )


def _root(function: Callable[[float], float], at_zero: float, at_one: float) -> float:
    """Return where a function is 0 between 0 and 1, by false position (Illinois rule).

    It is below 0 at 0 and above 0 at 1, where its values are known.
    """
    low, high, under, over, side = 0.0, 1.0, at_zero, at_one, 0
    point = 1.0
    for _ in range(_ROUNDS):
        point = (low * over - high * under) / (over - under)
        value = function(point)
        if abs(value) <= 1e-12 * abs(at_zero) or high - low <= 1e-14:
            break
        if value < 0.0:
            low, under = point, value
            over = over / 2.0 if side < 0 else over
            side = -1
        else:
            high, over = point, value
            under = under / 2.0 if side > 0 else under
            side = 1
    return point


def _by_current(driver: Driver) -> bool:
    return driver.dimmable == "current" and driver.output == "constant current"


def _turned_down(build: Build, drive: float, scenario: Scenario) -> list[Strings]:
    """Return what the channels do at a share of their full drive, above 0."""
    channels = tuple(
        replace(channel, current=channel.current * drive) if _by_current(driver) else channel
        for channel, driver in zip(build.choice.channels, build.drivers, strict=True)
    )
    turned = replace(build, choice=replace(build.choice, channels=channels))
    return [string if _by_current(string.driver) else _less(string, drive) for string in strings_of(turned, scenario)]


def _less(string: Strings, share: float) -> Strings:
    figures = ("flux", "emitter_heat", "heat", "power", "apparent")
    return replace(string, **{name: getattr(string, name) * share for name in figures})


def _flicker(drivers: Sequence[Driver], drive: float, scenario: Scenario) -> float | None:
    changes: list[float] = []
    for driver in drivers:
        known = driver.rippling(scenario.power.mains_frequency) is not None and driver.switching(drive) is not None
        change = driver_flicker(driver, scenario, drive) if known else None
        if change is None:
            return None
        changes.append(change)
    return max(changes)


def _missed(build: Build, strings: Sequence[Strings], level: float) -> list[str]:
    told = list[str]()
    for string in strings:
        emitter, driver = string.emitter, string.driver
        if driver.dim_min is not None and level < driver.dim_min * (1.0 - 1e-9):
            told.append(f"{driver.part} dims to {driver.dim_min:.3g} of full light only.")
        if not _by_current(driver):
            continue
        if emitter.current_min is not None and string.channel.current < emitter.current_min * (1.0 - 1e-9):
            told.append(f"{emitter.part} is not stated to run below {emitter.current_min:.4g} A.")
        if string.low < (driver.output_min or 0.0) * (1.0 - 1e-9) and not math.isclose(string.low, 0.0):
            told.append(f"{driver.part}: the string may fall to {string.low:.4g} V, below its window.")
    return list(dict.fromkeys(told))
