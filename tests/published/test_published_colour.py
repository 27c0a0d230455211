"""Colour figures against published tables.

The spectra are CIE's tables as colour-science keeps them (CIE 15:2004 and 15:2018), read as a file would be. What is
compared is published apart from them: chromaticities, colour temperatures, indices.
"""

import numpy as np
import pytest
from spectra import as_csv, as_tm27, colour, illuminant, spectrum_of

from optimise.parts.colour import (
    colour_of_mixture,
    colour_of_spectrum,
    on_grid,
    tristimulus,
)
from optimise.parts.faults import Collector
from optimise.parts.similarity import spectral_similarity
from optimise.parts.spectrum_files import read_spectrum
from optimise.physics.colour import (
    chromaticity,
    filtered_temperature,
    isotemperature,
    mired,
    planckian,
    share_for,
    uniform_chromaticity,
)
from optimise.physics.colour import tristimulus as from_chromaticity

# CIE 15:2004, illuminants for typical fluorescent lamps (FL1 to FL12): x, y, CCT in K, Ra. Ra and CCT of FL1, FL2 and
# FL4 were seen on a secondary page; those of the others are values from memory. The table rounds Ra to a whole number
# (FL8: 95, worked out 95.5).
FLUORESCENT = {
    "FL1": (0.3131, 0.3371, 6430, 76),
    "FL2": (0.3721, 0.3751, 4230, 64),
    "FL3": (0.4091, 0.3941, 3450, 57),
    "FL4": (0.4402, 0.4031, 2940, 51),
    "FL5": (0.3138, 0.3452, 6350, 72),
    "FL6": (0.3779, 0.3882, 4150, 59),
    "FL7": (0.3129, 0.3292, 6500, 90),
    "FL8": (0.3458, 0.3586, 5000, 95),
    "FL9": (0.3741, 0.3727, 4150, 90),
    "FL10": (0.3458, 0.3588, 5000, 81),
    "FL11": (0.3805, 0.3769, 4000, 83),
    "FL12": (0.4370, 0.4042, 3000, 83),
}

# CIE 15:2018, LED illuminants: x, y, CCT in K; x and y as colour-science cites them, CCT from memory.
LED = {
    "LED-B1": (0.4560, 0.4078, 2733),
    "LED-B2": (0.4357, 0.4012, 2998),
    "LED-B3": (0.3756, 0.3723, 4103),
    "LED-B4": (0.3422, 0.3502, 5109),
    "LED-B5": (0.3118, 0.3236, 6598),
    "LED-BH1": (0.4474, 0.4066, 2851),
    "LED-RGB1": (0.4557, 0.4211, 2840),
    "LED-V1": (0.4548, 0.4044, 2724),
    "LED-V2": (0.3781, 0.3775, 4070),
}


def xyz_of(name: str) -> np.ndarray:
    spectrum = spectrum_of(name)
    return np.array(tristimulus(*on_grid(spectrum.wavelengths, spectrum.values)))


@pytest.mark.parametrize("name", FLUORESCENT)
def test_fluorescent_series_of_cie_15(name: str) -> None:
    x, y, cct, ra = FLUORESCENT[name]
    assert chromaticity(xyz_of(name)) == pytest.approx([x, y], abs=3e-4)
    seen = colour_of_spectrum(spectrum_of(name))
    assert seen.cct == pytest.approx(cct, abs=6)
    assert seen.cri == pytest.approx(ra, abs=1)


@pytest.mark.parametrize("name", LED)
def test_led_series_of_cie_15(name: str) -> None:
    x, y, cct = LED[name]
    assert chromaticity(xyz_of(name)) == pytest.approx([x, y], abs=3e-4)
    assert colour_of_spectrum(spectrum_of(name)).cct == pytest.approx(cct, abs=2)


def test_illuminants_are_what_they_are_defined_to_be() -> None:
    # CIE 15:2018, 4.1: A is a Planckian radiator of about 2856 K; D65 has x = 0.3127, y = 0.3290 and about 6503 K.
    a, d65 = colour_of_spectrum(spectrum_of("A")), colour_of_spectrum(spectrum_of("D65"))
    assert a.cct == pytest.approx(2856, abs=1)
    assert a.duv == pytest.approx(0.0, abs=2e-5)
    assert d65.cct == pytest.approx(6503, abs=1)
    assert d65.duv == pytest.approx(0.0032, abs=1e-4)
    assert chromaticity(xyz_of("D65")) == pytest.approx([0.3127, 0.3290], abs=5e-5)
    for ideal in (a, d65):  # each is its own reference, in CIE 13.3-1995 as in ANSI/IES TM-30
        assert (ideal.cri, ideal.r9, ideal.rf, ideal.rg) == pytest.approx((100.0,) * 4, abs=0.02)


