"""Readings from options and files: units, places, and every fault at once."""

from pathlib import Path

import pytest

from optimise.parts import Collector
from optimise.studies.readings import KINDS, Measured, read_measured


def read(path: Path | None = None, ambient: str | None = None, **options: str) -> tuple[Measured, Collector]:
    faults = Collector()
    given = {key: (options[key],) if key in options else () for key in KINDS}
    return read_measured(given, ambient, path, "measure", faults), faults


@pytest.mark.parametrize(
    ("key", "text", "value", "where", "to_empty"),
    [
        ("lux", "118 lx at 2.5 m", 118.0, 2.5, False),
        ("lux", "0.118 klx at 250cm", 118.0, 2.5, False),
        ("bare_lux", "10 fc at 8 ft", 107.639104, 2.4384, False),
        ("current", "1900 mA at 14.6 V", 1.9, 14.6, False),
        ("current", "1.9 A", 1.9, None, False),
        ("board", "104 degF", 40.0, None, False),
        ("board", "-5 degC", -5.0, None, False),
        ("runtime", "70 min", 4200.0, None, False),
        ("runtime", "1.5 h to empty", 5400.0, None, True),
    ],
)
def test_what_is_read(key: str, text: str, value: float, where: float | None, to_empty: bool) -> None:
    found, faults = read(**{key: text})
    assert not faults.faults
    (reading,) = found.readings
    assert reading.quantity == KINDS[key].quantity
    assert reading.value == pytest.approx(value, rel=1e-8)
    assert reading.where == (None if where is None else pytest.approx(where))
    assert reading.to_empty is to_empty


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("lux", "118 lx", "an illuminance at a length"),
        ("lux", "118 lx at", "an illuminance at a length"),
        ("lux", "118 lx at 2.5", "with its unit"),
        ("lux", "118 cd at 2.5 m", "illuminance in lx"),
        ("lux", "0 lx at 2.5 m", "more than 0 lx"),
        ("lux", "-1 lx at 2.5 m", "more than 0 lx"),
        ("lux", "118 lx at 0 m", "at least 0.05 m"),
        ("lux", "118 lx at 2000 m", "at most 1000 m"),
        ("lux", "nan lx at 2 m", "finite number"),
        ("lux", "1,5 lx at 2 m", "decimal point"),
        ("lux", "118 lx at 2.5 m at 3 m", "length"),
        ("current", "1.9 A at 0 V", "more than 0"),
        ("current", "1.9 A at 2 m", "voltage"),
        ("board", "41 degC at 2 m", "temperature"),
        ("board", "400 degC", "at most 250 °C"),
        ("board", "41", "with its unit"),
        ("runtime", "70 min at 2 m", "time"),
        ("runtime", "70 min to full", "time"),
        ("runtime", "0 min", "more than 0 h"),
    ],
)
def test_what_is_refused(key: str, text: str, words: str) -> None:
    found, faults = read(**{key: text})
    assert not found.readings
    (fault,) = faults.faults
    assert fault.place == f"measure, --{key.replace('_', '-')}"
    assert text in fault.read
    assert words in f"{fault.allowed} {fault.mend}"


def test_a_file_and_options_add_up(tmp_path: Path) -> None:
    file = tmp_path / "m.toml"
    file.write_text('ambient = "22 degC"\nlux = ["118 lx at 2.5 m", "60 lx at 3.5 m"]\nboard = "41 degC"\n', "utf-8")
    found, faults = read(file, "295.15 K", lux="230 lx at 1.8 m")
    assert not faults.faults
    assert found.ambient == pytest.approx(22.0)
    assert [reading.value for reading in found.readings] == pytest.approx([230.0, 118.0, 60.0, 41.0])
    assert found.readings[1].origin == ("m.toml", 2, "key lux, entry 1")


def test_all_faults_of_both_are_told_at_once(tmp_path: Path) -> None:
    file = tmp_path / "m.toml"
    file.write_text(
        'luxx = "1 lx at 1 m"\nambient = 22\nlux = ["118 lx at 2.5 m", 60, "x"]\n\n[board]\nvalue = 3\n', "utf-8"
    )
    found, faults = read(file, "90 degC", runtime="soon")
    told = {fault.place for fault in faults.faults}
    assert told == {
        "measure, --ambient",
        "measure, --runtime",
        "m.toml line 1, key luxx",
        "m.toml line 2, key ambient",
        "m.toml line 3, key lux, entry 2",
        "m.toml line 3, key lux, entry 3",
        "m.toml line 5, key board",
    }
    assert 'Did you mean "lux"?' in {fault.mend for fault in faults.faults}
    assert found.air_refused


def test_two_temperatures_of_the_air_are_refused(tmp_path: Path) -> None:
    file = tmp_path / "m.toml"
    file.write_text('ambient = "22 degC"\n', "utf-8")
    _, faults = read(file, "23 degC")
    assert [fault.read for fault in faults.faults] == [
        "two temperatures of the air, by measure, --ambient and m.toml, key ambient"
    ]


@pytest.mark.parametrize(("content", "words"), [("lux = ", "broken TOML"), ("\x00", "NUL"), (None, "No such file")])
def test_a_file_that_cannot_be_read(tmp_path: Path, content: str | None, words: str) -> None:
    file = tmp_path / "m.toml"
    if content is not None:
        file.write_text(content, "utf-8")
    found, faults = read(file)
    assert not found.readings
    assert words in faults.faults[0].read
