"""The margin of a fuse under a load that runs for hours.

Source: NEC Article 100, 210.19(A)(1) and 210.20(A): the device rated at least 1.25 times a load of three
hours or more, which is at most 80 % of the device. Seen second-hand.
"""

import pytest

from optimise.scenario.model import Safety


def test_continuous_load_factor() -> None:
    assert Safety().continuous_factor == 1.25


@pytest.mark.parametrize(
    ("load", "fuse", "fits"), [(8.0, 10.0, True), (8.01, 10.0, False), (2.4, 3.0, True), (2.41, 3.0, False)]
)
def test_continuous_load_on_a_blade_fuse(load: float, fuse: float, fits: bool) -> None:
    # Fuse ratings of the ISO 8820-3 series, seen second-hand.
    assert (load * Safety().continuous_factor <= fuse) is fits
