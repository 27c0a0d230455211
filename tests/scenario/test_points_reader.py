"""Points with targets of their own: what they say, what a light of a kit takes over, every fault by key and index."""

import math

import pytest

from optimise.parts import InputError
from optimise.scenario import Scenario, read_text_of_scenario
from optimise.scenario.points import MOST_POINTS, Point

TOP = """
[light]
illuminance = "100 lx"
distance = "2 m"
[power]
source = "mains"
mains_voltage = "230 V"
lead_length = "5 m"
"""
SOFA = """
[[point]]
name = "sofa"
across = "-80 cm"
up = "0.2 m"
distance = "2.5 m"
face_bearing = "30 deg"
illuminance = "40 lx"
stops_max = "0.5"
"""


def read(more: str, top: str = TOP) -> Scenario:
    return read_text_of_scenario(top + more, "job.toml")


def faults(more: str, top: str = TOP) -> list[tuple[str | None, int | None, str]]:
    with pytest.raises(InputError) as caught:
        read(more, top)
    return [(fault.column, fault.row, fault.allowed) for fault in caught.value.faults]


def test_a_point_says_where_it_is_and_what_it_asks() -> None:
    scenario = read(SOFA + '[[point]]\nname = "wall"\n')
    sofa, wall = scenario.targets(100.0)
    assert scenario.points[0].across == pytest.approx(-0.8)
    assert sofa.label == "at sofa"
    assert sofa.place == pytest.approx((-0.8, 0.2, 2.5, 30.0, 0.0))
    assert (sofa.least, sofa.most) == pytest.approx((40.0, 100.0 * math.sqrt(2.0)))
    # Left out: on the axis, as far as the subject, parallel to the panel, and nothing asked.
    assert (wall.place, wall.least, wall.most) == ((0.0, 0.0, 2.0, 0.0, 0.0), None, None)
    assert scenario.limited_targets(100.0) == (sofa,)
    assert scenario.light_is_limited
    assert read("").points == ()
    assert not read("").light_is_limited


def test_stops_follow_what_is_asked_ahead_until_they_are_pinned() -> None:
    scenario = read(SOFA)
    assert scenario.targets(200.0)[0].most == pytest.approx(200.0 * math.sqrt(2.0))
    pinned = scenario.pinned(100.0)
    assert pinned.targets(200.0)[0].most == pytest.approx(100.0 * math.sqrt(2.0))
    assert pinned.light_is_limited
    assert pinned.points[0].stops_max is None


def test_a_face_that_is_turned_may_be_limited() -> None:
    turned = TOP.replace("[power]", 'face_bearing = "45 deg"\nface_illuminance = "60 lx"\n[power]')
    scenario = read("", turned)
    (face,) = scenario.targets(100.0)
    assert (face.label, face.place, face.least, face.most) == (
        "on the turned face",
        (0.0, 0.0, 2.0, 45.0, 0.0),
        60.0,
        None,
    )
    assert not scenario.light_is_limited
    assert read("", turned.replace("face_illuminance", "face_illuminance_max")).light_is_limited


@pytest.mark.parametrize(
    ("more", "key", "row", "allowed"),
    [
        ('[[point]]\nacross = "1 m"\n', "key point[1].name", 9, "the key, since it is required"),
        (SOFA + SOFA, "key point[1].name", 11, "a name for each point of the light"),
        (SOFA.replace("2.5 m", "1 cm"), "key point[1].distance", 14, "at least 0.05 m"),
        (SOFA.replace("2.5 m", "2.5 kg"), "key point[1].distance", 14, "length in a unit such as m"),
        (SOFA + '[[point]]\nname = "b"\nfar = "1 m"\n', "key point[2].far", 20, ", ".join(Point.model_fields)),
        (SOFA + 'stops = "-1"\n', "key point[1].stops", 18, "illuminance or stops, not both"),
        (SOFA + 'illuminance_max = "30 lx"\n', "key point[1].stops_max", 17, "illuminance_max or stops_max, not both"),
        (
            '[[point]]\nname = "a"\nilluminance = "50 lx"\nilluminance_max = "30 lx"\n',
            "key point[1].illuminance",
            11,
            "at most illuminance_max",
        ),
        ("[point]\nname = 1\n", "key point", 9, "points, each under [[point]]"),
    ],
)
def test_a_fault_is_told_by_its_key(more: str, key: str | None, row: int, allowed: str) -> None:
    assert (key, row) in [(found[0], found[1]) for found in faults(more)]
    assert allowed in [found[2] for found in faults(more)]


def test_all_faults_are_told_at_once_and_points_are_not_without_number() -> None:
    told = faults('[[point]]\nname = ""\n[[point]]\nname = "b"\nface_tilt = "95 deg"\n')
    assert [key for key, _, _ in told] == ["key point[1].name", "key point[2].face_tilt"]
    many = "".join(f'[[point]]\nname = "{number}"\n' for number in range(MOST_POINTS + 1))
    assert faults(many) == [("key point", 9, f"at most {MOST_POINTS} points")]
    assert len(read(many.replace(f'[[point]]\nname = "{MOST_POINTS}"\n', "")).points) == MOST_POINTS


@pytest.mark.parametrize(
    ("keys", "allowed"),
    [
        ('face_illuminance = "60 lx"\n', "set where a face is turned"),
        (
            'face_tilt = "10 deg"\nface_illuminance = "60 lx"\nface_illuminance_max = "50 lx"\n',
            "at most face_illuminance_max",
        ),
    ],
)
def test_limits_on_a_face_that_make_no_sense_are_told(keys: str, allowed: str) -> None:
    ((key, _, told),) = faults("", TOP.replace("[power]", keys + "[power]"))
    assert (key, told) == ("key light.face_illuminance", allowed)


def test_a_light_of_a_kit_has_its_own_points_or_those_at_the_top() -> None:
    kit = """
[[kit]]
name = "key"
[[kit]]
name = "fill"
[kit.light]
illuminance = "50 lx"
[[kit.point]]
name = "wall"
stops_max = "-1"
[[kit]]
name = "rim"
"""
    key, fill, rim = read(SOFA + kit + SOFA.replace("[[point]]", "[[kit.point]]")).kit
    assert [point.name for point in key.job.points] == ["sofa"]
    assert [point.name for point in fill.job.points] == ["wall"]
    assert fill.job.targets(50.0)[0].most == pytest.approx(25.0)
    assert rim.job.points == key.job.points
    alone = read(SOFA + '[[kit]]\nname = "key"\n[[kit]]\nname = "fill"\npoint = []\n').kit
    assert [len(light.job.points) for light in alone] == [1, 0]


def test_faults_of_a_kits_points_name_the_light_and_the_point() -> None:
    kit = '[[kit]]\nname = "key"\n[[kit]]\nname = "fill"\n[[kit.point]]\nname = "a"\n[[kit.point]]\nname = "b"\n'
    told = faults(kit + 'stops = "x"\n')
    assert [(key, row) for key, row, _ in told] == [("key kit[2].point[2].stops", 17)]
