"""Reading a scenario: what is accepted, and the exact fault of what is not."""

import hashlib
import math
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.parts import Fault, InputError
from optimise.scenario import Scenario, read_scenario

# An invented job.
SOUND = """\
title = "A job"

[light]
illuminance = "400 lx"
distance = "2 m"

[power]
source = "any"
mains_voltage = "230 V"
runtime = "90 min"
lead_length = "3 m"
ambient = "20 degC"

[limits]
budget = "250 EUR"
"""
EXPOSURE = """\
[light]
iso = 800
f_number = "2.8"
shutter = "1/50 s"
distance = "2 m"
"""


def read(folder: Path, text: str | bytes) -> Scenario:
    path = folder / "job.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_scenario(path)


def faults(folder: Path, text: str | bytes) -> tuple[Fault, ...]:
    """Return the faults of a scenario; none where it is sound."""
    try:
        read(folder, text)
    except InputError as error:
        return error.faults
    return ()


def spoilt(old: str, new: str, text: str = SOUND) -> str:
    assert text.count(old) == 1
    return text.replace(old, new)


def with_light(section: str) -> str:
    """Return the sound scenario with another light section."""
    return section + SOUND[SOUND.index("\n[power]") :]


def with_key(section: str, line: str) -> str:
    """Return the sound scenario with one line more, right behind the head of a section."""
    if f"[{section}]" in SOUND:
        return spoilt(f"[{section}]\n", f"[{section}]\n{line}\n")
    return f"{SOUND}[{section}]\n{line}\n"


def test_sound_scenario_is_read_in_canonical_units(tmp_path: Path) -> None:
    job = read(tmp_path, SOUND)
    assert (job.light.illuminance, job.light.distance) == (400.0, 2.0)
    assert (job.power.runtime, job.power.ambient) == (5400.0, 20.0)
    assert (job.limits.budget, job.currency) == (25000, "EUR")


def test_what_is_left_out_has_its_default(tmp_path: Path) -> None:
    job = read(tmp_path, SOUND)
    assert (job.safety.voltage_drop, job.safety.continuous_factor, job.safety.touch_temperature) == (0.03, 1.25, 60.0)
    assert (job.travel.mode, job.travel.approval) == ("road", False)
    assert (job.search.objective, job.search.time_limit) == ("cost", None)
    assert (job.look.cri_min, job.look.diffused, job.limits.mount) == (None, False, True)
    assert (job.light.stops, job.light.meter_constant) == (0.0, 250.0)


def test_power_says_what_may_feed_the_light(tmp_path: Path) -> None:
    for source, both in {"any": (True, True), "mains": (True, False), "battery": (False, True)}.items():
        power = read(tmp_path, spoilt('"any"', f'"{source}"')).power
        assert (power.mains, power.battery) == both


# --- Light: illuminance or exposure -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shutter", "seconds"),
    [
        ('shutter = "1/50 s"', 0.02),
        ('shutter = " 1 / 50 s "', 0.02),
        ('shutter = "1/47.96 s"', 1 / 47.96),
        ('shutter = "20 ms"', 0.02),
        ('shutter = "0.5 s"', 0.5),
        ('shutter_angle = "180 deg"\nframe_rate = "25 fps"', 0.02),
        ('shutter_angle = "180 deg"\nframe_rate = "25fps"', 0.02),
        ('shutter_angle = "172.8 deg"\nframe_rate = "24 1/s"', 0.02),
        ('shutter_angle = "3.141592653589793 rad"\nframe_rate = "50 Hz"', 0.01),
    ],
)
def test_exposure_time_is_read_from_shutter_or_angle(tmp_path: Path, shutter: str, seconds: float) -> None:
    job = read(tmp_path, with_light(spoilt('shutter = "1/50 s"', shutter, EXPOSURE)))
    assert job.light.exposure_time == pytest.approx(seconds, rel=1e-12)
    assert (job.light.iso, job.light.f_number) == (800.0, 2.8)


