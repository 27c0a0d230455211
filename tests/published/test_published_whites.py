"""Whites and their mixtures against published chromaticities and another reckoning of colour temperature.

Figures of CIE 15 as colour-science keeps them; those marked so are from memory.
"""

import warnings

import numpy as np
import pytest

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

from spectra import spectrum_of

from optimise.parts.colour import tristimulus_of
from optimise.physics.colour import chromaticity, isotemperature, share_for, tristimulus, uniform_chromaticity
from optimise.physics.observer import OBSERVER, WAVELENGTHS
from optimise.physics.whites import temperature_and_duv, temperature_lines, white

# CIE 15:2004, Table T.6 (fluorescent lamps): x, y and colour temperature; rows FL1, FL2 and FL4 seen second-hand, the
# temperatures of the others from memory.
LAMPS = [
    ("FL1", 0.3131, 0.3371, 6430.0),
    ("FL2", 0.3721, 0.3751, 4230.0),
    ("FL3", 0.4091, 0.3941, 3450.0),
    ("FL4", 0.4402, 0.4031, 2940.0),
    ("FL7", 0.3129, 0.3292, 6500.0),
    ("FL9", 0.3741, 0.3727, 4150.0),
    ("FL11", 0.3805, 0.3769, 4000.0),
    ("FL12", 0.4370, 0.4042, 3000.0),
]
# ANSI C78.377, Table 1, centres of the nominal whites; values from memory.
NOMINAL = [
    (2725.0, 0.4578, 0.4101),
    (3045.0, 0.4338, 0.4030),
    (3465.0, 0.4073, 0.3917),
    (3985.0, 0.3818, 0.3797),
    (5028.0, 0.3447, 0.3553),
    (6530.0, 0.3123, 0.3282),
]


def test_the_observer_is_that_of_the_standard() -> None:
    table = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    kept = dict(zip(np.array(table.wavelengths).tolist(), np.array(table.values), strict=True))
    assert np.array([kept[wave] for wave in WAVELENGTHS.tolist()]) == pytest.approx(OBSERVER, abs=1e-9)


@pytest.mark.parametrize(("name", "x", "y", "cct"), LAMPS)
def test_published_lamps_have_their_colour_temperature(name: str, x: float, y: float, cct: float) -> None:
    found, duv = temperature_and_duv(tristimulus(1.0, x, y))
    assert found == pytest.approx(cct, abs=9.0), name  # x and y have four figures
    ohno = colour.temperature.uv_to_CCT_Ohno2013(uniform_chromaticity(tristimulus(1.0, x, y)))
    assert found == pytest.approx(ohno[0], abs=2.5)
    assert duv == pytest.approx(ohno[1], abs=3e-5)


@pytest.mark.parametrize(("cct", "x", "y"), NOMINAL)
def test_nominal_whites(cct: float, x: float, y: float) -> None:
    assert temperature_and_duv(tristimulus(1.0, x, y))[0] == pytest.approx(cct, abs=4.0)


@pytest.mark.parametrize("cct", [2000.0, 2856.0, 4000.0, 6500.0])
@pytest.mark.parametrize("duv", [-0.02, 0.0, 0.006, 0.02])
def test_a_white_is_where_other_methods_find_it(cct: float, duv: float) -> None:
    """Ohno (LEUKOS 10, 2013) and Robertson (J. Opt. Soc. Am. 58, 1968), as colour-science has them."""
    uv = uniform_chromaticity(white(cct, duv))
    found = colour.temperature.uv_to_CCT_Ohno2013(uv)
    assert found[0] == pytest.approx(cct, abs=2.5)
    assert found[1] == pytest.approx(duv, abs=3e-5)
    assert colour.temperature.uv_to_CCT_Robertson1968(uv)[0] == pytest.approx(cct, rel=0.002)


def test_mccamy_on_the_locus() -> None:
    """McCamy (Color Res. Appl. 17, 1992), n = (x − 0.3320) / (0.1858 − y); formula from memory, an approximation."""
    for cct in (2856.0, 3200.0, 4000.0, 5000.0, 6500.0):
        x, y = chromaticity(white(cct))
        n = (x - 0.3320) / (0.1858 - y)
        assert 449.0 * n**3 + 3525.0 * n**2 + 6823.3 * n + 5520.33 == pytest.approx(cct, rel=0.003)


def test_lines_are_those_of_one_temperature() -> None:
    for cct in (1500.0, 3000.0, 7000.0):
        assert temperature_lines(cct) == pytest.approx(isotemperature(cct, WAVELENGTHS, OBSERVER), abs=1e-9)
    assert temperature_lines([3000.0, 5000.0]).shape == (2, 3)


# CIE 15:2018, LED-B1 and LED-B5 mixed: share of the light that B5 gives, x, y, colour temperature (Ohno), Duv.
MIXED = [
    (0.25, 0.41332, 0.38290, 3261.7, -0.00507),
    (0.50, 0.37559, 0.36088, 4016.4, -0.00619),
]


@pytest.mark.parametrize(("share", "x", "y", "cct", "duv"), MIXED)
def test_two_published_spectra_mixed(share: float, x: float, y: float, cct: float, duv: float) -> None:
    warm, cold = (np.array(tristimulus_of(spectrum_of(name))) for name in ("LED-B1", "LED-B5"))
    mixture = (1.0 - share) * warm + share * cold
    assert chromaticity(mixture) == pytest.approx([x, y], abs=2e-5)
    assert temperature_and_duv(mixture) == pytest.approx([cct, duv], abs=1.0)
    assert temperature_and_duv(mixture)[1] == pytest.approx(duv, abs=3e-5)
    # And back: the share that the line of this colour temperature asks for.
    line = temperature_lines(temperature_and_duv(mixture)[0])
    assert share_for(warm, cold, line) == pytest.approx(share, abs=1e-9)


def test_equal_lumens_of_two_nominal_whites() -> None:
    """x = Σ (x Y / y) / Σ (Y / y), y = Σ Y / Σ (Y / y), by hand from the rows above."""
    mixture = tristimulus(1.0, 0.4578, 0.4101) + tristimulus(1.0, 0.3123, 0.3282)
    assert chromaticity(mixture) == pytest.approx([0.376980, 0.364607], abs=1e-6)
