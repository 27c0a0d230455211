"""What meters may be off, carried over to the factors that are fitted to their readings.

All readings of one meter are taken to be off alike, so that a ratio of two of them is not off at all; different meters
are independent.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from optimise.model.build import Build
from optimise.scenario import Scenario
from optimise.studies.measured import Compared, Fitted, Name, fit
from optimise.studies.readings import METERS, Reading

OWN: dict[Name, str | None] = {
    "flux": "lux_meter",
    "light": "lux_meter",
    "transmittance": "lux_meter",
    "thermal resistance": "thermometer",
    "input power": "current_meter",
    "usable energy": None,
}
"""The meter that reads what a factor is fitted to; a clock is taken as exact."""

_STEP = 1e-4
_NOTHING = 1e-9


def meter_of(reading: Reading) -> str | None:
    """Return the key of the meter that a reading is off; None for a clock."""
    return next((key for key, meter in METERS.items() if reading.quantity in meter.quantities), None)


def reach(reading: Reading, meters: Mapping[str, float]) -> float | None:
    """Return what the meter of a reading may be off there, in the unit of the reading; None where it is not stated."""
    key = meter_of(reading)
    if key is None or key not in meters:
        return None
    return meters[key] if key == "thermometer" else meters[key] * reading.value


def covered(row: Compared, meters: Mapping[str, float]) -> bool:
    """Whether a reading and its prediction are no farther apart than its meter may be off."""
    off = reach(row.reading, meters)
    return off is not None and abs(row.reading.value - row.predicted) <= off * (1.0 + 1e-9)


def with_meters(
    build: Build,
    scenario: Scenario,
    readings: Sequence[Reading],
    fitted: Sequence[Fitted],
    meters: Mapping[str, float],
) -> list[Fitted]:
    """Return factors with what the stated meters may move them; the scenario has the air of the readings.

    A factor whose own meter is not stated keeps the interval of its scatter alone. Raises `CannotFitError`.
    Source: JCGM 100:2008 (GUM), 5.1.2 with the sensitivities of 5.1.3, note 2, found by fitting anew to readings moved
    a little; 5.2.2, note 1, for readings that are off together.
    """
    squares = {one.name: 0.0 for one in fitted}
    for key, off in meters.items():
        mine = [reading for reading in readings if meter_of(reading) == key]
        if not mine:
            continue
        step = _STEP
        if key == "thermometer":
            step *= min(reading.value for reading in mine) - scenario.power.ambient
        up, down = (
            {one.name: one for one in fit(build, scenario, _moved(readings, key, moved))[1]} for moved in (step, -step)
        )
        for name in squares:
            slope = math.log(up[name].value / down[name].value) / (2.0 * step)
            squares[name] += (slope * off) ** 2
    found = []
    for one in fitted:
        own, moves = OWN[one.name], math.sqrt(squares[one.name])
        known = (own is None or own in meters) and moves > _NOTHING
        found.append(replace(one, meters=moves) if known else one)
    return found


def _moved(readings: Sequence[Reading], key: str, step: float) -> list[Reading]:
    """Return readings with those of one meter off by a share, or by so many kelvin."""
    shift = key == "thermometer"
    return [
        reading
        if meter_of(reading) != key
        else replace(reading, value=reading.value + step if shift else reading.value * math.exp(step))
        for reading in readings
    ]