def test_another_illuminance_takes_the_place_of_an_exposure_and_of_nothing_else(tmp_path: Path) -> None:
    light = 'iso = 800\nf_number = 4\nshutter = "1/50 s"\nstops = 1\nsubject_width = "2 m"\nuniformity_min = "80 %"'
    asked = read(tmp_path, SOUND.replace('illuminance = "400 lx"', light)).light
    assert asked.subject == (2.0, 0.0)
    other = asked.asking(250.0)
    kept = {"illuminance": 250.0, "iso": None, "f_number": None, "stops": 0.0}
    assert other.model_dump() == asked.model_dump() | kept
    # Flicker hangs on the shutter, however much light is asked for.
    assert other.exposure_time == pytest.approx(0.02)


def test_illuminance_has_no_exposure_time(tmp_path: Path) -> None:
    assert read(tmp_path, SOUND).light.exposure_time is None


LIGHTS = [
    (
        'iso = 800\nilluminance = "400 lx"',
        "light.iso",
        2,
        '"800"',
        "either illuminance or an exposure, not both",
        "Take one of the two out.",
    ),
    (
        'illuminance = "400 lx"\nstops = 1',
        "light.stops",
        3,
        '"1"',
        "either illuminance or an exposure, not both",
        "Take one of the two out.",
    ),
    (
        'illuminance = "400 lx"\nframe_rate = "25 fps"',
        "light.frame_rate",
        3,
        '"25 fps"',
        "either illuminance or an exposure, not both",
        "Take one of the two out.",
    ),
    ("", "light.iso", 1, "no such key", "illuminance, or an exposure (iso, f_number and a shutter)", "Add it."),
    (
        "iso = 800",
        "light.f_number",
        1,
        "no such key",
        "illuminance, or an exposure (iso, f_number and a shutter)",
        "Add it.",
    ),
    (
        "iso = 800\nf_number = 4",
        "light.shutter",
        1,
        "no such key",
        "shutter, or shutter_angle with frame_rate",
        "Add it.",
    ),
    (
        'iso = 800\nf_number = 4\nshutter_angle = "180 deg"',
        "light.shutter",
        1,
        "no such key",
        "shutter, or shutter_angle with frame_rate",
        "Add it.",
    ),
    (
        'iso = 800\nf_number = 4\nframe_rate = "25 fps"',
        "light.shutter",
        1,
        "no such key",
        "shutter, or shutter_angle with frame_rate",
        "Add it.",
    ),
    (
        'illuminance = "400 lx"\nuniformity_min = 0.8',
        "light.uniformity_min",
        3,
        '"0.8"',
        "set where the subject has a size",
        "Add subject_width, subject_height or both.",
    ),
    (
        'iso = 800\nf_number = 4\nshutter = "1/50 s"\nframe_rate = "25 fps"',
        "light.shutter",
        4,
        '"1/50 s"',
        "shutter, or shutter_angle with frame_rate, not both",
        "Take one out.",
    ),
]


@pytest.mark.parametrize(("lines", "key", "row", "seen", "allowed", "mend"), LIGHTS)
def test_light_is_asked_for_in_one_way(
    tmp_path: Path, lines: str, key: str, row: int, seen: str, allowed: str, mend: str
) -> None:
    text = with_light(f'[light]\n{lines}\ndistance = "2 m"\n'.replace("\n\n", "\n"))
    assert faults(tmp_path, text) == (Fault("job.toml", row, f"key {key}", seen, allowed, mend),)


@pytest.mark.parametrize(
    ("text", "allowed"),
    [
        ('"1/0 s"', 'an exposure time such as "1/50 s"'),
        ('"1/-50 s"', 'an exposure time such as "1/50 s"'),
        ('"1/50"', 'an exposure time such as "1/50 s"'),
        ('"1/50 min"', 'an exposure time such as "1/50 s"'),
        ('"1/x s"', "a finite number, with or without a unit"),
        ('"2/50 s"', "time in a unit such as s"),
        ('"1/1e-320 s"', 'an exposure time such as "1/50 s"'),
        ("0.02", "time with its unit, such as s"),
        ('"180 deg"', "time in a unit such as s"),
    ],
)
def test_what_is_no_shutter_is_told(tmp_path: Path, text: str, allowed: str) -> None:
    found = faults(tmp_path, with_light(spoilt('"1/50 s"', text, EXPOSURE)))
    assert [(fault.row, fault.column, fault.allowed) for fault in found] == [(4, "key light.shutter", allowed)]


