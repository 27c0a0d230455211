"""All dangers, by name."""

from battery_dangers import BATTERIES
from driver_dangers import DRIVERS
from head_dangers import HEAT, HOUSING
from lead_dangers import LEAD

DANGERS = [*LEAD, *BATTERIES, *DRIVERS, *HEAT, *HOUSING]
BY_NAME = {danger.name: danger for danger in DANGERS}

NAMED = [
    BY_NAME[name]
    for name in (
        "fuse above the cable's rating",
        "metal on the mains without earth: two cores",
        "string above the driver's output",
        "driver above extra-low voltage with its string unplugged",
        "battery over its continuous current",
        "board too hot to touch",
        "plug fuse too large for the flex",
        "lead-acid discharged too deep",
        "li-ion used below freezing",
        "board not made for the weather",
    )
]
"""Those that hurt most."""
