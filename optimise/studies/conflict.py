"""Which limits of an impossible scenario stand against each other."""

from collections.abc import Callable
from dataclasses import dataclass

from optimise.model.exact import wanted_illuminance
from optimise.model.search import possible
from optimise.parts import Catalogue, units
from optimise.scenario import Scenario
from optimise.scenario.model import Light, Look, Power, Travel

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Limit:
    """One limit that a person can give up: its name, what it asks, and the scenario without it."""

    name: str
    asked: str
    without: Callable[[Scenario], Scenario]


def _in(section: str, **values: object) -> Callable[[Scenario], Scenario]:
    def change(scenario: Scenario) -> Scenario:
        old = getattr(scenario, section)
        return scenario.model_copy(update={section: old.model_copy(update=values)})

    return change


def limits_asked(scenario: Scenario) -> list[Limit]:
    """Return the limits that a scenario really sets, in the order in which a person would give them up."""
    light, look, power, limit = scenario.light, scenario.look, scenario.power, scenario.limits
    usual = Power.model_fields["ambient"].default
    found: list[Limit] = []

    def add(name: str, asked: str | None, change: Callable[[Scenario], Scenario]) -> None:
        if asked is not None:
            found.append(Limit(name, asked, change))

    def text(value: float | None, measure: units.Measure) -> str | None:
        return None if value is None else units.shown(value, measure)

    add("suppliers", None if limit.suppliers is None else ", ".join(limit.suppliers), _in("limits", suppliers=None))
    add("deadline", text(limit.deadline, units.DAYS), _in("limits", deadline=None))
    add("width", text(limit.width, units.LENGTH), _in("limits", width=None))
    add("height", text(limit.height, units.LENGTH), _in("limits", height=None))
    add("ip", limit.ip, _in("limits", ip=None))
    add("cct_min", text(look.cct_min, units.COLOUR_TEMPERATURE), _in("look", cct_min=None))
    add("cct_max", text(look.cct_max, units.COLOUR_TEMPERATURE), _in("look", cct_max=None))
    add("cri_min", text(look.cri_min, units.NUMBER), _in("look", cri_min=None))
    add("r9_min", text(look.r9_min, units.NUMBER), _in("look", r9_min=None))
    add("diffused", "true" if look.diffused else None, _in("look", diffused=Look().diffused))
    size = scenario.source_size_min or None
    add("source size", text(size, units.LENGTH), _in("look", source_size_min=None, source_angle_min=None))
    air = "air" if scenario.travel.mode == "air" else None
    add("travel", air, lambda s: s.model_copy(update={"travel": Travel()}))
    add("mount", "true" if limit.mount else None, _in("limits", mount=False))
    add("power", text(limit.power, units.POWER), _in("limits", power=None))
    add("mass", None if limit.mass is None else f"{limit.mass:g} kg", _in("limits", mass=None))
    budget = None if limit.budget is None else f"{limit.budget / 100:.2f} {scenario.currency}"
    add("budget", budget, _in("limits", budget=None))
    if power.battery:
        add("runtime", text(power.runtime, units.DURATION), _in("power", runtime=1.0))
    if power.ambient != usual:
        add("ambient", text(power.ambient, units.TEMPERATURE), _in("power", ambient=usual))
    add("lead_length", text(power.lead_length, units.LENGTH), _in("power", lead_length=0.1))
    target = wanted_illuminance(scenario)
    dark = Light(illuminance=target * 1e-6, distance=light.distance)
    add("illuminance", text(target, units.ILLUMINANCE), lambda s: s.model_copy(update={"light": dark}))
    return found


def conflict(
    catalogue: Catalogue,
    scenario: Scenario,
    progress: Progress = lambda text: None,
    deadline: float | None = None,
) -> tuple[Limit, ...] | None:
    """Return a smallest set of limits that cannot hold together: without any one of them a build exists.

    None where no build exists even without all of them: the parts themselves do not go together.
    Limits of safety and of the parts are never given up. By deletion: each limit is dropped for good if the
    rest is impossible still; what is left is irreducible (there may be other such sets). Raises `TimeUpError`
    past `deadline` (of time.monotonic).
    """
    limits = limits_asked(scenario)
    freed = scenario
    for limit in limits:
        freed = limit.without(freed)
    if possible(catalogue, freed, deadline):
        kept: list[Limit] = []
        current = scenario
        for limit in limits:
            progress(f"without {limit.name}")
            relaxed = limit.without(current)
            if possible(catalogue, relaxed, deadline):
                kept.append(limit)
            else:
                current = relaxed
        return tuple(kept)
    return None
