"""Figures measured, written, read and built with: the readings come back."""

from dataclasses import replace
from pathlib import Path

import pytest
from sheets import BUILDS, demonstration, job_of

from optimise.model.build import Build
from optimise.model.exact import build_of, evaluate
from optimise.parts import Collector, InputError
from optimise.parts.calibration import calibrated, read_calibration
from optimise.parts.figures import Calibrated, Calibration
from optimise.report.calibration import calibration_notes
from optimise.report.calibration_file import calibration_text
from optimise.report.measured import make_measured
from optimise.report.parts_record import catalogue_of, parts_record
from optimise.scenario import Scenario
from optimise.studies.measured import Factors, predicted
from optimise.studies.readings import Measured, Reading


def measured_as(build: Build, scenario: Scenario, truth: Factors, *wanted: Reading) -> Measured:
    readings = tuple(replace(r, value=predicted(build, scenario, r, truth)) for r in wanted)
    return Measured(readings, scenario.power.ambient)


def text_of(build: Build, scenario: Scenario, measured: Measured) -> str:
    return calibration_text(make_measured(build, scenario, measured, fingerprint="0" * 64, light=None), build)


LUX, BARE = Reading("illuminance", 1.0, 2.5), Reading("bare illuminance", 1.0, 2.5)
BOARD, RUNTIME = Reading("board temperature", 1.0), Reading("runtime", 1.0)


@pytest.mark.parametrize("name", BUILDS)
def test_a_build_with_its_own_factors_gives_the_readings(name: str, tmp_path: Path) -> None:
    scenario = job_of(name)
    choice = BUILDS[name][1]
    build = build_of(choice, demonstration())
    truth = Factors(flux=0.91, transmittance=1.0 if build.diffuser is None else 1.04, resistance=0.21, capacity=0.9)
    wanted = [LUX, BOARD, *([] if build.diffuser is None else [BARE]), *([] if build.battery is None else [RUNTIME])]
    measured = measured_as(build, scenario, truth, *wanted)
    (tmp_path / "c.toml").write_text(text_of(build, scenario, measured), encoding="utf-8")
    faults = Collector()
    read = read_calibration(tmp_path / "c.toml", faults)
    assert read is not None, faults.faults
    parts = calibrated(demonstration(), read, "c.toml", faults)
    assert not faults.faults
    again = build_of(choice, parts)
    for reading in measured.readings:
        assert predicted(again, scenario, reading) == pytest.approx(reading.value, rel=1e-10)
    # And so does the record's own list of parts, from which a sheet or the next measurement is made.
    kept = build_of(choice, catalogue_of(parts_record(choice, parts), "EUR"))
    for reading in measured.readings:
        assert predicted(kept, scenario, reading) == pytest.approx(reading.value, rel=1e-10)
    if kept.battery is not None and build.battery is not None:
        assert kept.battery.watt_hours == pytest.approx(build.battery.watt_hours, rel=1e-12)
    factors = make_measured(again, scenario, measured, fingerprint="1" * 64, light=None, calibrated=True).factors
    assert [factor.factor for factor in factors] == pytest.approx([1.0] * len(factors), rel=1e-9)


def test_one_factor_of_light_is_the_emitters_behind_those_sheets() -> None:
    scenario = job_of("battery")
    build = build_of(BUILDS["battery"][1], demonstration())
    text = text_of(build, scenario, measured_as(build, scenario, Factors(flux=0.9, transmittance=0.95), LUX))
    assert 'behind = ["DIF-FILM-HALF"]' in text
    assert text.count("[[figure]]") == 1
    assert 'stated = "1120 lm"' in text
    value = float(text.split('value = "')[1].split(" lm")[0])
    assert value == pytest.approx(1120.0 * 0.9 * 0.95, rel=1e-9)


def test_what_is_no_figure_of_one_part_is_not_written() -> None:
    scenario = job_of("battery")
    choice = BUILDS["battery"][1]
    build = build_of(choice, demonstration())
    with pytest.raises(InputError, match="none of a single part"):
        text_of(build, scenario, measured_as(build, scenario, Factors(power=1.1), Reading("current", 1.0)))
    two = build_of(replace(choice, second_diffuser="DIF-CLOTH-LIGHT"), demonstration())
    text = text_of(two, scenario, measured_as(two, scenario, Factors(flux=0.9), LUX, BARE))
    assert 'part = "LED-BAR9-5692"' in text
    assert "DIF" not in text


def test_a_sheet_that_would_let_through_more_than_there_is() -> None:
    scenario = job_of("battery")
    build = build_of(BUILDS["battery"][1], demonstration())
    with pytest.raises(InputError, match=r"DIF-FILM-HALF: 1\.065; allowed: at most 1\."):
        text_of(build, scenario, measured_as(build, scenario, Factors(transmittance=1.5), LUX, BARE))


def test_notes_name_every_figure_and_every_other_use() -> None:
    scenario = job_of("battery")
    choice = replace(BUILDS["battery"][1], diffuser="DIF-CLOTH-LIGHT")
    best = evaluate(choice, demonstration(), scenario)
    flux = Calibrated("LED-BAR9-5692", "flux", 1000.0, 1110.0, 980.0, 1020.0, 3, ("DIF-FILM-HALF",), catalogue=1120.0)
    cool = Calibrated("PAN-FOAM-50x50", "thermal_resistance", 0.3, None, None, None, 1, heat=5.0, predicted=0.5)
    other = Calibrated("BAT-LI14-098", "capacity", 3600.0, 3600.0, None, None, 1, catalogue=3600.0)
    notes = list(calibration_notes(Calibration((flux, cool, other), "f"), best))
    assert notes[:3] == [
        "Calibrated: the flux of LED-BAR9-5692 is 1000 lm as measured, between 980 lm and 1020 lm "
        "(in the catalogue: 1120 lm).",
        "LED-BAR9-5692: when it was measured, its flux was 1110 lm.",
        "LED-BAR9-5692: its flux was measured behind DIF-FILM-HALF as one factor with it; this build has "
        "DIF-CLOTH-LIGHT, and what was the sheet's is now taken for the emitter's.",
    ]
    assert any("0.3 K/W as measured is less than the 0.5 K/W predicted" in note for note in notes)
    assert any(f"measured with 5 W of heat, and has {best.heat:.3g} W here" in note for note in notes)
    assert any("the capacity of BAT-LI14-098 is 1 Ah" in note for note in notes)
    assert len(notes) == 7
    alone = list(calibration_notes(Calibration((flux, cool, other), "f"), None))
    assert len(alone) == 4
