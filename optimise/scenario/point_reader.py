"""Reading the points of a light, with every fault told by its key."""

from collections import Counter
from typing import Any

from pydantic import ValidationError

from optimise.parts.faults import Collector, Fault
from optimise.parts.text import seen
from optimise.scenario.keys import model_fault, point_key, section_values
from optimise.scenario.points import MOST_POINTS, Point


def points_of(entries: Any, prefix: str, file: str, lines: dict[str, int], faults: Collector) -> tuple[Point, ...]:
    """Return the points that TOML gives under `[[point]]` of a light; add what is wrong to `faults`.

    prefix: of the light among the keys, empty at the top.
    """
    whole = f"{prefix}point"
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        faults.add(Fault(file, lines.get(whole), f"key {whole}", seen(entries), "points, each under [[point]]"))
        return ()
    points = []
    for number, entry in enumerate(entries, 1):
        where = prefix + point_key(number)
        before = len(faults.faults)
        values = section_values(entry, Point, f"{where}.", file, lines, [], faults)
        if len(faults.faults) > before:
            continue
        try:
            points.append(Point(**values))
        except ValidationError as error:
            faults.faults.extend(
                model_fault(problem, entry, file, lines, Point, f"{where}.") for problem in error.errors()
            )
    names = Counter(entry.get("name") for entry in entries if isinstance(entry.get("name"), str))
    for number, entry in enumerate(entries, 1):
        name = entry.get("name")
        if isinstance(name, str) and names[name] > 1:
            where = f"{prefix}{point_key(number)}.name"
            faults.add(Fault(file, lines.get(where), f"key {where}", seen(name), "a name for each point of the light"))
    if len(entries) > MOST_POINTS:
        read, allowed = f"{len(entries)} points", f"at most {MOST_POINTS} points"
        faults.add(Fault(file, lines.get(whole), f"key {whole}", read, allowed))
    return tuple(points)
