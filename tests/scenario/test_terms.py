"""What is on offer becomes what is paid: currencies and sales tax, worked out here by hand."""

from datetime import date
from decimal import Decimal

import pytest

from optimise.parts import Catalogue, InputError, Offer, Supplier
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Buying, Limits, Power
from optimise.scenario.terms import as_paid, home_currency


def catalogue(offers: tuple[Offer, ...], suppliers: tuple[Supplier, ...] = (), currency: str = "EUR") -> Catalogue:
    kinds = ("emitters", "drivers", "panels", "diffusers", "batteries", "cables", "fuses", "connectors", "mounts")
    return Catalogue(
        **dict.fromkeys(kinds, ()),
        offers={"X": offers},
        suppliers=suppliers,
        currency=currency,
        fingerprints={},
        places={},
    )


def job(currency: str | None = None, **buying: object) -> Scenario:
    return Scenario(
        light=Light(illuminance=100.0, distance=2.0),
        power=Power(source="mains", mains_voltage=230.0, lead_length=2.0),
        limits=Limits(budget=10000 if currency else None),
        buying=Buying.model_validate(buying),
        currency=currency,
    )


def offer(price: int, supplier: str = "north", **rest: object) -> Offer:
    return Offer.model_validate({"part": "X", "supplier": supplier, "price": price, **rest})


def test_prices_of_one_currency_without_tax_stay_as_they_are() -> None:
    same = catalogue((offer(123),), (Supplier(supplier="north", delivery=490),))
    assert as_paid(same, job()) is same
    assert as_paid(same, job("EUR")) is same


def test_a_foreign_price_is_rounded_to_the_cent_half_up() -> None:
    rates = (("GBP", Decimal("1.17")),)
    told = as_paid(
        catalogue((offer(50, currency="GBP"), offer(150, currency="GBP"), offer(99))), job("EUR", rates=rates)
    )
    # 0.50 GBP × 1.17 = 0.585 EUR; 1.50 GBP × 1.17 = 1.755 EUR.
    assert [each.price for each in told.offers["X"]] == [59, 176, 99]
    assert told.currency == "EUR"
    assert as_paid(told, job("EUR", rates=rates)) is told


def test_a_budget_in_another_currency_turns_all_prices() -> None:
    told = as_paid(
        catalogue((offer(1000),), (Supplier(supplier="north", delivery=500, delivery_free_over=8000),)),
        job("USD", rates=(("EUR", Decimal("1.08")),)),
    )
    assert home_currency(told, job("USD")) == "USD"
    assert told.offers["X"][0].price == 1080
    assert (told.suppliers[0].delivery, told.suppliers[0].delivery_free_over) == (540, 8640)


@pytest.mark.parametrize(
    ("prices", "tax", "expected"),
    [
        ("with tax", "paid", (11900, 595)),
        ("without tax", "paid", (14161, 708)),  # 119.00 × 1.19 = 141.61; 5.95 × 1.19 = 7.0805
        ("with tax", "reclaimed", (10000, 500)),
        ("without tax", "reclaimed", (11900, 595)),
    ],
)
def test_tax_is_put_on_or_taken_off_as_the_buyer_pays(prices: str, tax: str, expected: tuple[int, int]) -> None:
    north = Supplier.model_validate({"supplier": "north", "delivery": 595, "tax": 0.19, "prices": prices})
    told = as_paid(catalogue((offer(11900), offer(0, "own")), (north,)), job(tax=tax))
    assert (told.offers["X"][0].price, told.suppliers[0].delivery) == expected
    assert told.offers["X"][1].price == 0
    assert as_paid(told, job(tax=tax)) is told


def test_a_missing_rate_is_told_with_where_it_is_needed() -> None:
    with pytest.raises(InputError) as caught:
        as_paid(catalogue((offer(100, currency="GBP"),), (Supplier(supplier="north", currency="CHF"),)), job("EUR"))
    assert sorted(fault.allowed for fault in caught.value.faults) == [
        "a rate for CHF, the currency of supplier north",
        "a rate for GBP, the currency of an offer of X",
    ]


def test_the_day_of_buying_is_a_date() -> None:
    assert job(date=date(2031, 1, 31)).buying.date == date(2031, 1, 31)
