"""Notes on flicker: what ripples or is switched at which frequency, which shutters do not see it, who else may."""

from collections.abc import Iterator

from optimise.model.choice import Evaluation
from optimise.model.market import Market
from optimise.parts import Driver, Emitter
from optimise.physics.flicker import ieee_1789, safe_shutter_angles
from optimise.scenario import Scenario

MOST_LISTED = 12
"""Safe angles that are listed one by one; more are told as multiples of the first."""


def modulation_notes(best: Evaluation, market: Market) -> Iterator[str]:
    """Yield a note for each thing that changes the light of a build over time."""
    scenario, catalogue = market.scenario, market.catalogue
    emitters = catalogue.each(Emitter, best.choice.kinds)
    for code in best.choice.drivers:
        yield from _driver_notes(catalogue.find(Driver, code), scenario)
    yield from dict.fromkeys(_warm_up(emitter) for emitter in emitters if emitter.form == "tube")


def _driver_notes(driver: Driver, scenario: Scenario) -> Iterator[str]:
    mains = scenario.power.mains_frequency
    if driver.ballast == "magnetic":
        twice = "" if mains is None else f" ({2 * mains:g} Hz)"
        yield (
            f"{driver.part} is a magnetic ballast: its light ripples at twice the mains frequency{twice}, and lamps on "
            "it need starters, which are not in the bill."
        )
    ripple = driver.rippling(mains)
    if ripple is not None and ripple[0] > 0.0:
        yield _told(f"The light of {driver.part} ripples by {100 * ripple[0]:.3g} %", *ripple, scenario)
    elif ripple is None and driver.input == "ac" and mains is not None and scenario.exposure_time is not None:
        yield f"If the light of {driver.part} ripples, it does so at {2 * mains:g} Hz.{_safe(2 * mains, scenario)}"
    if driver.dimmable == "pwm" and driver.pwm is not None:
        yield _told(f"{driver.part} dims by switching", 1.0, driver.pwm, scenario)


def _told(what: str, depth: float, frequency: float, scenario: Scenario) -> str:
    level = ieee_1789(depth, frequency)
    return f"{what} at {frequency:g} Hz: {level} by IEEE 1789-2015, from the stated figure.{_safe(frequency, scenario)}"


def _safe(frequency: float, scenario: Scenario) -> str:
    """Return a sentence on the shutters at which all exposures are alike; nothing where no one films."""
    if scenario.exposure_time is None:
        return ""
    if scenario.frame_rate is None:
        return f" Exposures are all alike at every multiple of 1/{frequency:g} s."
    rate = scenario.frame_rate
    angles = safe_shutter_angles(rate, frequency)
    if not len(angles):
        return f" At {rate:g} frames a second no shutter is open for a whole period of it."
    if len(angles) > MOST_LISTED:
        return f" At {rate:g} frames a second exposures are all alike at every multiple of {angles[0]:.5g}°."
    listed = ", ".join(f"{angle:.5g}°" for angle in angles)
    return f" At {rate:g} frames a second exposures are all alike at shutter angles of {listed}."


def _warm_up(emitter: Emitter) -> str:
    if emitter.warm_up is None:
        return "Tubes need some minutes to their full light (common practice, no source): switch on before you meter."
    return f"{emitter.part} needs {emitter.warm_up / 60:g} min to its full light: switch on before you meter."
