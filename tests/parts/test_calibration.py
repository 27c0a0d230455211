"""Measured figures in place of the catalogue's: what is read, what is refused, and what stays as it was."""

from pathlib import Path

import pytest
from sheets import demonstration

from optimise.parts import Battery, Collector, Diffuser, Emitter, Panel
from optimise.parts.calibration import calibrated, read_calibration
from optimise.parts.figures import MEASURABLE

HEAD = 'schema = "rushlight-calibration/1"\nrecord = "x"\n'
FOUR = (
    HEAD
    + """
[[figure]]
part = "LED-BAR9-5692"
figure = "flux"
value = "1.05 klm"
stated = "1120 lm"
low = "1000 lm"
high = "1100 lm"
readings = 4

[[figure]]
part = "DIF-FILM-HALF"
figure = "transmittance"
value = "68 %"

[[figure]]
part = "PAN-FOAM-50x50"
figure = "thermal_resistance"
value = "0.6 K/W"
predicted = "0.5 K/W"
heat = "15 W"

[[figure]]
part = "BAT-LI14-068"
figure = "capacity"
value = "4200 mAh"
"""
)


def faults_of(tmp_path: Path, text: str) -> list[str]:
    (tmp_path / "c.toml").write_text(text, encoding="utf-8")
    faults = Collector()
    measured = read_calibration(tmp_path / "c.toml", faults)
    if measured is not None:
        calibrated(demonstration(), measured, "c.toml", faults)
    assert all(fault.file == "c.toml" for fault in faults.faults)
    return [f"{fault.column}: {fault.read}: {fault.allowed}" for fault in faults.faults]


def test_four_figures_change_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "c.toml").write_text(FOUR, encoding="utf-8")
    faults = Collector()
    measured = read_calibration(tmp_path / "c.toml", faults)
    assert measured is not None
    before = demonstration()
    after = calibrated(before, measured, "c.toml", faults)
    assert not faults.faults
    assert after.calibration is not None
    assert len(after.calibration.fingerprint) == 64
    assert [one.catalogue for one in after.calibration.figures] == [1120.0, 0.71, None, pytest.approx(4.7 * 3600)]
    assert after.find(Emitter, "LED-BAR9-5692").flux == pytest.approx(1050.0)
    assert after.find(Diffuser, "DIF-FILM-HALF").transmittance == pytest.approx(0.68)
    assert after.find(Panel, "PAN-FOAM-50x50").thermal_resistance == pytest.approx(0.6)
    assert after.find(Battery, "BAT-LI14-068").capacity == pytest.approx(4.2 * 3600)
    changed = {one.part: one.figure for one in measured.figures}
    for old, new in zip(before.parts(), after.parts(), strict=True):
        figure = changed.get(old.part)
        assert old.model_dump(exclude={figure or ""}) == new.model_dump(exclude={figure or ""})
    # What is printed on a battery is what it flies by.
    assert after.find(Battery, "BAT-LI14-068").watt_hours == before.find(Battery, "BAT-LI14-068").watt_hours


def test_no_figure_of_safety_can_be_measured_away() -> None:
    assert {figure for figure, _ in MEASURABLE.values()} == {"flux", "transmittance", "thermal_resistance", "capacity"}


@pytest.mark.parametrize(
    ("part", "figure", "value"),
    [
        ("FUSE-B32-3", "rating", "10 A"),
        ("FLEX-2x0.5", "rating", "10 A"),
        ("BAT-LI14-068", "current_max", "50 A"),
        ("PAN-AL-50x50", "temperature_max", "120 degC"),
        ("LED-BAR9-5692", "case_max", "120 degC"),
    ],
)
def test_a_rating_is_no_figure_to_calibrate(tmp_path: Path, part: str, figure: str, value: str) -> None:
    text = f'{HEAD}[[figure]]\npart = "{part}"\nfigure = "{figure}"\nvalue = "{value}"\n'
    (fault,) = faults_of(tmp_path, text)
    assert fault == f'key figure[1].figure: "{figure}": flux, transmittance, thermal_resistance, capacity'


@pytest.mark.parametrize(
    ("part", "figure", "value", "words"),
    [
        ("DIF-FILM-HALF", "transmittance", "1.2", "at most 1"),
        ("DIF-CLOTH-HEAVY", "transmittance", "0.6", "at most 1 together with transmittance"),
        ("LED-BAR9-5692", "flux", "6000 lm", "683 lm/W"),
        ("LED-BAR9-5692", "flux", "90 lm", "within 10 times of the 1120 lm"),
        ("BAT-LI14-068", "capacity", "90 Ah", "within 10 times"),
        ("BAT-LI14-068", "flux", "90 lm", "flux of an emitter"),
        ("FUSE-B32-3", "capacity", "1 Ah", "capacity of a battery"),
        ("LED-BAR9-5693", "flux", "1000 lm", "code of a part in the catalogue"),
        ("LED-BAR9-5692", "flux", "1000 lx", "luminous flux in lm"),
        ("LED-BAR9-5692", "flux", "0 lm", "more than 0"),
        ("PAN-FOAM-50x50", "thermal_resistance", "-1 K/W", "more than 0"),
    ],
)
def test_figures_that_no_part_can_have(tmp_path: Path, part: str, figure: str, value: str, words: str) -> None:
    (fault,) = faults_of(tmp_path, f'{HEAD}[[figure]]\npart = "{part}"\nfigure = "{figure}"\nvalue = "{value}"\n')
    assert words in fault


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = """
schema = "rushlight-calibration/9"
note = 1

[[figure]]
figure = "flux"
value = 1000
reading = 3

[[figure]]
part = "DIF-FILM-HALF"
figure = "transmittance"
readings = 0
behind = "x"

[[figure]]
part = "DIF-FILM-HALF"
figure = "transmittance"
value = "0.7"

[[figure]]
part = "DIF-FILM-HALF"
figure = "transmittance"
value = "0.6"
"""
    told = faults_of(tmp_path, text)
    assert [fault.split(":")[0] for fault in told] == [
        "key schema",
        "key note",
        "key figure[1].reading",
        "key figure[1].part",
        "key figure[1].value",
        "key figure[2].value",
        "key figure[2].readings",
        "key figure[2].behind",
        "key figure[4].part",
    ]


@pytest.mark.parametrize("text", ["", HEAD, HEAD + "figure = 3\n", HEAD + "figure = []\n", "[[figure"])
def test_a_file_without_figures(tmp_path: Path, text: str) -> None:
    assert faults_of(tmp_path, text)
