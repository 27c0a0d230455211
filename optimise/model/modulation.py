"""What drivers do to exposures: their flicker at a level of light, and what of it is not known."""

from collections.abc import Iterator, Sequence

from optimise.parts import Driver
from optimise.physics.flicker import flicker
from optimise.scenario import Scenario


def driver_flicker(driver: Driver, scenario: Scenario, level: float) -> float | None:
    """Return the most that exposures differ at a level of light, in stops; None where that is not known."""
    time = scenario.exposure_time
    if time is None:
        return None
    return flicker(time, driver.rippling(scenario.power.mains_frequency), driver.switching(level))


def untold_of_modulation(drivers: Sequence[Driver], scenario: Scenario) -> Iterator[str]:
    """Yield what is not checked of dimming, and of flicker where there is a shutter."""
    look, films = scenario.look, scenario.exposure_time is not None
    frequency = scenario.power.mains_frequency
    for driver in dict.fromkeys(drivers):
        missing: list[tuple[bool, str, str]] = [
            (films and driver.ripple is None, f"{driver.part}: ripple", "flicker at full output"),
            (
                films and driver.ripple is not None and driver.rippling(frequency) is None,
                "scenario: power.mains_frequency",
                f"flicker of {driver.part}",
            ),
        ]
        if look.dim_to is not None:
            pwm = driver.dimmable == "pwm"
            missing += [
                (driver.dimmable is None, f"{driver.part}: dimmable", "whether it dims, and its flicker then"),
                (films and pwm and driver.pwm is None, f"{driver.part}: pwm", "flicker when dimmed"),
                (driver.dimmable is not None and driver.dim_min is None, f"{driver.part}: dim_min", "how far it dims"),
            ]
        yield from (f"{what} is not stated; not checked: {check}." for gone, what, check in missing if gone)
