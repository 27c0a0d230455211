"""Every bound of every key: the bound itself is let through or not, what lies beyond is told with the bound."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import BaseModel

from optimise.parts import Fault, InputError, units
from optimise.parts.units import Measure, shown
from optimise.scenario import Scenario, read_scenario

LUX, NUMBER, LENGTH, VOLTAGE = units.ILLUMINANCE, units.NUMBER, units.LENGTH, units.VOLTAGE

# Section, key, kind of bound, bound in the canonical unit, its measure, text at or just inside, text just outside.
BOUNDS: list[tuple[str, str, str, float, Measure, str, str]] = [
    ("light", "illuminance", "gt", 0, LUX, "1e-9 lx", "0 lx"),
    ("light", "illuminance", "le", 1e6, LUX, "1000 klx", "1000.001 klx"),
    ("light", "iso", "gt", 0, NUMBER, "1e-9", "0"),
    ("light", "iso", "le", 1e7, NUMBER, "1e7", "10000001"),
    ("light", "f_number", "gt", 0, NUMBER, "0.5", "-4"),
    ("light", "f_number", "le", 256, NUMBER, "256", "257"),
    ("light", "shutter", "gt", 0, units.EXPOSURE_TIME, "1 us", "0 s"),
    ("light", "shutter", "le", 3600, units.EXPOSURE_TIME, "60 min", "3601 s"),
    ("light", "shutter_angle", "gt", 0, units.ANGLE, "1 deg", "0 deg"),
    ("light", "shutter_angle", "le", 360, units.ANGLE, "360 deg", "361 deg"),
    ("light", "frame_rate", "gt", 0, units.FREQUENCY, "0.1 fps", "0 fps"),
    ("light", "frame_rate", "le", 1e5, units.FREQUENCY, "100000 fps", "100001 fps"),
    ("light", "stops", "ge", -20, NUMBER, "-20", "-20.1"),
    ("light", "stops", "le", 20, NUMBER, "20", "20.1"),
    ("light", "meter_constant", "ge", 100, units.METER_CONSTANT, "100 lx*s", "99 lx*s"),
    ("light", "meter_constant", "le", 1000, units.METER_CONSTANT, "1000 lx*s", "1001 lx*s"),
    ("light", "distance", "ge", 0.05, LENGTH, "50 mm", "49 mm"),
    ("light", "distance", "le", 100, LENGTH, "100 m", "100.1 m"),
    ("light", "subject_width", "gt", 0, LENGTH, "1 mm", "0 m"),
    ("light", "subject_width", "le", 100, LENGTH, "100 m", "101 m"),
    ("light", "subject_height", "gt", 0, LENGTH, "1 mm", "-1 m"),
    ("light", "subject_height", "le", 100, LENGTH, "100 m", "101 m"),
    ("light", "uniformity_min", "gt", 0, units.SHARE, "1 %", "0"),
    ("light", "uniformity_min", "lt", 1, units.SHARE, "99 %", "100 %"),
    ("light", "edge_stops_max", "gt", 0, NUMBER, "0.1", "0"),
    ("light", "edge_stops_max", "le", 20, NUMBER, "20", "20.5"),
    ("light", "face_bearing", "ge", -180, units.ANGLE, "-180 deg", "-181 deg"),
    ("light", "face_bearing", "le", 180, units.ANGLE, "180 deg", "181 deg"),
    ("light", "face_tilt", "ge", -90, units.ANGLE, "-90 deg", "-91 deg"),
    ("light", "face_tilt", "le", 90, units.ANGLE, "90 deg", "91 deg"),
    ("light", "face_illuminance", "gt", 0, LUX, "1e-9 lx", "0 lx"),
    ("light", "face_illuminance", "le", 1e6, LUX, "1000 klx", "1001 klx"),
    ("light", "face_illuminance_max", "gt", 0, LUX, "1e-9 lx", "0 lx"),
    ("light", "face_illuminance_max", "le", 1e6, LUX, "1000 klx", "1001 klx"),
    ("look", "cct_min", "gt", 0, units.COLOUR_TEMPERATURE, "1 K", "0 K"),
    ("look", "cct_max", "gt", 0, units.COLOUR_TEMPERATURE, "1 K", "-1 K"),
    ("look", "cri_min", "le", 100, NUMBER, "100", "100.1"),
    ("look", "r9_min", "le", 100, NUMBER, "-40", "101"),
    ("look", "duv_min", "ge", -0.05, NUMBER, "-0.05", "-0.06"),
    ("look", "duv_min", "le", 0.05, NUMBER, "0.05", "0.051"),
    ("look", "duv_max", "ge", -0.05, NUMBER, "-0.05", "-1"),
    ("look", "duv_max", "le", 0.05, NUMBER, "0.05", "1"),
    ("look", "rf_min", "ge", 0, NUMBER, "0", "-0.1"),
    ("look", "rf_min", "le", 100, NUMBER, "100", "100.5"),
    ("look", "rg_min", "ge", 0, NUMBER, "0", "-1"),
    ("look", "rg_min", "le", 200, NUMBER, "200", "201"),
    ("look", "rg_max", "ge", 0, NUMBER, "0", "-1"),
    ("look", "rg_max", "le", 200, NUMBER, "200", "201"),
    ("look", "ssi_min", "ge", 0, NUMBER, "0", "-1"),
    ("look", "ssi_min", "le", 100, NUMBER, "100", "101"),
    ("look", "source_size_min", "gt", 0, LENGTH, "1 mm", "0 m"),
    ("look", "source_angle_min", "gt", 0, units.ANGLE, "1 deg", "0 deg"),
    ("look", "source_angle_min", "lt", 180, units.ANGLE, "179.9 deg", "180 deg"),
    ("look", "penumbra_min", "gt", 0, LENGTH, "1 mm", "0 m"),
    ("look", "background", "gt", 0, LENGTH, "1 mm", "0 m"),
    ("look", "background", "le", 1000, LENGTH, "1 km", "1001 m"),
    ("look", "dots_max", "gt", 0, units.SHARE, "1 %", "0 %"),
    ("look", "dots_max", "lt", 1, units.SHARE, "99 %", "100 %"),
    ("look", "flicker_max", "gt", 0, NUMBER, "0.01", "0"),
    ("look", "flicker_max", "le", 10, NUMBER, "10", "10.1"),
    ("look", "sheets_max", "ge", 1, NUMBER, "1", "0"),
    ("look", "sheets_max", "le", 2, NUMBER, "2", "3"),
    ("look", "dim_to", "gt", 0, units.SHARE, "1 %", "0 %"),
    ("look", "dim_to", "lt", 1, units.SHARE, "99 %", "100 %"),
    ("look", "shutter", "gt", 0, units.EXPOSURE_TIME, "1 us", "0 s"),
    ("look", "shutter", "le", 3600, units.EXPOSURE_TIME, "60 min", "3601 s"),
    ("look", "shutter_angle", "gt", 0, units.ANGLE, "1 deg", "0 deg"),
    ("look", "shutter_angle", "le", 360, units.ANGLE, "360 deg", "361 deg"),
    ("look", "frame_rate", "gt", 0, units.FREQUENCY, "0.1 fps", "0 fps"),
    ("look", "frame_rate", "le", 1e5, units.FREQUENCY, "100000 fps", "100001 fps"),
    ("power", "mains_frequency", "ge", 16, units.HERTZ, "16 Hz", "15.9 Hz"),
    ("power", "mains_frequency", "le", 400, units.HERTZ, "0.4 kHz", "401 Hz"),
    ("power", "mains_voltage", "ge", 90, VOLTAGE, "90 V", "89 V"),
    ("power", "mains_voltage", "le", 277, VOLTAGE, "277 V", "278 V"),
    ("power", "circuit", "gt", 0, units.CURRENT, "0.1 A", "0 A"),
    ("power", "circuit", "le", 125, units.CURRENT, "125 A", "126 A"),
    ("power", "runtime", "gt", 0, units.DURATION, "1 s", "0 h"),
    ("power", "runtime", "le", 1e7, units.DURATION, "10000000 s", "10000001 s"),
    ("power", "lead_length", "gt", 0, LENGTH, "1 mm", "0 m"),
    ("power", "lead_length", "le", 200, LENGTH, "200 m", "201 m"),
    ("power", "ambient", "ge", -40, units.TEMPERATURE, "-40 degC", "-41 degC"),
    ("power", "ambient", "le", 55, units.TEMPERATURE, "55 degC", "132 degF"),
    ("limits", "mass", "gt", 0, units.MASS, "1 g", "0 kg"),
    ("limits", "power", "gt", 0, units.POWER, "1 W", "-1 W"),
    ("limits", "width", "gt", 0, LENGTH, "1 cm", "0 cm"),
    ("limits", "height", "gt", 0, LENGTH, "1 cm", "-0.0 cm"),
    ("limits", "deadline", "ge", 0, units.DAYS, "0 day", "-1 h"),
    ("limits", "suppliers_max", "ge", 0, NUMBER, "0", "-1"),
    ("buying", "kerf", "ge", 0, units.SMALL_LENGTH, "0 mm", "-1 mm"),
    ("buying", "kerf", "le", 0.05, units.SMALL_LENGTH, "5 cm", "51 mm"),
    ("safety", "voltage_drop", "gt", 0, units.SHARE, "0.1 %", "0 %"),
    ("safety", "voltage_drop", "le", 0.2, units.SHARE, "20 %", "20.1 %"),
    ("safety", "continuous_factor", "ge", 1, NUMBER, "1", "0.99"),
    ("safety", "continuous_factor", "le", 3, NUMBER, "3", "3.1"),
    ("safety", "touch_temperature", "ge", 30, units.TEMPERATURE, "30 degC", "29 degC"),
    ("safety", "touch_temperature", "le", 120, units.TEMPERATURE, "120 degC", "121 degC"),
    ("safety", "string_voltage", "gt", 0, VOLTAGE, "1 V", "0 V"),
    ("safety", "string_voltage", "le", 1000, VOLTAGE, "1 kV", "1.001 kV"),
    ("search", "drive_step", "ge", 0.01, units.SHARE, "1 %", "0.9 %"),
    ("search", "drive_step", "le", 1, units.SHARE, "100 %", "101 %"),
    ("search", "emitter_kinds", "ge", 1, units.NUMBER, "1", "0"),
    ("search", "emitter_kinds", "le", 2, units.NUMBER, "2", "3"),
    ("search", "time_limit", "gt", 0, units.EXPOSURE_TIME, "1 ms", "0 min"),
]
WORDS = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}

EXPOSURE = {"iso": "800", "f_number": "4", "shutter": "1/50 s"}
ANGLE = {"iso": "800", "f_number": "4", "shutter_angle": "180 deg", "frame_rate": "25 fps"}


def job(section: str, key: str, value: str) -> str:
    """Return a scenario that is sound but for the value of one key."""
    light = {"illuminance": "400 lx"}
    if section == "light" and key in {"iso", "f_number", "shutter", "stops"}:
        light = EXPOSURE
    elif section == "light" and key in {"shutter_angle", "frame_rate"}:
        light = ANGLE
    elif key in {"uniformity_min", "edge_stops_max"}:
        light = {"illuminance": "400 lx", "subject_width": "1 m"}
    elif key in {"face_illuminance", "face_illuminance_max"}:
        light = {"illuminance": "400 lx", "face_tilt": "5 deg"}
    sections = {
        "light": {**light, "distance": "2 m"},
        "power": {"source": "any", "mains_voltage": "230 V", "runtime": "1 h", "lead_length": "3 m"},
    }
    if section == "look":
        needed = {"penumbra_min": {"background": "2 m"}, "flicker_max": {"shutter": "1/50 s"}}
        needed |= {"shutter_angle": {"frame_rate": "25 fps"}, "frame_rate": {"shutter_angle": "180 deg"}}
        sections["look"] = needed.get(key, {})
        sections["power"]["mains_frequency"] = "50 Hz"
    sections[section] = {**sections.get(section, {}), key: value}
    if key == "emitter_kinds":
        sections["look"] = {"cct_min": "3000 K"}
    if key == "ssi_min":
        sections[section]["ssi_reference"] = "D55"
    lines = []
    for name, keys in sections.items():
        lines += [f"[{name}]", *(f'{each} = "{text}"' for each, text in keys.items())]
    return "\n".join(lines)


def read(folder: Path, text: str) -> Scenario:
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return read_scenario(folder / "job.toml")


@pytest.mark.parametrize(("section", "key", "bound", "limit", "measure", "inside", "outside"), BOUNDS)
def test_bound_is_told_beyond_it_and_not_before(
    tmp_path: Path, section: str, key: str, bound: str, limit: float, measure: Measure, inside: str, outside: str
) -> None:
    assert getattr(getattr(read(tmp_path, job(section, key, inside)), section), key) is not None
    text = job(section, key, outside)
    row = text.splitlines().index(f'{key} = "{outside}"') + 1
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    allowed = f"{WORDS[bound]} {shown(limit, measure)}"
    assert caught.value.faults == (Fault("job.toml", row, f"key {section}.{key}", f'"{outside}"', allowed, ""),)


def bounds_of_the_models() -> Iterator[tuple[str, str, str, float]]:
    for section, field in Scenario.model_fields.items():
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            for key, inner in field.annotation.model_fields.items():
                for rule in inner.metadata:
                    yield from ((section, key, name, getattr(rule, name)) for name in WORDS if hasattr(rule, name))


def test_every_bound_of_the_models_is_in_this_table() -> None:
    assert sorted(row[:4] for row in BOUNDS) == sorted(bounds_of_the_models())


def test_title_is_a_line(tmp_path: Path) -> None:
    long = f'title = "{"t" * 201}"\n'
    with pytest.raises(InputError) as caught:
        read(tmp_path, long + job("look", "cri_min", "80"))
    (fault,) = caught.value.faults
    assert (fault.row, fault.column, fault.read) == (1, "key title", f'"{"t" * 59}…"')
    assert "200" in fault.allowed
