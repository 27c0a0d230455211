"""Flicker and dimming in a build: margins by hand, drivers left out, what is not checked, what the notes say."""

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from test_exact import FILES, SCENARIO, choice

from optimise.columns.eligible import driver_flicker, eligible_parts
from optimise.model.choice import Evaluation
from optimise.model.exact import evaluate, margin_of
from optimise.model.market import build_market
from optimise.model.search import best_build
from optimise.parts import Catalogue, Driver, InputError, read_catalogue
from optimise.report.words import notes_for
from optimise.scenario import Scenario, read_scenario
from optimise.studies.limits import limits_asked

SHUTTER = '[look]\nshutter_angle = "180 deg"\nframe_rate = "24 fps"\n'
Maker = Callable[..., tuple[Catalogue, Scenario]]


@pytest.fixture
def made(tmp_path: Path) -> Maker:
    """Return a maker of the hand-calculated catalogue with more said of its two drivers, and of a scenario."""

    def make(
        dc: str = ",,,,", ac: str = ",,,,", look: str = "", frequency: str = "50 Hz"
    ) -> tuple[Catalogue, Scenario]:
        for name, text in FILES.items():
            if name == "drivers":
                head, first, second = text.splitlines()
                head += ",dimmable,dim_min,pwm [Hz],ripple,ripple_frequency [Hz]"
                text = f"{head}\n{first},{dc}\n{second},{ac}\n"
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        job = SCENARIO + (f'mains_frequency = "{frequency}"\n' if frequency else "") + look
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        return read_catalogue(tmp_path), read_scenario(tmp_path / "job.toml")

    return make


def mains(catalogue: Catalogue, scenario: Scenario) -> Evaluation:
    return evaluate(choice(battery=False), catalogue, scenario)


def test_ripple_at_twice_the_mains_by_hand(made: Maker) -> None:
    e = mains(*made(ac=",,,0.3,", look=SHUTTER + 'flicker_max = "0.05"\n'))
    x = 100 / 48
    residual = 0.3 * abs(math.sin(math.pi * x) / (math.pi * x))
    stops = math.log2((1 + residual) / (1 - residual))
    margin = margin_of(e, "AC: flicker")
    assert margin is not None
    assert (margin.required, margin.unit, margin.source) == (0.05, "stop", "scenario")
    assert margin.achieved == pytest.approx(stops, rel=1e-12)
    assert margin.holds
    assert e.figures["flicker"] == (pytest.approx(stops, rel=1e-12), "stop")
    assert not any("flicker" in line for line in e.unchecked)


def test_a_driver_that_flickers_too_much_is_left_out_and_its_build_fails(made: Maker) -> None:
    catalogue, scenario = made(ac=",,,0.6,", dc=",,,0,", look=SHUTTER + 'flicker_max = "0.05"\n')
    parts = eligible_parts(catalogue, scenario)
    assert [driver.part for driver in parts.drivers] == ["DC"]
    assert parts.left_out["drivers"] == {"flickers too much at this shutter": 1}
    margin = margin_of(mains(catalogue, scenario), "AC: flicker")
    assert margin is not None
    assert not margin.holds


def test_the_same_driver_does_at_a_shutter_of_whole_periods(made: Maker) -> None:
    look = '[look]\nshutter_angle = "172.8 deg"\nframe_rate = "24 fps"\nflicker_max = "0.001"\n'
    margin = margin_of(mains(*made(ac=",,,0.9,", look=look)), "AC: flicker")
    assert margin is not None
    assert margin.achieved == pytest.approx(0.0, abs=1e-12)


def test_switching_counts_where_it_must_dim(made: Maker) -> None:
    catalogue, scenario = made(dc="pwm,0.01,100,0,", look=SHUTTER + 'flicker_max = "0.2"\n')
    assert driver_flicker(catalogue.find(Driver, "DC"), scenario) == pytest.approx(0.0, abs=1e-12)
    catalogue, scenario = made(dc="pwm,0.01,100,0,", look=SHUTTER + 'flicker_max = "0.2"\ndim_to = "50 %"\n')
    # 2 + 1/12 periods, half of each: on for 1 to 1 + 1/12 of them.
    e = evaluate(choice(battery=True), catalogue, scenario)
    margin = margin_of(e, "DC: flicker")
    assert margin is not None
    assert margin.achieved == pytest.approx(math.log2(13 / 12), rel=1e-9)
    assert margin_of(e, "DC: can be dimmed") is not None
    dims = margin_of(e, "DC: dims to")
    assert dims is not None
    assert (dims.required, dims.achieved) == (0.5, 0.01)


