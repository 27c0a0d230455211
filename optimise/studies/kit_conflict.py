"""Why there is no kit: a light that cannot be built within its limits, or limits of the kit against each other."""

from collections.abc import Callable
from dataclasses import dataclass

from optimise.model.kit_search import any_kit
from optimise.model.search import any_build
from optimise.parts import Catalogue
from optimise.scenario import KitLight, Scenario
from optimise.studies.conflict import conflict
from optimise.studies.limits import limits_asked

Progress = Callable[[str], None]

OF_THE_KIT = {"budget", "mass", "power", "suppliers", "suppliers_max", "deadline"}
"""Limits that hold for all lights together."""


@dataclass(frozen=True)
class KitClash:
    """What stands against each other: (limit, what it asks); of one light alone where `light` names it."""

    light: str | None
    limits: tuple[tuple[str, str], ...]


def kit_clash(
    catalogue: Catalogue,
    scenario: Scenario,
    progress: Progress = lambda text: None,
    deadline: float | None = None,
) -> KitClash:
    """Return which limits cannot hold together: without any one of them a kit exists, as far as those go.

    First each light is looked at alone, within the limits of the kit. Raises `TimeUpError` past `deadline`.
    """
    for entry in scenario.kit:
        progress(f"looking at {entry.name} alone")
        job = alone(entry, scenario)
        if any_build(catalogue, job, deadline) is None:
            found = conflict(catalogue, job, progress, deadline)
            return KitClash(entry.name, tuple((limit.name, limit.asked) for limit in found or ()))
    current, kept = scenario, []
    for limit in limits_asked(scenario, catalogue):
        if limit.name in OF_THE_KIT:
            progress(f"without {limit.name}")
            freed = limit.without(current)
            if any_kit(catalogue, freed, deadline) is None:
                current = freed
            else:
                kept.append((limit.name, limit.asked))
    return KitClash(None, tuple(kept))


def alone(entry: KitLight, scenario: Scenario) -> Scenario:
    """Return the job of one light within the limits of the kit."""
    kit, own = scenario.limits, entry.job.limits
    limits = {
        "budget": kit.budget,
        "mass": min((value for value in (kit.mass, own.mass) if value is not None), default=None),
        "power": min((value for value in (kit.power, own.power) if value is not None), default=None),
        "suppliers_max": kit.suppliers_max,
    }
    return entry.job.model_copy(update={"limits": own.model_copy(update=limits), "search": scenario.search})
