"""A build that gives more than asked, dimmed: by hand, step by step, with plain arithmetic."""

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from test_exact import FILES, SCENARIO, choice

from optimise.model.dimming import Dimmed, dimmed
from optimise.model.exact import evaluate
from optimise.model.market import build_market
from optimise.parts import Catalogue, read_catalogue
from optimise.physics.heat import board_temperature
from optimise.report.dimmed import dimmed_lines, dimming_of
from optimise.scenario import Scenario, read_scenario

Maker = Callable[..., tuple[Catalogue, Scenario]]
SHUTTER = '[look]\nshutter_angle = "180 deg"\nframe_rate = "24 fps"\n'


@pytest.fixture
def made(tmp_path: Path) -> Maker:
    """Return a maker of the hand-calculated catalogue with what is said of how its drivers dim, and of a scenario."""

    def make(dc: str, lux: float = 100.0, look: str = "", ac: str = ",,,,") -> tuple[Catalogue, Scenario]:
        for name, text in FILES.items():
            if name == "drivers":
                head, first, second = text.splitlines()
                head += ",dimmable,dim_min,pwm [Hz],ripple,ripple_frequency [Hz]"
                text = f"{head}\n{first},{dc}\n{second},{ac}\n"
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        job = SCENARIO.replace('"100 lx"', f'"{lux} lx"') + 'mains_frequency = "50 Hz"\n' + look
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        return read_catalogue(tmp_path), read_scenario(tmp_path / "job.toml")

    return make


def flux(drive: float, watts: float, board: float, droop: float = 0.1) -> float:
    """Return the flux of one emitter of the catalogue by hand: 2 K/W, 60 % heat, −0.2 % a kelvin."""
    return 1000 * drive * (1 + droop * (1 - drive)) * (1 - 0.002 * (board + 2 * 0.6 * watts - 25))


def lead(power: float, volts: float) -> float:
    """Return the current of the lead of test_exact by hand: 2 × 5 m of 1.5 mm² at 60 °C."""
    resistance = 2 * 5 * 13.3e-3 * (1 + 0.00393 * 40)
    return (volts - math.sqrt(volts**2 - 4 * resistance * power)) / (2 * resistance)


def board(heat: float) -> float:
    return float(board_temperature(heat, 15.0, 0.5, 0.4, 1, 0.8))


def found(catalogue: Catalogue, scenario: Scenario, battery: bool = True) -> Dimmed:
    answer = dimmed(evaluate(choice(battery), catalogue, scenario), catalogue, scenario)
    assert isinstance(answer, Dimmed)
    return answer


def test_switching_by_hand(made: Maker) -> None:
    catalogue, scenario = made("pwm,0.01,1000,0,", look=SHUTTER)
    full = evaluate(choice(battery=True), catalogue, scenario)
    d = found(catalogue, scenario)
    assert d.lux == pytest.approx(100.0, rel=1e-9)
    assert d.level == pytest.approx(100.0 / full.lux, rel=1e-12)
    # So much of the time each emitter draws 8.4 W: a cooler board gives more light, so the duty is below the level.
    mean = 8.4 * d.drive
    assert d.drive < d.level
    assert d.board == pytest.approx(board(6 * 0.6 * mean), rel=1e-12)
    lumens = 6 * d.drive * flux(1.0, mean, d.board)
    assert lumens == pytest.approx(d.level * 6 * flux(1.0, 8.4, full.board), rel=1e-9)
    power = 6 * mean / 0.9
    assert d.watts == pytest.approx(12 * lead(power, 12), rel=1e-9)
    assert d.current == pytest.approx(lead(power, 10.8), rel=1e-9)
    hours = 20 * (20 / (lead(power, 12) * 20)) ** 1.2 * 0.5 * (1 - 0.008 * 10)
    assert d.runtime == pytest.approx(hours * 3600, rel=1e-9)
    # 1000 Hz, 1/48 s: 20 + 5/6 periods, each on for the duty.
    low = 20 * d.drive + max(0.0, 5 / 6 + d.drive - 1)
    assert d.flicker == pytest.approx(math.log2((20 * d.drive + min(5 / 6, d.drive)) / low), rel=1e-9)
    assert d.missed == ()


