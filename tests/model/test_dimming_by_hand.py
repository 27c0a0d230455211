"""Steps of dimming one by one: the level, the root, what drivers are turned down to, what does not bear it.

Parts are invented.
"""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from plain_parts import EMITTER, SCENARIO, asking, catalogue, choice, with_part

from optimise.model import dimming
from optimise.model.build import Build, Strings
from optimise.model.choice import Evaluation, Margin
from optimise.model.dimming import Dimmed, dimmable, dimmed
from optimise.model.exact import build_of, evaluate
from optimise.model.operating import strings_of
from optimise.parts import Catalogue

PARTS = catalogue(EMITTER.model_copy(update={"heat_fraction": 0.5}))


def dimming_parts(**driver: object) -> Catalogue:
    return replace(PARTS, drivers=(PARTS.drivers[0].model_copy(update=driver),))


def lit(*margins: tuple[str, str, float, float]) -> Evaluation:
    """Return a build with these margins: name, kind, required, achieved."""
    found = evaluate(choice("p", "film"), PARTS, SCENARIO)
    made = (Margin(name, "min" if kind == "min" else "max", *figures, "lx", "test") for name, kind, *figures in margins)
    return replace(found, margins=tuple(made))


@pytest.mark.parametrize(
    ("margins", "level"),
    [
        ([("illuminance", "min", 100.0, 400.0)], 0.25),
        # The place that has least to spare decides; what there may be at most does not, nor does another limit.
        ([("illuminance", "min", 100.0, 400.0), ("illuminance at sofa", "min", 50.0, 80.0)], 0.625),
        ([("illuminance", "min", 100.0, 125.0), ("illuminance at sofa, at most", "max", 900.0, 90.0)], 0.8),
        ([("illuminance", "min", 100.0, 400.0), ("uniformity", "min", 0.9, 0.9)], 0.25),
        ([("illuminance", "min", 0.1, 0.5)], 0.2),
        ([("illuminance", "min", 100.0, 0.0)], math.inf),
    ],
)
def test_the_level_is_that_of_the_darkest_place(margins: list[tuple[str, str, float, float]], level: float) -> None:
    assert dimming._level(lit(*margins)) == level


def test_a_twentieth_of_a_stop_is_not_dimmed() -> None:
    # 0.05 stops are a factor of 2^0.05 = 1.03526.
    parts = dimming_parts(dimmable="current")
    for lux, answered in ((103.6, True), (103.5, False), (100.0, False), (90.0, False)):
        answer = dimmed(lit(("illuminance", "min", 100.0, lux)), parts, SCENARIO)
        assert isinstance(answer, Dimmed) is answered
        assert answered or answer is None


def test_just_a_twentieth_of_a_stop_is_not_dimmed_either() -> None:
    just = math.nextafter(2.0**-0.05, 0.0)
    assert just * 2.0**0.05 == 1.0
    assert dimmed(lit(("illuminance", "min", just, 1.0)), dimming_parts(dimmable="current"), SCENARIO) is None


def test_who_does_not_dim_or_does_not_say_so_is_told_once() -> None:
    build = build_of(choice("p", "film"), PARTS)
    d = build.drivers[0]
    never, silent, dims = (
        d.model_copy(update={"part": code, "dimmable": how})
        for code, how in (("never", "no"), ("silent", None), ("dims", "pwm"))
    )
    blank = "silent: dimmable is not stated; not worked out: power, runtime and flicker at the light asked for."
    assert dimmable(replace(build, drivers=(silent, dims, never, never))) == ("never does not dim.", blank)
    assert dimmable(replace(build, drivers=(dims,))) == ()


@pytest.mark.parametrize(
    ("function", "root", "most"),
    [
        # A line takes one step.
        (lambda x: x - 0.3, 0.3, 1),
        # Dowell and Jarratt (1971): of order 1.442 at a simple root, where plain false position is of order 1 and
        # would take hundreds of steps for the first of these.
        (lambda x: x**9 - 0.5, 0.5 ** (1 / 9), 11),
        (lambda x: 0.5 - (1.0 - x) ** 9, 1.0 - 0.5 ** (1 / 9), 11),
        (lambda x: x**2 - 0.2, math.sqrt(0.2), 8),
        # How near to nothing is near enough goes by how far off the ends are.
        (lambda x: 1e-6 * (x**2 - 0.2), math.sqrt(0.2), 8),
        (lambda x: math.log1p(50.0 * x) - 1.0, (math.e - 1.0) / 50.0, 9),
    ],
)
def test_a_root_is_found_in_few_steps(function: Callable[[float], float], root: float, most: int) -> None:
    asked: list[float] = []

    def counted(x: float) -> float:
        asked.append(x)
        return function(x)

    found = dimming._root(counted, function(0.0), function(1.0))
    assert found == pytest.approx(root, rel=1e-11)
    assert len(asked) <= most
    assert all(0.0 < x < 1.0 for x in asked)