def test_fidelity_and_gamut_of_tm_30() -> None:
    # Output of the IES's own calculator for FL2 (ANSI/IES TM-30-18), as the tests of colour-science keep it.
    fl2 = colour_of_spectrum(spectrum_of("FL2"))
    assert fl2.rf == pytest.approx(70.0, abs=0.2)
    assert fl2.rg == pytest.approx(86.0, abs=0.5)
    assert fl2.cct == pytest.approx(4225.0, abs=1.0)
    assert fl2.duv == pytest.approx(0.0019, abs=0.001)
    # CIE 224:2017, from the same tests: FL1 80.6, FL2 70.1.
    assert colour_of_spectrum(spectrum_of("FL1")).rf == pytest.approx(80.6, abs=0.1)
    assert fl2.rf == pytest.approx(70.1, abs=0.1)


# SMPTE ST 2122:2020 as colour-science works it out in a process of its own, unrounded; C to D65 is pinned by its tests.
SIMILARITY = [
    ("FL1", "D65", 75.133),
    ("FL2", "A", 47.739),
    ("LED-B1", "A", 78.079),
    ("LED-B3", "D50", 69.911),
    ("LED-V1", "A", 73.483),
    ("LED-BH1", "A", 62.819),
    ("D50", "D65", 84.599),
    ("C", "D65", 94.183),
    ("D55", "D55", 100.0),
]


@pytest.mark.parametrize(("test", "reference", "index"), SIMILARITY)
def test_spectral_similarity(test: str, reference: str, index: float) -> None:
    colour_of_spectrum(spectrum_of(reference))  # what re-shapes a distribution must not be felt here
    assert spectral_similarity(spectrum_of(test), reference, rounded=False) == pytest.approx(index, abs=0.05)
    assert spectral_similarity(spectrum_of(test), reference) == round(index)


@pytest.mark.parametrize(
    ("reference", "name"), [("tungsten 2855.5 K", "A"), ("daylight 5003 K", "D50"), ("daylight 6504 K", "D65")]
)
def test_references_by_temperature_are_the_illuminants(reference: str, name: str) -> None:
    # CIE 15:2018, 4.1.2: D50 and D65 have the temperatures 5003 K and 6504 K since c2 was set anew.
    assert spectral_similarity(spectrum_of(name), reference, rounded=False) > 99.9


def test_both_forms_of_file_give_the_same_figures(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("spectra")
    faults = Collector()
    figures = []
    for name, text in (("a.csv", as_csv(illuminant("FL11"))), ("a.spdx", as_tm27(illuminant("FL11")))):
        (folder / name).write_text(text, encoding="utf-8")
        spectrum = read_spectrum(folder / name, name, faults)
        assert spectrum is not None
        figures.append(colour_of_spectrum(spectrum))
    assert figures[0] == figures[1]
    assert figures[0] == colour_of_spectrum(spectrum_of("FL11"))
    second = colour.SpectralDistribution_IESTM2714(str(folder / "a.spdx")).read()
    assert list(zip(second.wavelengths, second.values, strict=True)) == illuminant("FL11")


def test_uneven_steps_come_to_the_same(tmp_path_factory: pytest.TempPathFactory) -> None:
    # What lies on straight lines is the same light, wherever it is sampled: a knot more moves the grid to 1 nm.
    whole = spectrum_of("LED-B3")
    knots = sorted({*whole.wavelengths, 412.5, 531.0, 606.25})
    path = tmp_path_factory.mktemp("spectra") / "uneven.csv"
    path.write_text(as_csv(zip(knots, np.interp(knots, whole.wavelengths, whole.values).tolist(), strict=True)))
    uneven = read_spectrum(path, "uneven.csv", Collector())
    assert uneven is not None
    one, other = colour_of_spectrum(whole), colour_of_spectrum(uneven)
    assert other.cct == pytest.approx(one.cct, abs=3.0)
    for name in ("cri", "rf", "rg"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), abs=0.3)


# Mired shifts of filters as they are sold and cited: 80A −131, 85B +131, 85 +112; a tint of −144.8 from 3092 K.
@pytest.mark.parametrize(
    ("before", "after", "shift"), [(3200, 5500, -131), (5500, 3200, 131), (5500, 3400, 112), (3092, 5600, -144.8)]
)
def test_mired_of_filters(before: float, after: float, shift: float) -> None:
    assert mired(after) - mired(before) == pytest.approx(shift, abs=0.5)
    assert 1e6 / filtered_temperature(before, shift) == pytest.approx(1e6 / after, abs=0.5)


