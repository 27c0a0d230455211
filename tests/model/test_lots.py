"""Many lights at once against the exact check one by one, and both ends of the tolerances against all between."""

import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random

import numpy as np
import pytest
from oracle import drawn_case
from toleranced import each_part, with_tolerances

from optimise.model.choice import Choice, Evaluation
from optimise.model.exact import build_of, evaluate
from optimise.model.lots import left_on
from optimise.parts import Battery, Cable, Catalogue, Panel, Part
from optimise.parts.tolerance import bad_end, delivered, good_end, tolerances_of
from optimise.physics.heat import HOTTEST
from optimise.scenario import Scenario

NODES = 20_000
Lot = dict[tuple[str, str], float]


@dataclass(frozen=True)
class Made:
    """A build of a random job with tolerances on its parts."""

    choice: Choice
    catalogue: Catalogue
    scenario: Scenario

    @property
    def stated(self) -> Lot:
        """Tolerances of the parts of the build by code and figure."""
        choice = self.choice
        codes = {choice.emitter, choice.panel, choice.diffuser, choice.battery, choice.cable, choice.fuse}
        codes |= {choice.connector, choice.mount, *(channel.driver for channel in choice.channels)}
        return {
            (part.part, figure): share
            for part in self.catalogue.parts()
            if part.part in codes
            for figure, share in tolerances_of(part).items()
            if share is not None
        }

    def evaluated(self, catalogue: Catalogue) -> Evaluation:
        return evaluate(self.choice, catalogue, self.scenario)

    def lots(self, rng: Random) -> Iterator[Lot]:
        """Yield every corner of the figures that act on each other, and lots between."""
        stated = self.stated
        names = [name for name in ("flux", "voltage", "capacity", "mass") if any(f == name for _, f in stated)]
        for sides in itertools.product([-1.0, 1.0], repeat=len(names)):
            side = dict(zip(names, sides, strict=True))
            yield {key: side[key[1]] * share for key, share in stated.items()}
        for _ in range(8):
            yield {key: rng.choice([-1.0, 1.0, rng.uniform(-1.0, 1.0)]) * share for key, share in stated.items()}


def made(number: int, source: str) -> list[Made]:
    """Return two builds of a random job, with tolerances drawn apart and limits of mass and power just kept."""
    case, oracle = drawn_case(number, source, NODES)
    found = []
    for turn, objective in enumerate(("cost", "power")):
        build = oracle.best(objective).build
        if build is not None:
            limits = {"mass": 1e-6 * build.milligrams, "power": build.watts}
            scenario = case.scenario.model_copy(update={"limits": case.scenario.limits.model_copy(update=limits)})
            catalogue = with_tolerances(case.catalogue, Random(10 * number + turn), often=0.8)
            found.append(Made(build.choice, catalogue, scenario))
    return found


CASES = [(source, number) for source in ("battery", "mains") for number in range(8)]


def worse(one: float, other: float) -> bool:
    """Whether less is left, by more than rounding of floating point."""
    return one < other - 1e-9 * max(1.0, abs(other))


@pytest.mark.long
def test_nothing_delivered_is_worse_than_the_bad_end_or_better_than_the_good_one() -> None:
    moved: dict[str, int] = {}
    for source, number in CASES:
        for light in made(number, source):
            bad, good = light.evaluated(bad_end(light.catalogue)), light.evaluated(good_end(light.catalogue))
            names = [margin.name for margin in bad.margins]
            least = [math.inf] * len(names)
            most = [-math.inf] * len(names)
            for lot in light.lots(Random(number)):
                margins = light.evaluated(delivered(light.catalogue, lot)).margins
                assert [margin.name for margin in margins] == names
                for place, margin in enumerate(margins):
                    assert not worse(margin.left, bad.margins[place].left), (margin, lot)
                    assert not worse(good.margins[place].left, margin.left), (margin, lot)
                    least[place] = min(least[place], margin.left)
                    most[place] = max(most[place], margin.left)
            # Each end is reached by something that may be delivered: it is not merely a bound.
            assert least == pytest.approx([margin.left for margin in bad.margins], rel=1e-9, abs=1e-9)
            assert most == pytest.approx([margin.left for margin in good.margins], rel=1e-9, abs=1e-9)
            for place, name in enumerate(names):
                if least[place] != most[place]:
                    kind = name.split(": ")[-1]
                    moved[kind] = moved.get(kind, 0) + 1
    wanted = {"illuminance", "mass", "power", "runtime", "touch temperature", "case temperature", "panel temperature"}
    wanted |= {"output, low", "output, high", "output power", "input, low", "voltage drop", "fuse carries the load"}
    wanted |= {"mains circuit", "battery current", "mount load"}
    assert wanted <= moved.keys()


