"""Which stages a search for what arrives at the door goes through, and what it leaves of others; parts are invented."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import pytest
import small_kits

from optimise.model import search as module
from optimise.model.exact import evaluate
from optimise.model.market import build_market
from optimise.model.search import best_build, run_orders
from optimise.model.state import State
from optimise.parts import Supplier

FREE = {"cost": math.inf, "mass": math.inf, "power": math.inf}
PARTS = replace(small_kits.few_parts(), suppliers=(Supplier(supplier="north", delivery=400),))
JOB = small_kits.job()


@dataclass
class Told:
    """In place of the branching on suppliers: tells what it is asked to make least, and finds nothing better."""

    house: Any
    search: Any
    order: tuple[str, ...]
    caps: Mapping[str, float]

    def go(self) -> None:
        STAGES.append(self.order)


STAGES: list[tuple[str, ...]] = []


@pytest.mark.parametrize(
    ("floor", "stages", "wanted"),
    [
        (-math.inf, [("mass",), ("cost", "power")], [("mass",), ("cost", "power")]),
        # As light as any can be: what costs least of those is still to be found.
        (0.0, [("mass",), ("cost", "power")], [("cost", "power")]),
        (-1.0, [("mass",), ("cost", "power")], [("mass",), ("cost", "power")]),
        # A figure that is looked at after others is not known to be least.
        (0.0, [("mass",), ("power",)], [("power",)]),
        (0.0, [("mass", "power")], [("mass", "power")]),
    ],
)
def test_what_is_known_to_be_least_is_not_looked_for(
    floor: float, stages: list[tuple[str, ...]], wanted: list[tuple[str, ...]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "Orders", Told)
    STAGES.clear()
    choice = small_kits.builds(PARTS, JOB, 2)[0].choice
    known = evaluate(choice, PARTS, JOB)
    search = State(build_market(PARTS, JOB), "mass", 1, None, lambda text: None, best=known)
    search.floor = known.milligrams + floor
    run_orders(None, search, FREE, stages)  # type: ignore[arg-type]
    assert wanted == STAGES
    assert search.settled == sum(map(len, stages))


def test_a_search_leaves_what_other_builds_come_to() -> None:
    found = best_build(PARTS, JOB, "cost")
    assert found.evaluation is not None
    assert found.proof.floors is not None
    # Of all builds none is cheaper, and some shop says so.
    assert found.proof.floors.shops
    assert all(low < found.evaluation.cents + 1000 for low in found.proof.floors.shops.values())
    assert max(found.proof.floors.shops.values()) > found.evaluation.cents - 1