def test_mired_of_lights() -> None:
    assert [round(float(mired(t))) for t in (3400, 5500)] == [294, 182]
    # A full filter of +159 mired takes 5600 K to 2962 K, and 7000 K to 3313 K.
    assert filtered_temperature([5600, 7000], 159) == pytest.approx([2962, 3313], abs=1)


def test_mixture_by_hand() -> None:
    # Sums of weights Y / y (Grassmann's law; CIE e-ILV 17-23-033), by hand: equal lumens of
    # (0.4578, 0.4101) and (0.3123, 0.3282) give x = (0.4578/0.4101 + 0.3123/0.3282) / (1/0.4101 + 1/0.3282).
    mixed = from_chromaticity(1.0, 0.4578, 0.4101) + from_chromaticity(1.0, 0.3123, 0.3282)
    assert chromaticity(mixed) == pytest.approx([0.376980, 0.364607], abs=5e-7)
    by_hand = (0.4578 / 0.4101 + 0.3123 / 0.3282) / (1 / 0.4101 + 1 / 0.3282)
    assert chromaticity(mixed)[0] == pytest.approx(by_hand, abs=1e-12)


# Lumen share of LED-B5 in a mixture with LED-B1: x, y, CCT, Duv, worked out apart with colour-science.
MIXTURES = [(0.25, 0.41332, 0.38290, 3261.7, -0.00507), (0.5, 0.37559, 0.36088, 4016.4, -0.00619)]


@pytest.mark.parametrize(("share", "x", "y", "cct", "duv"), MIXTURES)
def test_mixture_of_two_whites(share: float, x: float, y: float, cct: float, duv: float) -> None:
    warm, cold = xyz_of("LED-B1"), xyz_of("LED-B5")
    mixed = (1 - share) * warm / warm[1] + share * cold / cold[1]
    assert chromaticity(mixed) == pytest.approx([x, y], abs=1e-5)
    seen = colour_of_mixture([(spectrum_of("LED-B1"), 1 - share), (spectrum_of("LED-B5"), share)])
    assert seen.cct == pytest.approx(cct, abs=0.5)
    assert seen.duv == pytest.approx(duv, abs=1e-5)
    assert seen.duv is not None
    assert seen.duv < -0.005  # pink, which the colour temperature alone hides


def observer() -> tuple[np.ndarray, np.ndarray]:
    table = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return np.array(table.wavelengths), np.array(table.values)


# Planckian radiators on the CIE 1931 diagram by the observer's table (Ohno's method takes them back to 0.01 K).
@pytest.mark.parametrize(
    ("temperature", "x", "y"),
    [(2700, 0.45986, 0.41060), (3200, 0.42336, 0.39895), (4000, 0.38044, 0.37675), (5600, 0.33020, 0.33908),
     (6500, 0.31353, 0.32363)],
)  # fmt: skip
def test_planckian_locus(temperature: float, x: float, y: float) -> None:
    waves, matching = observer()
    assert chromaticity(planckian(temperature, waves) @ matching) == pytest.approx([x, y], abs=2e-5)


@pytest.mark.parametrize("target", [3000.0, 3200.0, 4300.0, 5600.0])
def test_share_for_a_temperature_gives_it_by_another_method(target: float) -> None:
    waves, matching = observer()
    warm, cold = xyz_of("LED-B1"), xyz_of("LED-B5")
    share = share_for(warm, cold, isotemperature(target, waves, matching))
    mixed = (1 - share) * warm / warm[1] + share * cold / cold[1]
    found = colour.temperature.uv_to_CCT_Ohno2013(uniform_chromaticity(mixed))[0]
    assert found == pytest.approx(target, abs=0.5)


def test_mired_is_not_what_mixes() -> None:
    # 365.8, 306.6, 249.0, 196.4, 151.6 mired at shares of 0, ¼, ½, ¾, 1: up to 9.7 off a straight line.
    points = [(1 - s, s) for s in (0.0, 0.25, 0.5, 0.75, 1.0)]
    lights = spectrum_of("LED-B1"), spectrum_of("LED-B5")
    seen = [1e6 / (colour_of_mixture(zip(lights, point, strict=True)).cct or 0.0) for point in points]
    assert seen == pytest.approx([365.8, 306.6, 249.0, 196.4, 151.6], abs=0.1)
