"""Why there is no kit: a light that cannot be built within its limits, or limits of the kit against each other."""

from collections.abc import Callable
from dataclasses import dataclass

from optimise.model.kit_search import any_kit
from optimise.model.search import any_build
from optimise.parts import Catalogue
from optimise.scenario import KitLight, Scenario
from optimise.scenario.terms import home_currency
from optimise.studies.conflict import conflict

Progress = Callable[[str], None]


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
    for name, asked in _asked(scenario, catalogue):
        progress(f"without {name}")
        limits = current.limits.model_copy(update={name: None})
        freed = current.model_copy(update={"limits": limits})
        if any_kit(catalogue, freed, deadline) is None:
            current = freed
        else:
            kept.append((f"limits.{name}", asked))
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


def _asked(scenario: Scenario, catalogue: Catalogue) -> list[tuple[str, str]]:
    limit = scenario.limits
    told: list[tuple[str, str]] = []
    if limit.budget is not None:
        told.append(("budget", f"at most {limit.budget / 100:.2f} {home_currency(catalogue, scenario)}"))
    if limit.mass is not None:
        told.append(("mass", f"at most {limit.mass:g} kg"))
    if limit.power is not None:
        told.append(("power", f"at most {limit.power:g} W"))
    if limit.suppliers_max is not None:
        told.append(("suppliers_max", f"at most {limit.suppliers_max:g}"))
    if limit.deadline is not None:
        told.append(("deadline", f"at most {limit.deadline / 86400:g} days"))
    if limit.suppliers is not None:
        told.append(("suppliers", ", ".join(limit.suppliers)))
    return told