def test_drivers_that_do_not_dim_as_asked_are_left_out(made: Maker) -> None:
    catalogue, scenario = made(dc="no,,,,", ac="current,0.2,,,", look='[look]\ndim_to = "10 %"\n')
    assert eligible_parts(catalogue, scenario).left_out["drivers"] == {"does not dim": 1, "does not dim so far": 1}
    assert best_build(catalogue, scenario).status == "impossible"
    asked = {limit.name: limit for limit in limits_asked(scenario, catalogue)}
    eased = asked["dim_to"].changed(scenario, 0.2)
    assert [driver.part for driver in eligible_parts(catalogue, eased).drivers] == ["AC"]


def test_limits_on_flicker_give_way_to_what_drivers_have(made: Maker) -> None:
    catalogue, scenario = made(ac=",,,0.6,", dc=",,,0,", look=SHUTTER + 'flicker_max = "0.05"\n')
    limit = next(limit for limit in limits_asked(scenario, catalogue) if limit.name == "flicker_max")
    change = driver_flicker(catalogue.find(Driver, "AC"), scenario)
    assert limit.gives.values == (change, None)  # type: ignore[union-attr]
    assert len(eligible_parts(catalogue, limit.changed(scenario, change)).drivers) == 2
    light = next(limit for limit in limits_asked(scenario, catalogue) if limit.name == "illuminance")
    assert light.changed(scenario, 1.0).exposure_time == scenario.exposure_time


def test_what_is_not_stated_is_told(made: Maker) -> None:
    look = SHUTTER + 'dim_to = "10 %"\n'
    told = evaluate(choice(battery=True), *made(dc="pwm,,,,", look=look)).unchecked
    for line in (
        "DC: ripple is not stated; not checked: flicker at full output.",
        "DC: pwm is not stated; not checked: flicker when dimmed.",
        "DC: dim_min is not stated; not checked: how far it dims.",
    ):
        assert line in told
    told = evaluate(choice(battery=True), *made(look=look)).unchecked
    assert "DC: dimmable is not stated; not checked: whether it dims, and its flicker then." in told
    e = mains(*made(ac=",,,0.3,", look=SHUTTER, frequency=""))
    assert "scenario: power.mains_frequency is not stated; not checked: flicker of AC." in e.unchecked
    assert e.figures["flicker"][0] is None
    assert not any("flicker" in line for line in mains(*made(ac=",,,,")).unchecked)


def test_notes_list_safe_angles_and_the_level_of_ieee_1789(made: Maker) -> None:
    catalogue, scenario = made(ac="pwm,,1000,0.06,", look=SHUTTER)
    notes = list(notes_for(mains(catalogue, scenario), build_market(catalogue, scenario)))
    assert (
        "The light of AC ripples by 6 % at 100 Hz: low risk by IEEE 1789-2015, from the stated figure. At 24 frames a "
        "second exposures are all alike at shutter angles of 86.4°, 172.8°, 259.2°, 345.6°." in notes
    )
    assert (
        "AC dims by switching at 1000 Hz: above low risk by IEEE 1789-2015, from the stated figure. At 24 frames a "
        "second exposures are all alike at every multiple of 8.64°." in notes
    )
    catalogue, scenario = made(look='[look]\nshutter = "1/50 s"\n')
    notes = list(notes_for(mains(catalogue, scenario), build_market(catalogue, scenario)))
    assert (
        "If the light of AC ripples, it does so at 100 Hz. Exposures are all alike at every multiple of 1/100 s."
        in notes
    )


@pytest.mark.parametrize(
    ("look", "frequency", "keys"),
    [
        ('[look]\nflicker_max = "0.1"\n', "50 Hz", ["key look.shutter"]),
        (SHUTTER + 'flicker_max = "0.1"\n', "", ["key power.mains_frequency"]),
        ('[look]\nflicker_max = "0.1"\n', "", ["key look.shutter", "key power.mains_frequency"]),
        ('[look]\nframe_rate = "24 fps"\n', "50 Hz", ["key look.shutter_angle"]),
        (SHUTTER + 'shutter = "1/50 s"\n', "50 Hz", ["key look.shutter"]),
        ('[look]\npenumbra_min = "0.1 m"\n', "50 Hz", ["key look.background"]),
    ],
)
def test_what_a_limit_needs_is_asked_for(made: Maker, look: str, frequency: str, keys: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        made(look=look, frequency=frequency)
    assert sorted(fault.column for fault in caught.value.faults) == keys
    assert all(fault.row is not None and fault.mend for fault in caught.value.faults)


def test_a_shutter_is_stated_once(tmp_path: Path) -> None:
    light = 'iso = "800"\nf_number = "4"\nshutter = "1/50 s"'
    job = SCENARIO.replace('illuminance = "100 lx"', light) + '[look]\nshutter = "1/60 s"\n'
    (tmp_path / "job.toml").write_text(job, encoding="utf-8")
    with pytest.raises(InputError, match=r"look\.shutter: read .*1/60 s.*\[light\] states it already"):
        read_scenario(tmp_path / "job.toml")