# --- One bad key at a time ----------------------------------------------------------------------------------

NUMBER = "a finite number, with or without a unit"
BAD_KEYS = [
    ("light", 'distanze = "2 m"', "an unknown key", None, 'Did you mean "distance"?'),
    ("light", 'seating = "2 m"', "an unknown key", None, ""),
    ("look", 'cri_min = "very good"', '"very good"', NUMBER, "Write a number."),
    ("look", 'cri_min = "90 %"', '"90 %"', "a plain number", "Correct the number or its unit."),
    (
        "look",
        'cct_min = "3000"',
        '"3000"',
        "colour temperature with its unit, such as K",
        "Write the unit behind the number.",
    ),
    (
        "look",
        "cct_min = 3000",
        '"3000"',
        "colour temperature with its unit, such as K",
        "Write the unit behind the number.",
    ),
    (
        "look",
        'source_size_min = "20 deg"',
        '"20 deg"',
        "length in a unit such as m",
        "deg is a unit of another kind of quantity: correct the number or its unit.",
    ),
    (
        "look",
        'source_size_min = "0,4 m"',
        '"0,4 m"',
        "a number with a decimal point",
        "Write a point, not a comma, and no thousands separator.",
    ),
    ("look", "cri_min = true", "true", "number, a quantity in quotes", ""),
    ("look", "cri_min = [90]", "a list", "number, a quantity in quotes", ""),
    ("look", "cri_min = {least = 90}", "a section", "number, a quantity in quotes", ""),
    ("look", "cri_min = 2026-01-01", '"2026-01-01"', "number, a quantity in quotes", ""),
    ("look", "cri_min = nan", '"nan"', NUMBER, "Write a number."),
    ("look", "cri_min = inf", '"inf"', NUMBER, "Write a number."),
    ("look", 'diffused = "yes"', '"yes"', "true | false", ""),
    ("look", "diffused = 1", '"1"', "true | false", ""),
    (
        "power",
        'circuit = "16 V"',
        '"16 V"',
        "current in a unit such as A",
        "V is a unit of another kind of quantity: correct the number or its unit.",
    ),
    ("limits", 'suppliers = "north"', '"north"', 'a list of names, such as ["own", "north"]', ""),
    ("limits", "suppliers = [1]", "a list", 'a list of names, such as ["own", "north"]', ""),
    ("limits", "ip = 44", '"44"', "text in quotes", ""),
    ("limits", 'ip = "44"', '"44"', "IP and two signs of IEC 60529, such as IP44 or IPX4", ""),
    ("travel", 'mode = "sea"', '"sea"', "road | air", ""),
    ("travel", "mode = true", "true", "road | air", ""),
    ("safety", 'voltage_drop = "3 V"', '"3 V"', "a share, such as 0.9 or 90 %", "Correct the number or its unit."),
    ("search", 'objective = "fun"', '"fun"', "cost | mass | power", ""),
]
KEYS = {
    "light": "illuminance, iso, f_number, shutter, shutter_angle, frame_rate, stops, meter_constant, distance, "
    "subject_width, subject_height, uniformity_min, edge_stops_max, face_bearing, face_tilt, face_illuminance, "
    "face_illuminance_max",
}


@pytest.mark.parametrize(("section", "line", "seen", "allowed", "mend"), BAD_KEYS)
def test_bad_key_is_told_by_line_and_name(
    tmp_path: Path, section: str, line: str, seen: str, allowed: str | None, mend: str
) -> None:
    text = with_key(section, line)
    row = text.splitlines().index(line) + 1
    key = f"key {section}.{line.partition(' =')[0]}"
    assert faults(tmp_path, text) == (Fault("job.toml", row, key, seen, allowed or KEYS[section], mend),)


