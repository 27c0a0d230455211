"""The shutter of the lights of a kit, some of which ask for an illuminance and some for an exposure."""

from pathlib import Path

import pytest

from optimise.parts import InputError
from optimise.scenario import Scenario, read_scenario

POWER = '[power]\nsource = "mains"\nmains_voltage = "230 V"\nmains_frequency = "50 Hz"\nlead_length = "3 m"\n'
LUX = '[light]\nilluminance = "400 lx"\ndistance = "2 m"\n'
EXPOSURE = '[light]\niso = 800\nf_number = 4\nstops = 1\nmeter_constant = "320 lx s"\ndistance = "2 m"\n'
FIFTIETH = 'shutter = "1/50 s"\n'
ANGLE = 'shutter_angle = "180 deg"\nframe_rate = "25 fps"\n'
STEADY = "[look]\nflicker_max = 0.05\n"
ENTRY = '[[kit]]\nname = "fill"\n'


def read(folder: Path, text: str) -> Scenario:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return read_scenario(path)


def told(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(folder, text)
    return [str(fault) for fault in caught.value.faults]


TOPS = {"lux": LUX + POWER + STEADY + "{shutter}", "exposure": EXPOSURE + "{shutter}" + POWER + STEADY}
OWN = {
    "nothing": ("", None),
    "lux": ('[kit.light]\nilluminance = "100 lx"\n', False),
    "exposure": ("[kit.light]\niso = 400\nf_number = 2.8\n", True),
}


@pytest.mark.parametrize("shutter", [FIFTIETH, ANGLE], ids=["time", "angle"])
@pytest.mark.parametrize("own", sorted(OWN))
@pytest.mark.parametrize("top", sorted(TOPS))
def test_the_shutter_at_the_top_is_that_of_every_light(tmp_path: Path, top: str, own: str, shutter: str) -> None:
    keys, exposes = OWN[own]
    (light,) = read(tmp_path, TOPS[top].format(shutter=shutter) + ENTRY + keys).kit
    job = light.job
    exposes = top == "exposure" if exposes is None else exposes
    assert job.exposure_time == pytest.approx(0.02, rel=1e-12)
    assert job.frame_rate == (25.0 if shutter == ANGLE else None)
    assert (job.light.illuminance is None) == exposes
    # It stands once, where a scenario of one light has it.
    assert (job.light.exposure_time, job.look.exposure_time).index(None) == exposes
    assert job.look.flicker_max == 0.05
    if exposes:
        assert job.light.iso == (400 if own == "exposure" else 800)
        assert job.light.stops == (1 if top == "exposure" else 0)
    else:
        assert job.light.stops == 0


@pytest.mark.parametrize("shutter", [FIFTIETH, ANGLE], ids=["time", "angle"])
@pytest.mark.parametrize(
    ("top", "keys", "seconds"),
    [
        ("lux", '[kit.look]\nshutter = "1/100 s"\n', 0.01),
        ("lux", '[kit.look]\nshutter_angle = "90 deg"\nframe_rate = "50 fps"\n', 0.005),
        ("exposure", '[kit.light]\nshutter = "1/100 s"\n', 0.01),
        ("exposure", '[kit.light]\nshutter_angle = "90 deg"\nframe_rate = "50 fps"\n', 0.005),
        ("lux", '[kit.light]\niso = 400\nf_number = 2.8\nshutter = "1/100 s"\n', 0.01),
        ("exposure", '[kit.light]\nilluminance = "9 lx"\n[kit.look]\nshutter = "1/100 s"\n', 0.01),
    ],
)
def test_a_shutter_of_its_own_takes_the_place_of_that_at_the_top(
    tmp_path: Path, top: str, keys: str, seconds: float, shutter: str
) -> None:
    (light,) = read(tmp_path, TOPS[top].format(shutter=shutter) + ENTRY + keys).kit
    assert light.job.exposure_time == pytest.approx(seconds, rel=1e-12)


def test_a_light_may_change_the_frame_rate_alone(tmp_path: Path) -> None:
    text = TOPS["lux"].format(shutter=ANGLE) + ENTRY + '[kit.look]\nframe_rate = "50 fps"\n'
    (light,) = read(tmp_path, text).kit
    assert (light.job.exposure_time, light.job.look.shutter_angle) == (pytest.approx(0.01), 180.0)


def test_rules_between_sections_are_told_by_the_light_that_breaks_them(tmp_path: Path) -> None:
    text = LUX + POWER.replace('mains_frequency = "50 Hz"\n', "") + ENTRY + "[kit.look]\nflicker_max = 0.05\n"
    row = text.split("\n").index("[kit.look]") + 1
    entry = text.split("\n").index("[[kit]]") + 1
    assert sorted(told(tmp_path, text)) == [
        f"job.toml line {row}, key kit[1].look.shutter: read no such key; allowed: a shutter where flicker_max is "
        "stated. Add it, such as 1/50 s.",
        f"job.toml line {entry}, key kit[1].power.mains_frequency: read no such key; allowed: a frequency where "
        "look.flicker_max is stated and source is mains. Add it, such as 50 Hz.",
    ]


def test_a_shutter_in_the_look_of_a_light_that_asks_for_an_exposure_is_refused(tmp_path: Path) -> None:
    text = TOPS["exposure"].format(shutter=FIFTIETH) + ENTRY + '[kit.look]\nshutter = "1/100 s"\n'
    (fault,) = told(tmp_path, text)
    assert "key kit[1].look.shutter" in fault
    assert '"1/100 s"' in fault
    assert "the shutter once: [light] states it already" in fault
