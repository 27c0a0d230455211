"""The travel card: batteries and the rules for them, and what is carried."""

from collections.abc import Sequence
from dataclasses import dataclass

from optimise.physics.batteries import Flight, flight_rule
from optimise.report.lamp import Lamp
from optimise.report.terminal import number

RULE = "IATA Dangerous Goods Regulations, passenger provisions (seen second-hand); the airline decides"


@dataclass(frozen=True)
class Packed:
    """What one light brings into the bag."""

    rows: Sequence[tuple[str, str]]
    batteries: int
    """In all equal lights."""
    flight: str
    """What may fly and how, in a sentence; empty on mains."""


def packed(lamp: Lamp) -> Packed:
    """Return what a light brings into the bag, and how it may fly whatever the job says of its journey."""
    panel, battery = lamp.build.panel, lamp.build.battery
    size = f"{number(panel.width, 'm')} × {number(panel.height, 'm')}"
    if panel.depth is not None:
        size += f" × {number(panel.depth, 'm')} deep"
    rows = [
        ("Carried in all", number(lamp.figure("mass"), "kg")),
        ("The head alone", number(lamp.figure("head_mass"), "kg")),
        ("Board", size),
    ]
    if lamp.build.diffuser is not None:
        rows.append(("Diffuser", f"cut to {number(panel.width, 'm')} × {number(panel.height, 'm')}"))
    rows.append(("Lead", number(lamp.scenario.power.lead_length, "m")))
    if battery is None:
        return Packed(rows, 0, "")
    each = lamp.build.choice.batteries
    rule, most = flight_rule(battery.chemistry, battery.watt_hours, battery.voltage)
    count = each * lamp.count
    rows += [
        ("Batteries", f"{count}, {battery.chemistry}"),
        ("Energy of one battery", number(battery.watt_hours, "Wh")),
        ("Energy of all", number(count * battery.watt_hours, "Wh")),
    ]
    return Packed(rows, count, _told(rule, most, count, battery.watt_hours, battery.chemistry))


def _told(rule: Flight, most: int, count: int, watt_hours: float, chemistry: str) -> str:
    if rule is Flight.REFUSED:
        return f"One battery holds {number(watt_hours, 'Wh')}: these may not fly as passenger baggage. Send them ahead."
    how = {
        Flight.FREE: "in the cabin, without approval",
        Flight.APPROVAL: "in the cabin, and only with the airline's approval",
    }[rule]
    within = "within" if count <= most else "MORE than"
    allowed = f"{within} the {most} that one passenger may take {how}"
    sealed = "; non-spillable ones alone" if chemistry == "lead-acid" else ""
    return f"{count} to carry, {allowed}{sealed}; terminals covered, never checked in."
