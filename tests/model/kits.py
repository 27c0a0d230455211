"""The best kit by looking at every pair of builds and every way to buy both in one basket."""

import math
from collections.abc import Sequence
from random import Random

from baskets import basket, with_charges
from oracle import LOOSE, Oracle, TooManyError, taken, usable_offers, whole
from random_catalogues import random_case

from optimise.model.choice import Choice
from optimise.model.exact import evaluate
from optimise.model.kit import evaluate_kit
from optimise.parts import Catalogue, Diffuser, Panel
from optimise.scenario import KitLight, Scenario

NODES = 3_000
MOST = 3_000
"""Builds of a light up to which all pairs are ranked."""

Wanted = dict[str, tuple[int, float]]


def kit_of(scenario: Scenario, lights: Sequence[tuple[float, int]]) -> Scenario:
    """Return a scenario that asks for lights of so many times its illuminance, so many equal ones of each."""
    asked = scenario.light.illuminance
    assert asked is not None
    free = {"budget": None, "mass": None, "power": None, "suppliers_max": None}
    alone = scenario.model_copy(update={"limits": scenario.limits.model_copy(update=free)})
    kit = tuple(
        KitLight(
            name=f"light {number}",
            count=count,
            job=alone.model_copy(update={"light": scenario.light.asking(asked * factor)}),
        )
        for number, (factor, count) in enumerate(lights)
    )
    return scenario.model_copy(update={"kit": kit})


def faces(sheet: Diffuser, panel: Panel, kerf: float) -> int:
    """Return how many faces of a panel a sheet gives: in rows and columns, all the same way."""
    best = 0
    for a, b in ((panel.width, panel.height), (panel.height, panel.width)):
        best = max(
            best,
            math.floor((sheet.width + kerf) / (a + kerf) + 1e-9)
            * math.floor((sheet.height + kerf) / (b + kerf) + 1e-9),
        )
    return best