def test_less_current_by_hand(made: Maker) -> None:
    catalogue, scenario = made("current,,,0.1,300", look=SHUTTER)
    full = evaluate(choice(battery=True), catalogue, scenario)
    d = found(catalogue, scenario)
    # No slope of the voltage is stated: 12 V at any current. Less current gains by droop, and by the cooler board.
    watts = 12 * 0.7 * d.drive
    assert 6 * flux(d.drive, watts, d.board) == pytest.approx(d.level * 6 * flux(1.0, 8.4, full.board), rel=1e-9)
    assert d.board == pytest.approx(board(6 * 0.6 * watts), rel=1e-12)
    assert d.watts == pytest.approx(12 * lead(6 * watts / 0.9, 12), rel=1e-9)
    # The ripple is still that at full output: 300 Hz and 1/48 s.
    residual = 0.1 * abs(math.sin(math.pi * 6.25) / (math.pi * 6.25))
    assert d.flicker == pytest.approx(math.log2((1 + residual) / (1 - residual)), rel=1e-9)


def test_dimming_to_less_takes_less_and_lasts_longer(made: Maker) -> None:
    answers = [found(*made("current,,,0,", lux=lux)) for lux in (20.0, 60.0, 100.0, 150.0)]
    for dim, bright in pairwise(answers):
        assert dim.watts < bright.watts
        assert dim.current < bright.current
        assert (dim.runtime or 0.0) > (bright.runtime or math.inf)
        assert dim.board < bright.board


def test_what_does_not_bear_it_is_told(made: Maker) -> None:
    d = found(*made("pwm,0.5,1000,0,", lux=20.0))
    assert d.missed == ("DC dims to 0.5 of full light only.",)
    catalogue, scenario = made("current,,,0,", lux=20.0)
    emitter = catalogue.emitters[0].model_copy(update={"current_min": 0.3, "dynamic_resistance": 10.0})
    d = found(replace(catalogue, emitters=(emitter,)), scenario)
    assert len(d.missed) == 2
    assert d.missed[0] == "E is not stated to run below 0.3 A."


def test_what_is_not_known_is_not_worked_out(made: Maker) -> None:
    catalogue, scenario = made(",,,,")
    e = evaluate(choice(battery=True), catalogue, scenario)
    assert dimmed(e, catalogue, scenario) == (
        "DC: dimmable is not stated; not worked out: power, runtime and flicker at the light asked for.",
    )
    catalogue, scenario = made("no,,,,")
    assert dimmed(e, catalogue, scenario) == ("DC does not dim.",)
    bright = scenario.model_copy(update={"light": scenario.light.model_copy(update={"illuminance": e.lux * 0.97})})
    assert dimmed(evaluate(e.choice, catalogue, bright), catalogue, bright) is None
    assert found(*made("pwm,,,0,", look=SHUTTER)).flicker is None
    assert found(*made("pwm,,1000,,", look=SHUTTER)).flicker is None
    assert found(*made("pwm,,1000,0,")).flicker is None


def test_the_record_says_it_and_so_do_the_notes(made: Maker) -> None:
    look = SHUTTER + 'flicker_max = "0.01"\n'
    catalogue, scenario = made("pwm,,40,0,", lux=20.0, look=look)
    e = evaluate(choice(battery=True), catalogue, scenario)
    market = build_market(catalogue, scenario)
    record, notes = dimming_of(e, market)
    assert record is not None
    assert record.dark
    assert record.flicker is None
    assert len(notes) == 1
    assert "flickers more than flicker_max" in notes[0]
    text = " ".join(dimmed_lines(record))
    assert "Dimmed to the 20 lx asked for" in text
    assert "some exposures at this shutter get no light at all" in text
    assert dimming_of(None, market) == (None, ())
    catalogue, scenario = made("no,,,,", lux=20.0)
    none, notes = dimming_of(evaluate(choice(battery=True), catalogue, scenario), build_market(catalogue, scenario))
    assert none is None
    assert notes[0].endswith("stop more than asked. DC does not dim.")


def test_on_mains_there_is_no_runtime(made: Maker) -> None:
    catalogue, scenario = made(",,,,", ac="current,,,0.05,", look=SHUTTER)
    d = found(catalogue, scenario, battery=False)
    assert d.runtime is None
    # Power factor 0.95 and efficiency 0.9 stay what they are.
    power = 6 * 12 * 0.7 * d.drive / 0.9
    assert d.current == pytest.approx(lead(power / 0.95, 230.0), rel=1e-9)
