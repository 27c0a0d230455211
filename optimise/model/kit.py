"""A kit: several lights bought in one basket; what the exact check says of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimise.model import limits
from optimise.model.choice import BillLine, Choice, Evaluation, Margin
from optimise.model.exact import bill_of, bought, build_of, evaluate, wants_of
from optimise.parts import Battery, Catalogue
from optimise.parts.basket import Basket, Order
from optimise.parts.buying import Want
from optimise.parts.cutting import gathered
from optimise.physics.batteries import Flight, flight_rule
from optimise.scenario import KitLight, Scenario

NOTHING = Basket((), ())
"""How a light of a kit is bought by itself: not at all, the kit is."""


@dataclass(frozen=True)
class KitEvaluation:
    """All figures of a kit; money in cents, mass in milligrams."""

    lights: tuple[Evaluation, ...]
    """One of each entry of the kit, without money."""
    counts: tuple[int, ...]
    bill: tuple[BillLine, ...]
    orders: tuple[Order, ...]
    margins: tuple[Margin, ...]
    """Of the whole kit; those of each light are its own."""
    figures: dict[str, tuple[float | None, str]]
    cents: int
    milligrams: int
    watts: float
    missing: tuple[str, ...]

    @property
    def choice(self) -> tuple[Choice, ...]:
        """What each light is made of."""
        return tuple(light.choice for light in self.lights)

    @property
    def passes(self) -> bool:
        """Whether every limit of every light and of the kit is kept, and every part can be bought."""
        held = all(light.passes for light in self.lights) and all(margin.holds for margin in self.margins)
        return held and not self.missing


def evaluate_kit(choices: Sequence[Choice], catalogue: Catalogue, scenario: Scenario) -> KitEvaluation:
    """Return all figures and margins of a kit of these choices, one for each entry of the scenario's kit."""
    kit = scenario.kit
    lights = tuple(evaluate(choice, catalogue, light.job, NOTHING) for choice, light in zip(choices, kit, strict=True))
    basket = bought(gathered(list(_wants(choices, catalogue, kit))), catalogue, scenario)
    counts = tuple(light.count for light in kit)
    each = list(zip(lights, counts, strict=True))
    milligrams = sum(light.milligrams * count for light, count in each)
    watts = sum(light.watts * count for light, count in each)
    figures: dict[str, tuple[float | None, str]] = {
        "cost": (basket.cents / 100, catalogue.currency),
        "mass": (milligrams / 1e6, "kg"),
        "power": (watts, "W"),
    }
    limit = scenario.limits
    margins: list[Margin] = []
    if limit.budget is not None:
        margins.append(
            Margin("budget", "max", limit.budget / 100, basket.cents / 100, catalogue.currency, limits.SCENARIO)
        )
    if limit.mass is not None:
        margins.append(Margin("mass", "max", limit.mass, milligrams / 1e6, "kg", limits.SCENARIO))
    if limit.power is not None:
        margins.append(Margin("power", "max", limit.power, watts, "W", limits.SCENARIO))
    margins += _circuit(lights, scenario)
    margins += _flying(lights, catalogue, scenario)
    return KitEvaluation(
        lights=lights,
        counts=counts,
        bill=bill_of(basket),
        orders=basket.orders,
        margins=tuple(margins),
        figures=figures,
        cents=basket.cents,
        milligrams=milligrams,
        watts=watts,
        missing=basket.missing,
    )


def _wants(choices: Sequence[Choice], catalogue: Catalogue, kit: Sequence[KitLight]) -> Iterator[Want]:
    for choice, light in zip(choices, kit, strict=True):
        wants = wants_of(build_of(choice, catalogue), light.job)
        for _ in range(light.count):
            yield from wants


def sharing(scenario: Scenario) -> tuple[bool, ...]:
    """Return which lights of a kit hang on the mains circuit that the scenario states for all."""
    return tuple(
        light.job.power.mains and light.job.power.circuit is not None and not light.own_circuit
        for light in scenario.kit
    )


def _circuit(lights: Sequence[Evaluation], scenario: Scenario) -> Iterator[Margin]:
    amperes = [
        light.figures["current"][0] or 0.0
        for light, entry, shared in zip(lights, scenario.kit, sharing(scenario), strict=True)
        for _ in range(entry.count)
        if shared and light.choice.battery is None
    ]
    if amperes:
        assert scenario.power.circuit is not None
        needed = scenario.safety.continuous_factor * sum(amperes)
        source = limits.source_of_safety(scenario, "continuous_factor")
        yield Margin("mains circuit of all lights", "max", scenario.power.circuit, needed, "A", source)


def flight_group(battery: Battery) -> tuple[str, int]:
    """Return with which other batteries one is counted that flies, and how many of them one passenger may carry."""
    rule, number = flight_rule(battery.chemistry, battery.watt_hours, battery.voltage)
    if battery.chemistry == "lead-acid":
        return "lead-acid batteries that may fly", number
    if rule is Flight.APPROVAL:
        return "batteries above 100 Wh that may fly", number
    return "batteries that may fly", number


def _flying(lights: Sequence[Evaluation], catalogue: Catalogue, scenario: Scenario) -> Iterator[Margin]:
    if scenario.travel.mode != "air":
        return
    carried: dict[tuple[str, int], int] = {}
    for light, entry in zip(lights, scenario.kit, strict=True):
        if light.choice.battery is not None:
            group = flight_group(catalogue.find(Battery, light.choice.battery))
            carried[group] = carried.get(group, 0) + entry.count * light.choice.batteries
    for (name, number), batteries in sorted(carried.items()):
        yield Margin(name, "max", number, batteries, "", limits.AIR)