@pytest.mark.parametrize(
    ("budget", "seen", "allowed", "mend"),
    [
        ('"250"', '"250"', 'an amount with its currency (ISO 4217), such as "250 EUR"', ""),
        ("250", '"250"', 'an amount with its currency, in quotes, such as "250 EUR"', ""),
        (
            '"250.555 EUR"',
            '"250.555 EUR"',
            "an amount of whole cents",
            "Give the price of a pack instead of the price of one piece.",
        ),
        ('"250,50 EUR"', '"250,50 EUR"', "an amount with a decimal point", "Write a point, not a comma."),
        ('"-1 EUR"', '"-1 EUR"', "an amount from 0 to 1000000000", ""),
        ('"250 euro"', '"250 euro"', "an amount such as 12.50, or 12.50 EUR with an ISO 4217 code", ""),
    ],
)
def test_budget_is_an_amount_with_its_currency(tmp_path: Path, budget: str, seen: str, allowed: str, mend: str) -> None:
    found = faults(tmp_path, spoilt('"250 EUR"', budget))
    assert found == (Fault("job.toml", 15, "key limits.budget", seen, allowed, mend),)


@pytest.mark.parametrize(
    ("old", "new", "row", "key", "seen", "allowed", "mend"),
    [
        (
            'distance = "2 m"\n',
            "",
            3,
            "light.distance",
            "no such key",
            "the key, since it is required",
            "Add it: From the front of the light to the subject.",
        ),
        (
            'source = "any"\n',
            "",
            7,
            "power.source",
            "no such key",
            "the key, since it is required",
            "Add it: What may feed the light.",
        ),
        (
            'mains_voltage = "230 V"\n',
            "",
            7,
            "power.mains_voltage",
            "no such key",
            "a voltage where source is any",
            "Add it, such as 230 V.",
        ),
        (
            'runtime = "90 min"\n',
            "",
            7,
            "power.runtime",
            "no such key",
            "a time where source is any",
            "Add it, such as 90 min.",
        ),
        ('"any"', '"sun"', 8, "power.source", '"sun"', "battery | mains | any", ""),
    ],
)
def test_section_lacks_no_key_that_it_needs(
    tmp_path: Path, old: str, new: str, row: int, key: str, seen: str, allowed: str, mend: str
) -> None:
    found = faults(tmp_path, spoilt(old, new))
    assert found == (Fault("job.toml", row, f"key {key}", seen, allowed, mend),)


@pytest.mark.parametrize(("figure", "low", "high"), [("duv", "0.003", "-0.003"), ("rg", "101", "99")])
def test_ends_of_a_span_of_colour_are_in_order(tmp_path: Path, figure: str, low: str, high: str) -> None:
    text = with_key("look", f'{figure}_min = "{low}"\n{figure}_max = "{high}"')
    assert faults(tmp_path, text) == (
        Fault("job.toml", 17, f"key look.{figure}_min", f'"{low}"', f"at most {figure}_max", "Swap the two."),
    )


REFERENCES = "daylight or tungsten with a temperature, as 'daylight 5600 K', or A, C, D50, D55, D65, D75, E"


@pytest.mark.parametrize("reference", ["D55", "A", "daylight 5600 K", "tungsten 3200K", " planckian  2000.5 K "])
def test_reference_of_similarity_is_read(tmp_path: Path, reference: str) -> None:
    job = read(tmp_path, with_key("look", f'ssi_min = "80"\nssi_reference = "{reference}"'))
    assert (job.look.ssi_min, job.look.ssi_reference) == (80.0, reference)


@pytest.mark.parametrize(
    "reference",
    ["", "D56", "daylight", "daylight 3999 K", "tungsten 999 K", "daylight 5600", "5600 K", "a", "sun 5600 K"],
)
def test_unknown_reference_of_similarity_is_refused(tmp_path: Path, reference: str) -> None:
    found = faults(tmp_path, with_key("look", f'ssi_reference = "{reference}"'))
    assert found == (Fault("job.toml", 17, "key look.ssi_reference", f'"{reference}"', REFERENCES, "Correct it."),)


def test_similarity_needs_a_reference(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, with_key("look", 'ssi_min = "80"'))
    assert (fault.row, fault.column, fault.read) == (16, "key look.ssi_reference", "no such key")
    assert fault.allowed == f"a reference where ssi_min is set: {REFERENCES}"


