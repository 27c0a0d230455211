"""Problems of a handful of parts for tests of the columns: two emitters, two boards, two sheets. All are invented."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, TALL, catalogue, on_offer

from optimise.model.market import build_market
from optimise.model.problem import Problem, build_problem, problem_of
from optimise.parts import Catalogue, Emitter
from optimise.scenario import Scenario
from optimise.scenario.points import Point

WARM = EMITTER.model_copy(
    update={
        "flux_per_kelvin": -0.005,
        "resistance_junction_case": 4.0,
        "current_min": 0.25,
        "case_max": 80.0,
        "back": 0.25,
    }
).ranging(1.1, 0.9)
STEADY = EMITTER.model_copy(update={"part": "g", "flux": 700.0, "beam": 120.0, "length": 0.1, "heat_fraction": 0.5})
BOARDS = (PANEL, TALL.model_copy(update={"thermal_resistance": 0.8}))


def parts_of(*emitters: Emitter, **kinds: object) -> Catalogue:
    """Return the plain parts with these emitters and these kinds in place of others; all are owned."""
    plain = catalogue(EMITTER)
    thin = plain.cables[0].model_copy(update={"part": "thin", "area": 1e-6, "rating": 10.0, "mass_per_length": 0.06})
    parts = replace(plain, emitters=emitters or (WARM, STEADY), panels=BOARDS, cables=(*plain.cables, thin))
    parts = replace(parts, **kinds)  # type: ignore[arg-type]
    return on_offer(parts, "own", 0)


def job(*points: Point, look: dict[str, object] | None = None, ambient: float = 20.0, **light: object) -> Scenario:
    """Return the plain job on a tripod of one's own, with points, a look and light of its own."""
    return SCENARIO.model_copy(
        update={
            "light": SCENARIO.light.model_copy(update=light),
            "look": SCENARIO.look.model_copy(update=look or {}),
            "points": points,
            "power": SCENARIO.power.model_copy(update={"ambient": ambient}),
            "limits": SCENARIO.limits.model_copy(update={"mount": False}),
        }
    )


def world(parts: Catalogue, scenario: Scenario, *, sharp: bool = True) -> Problem:
    """Return the problem of all emitters, with the light of its heads exact where it is to be sharp."""
    if sharp:
        return build_problem(parts, scenario)
    market = build_market(parts, scenario)
    return problem_of(market, np.arange(len(market.parts.emitters)))


def pair_world(parts: Catalogue, scenario: Scenario, shares: Sequence[tuple[float, float]] = ((0.25, 0.5),)) -> Problem:
    """Return the problem of the first two emitters mixed, behind any sheet."""
    market = build_market(parts, scenario)
    return problem_of(market, np.array([0, 1]), tuple(shares), np.ones(len(market.parts.diffusers), dtype=bool))


__all__ = ["BOARDS", "SHEETS", "STEADY", "WARM", "job", "pair_world", "parts_of", "world"]
