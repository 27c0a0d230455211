"""Emitters that no driver of a catalogue can feed: a mistake in one of the two, or a driver forgotten."""

import numpy as np

from optimise.columns.channels import DriverFigures, build_channels
from optimise.parts import Catalogue, Fault
from optimise.physics.emitters import REFERENCE_TEMPERATURE

MOST = 48
"""Emitters of one driver that are tried: one that cannot feed any number up to this will not feed more."""


def unfed_emitters(catalogue: Catalogue) -> list[Fault]:
    """Return a fault for each emitter of which no string fits the window of any driver."""
    if not catalogue.drivers:
        return []
    capacity = np.full(len(catalogue.emitters), MOST, dtype=np.int64)
    figures = DriverFigures(catalogue.drivers)
    # One step of the whole rated current: only whether there is a current at all is asked.
    channels = build_channels(catalogue.emitters, figures, REFERENCE_TEMPERATURE, np.inf, capacity, 1.0)
    fed = set(channels.emitter.tolist())
    faults: list[Fault] = []
    for index, emitter in enumerate(catalogue.emitters):
        if index in fed:
            continue
        file, line = catalogue.places.get(emitter.part, ("emitters.csv", None))
        drivers = [driver for driver in catalogue.drivers if driver.output == emitter.drive]
        if emitter.drive == "ballast":
            column, read = "power", f"a lamp of {emitter.watts:g} W"
            known = sorted({f"{driver.lamp_power:g} W" for driver in drivers})
            allowed = "a lamp power of a ballast in drivers.csv: " + (", ".join(known) or "there is no ballast")
        else:
            column, read = "voltage", f"{emitter.voltage:g} V at {emitter.current:g} A"
            windows = sorted({f"{d.output_min:g} to {d.output_max:g} V" for d in drivers})
            allowed = f"a string inside the window, current and power of a {emitter.drive} driver: " + (
                ", ".join(windows) or "there is none"
            )
        faults.append(
            Fault(
                file,
                line,
                f"column {column}",
                f"{emitter.part}: {read}, of which no string fits any driver",
                allowed,
                "Correct voltage or current, or add a driver that can feed it.",
            )
        )
    return faults