def test_colour_temperatures_are_in_order(tmp_path: Path) -> None:
    text = with_key("look", 'cct_min = "5000 K"\ncct_max = "3000 K"')
    assert faults(tmp_path, text) == (
        Fault("job.toml", 17, "key look.cct_min", '"5000 K"', "at most cct_max", "Swap the two."),
    )


def test_missing_sections_are_all_told(tmp_path: Path) -> None:
    assert faults(tmp_path, 'title = "Nothing"\n') == (
        Fault("job.toml", None, "key light", "no such key", "a section, [light]", "Add it: How much light, and where."),
        Fault("job.toml", None, "key power", "no such key", "a section, [power]", "Add it: What feeds it."),
    )
    assert [fault.column for fault in faults(tmp_path, "")] == ["key light", "key power"]


def test_unknown_section_is_told_with_the_nearest(tmp_path: Path) -> None:
    allowed = "title, note, light, look, power, limits, buying, travel, safety, search"
    assert faults(tmp_path, SOUND + "[lights]\n") == (
        Fault("job.toml", 16, "key lights", "an unknown key", allowed, 'Did you mean "light"?'),
    )


def test_value_in_place_of_a_section_is_told(tmp_path: Path) -> None:
    text = "look = 3\n" + SOUND
    assert faults(tmp_path, text) == (Fault("job.toml", 1, "key look", '"3"', "a section, [look]", ""),)
    found = faults(tmp_path, "look = [1]\n" + SOUND)
    assert [(fault.column, fault.read) for fault in found] == [("key look", "a list")]


def test_currency_cannot_be_set_behind_the_budget(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, 'currency = "GBP"\n' + SOUND)
    assert (fault.column, fault.read) == ("key currency", "an unknown key")


# --- Several at once, and where they are --------------------------------------------------------------------


def test_all_faults_of_a_file_are_told_at_once(tmp_path: Path) -> None:
    text = """\
tittle = "A job"

[light]
illuminance = 400
distance = "-2 m"

[look]
cri_min = 190
diffused = "no"

[power]
source = "mains"
lead_length = "300 m"
ambient = "20"

[limits]
budget = "250"
ip = "waterproof"

[travel]
mode = "sea"

[search]
objective = "mass"
time_limit = "0 s"
"""
    assert [(fault.row, fault.column, fault.allowed) for fault in faults(tmp_path, text)] == [
        (1, "key tittle", "title, note, light, look, power, limits, buying, travel, safety, search"),
        (4, "key light.illuminance", "illuminance with its unit, such as lx"),
        (5, "key light.distance", "at least 0.05 m"),
        (8, "key look.cri_min", "at most 100"),
        (9, "key look.diffused", "true | false"),
        (13, "key power.lead_length", "at most 200 m"),
        (14, "key power.ambient", "temperature with its unit, such as degC"),
        (17, "key limits.budget", 'an amount with its currency (ISO 4217), such as "250 EUR"'),
        (18, "key limits.ip", "IP and two signs of IEC 60529, such as IP44 or IPX4"),
        (21, "key travel.mode", "road | air"),
        (25, "key search.time_limit", "more than 0 s"),
    ]


def test_rule_of_one_section_is_told_beside_the_fault_of_another(tmp_path: Path) -> None:
    text = with_key("look", "cri_min = true").replace('mains_voltage = "230 V"\n', "")
    assert [fault.column for fault in faults(tmp_path, text)] == ["key power.mains_voltage", "key look.cri_min"]


def test_rule_between_keys_is_silent_while_one_of_them_is_not_read(tmp_path: Path) -> None:
    # Without its ISO the light would also seem to be asked for in no way at all.
    found = faults(tmp_path, with_light(spoilt("iso = 800", 'iso = "fast"', EXPOSURE)))
    assert [fault.column for fault in found] == ["key light.iso"]


def test_dotted_keys_have_lines_too(tmp_path: Path) -> None:
    text = 'light.illuminance = "400 lx"\nlight.distance = "2 kg"\n' + SOUND[SOUND.index("[power]") :]
    assert [(fault.row, fault.column) for fault in faults(tmp_path, text)] == [(2, "key light.distance")]


