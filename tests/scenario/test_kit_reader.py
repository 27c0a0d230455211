"""Kits in a scenario: what a light takes from the top, what it says for itself, and every fault by its key."""

import pytest

from optimise.parts import InputError
from optimise.scenario import Scenario, read_text_of_scenario

TOP = """
[light]
iso = "800"
f_number = "4"
shutter = "1/50 s"
distance = "2 m"
[look]
cri_min = "90"
[power]
source = "mains"
mains_voltage = "230 V"
circuit = "10 A"
lead_length = "5 m"
[limits]
budget = "300 EUR"
mass = "9 kg"
power = "200 W"
width = "60 cm"
suppliers_max = 2
"""


def read(kit: str, top: str = TOP) -> Scenario:
    return read_text_of_scenario(top + kit, "job.toml")


def test_a_light_takes_what_it_does_not_say_from_the_top() -> None:
    scenario = read(
        """
[[kit]]
name = "key"
[[kit]]
name = "fill"
count = 2
[kit.light]
stops = "-1"
[kit.look]
cri_min = "80"
[kit.power]
lead_length = "8 m"
[kit.limits]
mass = "2 kg"
width = "30 cm"
"""
    )
    key, fill = scenario.kit
    assert (key.name, key.count, fill.name, fill.count) == ("key", 1, "fill", 2)
    assert (key.job.light, key.job.look, key.job.power) == (scenario.light, scenario.look, scenario.power)
    assert (fill.job.light.iso, fill.job.light.stops) == (800.0, -1.0)
    assert (fill.job.look.cri_min, fill.job.power.lead_length) == (80.0, 8.0)
    assert (fill.job.power.mains_voltage, fill.job.power.circuit) == (230.0, 10.0)


def test_a_light_has_a_subject_of_its_own() -> None:
    subject = 'subject_width = "1 m"\nuniformity_min = "80 %"\n[look]'
    scenario = read(
        """
[[kit]]
name = "key"
[[kit]]
name = "fill"
[kit.light]
subject_height = "50 cm"
uniformity_min = "0.6"
edge_stops_max = "0.5"
face_tilt = "10 deg"
""",
        TOP.replace("[look]", subject, 1),
    )
    key, fill = (light.job.light for light in scenario.kit)
    assert (key.subject, key.uniformity_min, key.edge_stops_max, key.turned) == ((1.0, 0.0), 0.8, None, False)
    assert (fill.subject, fill.uniformity_min, fill.edge_stops_max, fill.face_tilt) == ((1.0, 0.5), 0.6, 0.5, 10.0)
    alone = '[[kit]]\nname = "key"\n[kit.light]\nuniformity_min = "0.6"\n'
    with pytest.raises(InputError) as caught:
        read(alone)
    (fault,) = caught.value.faults
    assert fault.column == "key kit[1].light.uniformity_min"


def test_limits_of_the_kit_are_not_those_of_a_light() -> None:
    scenario = read('[[kit]]\nname = "key"\n[kit.limits]\nmass = "2 kg"\n[[kit]]\nname = "fill"\n')
    key, fill = (light.job.limits for light in scenario.kit)
    assert (key.mass, fill.mass, key.power, key.budget, key.suppliers_max) == (2.0, None, None, None, None)
    assert (key.width, scenario.limits.mass, scenario.limits.budget) == (0.6, 9.0, 30000)


@pytest.mark.parametrize(
    ("own", "illuminance", "iso", "shutter"),
    [
        ('illuminance = "90 lx"', 90.0, None, None),
        ('shutter_angle = "180 deg"\nframe_rate = "25 fps"', None, 800.0, None),
    ],
)
def test_a_light_asks_in_one_way_only(
    own: str, illuminance: float | None, iso: float | None, shutter: float | None
) -> None:
    light = read(f'[[kit]]\nname = "key"\n[kit.light]\n{own}\n').kit[0].job.light
    assert (light.illuminance, light.iso, light.shutter, light.distance) == (illuminance, iso, shutter, 2.0)


def test_a_circuit_of_its_own_is_told_from_the_common_one() -> None:
    kit = read('[[kit]]\nname = "key"\n[[kit]]\nname = "fill"\n[kit.power]\ncircuit = "6 A"\n').kit
    assert [light.own_circuit for light in kit] == [False, True]


@pytest.mark.parametrize(
    ("kit", "key"),
    [
        ("[[kit]]\ncount = 2\n", "kit[1].name"),
        ('[[kit]]\nname = "a"\n[[kit]]\nname = "a"\n', "kit[2].name"),
        ('[[kit]]\nname = "a"\ncount = 0\n', "kit[1].count"),
        ('[[kit]]\nname = "a"\ncount = 7\n[[kit]]\nname = "b"\ncount = 6\n', "kit"),
        ('[[kit]]\nname = "a"\n[kit.limits]\nbudget = "20 EUR"\n', "kit[1].limits.budget"),
        ('[[kit]]\nname = "a"\n[kit.light]\ndistance = "2 kg"\n', "kit[1].light.distance"),
        ('[[kit]]\nname = "a"\n[[kit]]\nname = "b"\n[kit.light]\nilluminance = "0 lx"\n', "kit[2].light.illuminance"),
        ('[[kit]]\nname = "a"\n[kit.light]\nilluminance = "9 lx"\niso = "100"\n', "kit[1].light.iso"),
        ('[[kit]]\nname = "a"\n[kit.power]\nsource = "battery"\n', "kit[1].power.runtime"),
        ('[[kit]]\nname = "a"\n[kit.travel]\nmode = "air"\n', "kit[1].travel"),
        ('[kit]\nname = "a"\n', "kit"),
        ("kit = []\n", "kit"),
    ],
)
def test_faults_name_their_keys(kit: str, key: str) -> None:
    top = TOP if not kit.startswith("kit =") else ""
    text = kit + TOP if not top else TOP + kit
    with pytest.raises(InputError) as caught:
        read_text_of_scenario(text, "job.toml")
    assert f"key {key}" in {fault.column for fault in caught.value.faults}
    assert all(fault.allowed and fault.read for fault in caught.value.faults)


def test_all_faults_are_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        read('[[kit]]\nname = "a"\n[kit.light]\ndistance = "2 kg"\n[[kit]]\n[kit.look]\ncri = "90"\n')
    assert {fault.column for fault in caught.value.faults} == {
        "key kit[1].light.distance",
        "key kit[2].name",
        "key kit[2].look.cri",
    }
    assert all(fault.row is not None for fault in caught.value.faults)
