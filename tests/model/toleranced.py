"""Random tolerances for random catalogues, and their bad end worked out here a second time, part by part."""

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

from optimise.parts import Battery, Cable, Catalogue, Diffuser, Emitter, Part
from optimise.parts.emitters import MAXIMUM_EFFICACY
from optimise.parts.kinds import PART_KINDS


def mass_of(part: Part) -> str:
    """Return the name of the figure that is a part's mass."""
    if isinstance(part, Cable):
        return "mass_per_length"
    return "mass_per_area" if isinstance(part, Diffuser) else "mass"


def each_part(catalogue: Catalogue, change: Callable[[Part], Part]) -> Catalogue:
    kinds: dict[str, Any] = {kind: tuple(change(part) for part in getattr(catalogue, kind)) for kind in PART_KINDS}
    return replace(catalogue, **kinds)


def with_tolerances(catalogue: Catalogue, rng: Random, *, often: float = 0.6, capacity: bool = True) -> Catalogue:
    """Return a catalogue with tolerances up to 8 % for some of the figures that may have one, read as from a file."""

    def maybe(most: float = 0.08) -> float | None:
        return round(rng.uniform(0.0, most), 3) if rng.random() < often else None

    def given(part: Part) -> Part:
        told: dict[str, float | None] = {"mass_tolerance": maybe()}
        if isinstance(part, Emitter):
            told["flux_tolerance"] = maybe()
            if part.drive == "constant current":
                told["voltage_tolerance"] = maybe(0.05)
        if isinstance(part, Battery) and capacity:
            told["capacity_tolerance"] = maybe()
        return type(part)(**{**part.model_dump(), **told})

    return each_part(catalogue, given)


def bad_by_hand(catalogue: Catalogue) -> Catalogue:
    """Return the bad end of all tolerances; the share of heat and the watts of an emitter are written out."""

    def bad(part: Part) -> Part:
        name = mass_of(part)
        more = part.model_dump()["mass_tolerance"] or 0.0
        update: dict[str, float] = {name: getattr(part, name) * (1.0 + more)}
        if isinstance(part, Battery):
            update["capacity"] = part.capacity * (1.0 - (part.capacity_tolerance or 0.0))
        if isinstance(part, Emitter):
            update["flux"] = part.flux * (1.0 - (part.flux_tolerance or 0.0))
            watts = part.watts
            if part.drive == "constant current":
                assert part.voltage is not None
                assert part.current is not None
                more = part.voltage_tolerance or 0.0
                update["voltage"] = part.voltage * (1.0 + more)
                update["voltage_min"] = (part.voltage_min or part.voltage) * (1.0 - more)
                update["voltage_max"] = (part.voltage_max or part.voltage) * (1.0 + more)
                watts = update["voltage"] * part.current
            if part.heat_fraction is None:
                update["heat_fraction"] = 1.0 - update["flux"] / (MAXIMUM_EFFICACY * watts)
        return part.model_copy(update=update)

    return each_part(catalogue, bad)