@pytest.mark.parametrize("rising", [True, False])
def test_the_end_that_stays_counts_half_from_the_second_time_on(rising: bool) -> None:
    # The rule as published: a secant first; another one; where the same end stays, the next with half of its height.
    def function(x: float) -> float:
        return x**9 - 0.5 if rising else 0.5 - (1.0 - x) ** 9

    asked: list[float] = []
    dimming._root(lambda x: asked.append(x) or function(x), function(0.0), function(1.0))  # type: ignore[func-returns-value]
    stays = 1.0 if rising else 0.0

    def secant(x: float, height: float) -> float:
        return x + (stays - x) * function(x) / (function(x) - height * function(stays))

    wanted = [0.5]
    for height in (1.0, 0.5, 0.25):
        wanted.append(secant(wanted[-1], height))
    assert asked[:4] == pytest.approx(wanted, rel=1e-12)


def test_a_root_that_is_never_exact_ends_with_the_interval() -> None:
    asked = []

    def step(x: float) -> float:
        asked.append(x)
        return -1.0 if x < 0.4 else 1.0

    assert dimming._root(step, -1.0, 1.0) == pytest.approx(0.4, abs=1e-12)
    # An interval of 1 halved 47 times is below 1e-14; some steps halve it less well.
    assert len(asked) <= 55


def turned_down(share: float, **driver: object) -> tuple[Strings, Strings]:
    """Return what the channel does at full drive and at a share of it."""
    build = build_of(choice("p", "film"), dimming_parts(**driver))
    (full,), (less,) = strings_of(build, SCENARIO), dimming._turned_down(build, share, SCENARIO)
    return full, less


def test_switching_gives_so_much_less_of_everything() -> None:
    for driver in ({"dimmable": "pwm"}, {"dimmable": "current", "output": "constant voltage"}):
        full, less = turned_down(0.25, **driver)
        for figure in ("flux", "emitter_heat", "heat", "power", "apparent"):
            assert getattr(less, figure) == 0.25 * getattr(full, figure)
        # What a string bears at the most stays.
        assert (less.channel.current, less.low, less.high, less.output) == (0.5, full.low, full.high, full.output)


def test_less_current_is_less_current() -> None:
    full, less = turned_down(0.25, dimmable="current")
    assert (full.channel.current, less.channel.current) == (0.5, 0.125)
    assert less.flux == pytest.approx(0.25 * full.flux)
    assert less.output == pytest.approx(0.25 * full.output)


def test_of_several_drivers_each_is_turned_down_its_own_way() -> None:
    build = build_of(choice("p", "film"), PARTS)
    (channel,), (driver,) = build.choice.channels, build.drivers
    current, pwm = (
        driver.model_copy(update={"dimmable": how, "part": code}) for code, how in (("c", "current"), ("w", "pwm"))
    )
    channels = tuple(replace(channel, driver=code) for code in ("w", "c"))
    both = replace(build, choice=replace(build.choice, channels=channels), drivers=(pwm, current))
    assert [s.channel.current for s in dimming._turned_down(both, 0.5, SCENARIO)] == [0.5, 0.25]


def missed(level: float, low: float = 23.0, current: float = 0.5, **driver: object) -> list[str]:
    """Return what is missed of a channel whose emitters run from 0.2 A on."""
    build = build_of(choice("p", "film"), dimming_parts(**driver))
    emitter = EMITTER.model_copy(update={"current_min": 0.2})
    (string,) = strings_of(build, SCENARIO)
    string = replace(string, emitter=emitter, low=low, channel=replace(string.channel, current=current))
    return dimming._missed(build, [string, string], level)