@pytest.mark.parametrize("sign", ["\u2028", "\u0085", "\u2029"])
def test_lines_are_those_an_editor_counts(tmp_path: Path, sign: str) -> None:
    text = f"# a comment with{sign}another kind of break\n" + spoilt('"2 m"', '"2 kg"')
    assert [fault.row for fault in faults(tmp_path, text)] == [6]


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("[light\n", 1),
        ("[light]\nilluminance = 400 lx\n", 2),
        ("[light]\ndistance = 2\ndistance = 3\n", 3),
        ("[light]\n\n[light]\n", 3),
        ('title = "never closed\n', 1),
        ("a = 1\r\n\r\nb = \r\n", 3),
    ],
)
def test_broken_toml_is_told_by_its_line(tmp_path: Path, text: str, row: int) -> None:
    (fault,) = faults(tmp_path, text)
    assert (fault.file, fault.row, fault.column, fault.allowed) == ("job.toml", row, "", "TOML 1.0")
    assert fault.read.startswith("broken TOML (")
    assert fault.mend == 'Text and quantities stand in quotes: distance = "2.5 m".'


# --- Files --------------------------------------------------------------------------------------------------


def test_byte_order_mark_and_windows_line_ends_are_let_be(tmp_path: Path) -> None:
    data = b"\xef\xbb\xbf" + SOUND.replace("\n", "\r\n").encode()
    marked, bare = read(tmp_path, data), read(tmp_path, SOUND)
    assert marked.model_copy(update={"text": SOUND, "fingerprint": bare.fingerprint}) == bare
    assert marked.fingerprint == hashlib.sha256(data).hexdigest()
    text = spoilt('"2 m"', '"2 kg"').replace("\n", "\r\n")
    assert [fault.row for fault in faults(tmp_path, text)] == [5]


@pytest.mark.parametrize(
    ("data", "row", "seen"),
    [
        (SOUND.replace("A job", "Caf\xe9").encode("latin-1"), 1, "byte 0xe9, which is not UTF-8"),
        (SOUND.encode("utf-16"), None, "UTF-16 text"),
        (SOUND.replace("A job", "A\x00job").encode(), 1, "a NUL byte"),
    ],
)
def test_what_is_no_utf_8_text_is_told(tmp_path: Path, data: bytes, row: int | None, seen: str) -> None:
    assert [(fault.row, fault.read) for fault in faults(tmp_path, data)] == [(row, seen)]


def test_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    for path in (tmp_path / "nowhere.toml", tmp_path):
        with pytest.raises(InputError) as caught:
            read_scenario(path)
        (fault,) = caught.value.faults
        assert (fault.file, fault.allowed, fault.mend) == (path.name, "a readable file", "Check name and rights.")