def test_many_lights_at_once_are_what_the_exact_check_says_of_each() -> None:
    compared = 0
    for source, number in CASES:
        for light in made(number, source):
            lots = list(light.lots(Random(number)))
            stated = light.evaluated(light.catalogue)
            off = {key: np.array([lot[key] for lot in lots]) for key in light.stated}
            left = left_on(build_of(light.choice, light.catalogue), stated, light.scenario, off, len(lots))
            for turn, lot in enumerate(lots):
                exact = light.evaluated(delivered(light.catalogue, lot))
                for place, margin in enumerate(exact.margins):
                    # A limit that is not among the many must be one that nothing delivered can move.
                    found = left[place][turn] if place in left else stated.margins[place].left
                    assert found == pytest.approx(margin.left, rel=1e-8, abs=1e-8), (margin.name, lot)
                    compared += place in left
    assert compared > 1000


def extreme(light: Made, change: Callable[[Catalogue], Catalogue]) -> list[Evaluation]:
    """Return what the exact check says at the bad end, the many lights being the same, after a change of parts."""
    catalogue = change(light.catalogue)
    other = Made(light.choice, catalogue, light.scenario)
    stated, bad = other.evaluated(catalogue), other.evaluated(bad_end(catalogue))
    lot = {key: np.array([{"flux": -1.0, "capacity": -1.0}.get(key[1], 1.0) * t]) for key, t in other.stated.items()}
    left = left_on(build_of(light.choice, catalogue), stated, light.scenario, lot, 1)
    for place, margin in enumerate(bad.margins):
        if place in left and not margin.name.endswith("output, low"):
            assert left[place][0] == pytest.approx(margin.left, rel=1e-8, abs=1e-8, nan_ok=True), margin.name
            assert (left[place][0] >= -1e-9) == margin.holds
    return [stated, bad]


def test_a_lead_that_cannot_carry_the_load_keeps_no_limit_on_it() -> None:
    lights = (light for number in range(20) for light in made(number, "battery"))
    light = next(light for light in lights if (light.choice.emitter, "voltage") in light.stated)
    stated = light.evaluated(light.catalogue)
    lowest = stated.figures["supply_voltage"][0]
    assert lowest is not None
    battery = light.catalogue.find(Battery, light.choice.battery or "")
    lowest *= battery.voltage_min / battery.voltage
    tolerance = light.stated[light.choice.emitter, "voltage"]
    # As stated the lead just carries the load, with half of the voltage lost in it; with more volts it does not.
    ohms = lowest**2 / (4.0 * stated.apparent * (1.0 + tolerance / 4.0))

    def thin(catalogue: Catalogue) -> Catalogue:
        def thinned(part: Part) -> Part:
            if not isinstance(part, Cable):
                return part
            warm = 1.0 + 0.00393 * (part.conductor_max - 20.0)
            return part.model_copy(update={"resistance": ohms / warm / (2.0 * light.scenario.power.lead_length)})

        return each_part(catalogue, thinned)

    nominal, bad = extreme(light, thin)
    assert math.isfinite(nominal.figures["current"][0] or math.nan)
    assert bad.figures["current"][0] == math.inf
    assert bad.figures["runtime"][0] == 0.0
    assert not bad.passes


def test_a_board_that_cannot_shed_its_heat_is_as_hot_as_is_looked_at() -> None:
    light = made(3, "mains")[0]

    def shut(catalogue: Catalogue) -> Catalogue:
        small = {"faces": 1, "emissivity": 0.0, "thermal_resistance": None, "width": 0.002, "height": 0.002}
        return each_part(catalogue, lambda part: part.model_copy(update=small) if isinstance(part, Panel) else part)

    nominal, bad = extreme(light, shut)
    assert nominal.board == bad.board == light.scenario.power.ambient + HOTTEST


def test_what_is_exact_leaves_what_is_stated() -> None:
    looked = 0
    for source, number in CASES[:4] + CASES[-4:]:
        for light in made(number, source):
            stated = light.evaluated(light.catalogue)
            left = left_on(build_of(light.choice, light.catalogue), stated, light.scenario, {}, 3)
            for place, found in left.items():
                assert found.shape == (3,)
                assert found == pytest.approx(stated.margins[place].left, rel=1e-9, abs=1e-9)
                looked += 1
    assert looked >= 50
