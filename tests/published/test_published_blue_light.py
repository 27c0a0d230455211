"""The blue-light weighting of IEC 62471:2006, and what it comes to for CIE illuminants."""

import numpy as np
import pytest
from spectra import illuminant

from optimise.parts.colour import efficiency
from optimise.physics.blue_light import EXEMPT, LOW_RISK, MODERATE_RISK, blue_light_per_lumen, blue_light_weight

# IEC 62471:2006, table 4.2 (seen second-hand, in the source text of a library).
WEIGHTS = {
    300: 0.01, 380: 0.01, 385: 0.013, 390: 0.025, 395: 0.05, 400: 0.1, 405: 0.2, 410: 0.4, 415: 0.8, 420: 0.9,
    425: 0.95, 430: 0.98, 435: 1.0, 440: 1.0, 445: 0.97, 450: 0.94, 455: 0.9, 460: 0.8, 465: 0.7, 470: 0.62, 475: 0.55,
    480: 0.45, 485: 0.4, 490: 0.22, 495: 0.16, 500: 0.1, 550: 0.01, 600: 0.001, 650: 0.001, 700: 0.001,
}  # fmt: skip


def test_weights_of_the_table() -> None:
    assert blue_light_weight(list(WEIGHTS)) == pytest.approx(list(WEIGHTS.values()), rel=1e-9)
    assert blue_light_weight([299.9, 700.1]).tolist() == [0.0, 0.0]
    # Straight lines between the table's own steps of 5 nm.
    steps = np.arange(380.0, 501.0, 5.0)
    told = np.array([WEIGHTS[int(step)] for step in steps])
    assert blue_light_weight((steps[1:] + steps[:-1]) / 2.0) == pytest.approx((told[1:] + told[:-1]) / 2.0, rel=1e-9)
    # The formula of the same table holds from 500 nm on.
    assert blue_light_weight([500.5, 599.5]) == pytest.approx([10 ** (-50.5 / 50), 10 ** (-149.5 / 50)], rel=1e-12)


def test_uneven_steps_count_by_their_width() -> None:
    # By hand: two trapezia of 10 nm and 40 nm, of blue (1 + 0.94) / 2 · 10 + (0.94 + 0) / 2 · 40, of light
    # (0.02 + 0.04) / 2 · 10 + (0.04 + 0) / 2 · 40.
    found = blue_light_per_lumen([440.0, 450.0, 490.0, 500.0], [1.0, 1.0, 0.0, 0.0], [0.02, 0.04, 0.2, 0.3])
    assert found == pytest.approx((9.7 + 0.94 / 2 * 40) / (0.3 + 0.04 / 2 * 40) / 683.002, rel=1e-12)
    assert blue_light_per_lumen([555.0, 556.0], [1e-6, 1e-6], [1.0, 1.0]) > 0.0
    with pytest.raises(ValueError, match="no lumens"):
        blue_light_per_lumen([440.0, 450.0], [1.0, 1.0], [0.0, 0.0])


# mW/lm by sums of 5 nm from 380 nm to 780 nm over CIE's tables (worked out apart for these tests; no published table).
RATIOS = {
    "A": 0.3070, "D50": 0.7284, "D65": 0.9856, "FL2": 0.6009, "FL11": 0.5623, "FL12": 0.3526, "LED-B1": 0.2636,
    "LED-B3": 0.5403, "LED-B5": 0.8856, "LED-V1": 0.3999,
}  # fmt: skip


def per_lumen(name: str) -> float:
    waves, values = zip(*illuminant(name), strict=True)
    return blue_light_per_lumen(waves, values, efficiency(np.array(waves)))


@pytest.mark.parametrize("name", RATIOS)
def test_blue_light_for_a_lumen(name: str) -> None:
    assert 1e3 * per_lumen(name) == pytest.approx(RATIOS[name], rel=0.01)


def test_groups_of_faces_and_bare_emitters() -> None:
    # A face of 20 000 cd/m² of D65 is exempt (19.7 W/(m² sr)); 1e7 cd/m² of LED-B5 is of group 1 (8856), twice as
    # much is of group 2. Limits of IEC 62471:2006, 6.1: 100, 1e4, 4e6.
    assert (EXEMPT, LOW_RISK, MODERATE_RISK) == (100.0, 1e4, 4e6)
    assert 20_000 * per_lumen("D65") == pytest.approx(19.7, rel=0.01)
    bare = 1e7 * per_lumen("LED-B5")
    assert bare == pytest.approx(8856, rel=0.01)
    assert EXEMPT < bare < LOW_RISK < 2 * bare < MODERATE_RISK