HOSTILE = {
    "digits": "[look]\ncri_min = " + "9" * 5000,
    "hexadecimal": "[look]\ncri_min = 0x" + "f" * 5000,
    "hexadecimal text": "title = 0x" + "f" * 5000,
    "nested lists": "title = " + "[" * 5000 + "]" * 5000,
    "nested keys": "title" + ".a" * 5000 + " = 1",
    "nested sections": "[look" + ".a" * 3000 + "]\ncri_min = 1",
    "deep value": "look.cri_min" + ".a" * 5000 + " = 1",
    "unit": '[look]\nsource_size_min = "5 9**9**9**9"',
    "long text": '[look]\nip = "' + "I" * 100_000 + '"',
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_hostile_text_is_refused_in_short_words(tmp_path: Path, text: str) -> None:
    found = faults(tmp_path, text)
    assert found
    assert all(len(str(fault)) < 400 for fault in found)


LINES = st.sampled_from(
    [*SOUND.splitlines(), *EXPOSURE.splitlines(), "[look]", "[[look]]", "[search]", "[safety]", "[travel]"]
)
VALUES = st.one_of(
    st.sampled_from(
        ['"2 m"', '"1/50 s"', '"9 fps"', '"90 %"', '"5 EUR"', '"IP65"', "true", "[]", "{}", "inf", "07:32:00"]
    ),
    st.integers().map(str),
    st.floats().map(str),
    st.text("0123456789 /.eEms%K°-+", max_size=12).map(lambda text: f'"{text}"'),
    st.text(max_size=8),
)
NAMES = st.sampled_from(
    [
        f"{section}.{key}"
        for section, field in Scenario.model_fields.items()
        for key in getattr(field.annotation, "model_fields", ())
    ]
    + ["light", "power", "title", "", '"a b"', "iso"]
)
TEXTS = st.lists(st.one_of(LINES, st.builds("{} = {}".format, NAMES, VALUES), st.text(max_size=10)), max_size=12)


@settings(max_examples=100, deadline=None)
@given(TEXTS.map("\n".join), st.booleans())
def test_any_text_is_read_or_refused_with_faults_of_that_file(
    tmp_path_factory: pytest.TempPathFactory, text: str, behind: bool
) -> None:
    folder = tmp_path_factory.getbasetemp() / "any-text"
    folder.mkdir(exist_ok=True)
    found = faults(folder, (SOUND + text if behind else text).encode("utf-8", "replace"))
    assert {fault.file for fault in found} <= {"job.toml"}
    assert all(fault.read and fault.allowed for fault in found)


# --- What follows from a scenario ---------------------------------------------------------------------------


def test_softness_may_be_asked_for_by_size_and_by_angle(tmp_path: Path) -> None:
    assert read(tmp_path, SOUND).source_size_min == 0.0
    size = read(tmp_path, with_key("look", 'source_size_min = "40 cm"'))
    assert size.source_size_min == pytest.approx(0.4, rel=1e-12)
    # 2 m away, 20 degrees are 2 · 2 m · tan 10° = 0.7053 m.
    angle = read(tmp_path, with_key("look", 'source_angle_min = "20 deg"'))
    assert angle.source_size_min == pytest.approx(4.0 * math.tan(math.pi / 18), rel=1e-12)
    both = read(tmp_path, with_key("look", 'source_size_min = "1 m"\nsource_angle_min = "20 deg"'))
    assert both.source_size_min == 1.0


def test_suppliers_are_kept_in_order(tmp_path: Path) -> None:
    assert read(tmp_path, with_key("limits", 'suppliers = ["own", "north"]')).limits.suppliers == ("own", "north")
    assert read(tmp_path, with_key("limits", "suppliers = []")).limits.suppliers == ()


def test_buying_is_read_as_a_day_terms_and_rates(tmp_path: Path) -> None:
    lines = 'date = 2031-01-31\ntax = "reclaimed"\nkerf = "2 mm"\nrates = { GBP = "1.17 EUR", CHF = "1.05 EUR" }'
    buying = read(tmp_path, with_key("buying", lines)).buying
    assert (buying.date, buying.tax, buying.kerf) == (date(2031, 1, 31), "reclaimed", 0.002)
    assert buying.rates == (("CHF", Decimal("1.05")), ("GBP", Decimal("1.17")))
    assert read(tmp_path, with_key("buying", 'date = "2031-01-31"')).buying.date == date(2031, 1, 31)


DAY, RATES = "a day, such as 2031-01-31", 'currencies with what one unit costs, such as { GBP = "1.17 EUR" }'


@pytest.mark.parametrize(
    ("section", "line", "allowed"),
    [
        ("buying", 'date = "31.1.2031"', DAY),
        ("buying", "date = 2031-01-31T12:00:00", DAY),
        ("buying", "date = 31", DAY),
        ("buying", 'rates = "1.17"', RATES),
        ("buying", "rates = { GBP = 1.17 }", RATES),
        ("buying", 'rates = { gbp = "1.17 EUR" }', RATES),
        ("buying", 'rates = { GBP = "0 EUR" }', RATES),
        ("buying", 'rates = { GBP = "1,17 EUR" }', RATES),
        ("buying", 'rates = { GBP = "1.17 USD" }', "rates in one currency, that of the budget"),
        ("buying", 'tax = "none"', "paid | reclaimed"),
        ("limits", "suppliers_max = 1.5", "a whole number"),
    ],
)
def test_what_is_no_way_of_buying_is_told(tmp_path: Path, section: str, line: str, allowed: str) -> None:
    (fault,) = faults(tmp_path, with_key(section, line))
    assert fault.column == f"key {section}.{line.split(' ')[0]}"
    assert fault.allowed == allowed
