"""The demonstration catalogue is sound, says that it is invented, and stays within what the trade really sells."""

from collections.abc import Iterable
from pathlib import Path

import pytest

from optimise.parts import Catalogue, read_catalogue
from optimise.parts.conductors import CLASS_5_RESISTANCE
from optimise.parts.kinds import PART_KINDS, TABLES

FOLDER = Path(__file__).parents[2] / "catalogue"


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return read_catalogue(FOLDER)


def outside(figures: Iterable[tuple[str, float]], low: float, high: float) -> dict[str, float]:
    """Return the parts whose figure lies outside a range; at least one figure is looked at."""
    known = dict(figures)
    assert known
    return {part: figure for part, figure in known.items() if not low <= figure <= high}


@pytest.mark.parametrize("name", TABLES)
def test_first_line_of_every_table_says_that_it_is_invented(name: str) -> None:
    first = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("#")
    assert "invented" in first.lower()


def test_there_is_enough_to_choose_from(catalogue: Catalogue) -> None:
    assert len(catalogue.parts()) >= 160
    assert [kind for kind in PART_KINDS if len(getattr(catalogue, kind)) < 6] == []
    sellers = {offer.supplier for rows in catalogue.offers.values() for offer in rows}
    assert len(sellers - {"own"}) >= 3
    assert "own" in sellers


def test_every_part_is_offered_and_every_supplier_sells(catalogue: Catalogue) -> None:
    assert {part.part for part in catalogue.parts()} == set(catalogue.offers)
    sellers = {offer.supplier for rows in catalogue.offers.values() for offer in rows}
    assert {supplier.supplier for supplier in catalogue.suppliers} == sellers - {"own"}


def test_every_form_drive_output_chemistry_and_supply_is_there(catalogue: Catalogue) -> None:
    assert {part.form for part in catalogue.emitters} == {"module", "strip", "tube"}
    assert {part.drive for part in catalogue.emitters} == {"constant current", "constant voltage", "ballast"}
    assert {(part.input, part.output) for part in catalogue.drivers} == {
        (source, output) for source in ("dc", "ac") for output in ("constant current", "constant voltage", "ballast")
    }
    assert len({part.chemistry for part in catalogue.batteries}) == 5
    assert {part.supply for part in catalogue.fuses} == {part.supply for part in catalogue.connectors} == {"dc", "ac"}
    assert {part.metal for part in catalogue.panels} == {True, False}


def test_price_breaks_fall_and_state_the_same_stock(catalogue: Catalogue) -> None:
    breaks = 0
    for rows in catalogue.offers.values():
        for one in rows:
            for other in rows:
                if one is not other and one.supplier == other.supplier:
                    assert one.stock == other.stock, one.part
                    if other.quantity_min > one.quantity_min and one.pack == other.pack:
                        assert other.price < one.price, one.part
                        breaks += 1
    assert breaks > 50


def test_efficacy_is_that_of_what_is_sold(catalogue: Catalogue) -> None:
    leds = [part for part in catalogue.emitters if part.drive != "ballast"]
    tubes = [part for part in catalogue.emitters if part.drive == "ballast"]
    assert outside(((part.part, part.flux / part.watts) for part in leds), 80, 170) == {}
    assert outside(((part.part, part.flux / part.watts) for part in tubes), 55, 110) == {}


def test_colour_is_that_of_what_is_sold(catalogue: Catalogue) -> None:
    emitters = catalogue.emitters
    assert outside(((part.part, part.cct) for part in emitters if part.cct is not None), 2700, 6500) == {}
    assert outside(((part.part, part.cri) for part in emitters if part.cri is not None), 80, 98) == {}


def test_heat_and_light_are_all_the_power_of_an_led(catalogue: Catalogue) -> None:
    # White light of good colour is about 350 lm for each watt of radiation.
    leds = [part for part in catalogue.emitters if part.drive != "ballast" and part.heat_fraction is not None]
    assert outside(((part.part, part.heat_share + part.flux / part.watts / 350) for part in leds), 0.9, 1.05) == {}


def test_drivers_are_as_efficient_as_what_is_sold(catalogue: Catalogue) -> None:
    assert outside(((part.part, part.efficiency) for part in catalogue.drivers), 0.75, 0.96) == {}
    factors = ((part.part, part.power_factor) for part in catalogue.drivers if part.power_factor is not None)
    assert outside(factors, 0.5, 0.99) == {}


@pytest.mark.parametrize(
    ("chemistry", "low", "high"),
    [("li-ion", 120, 260), ("lifepo4", 80, 140), ("nimh", 50, 100), ("nicd", 35, 60), ("lead-acid", 25, 45)],
)
def test_batteries_hold_what_their_chemistry_can(catalogue: Catalogue, chemistry: str, low: float, high: float) -> None:
    batteries = [part for part in catalogue.batteries if part.chemistry == chemistry]
    assert outside(((part.part, part.watt_hours / part.mass) for part in batteries), low, high) == {}


def test_some_batteries_may_fly_and_some_may_not(catalogue: Catalogue) -> None:
    hours = [part.watt_hours for part in catalogue.batteries if part.chemistry == "li-ion"]
    assert min(hours) < 100 < max(hours)


def test_diffusers_let_through_what_is_sold(catalogue: Catalogue) -> None:
    assert outside(((part.part, part.transmittance) for part in catalogue.diffusers), 0.4, 0.9) == {}


def test_flexes_conduct_like_copper(catalogue: Catalogue) -> None:
    # The class 5 table is itself about 19 to 20 ohm mm²/km; better than solid copper would be a slip.
    products = ((part.part, part.ohms_per_metre * part.area * 1e9) for part in catalogue.cables)
    assert outside(products, 17.2, 21.0) == {}
    assert any(part.area * 1e6 not in CLASS_5_RESISTANCE for part in catalogue.cables)


def test_what_is_sold_by_length_is_flex_or_strip(catalogue: Catalogue) -> None:
    by_length = {part for part, rows in catalogue.offers.items() if any(row.sold_by == "length" for row in rows)}
    strips = {part.part for part in catalogue.emitters if part.form == "strip"}
    assert by_length == strips | {part.part for part in catalogue.cables}
