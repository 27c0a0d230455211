"""Where a part is safe as stated and dangerous at the bad end of a tolerance, the worst case leaves it."""

from dataclasses import dataclass, replace

import pytest
from dangers import BAIT, SAFE, Danger, as_record
from judge import dangers_of
from table import BY_NAME
from worlds import World

from optimise.model.search import best_build
from optimise.parts.tolerance import bad_end
from optimise.studies.tolerances import over_tolerances


@dataclass(frozen=True)
class Moved:
    """A danger that a tolerance makes: whose, of which figure, and how much it takes."""

    danger: str
    kind: str
    code: str
    column: str
    tolerance: float = 0.05

    def world(self) -> tuple[Danger, World]:
        """Return the danger with the tolerance, and the world: one part safe by 1 %, and one by far."""
        danger = BY_NAME[self.danger]
        toleranced = danger.world.but(self.kind, self.code, **{self.column: self.tolerance})
        danger = replace(danger, world=toleranced)
        return danger, danger.beside_it(danger.tempting(danger.cell_beyond(-0.01)), 0.5)


VOLTS = ("emitters", "LED", "voltage_tolerance")
MOVED = [
    *(
        Moved(name, *VOLTS)
        for name in (
            "fuse too small for hours of load",
            "battery over its continuous current",
            "lead that drops too much",
            "string above the driver's output",
            "driver over its power",
            "board too hot to touch",
            "board above its own temperature",
            "emitter above its case temperature",
            "hot spot on a board that spreads no heat",
            "load above the circuit",
        )
    ),
    Moved("lead-acid discharged too deep", *VOLTS),
    Moved("lead-acid discharged too deep", "batteries", "PACK", "capacity_tolerance"),
    Moved("battery emptied by the cold", "batteries", "PACK", "capacity_tolerance", 0.1),
    Moved("mount below the head's mass", "panels", "BOARD", "mass_tolerance"),
]


FEW = (0, 3, 5, 11, 13)
"""Those of the default run: a current, a voltage, a temperature, a depth of discharge, a mass."""


@pytest.mark.parametrize(
    "moved",
    [pytest.param(moved, marks=[] if place in FEW else pytest.mark.long) for place, moved in enumerate(MOVED)],
    ids=lambda moved: f"{moved.danger}, {moved.column}",
)
def test_the_worst_case_leaves_what_a_tolerance_makes_dangerous(moved: Moved) -> None:
    danger, world = moved.world()
    stated = best_build(world.catalogue, world.scenario).evaluation
    assert stated is not None
    assert BAIT in str(stated.choice)
    # As stated it is sound; the study names the limit that is missed at the bad end.
    told = over_tolerances(stated.choice, world.catalogue, world.scenario, draws=200)
    assert told is not None
    missed = {ends.worst.name for ends in told.ends if ends is not None and not ends.worst.holds}
    assert missed == danger.named()
    assert told.share is not None
    assert told.share < 1.0
    worst = best_build(bad_end(world.catalogue), world.scenario).evaluation
    assert worst is not None
    assert BAIT not in str(worst.choice)
    assert SAFE in str(worst.choice)
    assert dangers_of(as_record(worst), world.files) == []
