"""The lights of a kit: the sections at the top, with what each light asks otherwise laid over them."""

from collections import Counter
from typing import Any

from pydantic import ValidationError

from optimise.parts.faults import Collector, Fault
from optimise.scenario.keys import light_key, model_fault, section_values, seen
from optimise.scenario.model import KitEntry, KitLight, Scenario

MOST_ENTRIES = 6
MOST_LIGHTS = 12
"""All lights of a kit: how they share out what is cut is looked at in every way."""

OVERLAID = ("light", "look", "power")

_EXPOSURE = {"iso", "f_number", "shutter", "shutter_angle", "frame_rate", "stops", "meter_constant"}


def kit_of(
    entries: Any,
    common: dict[str, Any],
    scenario: Scenario | None,
    file: str,
    lines: dict[str, int],
    faults: Collector,
) -> tuple[KitLight, ...]:
    """Return the lights of a kit; add what is wrong to `faults`.

    entries: what TOML gives for `[[kit]]`; common: the canonical values of the sections at the top; scenario: what
    they make, or None where they are refused.
    """
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries) or not entries:
        faults.add(Fault(file, lines.get("kit"), "key kit", seen(entries), "lights, each under [[kit]]"))
        return ()
    lights: list[KitLight] = []
    for number, entry in enumerate(entries, 1):
        light = _light(entry, number, common, scenario, file, lines, faults)
        if light is not None:
            lights.append(light)
    names = Counter(entry.get("name") for entry in entries if isinstance(entry.get("name"), str))
    for number, entry in enumerate(entries, 1):
        name = entry.get("name")
        if isinstance(name, str) and names[name] > 1:
            where = f"{light_key(number)}.name"
            faults.add(Fault(file, lines.get(where), f"key {where}", seen(name), "a name for each light of the kit"))
    total = sum(light.count for light in lights)
    if len(entries) > MOST_ENTRIES or total > MOST_LIGHTS:
        read = f"{len(entries)} entries, {total} lights"
        allowed = f"at most {MOST_ENTRIES} entries and {MOST_LIGHTS} lights"
        faults.add(Fault(file, lines.get("kit"), "key kit", read, allowed))
    return tuple(lights)


def _light(
    entry: dict[str, Any],
    number: int,
    common: dict[str, Any],
    scenario: Scenario | None,
    file: str,
    lines: dict[str, int],
    faults: Collector,
) -> KitLight | None:
    prefix = f"{light_key(number)}."
    before = len(faults.faults)
    values = section_values(entry, KitEntry, prefix, file, lines, [], faults, partly=True)
    head = {name: values[name] for name in ("name", "count") if name in values}
    checked: KitEntry | None = None
    try:
        checked = KitEntry(**{"name": "light", **head})
    except ValidationError as error:
        for problem in error.errors():
            faults.add(model_fault(problem, entry, file, lines, KitEntry, prefix))
    if "name" not in entry:
        where = f"{prefix}name"
        mend = "Add it: what this light is called, such as key or fill."
        faults.add(Fault(file, lines.get(light_key(number)), f"key {where}", "no such key", "a name", mend))
    if scenario is None or checked is None or len(faults.faults) > before:
        return None
    whole = {name: overlaid(common.get(name, {}), values.get(name, {}), name) for name in OVERLAID}
    limits = {name: value for name, value in common.get("limits", {}).items() if name not in {"mass", "power"}}
    limits |= values.get("limits", {})
    for name in ("budget", "suppliers_max"):
        limits.pop(name, None)
    try:
        job = Scenario(**{**common, **whole, "limits": limits}, currency=scenario.currency, text=scenario.text)
    except ValidationError as error:
        for problem in error.errors():
            faults.add(model_fault(problem, entry, file, lines, Scenario, prefix))
        return None
    own = "circuit" in values.get("power", {})
    return KitLight(name=checked.name, count=checked.count, job=job, own_circuit=own)


def overlaid(common: dict[str, Any], own: dict[str, Any], section: str) -> dict[str, Any]:
    """Return a section with a light's own keys laid over it: how much light is asked for in one way only."""
    kept = dict(common)
    if section == "light":
        if "illuminance" in own:
            kept = {name: value for name, value in kept.items() if name not in _EXPOSURE}
        elif own.keys() & (_EXPOSURE - {"meter_constant"}):
            kept.pop("illuminance", None)
        if "shutter" in own:
            kept = {name: value for name, value in kept.items() if name not in {"shutter_angle", "frame_rate"}}
        elif own.keys() & {"shutter_angle", "frame_rate"}:
            kept.pop("shutter", None)
    return {**kept, **own}
