"""The limits that a scenario really sets, and how each of them may give way."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import product
from typing import Any

from optimise.columns.eligible import code_digits, driver_flicker, meets_ip
from optimise.model.exact import wanted_illuminance
from optimise.model.limits import LIGHT
from optimise.model.stacks import stacks_of
from optimise.parts import Catalogue, units
from optimise.parts.units import Measure
from optimise.physics.colour import filtered_light
from optimise.scenario import Scenario
from optimise.scenario.colour import asked, light_of
from optimise.scenario.model import Look, Power, Travel

DARK = 1e-6
"""Share of a light to which it may be eased: as good as none."""


@dataclass(frozen=True)
class Summed:
    """A limit on cost, mass or power: the least that a build can have is found by a search of its own."""

    scale: str


@dataclass(frozen=True)
class Listed:
    """A limit that matters only at the values that parts have: each of them in turn, from the least change on."""

    values: tuple[Any, ...]
    rising: bool
    """Whether each value lets in all that the one before does."""


@dataclass(frozen=True)
class Sliding:
    """A limit that may take any value from the one asked to `far`, and is the easier to keep the nearer to `far`."""

    asked: float
    far: float
    measure: Measure


@dataclass(frozen=True)
class Limit:
    """One limit that a person can give up or change: its name, what it asks, the scenario without it or changed."""

    name: str
    asked: str
    without: Callable[[Scenario], Scenario]
    gives: Summed | Listed | Sliding
    changed: Callable[[Scenario, Any], Scenario]
    """The scenario with another value; None is no limit."""
    shown: Callable[[Any], str]


def _in(section: str, **values: object) -> Callable[[Scenario], Scenario]:
    def change(scenario: Scenario) -> Scenario:
        old = getattr(scenario, section)
        return scenario.model_copy(update={section: old.model_copy(update=values)})

    return change


def _key(section: str, name: str) -> Callable[[Scenario, Any], Scenario]:
    return lambda scenario, value: _in(section, **{name: value})(scenario)


def limits_asked(scenario: Scenario, catalogue: Catalogue) -> list[Limit]:
    """Return the limits that a scenario really sets, in the order in which a person would give them up."""
    return [
        *_of_buying(scenario, catalogue),
        *_of_panel(scenario, catalogue),
        *_of_look(scenario, catalogue),
        *_of_carrying(scenario),
        *_of_running(scenario),
    ]


def _text(measure: Measure) -> Callable[[Any], str]:
    return lambda value: "no limit" if value is None else units.shown(value, measure)


def _listed(section: str, name: str, asked: float, values: Iterable[float | None], measure: Measure) -> Limit:
    """Return a limit whose values are those of parts; easier ones first, no limit last."""
    known = sorted({v for v in values if v is not None}, key=lambda v: abs(v - asked))
    text = _text(measure)
    return Limit(
        name, text(asked), _in(section, **{name: None}), Listed((*known, None), True), _key(section, name), text
    )


def _of_buying(scenario: Scenario, catalogue: Catalogue) -> list[Limit]:
    limit, found = scenario.limits, list[Limit]()
    offers = [offer for rows in catalogue.offers.values() for offer in rows]
    if limit.suppliers is not None:
        mine = limit.suppliers
        others = sorted({offer.supplier for offer in offers} - {*mine, "own"})
        values = (*((*mine, other) for other in others), None)
        found.append(
            Limit(
                "suppliers",
                ", ".join(mine),
                _in("limits", suppliers=None),
                Listed(values, rising=False),
                _key("limits", "suppliers"),
                lambda value: "any" if value is None else f"{value[-1]} as well",
            )
        )
    if limit.suppliers_max is not None:
        sellers = {offer.supplier for offer in offers} - {"own"}
        found.append(
            Limit(
                "suppliers_max",
                str(limit.suppliers_max),
                _in("limits", suppliers_max=None),
                Listed((*range(limit.suppliers_max + 1, len(sellers)), None), rising=True),
                _key("limits", "suppliers_max"),
                lambda value: "no limit" if value is None else str(value),
            )
        )
    if limit.deadline is not None:
        later = [offer.lead_time for offer in offers if (offer.lead_time or 0.0) > limit.deadline]
        found.append(_listed("limits", "deadline", limit.deadline, later, units.DAYS))
    return found


def _of_panel(scenario: Scenario, catalogue: Catalogue) -> list[Limit]:
    limit, found = scenario.limits, list[Limit]()
    for name in ("width", "height"):
        asked = getattr(limit, name)
        if asked is not None:
            wider = [getattr(panel, name) for panel in catalogue.panels if getattr(panel, name) > asked]
            found.append(_listed("limits", name, asked, wider, units.LENGTH))
    if limit.ip is not None:
        values = (*_codes_below(limit.ip, catalogue), None)
        found.append(
            Limit(
                "ip",
                limit.ip,
                _in("limits", ip=None),
                Listed(values, rising=False),
                _key("limits", "ip"),
                lambda value: "no limit" if value is None else str(value),
            )
        )
    return found


def _codes_below(asked: str, catalogue: Catalogue) -> list[str]:
    """Return the codes that ask less and that some part has the digits of, the least change first."""
    codes = [code for part in catalogue.parts() if (code := getattr(part, "ip", None)) is not None]
    digits = [sorted({d for code in (*codes, asked) if (d := code_digits(code)[i]) >= 0}) for i in (0, 1)]
    want = code_digits(asked)
    signs = [[(w - d, str(d)) for d in known if d <= w] + [(w + 1, "X")] for known, w in zip(digits, want, strict=True)]
    codes_below = [(a + b, b, f"IP{x}{y}") for (a, x), (b, y) in product(*signs) if a + b > 0]
    return [code for _, _, code in sorted(codes_below) if meets_ip(asked, code)]


def _of_look(scenario: Scenario, catalogue: Catalogue) -> list[Limit]:
    look, found = scenario.look, list[Limit]()
    limits = list(asked(look))
    shifts = {0.0, *(sheet.mired_shift for sheet in catalogue.diffusers)}
    if look.sheets_max > 1:
        shifts |= {sheet.mired_shift for sheet in stacks_of(catalogue.diffusers)}
    lights = [filtered_light(light_of(e, look), s) for e in catalogue.emitters for s in shifts] if limits else []
    for limit, required in limits:
        values = {light[limit.figure] for light in lights}
        easier = [v for v in values if v is not None and not limit.keeps(v, required)]
        if scenario.search.emitter_kinds > 1:
            easier = []  # a mixture may have any value between those of its kinds, so the limit is given up or kept
        found.append(_listed("look", limit.key, required, easier, limit.measure))
    if look.diffused:
        found.append(_flag("diffused", _in("look", diffused=Look().diffused)))
    size = scenario.source_size_min
    if size > 0.0:
        sides = {min(panel.width, panel.height) for panel in catalogue.panels}
        smaller = (*sorted((side for side in sides if side < size), reverse=True), None)
        found.append(
            Limit(
                "source size",
                units.shown(size, units.LENGTH),
                _in("look", source_size_min=None, source_angle_min=None),
                Listed(smaller, rising=True),
                lambda s, value: _in("look", source_size_min=value, source_angle_min=None)(s),
                _text(units.LENGTH),
            )
        )
    if look.penumbra_min is not None and look.background is not None:
        sides = {min(panel.width, panel.height) for panel in catalogue.panels}
        widths = (side * look.background / scenario.light.distance for side in sides)
        narrower = [width for width in widths if width < look.penumbra_min]
        found.append(_listed("look", "penumbra_min", look.penumbra_min, narrower, units.LENGTH))
    if look.dots_max is not None:
        found.append(_of_dots(look.dots_max))
    if look.flicker_max is not None:
        changes = [driver_flicker(driver, scenario) for driver in catalogue.drivers]
        more = [c for c in changes if c is not None and look.flicker_max < c < math.inf]
        found.append(_listed("look", "flicker_max", look.flicker_max, more, units.NUMBER))
    if look.dim_to is not None:
        levels = [driver.dim_min for driver in catalogue.drivers if (driver.dim_min or 0.0) > look.dim_to]
        found.append(_listed("look", "dim_to", look.dim_to, levels, units.SHARE))
    return found


def _of_dots(asked: float) -> Limit:
    """Return the limit on dots; all that it can be, 1, is no limit, so that bare emitters may do."""
    gone = _in("look", dots_max=None)

    def change(scenario: Scenario, value: Any) -> Scenario:
        return gone(scenario) if value is None or value >= 1.0 else _in("look", dots_max=value)(scenario)

    def shown(value: Any) -> str:
        return _text(units.SHARE)(None if value is not None and value >= 1.0 else value)

    return Limit("dots_max", shown(asked), gone, Sliding(asked, 1.0, units.SHARE), change, shown)


def _flag(name: str, without: Callable[[Scenario], Scenario], asked: str = "true") -> Limit:
    return Limit(name, asked, without, Listed((None,), True), lambda s, value: without(s), lambda value: "no limit")


def _of_carrying(scenario: Scenario) -> list[Limit]:
    limit, found = scenario.limits, list[Limit]()
    if scenario.travel.mode == "air":
        road = Travel()
        approved = () if scenario.travel.approval else (scenario.travel.model_copy(update={"approval": True}),)
        found.append(
            Limit(
                "travel",
                "air",
                lambda s: s.model_copy(update={"travel": road}),
                Listed((*approved, None), True),
                lambda s, value: s.model_copy(update={"travel": road if value is None else value}),
                lambda value: "road" if value is None else "air, with the airline's approval of larger batteries",
            )
        )
    if limit.mount:
        found.append(_flag("mount", _in("limits", mount=False)))
    if limit.power is not None:
        found.append(_summed("power", "power", units.shown(limit.power, units.POWER), _text(units.POWER)))
    if limit.mass is not None:
        found.append(_summed("mass", "mass", f"{limit.mass:g} kg", lambda v: "no limit" if v is None else f"{v:g} kg"))
    if limit.budget is not None:
        currency = scenario.currency or ""

        def money(cents: Any) -> str:
            return "no limit" if cents is None else f"{cents / 100:.2f} {currency}".strip()

        found.append(_summed("budget", "cost", money(limit.budget), money))
    return found


def _summed(name: str, scale: str, asked: str, shown: Callable[[Any], str]) -> Limit:
    return Limit(name, asked, _in("limits", **{name: None}), Summed(scale), _key("limits", name), shown)


def _of_running(scenario: Scenario) -> list[Limit]:
    power, found = scenario.power, list[Limit]()
    usual = Power.model_fields["ambient"].default

    def slide(name: str, asked: float, far: float, measure: Measure, without: float | None = None) -> None:
        shown, change = _text(measure), _key("power", name)
        gone = _in("power", **{name: far if without is None else without})
        found.append(Limit(name, shown(asked), gone, Sliding(asked, far, measure), change, shown))

    if power.circuit is not None and power.mains:
        slide("circuit", power.circuit, 125.0, units.CURRENT)
    if power.battery and power.runtime is not None:
        slide("runtime", power.runtime, 1.0, units.DURATION)
    if power.ambient != usual and not scenario.light_is_limited:  # cooler emitters might be too bright
        slide("ambient", power.ambient, usual, units.TEMPERATURE)
    slide("lead_length", power.lead_length, min(0.1, power.lead_length), units.LENGTH)
    target = wanted_illuminance(scenario)

    def light(s: Scenario, value: Any) -> Scenario:
        # Points keep what they ask, so that less light ahead is never harder.
        return s.pinned(target).model_copy(update={"light": s.light.asking(value)})

    for key, far, measure in (("uniformity_min", 1e-6, units.SHARE), ("edge_stops_max", 20.0, units.NUMBER)):
        uneven = getattr(scenario.light, key)
        if uneven is not None:
            change, gone = _key("light", key), _in("light", **{key: None})
            found.append(
                Limit(key, _text(measure)(uneven), gone, Sliding(uneven, far, measure), change, _text(measure))
            )
    found += _of_points(scenario, target)
    dark = target * DARK
    found.append(
        Limit(
            "illuminance",
            units.shown(target, units.ILLUMINANCE),
            lambda s: light(s, dark),
            Sliding(target, dark, units.ILLUMINANCE),
            light,
            _text(units.ILLUMINANCE),
        )
    )
    return found


def _of_points(scenario: Scenario, target: float) -> Iterable[Limit]:
    """Yield the limits on the light at points, and on the face that is turned."""

    def limit(label: str, most: bool, asked: float, change: Callable[[Scenario, Any], Scenario]) -> Limit:
        name = f"{LIGHT} {label}, at most" if most else f"{LIGHT} {label}"
        far = asked / DARK if most else asked * DARK
        shown = _text(units.ILLUMINANCE)
        sliding = Sliding(asked, far, units.ILLUMINANCE)
        return Limit(name, shown(asked), lambda s: change(s, None), sliding, change, shown)

    def at(place: int, key: str) -> Callable[[Scenario, Any], Scenario]:
        def change(s: Scenario, value: Any) -> Scenario:
            update = {key: value, "stops_max" if key == "illuminance_max" else "stops": None}
            points = [p.model_copy(update=update) if i == place else p for i, p in enumerate(s.points)]
            return s.model_copy(update={"points": tuple(points)})

        return change

    for place, face in enumerate(scenario.targets(target)):
        of_point = place < len(scenario.points)
        for most, value in ((False, face.least), (True, face.most)):
            if value is not None:
                key = "illuminance_max" if most else "illuminance"
                change = at(place, key) if of_point else _key("light", f"face_{key}")
                yield limit(face.label, most, value, change)


def distance_of(scenario: Scenario) -> Limit:
    """Return the distance as a limit that may give way: the nearer, the brighter.

    It is not one that a person gives up, so it is not among `limits_asked`. An exposure stays what it is.
    """
    near = min(0.05, scenario.light.distance)

    def closer(s: Scenario, value: Any) -> Scenario:
        return s.model_copy(update={"light": s.light.model_copy(update={"distance": value})})

    return Limit(
        "distance",
        units.shown(scenario.light.distance, units.LENGTH),
        lambda s: closer(s, near),
        Sliding(scenario.light.distance, near, units.LENGTH),
        closer,
        _text(units.LENGTH),
    )
