"""The lights of a kit: the sections at the top, with what each light asks otherwise laid over them."""

from collections import Counter
from typing import Any

from pydantic import ValidationError

from optimise.parts.faults import Collector, Fault
from optimise.parts.text import seen
from optimise.scenario.keys import light_key, model_faults, section_values
from optimise.scenario.model import KitEntry, KitLight, Scenario
from optimise.scenario.point_reader import points_of

MOST_ENTRIES = 6
MOST_LIGHTS = 12
"""All lights of a kit: how they share out what is cut is looked at in every way."""

OVERLAID = ("light", "look", "power")

_SHUTTER = {"shutter", "shutter_angle", "frame_rate"}
_EXPOSURE = {"iso", "f_number", "stops", "meter_constant"} | _SHUTTER


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
    entry = dict(entry)
    own_points = entry.pop("point", None)
    # Points hang on where a light stands: a light's own stand in place of those at the top, not beside them.
    points = common["points"] if own_points is None else points_of(own_points, prefix, file, lines, faults)
    values = section_values(entry, KitEntry, prefix, file, lines, [], faults, partly=True)
    head = {name: values[name] for name in ("name", "count") if name in values}
    checked: KitEntry | None = None
    try:
        checked = KitEntry(**{"name": "light", **head})
    except ValidationError as error:
        for problem in error.errors():
            faults.faults.extend(model_faults(problem, entry, file, lines, KitEntry, prefix))
    if "name" not in entry:
        where = f"{prefix}name"
        mend = "Add it: what this light is called, such as key or fill."
        faults.add(Fault(file, lines.get(light_key(number)), f"key {where}", "no such key", "a name", mend))
    if scenario is None or checked is None or len(faults.faults) > before:
        return None
    limits = {name: value for name, value in common.get("limits", {}).items() if name not in {"mass", "power"}}
    limits |= values.get("limits", {})
    for name in ("budget", "suppliers_max"):
        limits.pop(name, None)
    try:
        job = Scenario(
            **{**common, **overlaid(common, values), "limits": limits, "points": points},
            currency=scenario.currency,
            text=scenario.text,
        )
    except ValidationError as error:
        for problem in error.errors():
            faults.faults.extend(model_faults(problem, entry, file, lines, Scenario, prefix))
        return None
    own = "circuit" in values.get("power", {})
    return KitLight(name=checked.name, count=checked.count, job=job, own_circuit=own)


def overlaid(common: dict[str, Any], own: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Return the sections light, look and power with a light's own keys laid over those at the top.

    How much light is asked for in one way only. The shutter at the top is that of every light, and stands in [light]
    of those that ask for an exposure, in [look] of those that ask for an illuminance, wherever it stands at the top.
    """
    whole = {name: {**common.get(name, {}), **own.get(name, {})} for name in OVERLAID}
    mine = {name: own.get(name, {}) for name in ("light", "look")}
    if "illuminance" in mine["light"]:
        whole["light"] = {key: value for key, value in whole["light"].items() if key not in _EXPOSURE} | mine["light"]
    elif mine["light"].keys() & (_EXPOSURE - {"meter_constant"}):
        whole["light"].pop("illuminance", None)
    shutter = {key: value for name in mine for key, value in common.get(name, {}).items() if key in _SHUTTER}
    needs = "look" if "illuminance" in whole["light"] else "light"
    for name, keys in mine.items():
        stated = keys.keys() & _SHUTTER
        other = {"shutter_angle", "frame_rate"} if "shutter" in stated else {"shutter"} if stated else set()
        kept = {key: value for key, value in shutter.items() if key not in other} if name == needs else {}
        rest = {key: value for key, value in whole[name].items() if key not in _SHUTTER or key in stated}
        whole[name] = {**kept, **rest}
    return whole