def wanted_of(choices: Sequence[Choice], catalogue: Catalogue, scenario: Scenario) -> Wanted:
    """Return what a kit takes of each part: pieces, and of diffusers whole sheets."""
    wanted: Wanted = {}
    cut: dict[tuple[str, tuple[float, float]], int] = {}
    for choice, light in zip(choices, scenario.kit, strict=True):
        for code, (pieces, length) in taken(choice, catalogue, light.job).items():
            if code in choice.sheets:
                panel = catalogue.find(Panel, choice.panel)
                each = faces(catalogue.find(Diffuser, code), panel, scenario.buying.kerf)
                size = panel.width, panel.height
                cut[code, size] = cut.get((code, size), 0) + choice.sheets.count(code) * light.count
                sheets = sum(
                    -(-number // (each if mine == size else 1)) for (part, mine), number in cut.items() if part == code
                )
                # Faces of another size are seldom drawn; each size is then cut from sheets of its own.
                wanted[code] = sheets, 0.0
            else:
                wanted[code] = wanted.get(code, (0, 0.0))[0] + pieces * light.count, length
    return wanted


class KitOracle:
    """All kits of two lights, or of equal ones."""

    def __init__(self, catalogue: Catalogue, scenario: Scenario, most: int = MOST) -> None:
        self.catalogue, self.scenario = catalogue, scenario
        self.lights: list[list[tuple[float, int, Choice]]] = []
        for light in scenario.kit:
            oracle = Oracle(catalogue, light.job, NODES)
            if len(oracle.lit) * len(oracle.sources) * len(oracle.mounts) > 40_000:
                raise TooManyError
            builds: dict[tuple[object, ...], tuple[float, int, Choice]] = {}
            for lit in oracle.lit:
                for source in oracle.sources:
                    for mount in oracle.mounts:
                        build = whole(lit, source, mount, oracle.scenario, LOOSE)
                        if build is None:
                            continue
                        parts = taken(build.choice, catalogue, light.job)
                        # Two faces may come off one sheet, and are two all the same.
                        key = (*sorted((code, pieces) for code, (pieces, _) in parts.items()), build.choice.sheets)
                        if key in builds:
                            continue  # the same parts cost and weigh the same
                        if evaluate(build.choice, catalogue, light.job).passes:
                            builds[key] = self.least(parts), build.milligrams, build.choice
            if len(builds) > most:
                raise TooManyError
            self.lights.append(sorted(builds.values(), key=lambda build: build[:2]))

    def least(self, parts: Wanted) -> float:
        """Return a bound below what parts cost: each piece at the least that any pack makes of it."""
        total = 0.0
        for code, (pieces, length) in parts.items():
            each = [
                offer.price / offer.pack * (length if offer.sold_by == "length" else 1.0)
                for offer in usable_offers(self.catalogue, self.scenario, code)
            ]
            sheets = any(sheet.part == code for sheet in self.catalogue.diffusers)
            total += 0.0 if sheets else pieces * min(each, default=math.inf)
        return total

    def best(self, objective: str) -> tuple[int, int] | None:
        """Return the cents and milligrams of the best kit by cost or mass."""
        counts = [light.count for light in self.scenario.kit]
        if len(self.lights) == 1:
            kits = [((a,), counts[0] * a[0], counts[0] * a[1]) for a in self.lights[0]]
        else:
            kits = [
                ((a, b), counts[0] * a[0] + counts[1] * b[0], counts[0] * a[1] + counts[1] * b[1])
                for a in self.lights[0]
                for b in self.lights[1]
            ]
        rank = {"cost": lambda kit: (kit[1], kit[2]), "mass": lambda kit: (kit[2], kit[1])}[objective]
        limits = self.scenario.limits
        ceiling = math.inf if limits.budget is None else limits.budget + 1
        best: tuple[int, int] | None = None
        for kit in sorted(kits, key=rank):
            builds, low, milligrams = kit
            if best is not None and (low > best[0] if objective == "cost" else milligrams > best[1]):
                break
            if limits.mass is not None and milligrams / 1e6 > limits.mass * (1 + 1e-9):
                continue
            below = ceiling if best is None or (objective == "mass" and milligrams < best[1]) else best[0] + 1
            below = min(below, ceiling)
            if low >= below:
                continue
            choices = [build[2] for build in builds]
            cents = basket(wanted_of(choices, self.catalogue, self.scenario), self.catalogue, self.scenario, below)
            if cents is None or not evaluate_kit(choices, self.catalogue, self.scenario).passes:
                continue
            found = cents, milligrams
            if best is None or (found < best if objective == "cost" else found[::-1] < best[::-1]):
                best = found
        return best


def drawn_kit(
    number: int, source: str, charge: bool, most: int = MOST, most_emitters: int = 8
) -> tuple[Catalogue, Scenario, KitOracle] | None:
    """Return a small random problem of a kit with its oracle; None where none of a few is small."""
    rng = Random(f"kit {number} {source}")
    for attempt in range(60):
        case = random_case(number, source, 2000 + attempt, most_emitters)
        catalogue = with_charges(case.catalogue, rng) if charge else case.catalogue
        lights = rng.choice(
            [[(1.0, 1), (rng.uniform(0.3, 0.9), 1)], [(1.0, 2)], [(1.0, 1), (rng.uniform(0.3, 0.9), 2)]]
        )
        limits: dict[str, object] = {"budget": None, "mass": None, "power": None, "suppliers_max": None}
        if charge and rng.random() < 0.3:
            limits["suppliers_max"] = rng.choice([1, 2])
        scenario = kit_of(
            case.scenario.model_copy(update={"limits": case.scenario.limits.model_copy(update=limits)}), lights
        )
        try:
            oracle = KitOracle(catalogue, scenario, most)
        except TooManyError:
            continue
        pairs = math.prod(len(builds) for builds in oracle.lights)
        if not 0 < pairs <= 400_000:
            continue
        if rng.random() < 0.4:
            # A kit that one figure alone would make breaks a limit on the other.
            least = [min(build[1] for build in builds) for builds in oracle.lights]
            mass = sum(m * light.count for m, light in zip(least, scenario.kit, strict=True)) / 1e6
            tight = scenario.limits.model_copy(update={"mass": mass * rng.uniform(1.0, 1.3)})
            scenario = scenario.model_copy(update={"limits": tight})
            oracle.scenario = scenario
        return catalogue, scenario, oracle
    return None


def plain_kit(number: int, source: str) -> tuple[Catalogue, Scenario]:
    """Return a small random problem of a kit at shops that charge, without looking at its kits."""
    rng = Random(f"plain kit {number} {source}")
    case = random_case(number, source, 3000)
    free = {"budget": None, "mass": None, "power": None, "suppliers_max": None}
    scenario = case.scenario.model_copy(update={"limits": case.scenario.limits.model_copy(update=free)})
    return with_charges(case.catalogue, rng), kit_of(scenario, [(1.0, 1), (rng.uniform(0.3, 0.9), rng.choice([1, 2]))])
