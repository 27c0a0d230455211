"""What columns weigh on each scale, part by part, and that all scales together never weigh a build more than 1."""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_parts import EMITTER, PANEL, SCENARIO, catalogue
from random_shops import offer

from optimise.columns.heads import NO_DIFFUSER
from optimise.model.problem import Problem, build_problem
from optimise.model.weights import SCALES, capped, limits_of, weigh, weigh_all
from optimise.parts import Cable, Mount
from optimise.parts.part import Part
from optimise.scenario.model import Limits


def problem_with(*mounts: Mount, mount: bool = True) -> Problem:
    """Return a problem whose n-th part costs 10 n cents; the battery's lead is of one of two cables."""
    parts = catalogue(EMITTER)
    thin = Cable(part="c2", area=0.75e-6, cores=2, rating=10.0, voltage_max=300.0, mass_per_length=0.05)
    parts = replace(parts, mounts=mounts, cables=(*parts.cables, thin))
    offers = {part.part: (offer(part.part, "north", 10 * n),) for n, part in enumerate(parts.parts(), 1)}
    scenario = SCENARIO.model_copy(update={"limits": Limits(mount=mount)})
    return build_problem(replace(parts, offers=offers), scenario)


HEAVY = Mount(part="m", load=50.0, mass=0.9)
LIGHT = Mount(part="n", load=20.0, mass=0.3)


def grams(part: Part) -> float:
    return float(getattr(part, "mass", 0.0)) * 1e6


def test_cost_is_that_of_head_supply_and_the_cheapest_mount() -> None:
    problem = problem_with(HEAVY, LIGHT)
    price = {code: rows[0].price for code, rows in problem.catalogue.offers.items()}
    found = weigh(problem, "cost", 0.0)
    assert found.money == 1.0
    assert found.channel.tolist() == [0.0] * len(problem.channels)
    parts, heads, s = problem.parts, problem.heads, problem.supplies
    for h in range(len(heads)):
        sheet = heads.diffuser[h]
        covered = 0 if sheet == NO_DIFFUSER else price[parts.diffusers[sheet].part]
        assert found.head[h] == price[parts.panels[heads.panel[h]].part] + covered
    # The cable is sold by the piece here: a metre is one.
    for i in range(len(s)):
        pack = int(s.series[i] * s.parallel[i]) * price["b"]
        lead = sum(price[code] for code in (parts.cables[s.cable[i]].part, "f", "k"))
        assert found.supply[i] == pack + lead
    assert found.mount == min(price["m"], price["n"])
    assert weigh(problem_with(HEAVY, mount=False), "cost", 0.0).mount == 0.0


def test_mass_is_that_of_all_parts_and_the_lightest_mount() -> None:
    problem = problem_with(HEAVY, LIGHT)
    found = weigh(problem, "mass", 0.0)
    assert found.money == 0.0
    c = problem.channels
    for i in range(len(c)):
        assert found.channel[i] == pytest.approx(c.count[i] * 20000.0 + 100000.0)
    for h in range(len(problem.heads)):
        sheet = 0.0 if problem.heads.diffuser[h] == NO_DIFFUSER else 0.3e6 * 0.8 * 0.25
        assert found.head[h] == pytest.approx(grams(PANEL) + sheet)
    s = problem.supplies
    for i in range(len(s)):
        per_metre = problem.parts.cables[s.cable[i]].mass_per_length
        assert found.supply[i] == pytest.approx(1e6 * (int(s.series[i] * s.parallel[i]) + per_metre))
    assert found.mount == 300000.0
    assert weigh(problem_with(LIGHT, mount=False), "mass", 0.0).mount == 0.0


def test_power_is_that_of_channels_and_what_a_lead_loses() -> None:
    problem = problem_with(LIGHT)
    load = 15.0
    found = weigh(problem, "power", load)
    assert found.channel.tolist() == problem.channels.power.tolist()
    assert (found.money, found.mount, found.head.tolist()) == (0.0, 0.0, [0.0] * len(problem.heads))
    for i in range(len(problem.supplies)):
        volts, ohms = problem.supplies.nominal[i], problem.supplies.resistance[i]
        # V I = P + I² R at the source (Kirchhoff), the smaller root.
        current = (volts - math.sqrt(volts**2 - 4.0 * ohms * load)) / (2.0 * ohms)
        assert found.supply[i] == pytest.approx(current**2 * ohms, rel=1e-9)
        assert found.supply[i] > 0.0
    # No lead carries this.
    assert np.isinf(weigh(problem, "power", 1e9).supply).all()


def test_all_scales_together_are_averaged_shares_of_their_caps() -> None:
    problem = problem_with(HEAVY, LIGHT)
    one = {"cost": 2000.0, "mass": 4e6, "power": 60.0}
    parts = {scale: weigh(problem, scale, 15.0) for scale in SCALES}
    for left_out in (None, *SCALES):
        caps = {scale: math.inf if scale == left_out else cap for scale, cap in one.items()}
        known = [scale for scale in SCALES if scale != left_out]
        assert capped(caps) == known
        found = weigh_all(problem, caps, 15.0)

        def mean(figures: dict[str, float], of: list[str] = known) -> float:
            return sum(figures[scale] / one[scale] for scale in of) / len(of)

        for i in range(len(problem.channels)):
            assert found.channel[i] == pytest.approx(mean({s: float(parts[s].channel[i]) for s in SCALES}))
        for i in range(len(problem.heads)):
            assert found.head[i] == pytest.approx(mean({s: float(parts[s].head[i]) for s in SCALES}))
        for i in range(len(problem.supplies)):
            assert found.supply[i] == pytest.approx(mean({s: float(parts[s].supply[i]) for s in SCALES}))
        assert found.money == pytest.approx(mean({s: parts[s].money for s in SCALES}))
        assert found.mount == pytest.approx(mean({s: parts[s].mount for s in SCALES}))


def test_caps_are_the_limits_that_are_stated() -> None:
    assert capped({"cost": 0.0, "mass": 0.5, "power": math.inf}) == ["mass"]
    assert limits_of(SCENARIO) == {"cost": math.inf, "mass": math.inf, "power": math.inf}
    limits = Limits(budget=12345, mass=2.5, power=80.0)
    found = limits_of(SCENARIO.model_copy(update={"limits": limits}))
    # Cents are whole; of the others the exact check forgives a thousand-millionth.
    assert found["cost"] == 12345.0
    assert found["mass"] == pytest.approx(2.5e6 * (1.0 + 1e-9), rel=1e-13)
    assert found["power"] == pytest.approx(80.0 * (1.0 + 1e-9), rel=1e-13)
