"""Which parts a scenario lets in at all: limits that concern one part alone never enter the model."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from optimise.parts import (
    Battery,
    Cable,
    Catalogue,
    Connector,
    Diffuser,
    Driver,
    Emitter,
    Fuse,
    Mount,
    Offer,
    Panel,
    Part,
)
from optimise.parts.colour import is_white, worked_out
from optimise.physics.batteries import Flight, flight_rule
from optimise.physics.colour import filtered_light
from optimise.physics.flicker import flicker
from optimise.physics.leads import ambient_factor
from optimise.scenario import Scenario
from optimise.scenario.colour import asks, light_of, refused
from optimise.scenario.terms import let_in

_P = TypeVar("_P", bound=Part)


@dataclass(frozen=True)
class Eligible:
    """The parts that may be used, each kind sorted by code, and why the others may not."""

    emitters: tuple[Emitter, ...]
    drivers: tuple[Driver, ...]
    panels: tuple[Panel, ...]
    diffusers: tuple[Diffuser, ...]
    batteries: tuple[Battery, ...]
    cables: tuple[Cable, ...]
    fuses: tuple[Fuse, ...]
    connectors: tuple[Connector, ...]
    mounts: tuple[Mount, ...]
    offers: Mapping[str, tuple[Offer, ...]]
    only_mixed: frozenset[str] = frozenset()
    """Codes of emitters that miss a limit on colour by themselves, and may only be part of a mixture."""
    left_out: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    """Counts of parts left out, by kind and reason."""


def code_digits(code: str) -> tuple[int, int]:
    """Return the two digits of an IP code; X counts as −1, never as 'at least'."""
    return tuple(-1 if sign == "X" else int(sign) for sign in code[2:])  # type: ignore[return-value]


def meets_ip(code: str | None, wanted: str | None) -> bool:
    """Whether a code is at least the wanted one in both digits (IEC 60529); an X that is asked asks nothing."""
    if wanted is None:
        return True
    if code is None:
        return False
    return all(have >= want for have, want in zip(code_digits(code), code_digits(wanted), strict=True))


def flying_number(battery: Battery, scenario: Scenario) -> int | None:
    """Return how many of a battery may travel, or None where the mode sets no number."""
    if scenario.travel.mode != "air":
        return None
    rule, number = flight_rule(battery.chemistry, battery.watt_hours, battery.voltage)
    if rule is Flight.REFUSED or (rule is Flight.APPROVAL and not scenario.travel.approval):
        return 0
    return number


def driver_flicker(driver: Driver, scenario: Scenario) -> float | None:
    """Return the most that exposures differ, in stops, down to the level asked for; None where that is not known.

    A driver's flicker never falls with its level, so that at the lowest one is the worst.
    """
    time = scenario.exposure_time
    if time is None:
        return None
    level = scenario.look.dim_to or 1.0
    return flicker(time, driver.rippling(scenario.power.mains_frequency), driver.switching(level))


def eligible_parts(catalogue: Catalogue, scenario: Scenario) -> Eligible:
    """Return the parts of a catalogue that pass every limit of a scenario that concerns one part alone."""
    offers = let_in(catalogue.offers, scenario)
    left_out: dict[str, Counter[str]] = {}

    def keep(kind: str, parts: Iterable[_P], refuse: Callable[[_P], str | None]) -> tuple[_P, ...]:
        kept: list[_P] = []
        reasons: Counter[str] = Counter()
        for part in parts:
            reason = refuse(part) if part.part in offers else "no offer within suppliers, deadline and day"
            if reason is None:
                kept.append(part)
            else:
                reasons[reason] += 1
        if reasons:
            left_out[kind] = reasons
        return tuple(kept)

    rules = _Rules(scenario, catalogue.diffusers)
    batteries = catalogue.batteries if scenario.power.battery else ()
    mixing = scenario.search.emitter_kinds > 1
    missing = {e.part for e in catalogue.emitters if mixing and is_white(e) and rules.emitter(e) is not None}
    return Eligible(
        emitters=keep("emitters", catalogue.emitters, lambda e: None if e.part in missing else rules.emitter(e)),
        drivers=keep("drivers", catalogue.drivers, rules.driver),
        panels=keep("panels", catalogue.panels, rules.panel),
        diffusers=keep("diffusers", catalogue.diffusers, lambda part: None),
        batteries=keep("batteries", batteries, rules.battery),
        cables=keep("cables", catalogue.cables, rules.cable),
        fuses=keep("fuses", catalogue.fuses, rules.fuse),
        connectors=keep("connectors", catalogue.connectors, rules.connector),
        mounts=keep("mounts", catalogue.mounts if scenario.limits.mount else (), lambda part: None),
        offers=offers,
        only_mixed=frozenset(missing),
        left_out=left_out,
    )


class _Rules:
    """One method a kind: why a part may not be used, or None."""

    def __init__(self, scenario: Scenario, diffusers: Iterable[Diffuser]) -> None:
        self.scenario = scenario
        # Which diffusers can be had is another question: an emitter that only a filter helps may be let in too often.
        shifts = {0.0, *(sheet.mired_shift for sheet in diffusers)}
        if scenario.look.sheets_max > 1:
            shifts |= {one + other for one in shifts for other in shifts}
        self.shifts = sorted(shifts)

    def emitter(self, part: Emitter) -> str | None:
        look = self.scenario.look
        if not asks(look):
            return None
        light = light_of(part, look)
        if any(refused(filtered_light(light, shift), look) is None for shift in self.shifts):
            return None
        return refused(light, look, measured=worked_out(part))

    def _ip(self, code: str | None) -> str | None:
        if meets_ip(code, self.scenario.limits.ip):
            return None
        return "IP code not stated" if code is None else "IP code too low"

    def driver(self, part: Driver) -> str | None:
        power = self.scenario.power
        if part.input == "ac":
            if not power.mains:
                return "needs mains"
            assert power.mains_voltage is not None
            if not part.input_min <= power.mains_voltage <= part.input_max:
                return "not for this mains voltage"
            if part.isolated is False:
                return "not isolated from the mains"
        elif not power.battery:
            return "needs a battery"
        look = self.scenario.look
        if look.dim_to is not None:
            if part.dimmable == "no":
                return "does not dim"
            if part.dim_min is not None and part.dim_min > look.dim_to * (1 + 1e-9):
                return "does not dim so far"
        if look.flicker_max is not None:
            change = driver_flicker(part, self.scenario)
            if change is not None and change > look.flicker_max * (1 + 1e-9):
                return "flickers too much at this shutter"
        return self._ip(part.ip)

    def panel(self, part: Panel) -> str | None:
        limits = self.scenario.limits
        if limits.width is not None and part.width > limits.width:
            return "too wide"
        if limits.height is not None and part.height > limits.height:
            return "too high"
        least = max(self.scenario.source_size_min, self.scenario.penumbra_size_min)
        if min(part.width, part.height) < least * (1 - 1e-12):
            return "too small to be soft enough"
        return self._ip(part.ip)

    def battery(self, part: Battery) -> str | None:
        if part.temperature_min is not None and self.scenario.power.ambient < part.temperature_min:
            return "too cold for it"
        if flying_number(part, self.scenario) == 0:
            return "may not fly as asked"
        return self._ip(part.ip)

    def cable(self, part: Cable) -> str | None:
        if float(ambient_factor(self.scenario.power.ambient, part.conductor_max)) <= 0.0:
            return "too hot for it"
        return None

    def _supply(self, supply: str) -> str | None:
        power = self.scenario.power
        if supply == "ac" and not power.mains:
            return "for mains"
        if supply == "dc" and not power.battery:
            return "for batteries"
        return None

    def fuse(self, part: Fuse) -> str | None:
        return self._supply(part.supply)

    def connector(self, part: Connector) -> str | None:
        return self._supply(part.supply)