def test_what_is_at_its_end_bears_it_and_a_hair_below_does_not() -> None:
    # A level, a current and a voltage that are right at the end are that but for rounding: 1e-12 of them is forgiven.
    hair = 1.0 - 1e-12
    end = 1.0 - 1e-9
    told = ["d dims to 0.1 of full light only."]
    assert missed(0.1, dimmable="pwm", dim_min=0.1) == missed(0.1 * hair, dimmable="pwm", dim_min=0.1) == []
    assert missed(0.1 * end, dimmable="pwm", dim_min=0.1) == []
    assert missed(0.1 * (1.0 - 1e-8), dimmable="pwm", dim_min=0.1) == told
    told = ["e is not stated to run below 0.2 A."]
    assert missed(0.1, current=0.2, dimmable="current") == missed(0.1, current=0.2 * hair, dimmable="current") == []
    assert missed(0.1, current=0.2 * end, dimmable="current") == []
    assert missed(0.1, current=0.2 * (1.0 - 1e-8), dimmable="current") == told
    assert missed(0.1, current=0.1, dimmable="pwm") == []
    told = ["d: the string may fall to 10 V, below its window."]
    assert missed(0.1, low=10.0, dimmable="current") == missed(0.1, low=10.0 * hair, dimmable="current") == []
    assert missed(0.1, low=10.0 * end, dimmable="current") == []
    assert missed(0.1, low=10.0 * (1.0 - 1e-8), dimmable="current") == told
    assert missed(0.1, low=10.0 * (1.0 - 1e-8), dimmable="pwm") == []


def test_nothing_is_below_a_window_that_is_not_stated() -> None:
    assert missed(0.1, low=0.5, dimmable="current", output_min=None) == []
    # A string without any voltage of its own says nothing of the window.
    assert missed(0.1, low=0.0, dimmable="current") == []


def test_a_driver_that_switches_does_not_hide_what_the_next_one_misses() -> None:
    build = build_of(choice("p", "film"), dimming_parts(dimmable="pwm"))
    (string,) = strings_of(build, SCENARIO)
    weak = replace(string, driver=string.driver.model_copy(update={"part": "weak", "dimmable": "current"}), low=5.0)
    assert dimming._missed(build, [string, weak], 0.5) == ["weak: the string may fall to 5 V, below its window."]


def test_flicker_is_that_of_the_worst_driver_and_unknown_where_one_is() -> None:
    filmed = asking(look={"shutter": 0.02})
    build: Build = with_part(build_of(choice("p", "film"), PARTS), "drivers", dimmable="pwm", ripple=0.0)
    slow, slower = (build.drivers[0].model_copy(update={"pwm": frequency}) for frequency in (130.0, 30.0))
    # 0.02 s are 2.6 and 0.6 periods, half of each lit: from 1.1 to 1.5 of one, and from 0.1 to 0.5.
    wanted = [math.log2(1.5 / 1.1), math.log2(0.5 / 0.1)]
    assert dimming._flicker([slow], 0.5, filmed) == pytest.approx(wanted[0])
    assert dimming._flicker([slower], 0.5, filmed) == pytest.approx(wanted[1])
    assert dimming._flicker([slow, slower], 0.5, filmed) == pytest.approx(wanted[1])
    for blank in ({"pwm": None}, {"ripple": None}):
        assert dimming._flicker([slow, slow.model_copy(update=blank)], 0.5, filmed) is None
    assert dimming._flicker([slow], 0.5, SCENARIO) is None


def test_half_the_light_of_a_cold_light_is_half_the_current(monkeypatch: pytest.MonkeyPatch) -> None:
    # No light is lost with heat here, and none is gained by droop: light is in proportion to current.
    parts = dimming_parts(dimmable="current")
    asked = asking(light={"illuminance": evaluate(choice("p", "film"), parts, SCENARIO).lux / 2.0})
    rounds = []
    real = dimming.operating
    monkeypatch.setattr(dimming, "operating", lambda *all_: rounds.append(all_) or real(*all_))
    answer = dimmed(evaluate(choice("p", "film"), parts, asked), parts, asked)
    # Full light, the one step that a line takes, and what it comes to.
    assert len(rounds) == 3
    assert isinstance(answer, Dimmed)
    assert answer.level == pytest.approx(0.5, rel=1e-12)
    assert answer.drive == pytest.approx(0.5, rel=1e-9)
    assert answer.lux == pytest.approx(asked.light.illuminance, rel=1e-9)
