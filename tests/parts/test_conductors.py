"""Resistance of flexes: the published table where the maker states none."""

import pytest

from optimise.parts import Cable
from optimise.parts.conductors import CLASS_5_RESISTANCE


def cable(area: float, resistance: float | None = None) -> Cable:
    """Return an invented flex of so many mm²."""
    return Cable(
        part="X",
        area=area * 1e-6,
        cores=2,
        rating=10.0,
        voltage_max=300.0,
        resistance=resistance,
        mass_per_length=0.05,
    )


@pytest.mark.parametrize("area", sorted(CLASS_5_RESISTANCE))
def test_blank_resistance_is_that_of_the_table(area: float) -> None:
    assert cable(area).ohms_per_metre == CLASS_5_RESISTANCE[area]


def test_stated_resistance_goes_before_the_table() -> None:
    assert cable(1.5, 12.1e-3).ohms_per_metre == 12.1e-3


def test_area_is_found_in_the_table_through_rounding() -> None:
    # 0.75 mm² read in another unit comes out a hair off.
    assert cable(0.00116250232500465 * 645.16).ohms_per_metre == CLASS_5_RESISTANCE[0.75]


@pytest.mark.parametrize("area", [0.35, 1.49, 3.3, 25.0])
def test_any_other_area_needs_a_resistance(area: float) -> None:
    with pytest.raises(ValueError, match="a resistance where the area is none of"):
        cable(area)
    assert cable(area, 0.01).ohms_per_metre == 0.01


def test_thicker_conductors_resist_less() -> None:
    by_area = [CLASS_5_RESISTANCE[area] for area in sorted(CLASS_5_RESISTANCE)]
    assert by_area == sorted(by_area, reverse=True)
    assert len(set(by_area)) == len(by_area)
