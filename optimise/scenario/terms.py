"""What is on offer, as it is paid: in one currency, with sales tax or without."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from optimise.parts import Catalogue, Fault, InputError, Offer, Supplier
from optimise.parts.buying import OWN, allowed_offers
from optimise.scenario.model import Scenario


def home_currency(catalogue: Catalogue, scenario: Scenario) -> str:
    """Return the currency in which is counted: that of the budget or the rates, else the catalogue's."""
    return scenario.currency or catalogue.currency


def missing_rates(catalogue: Catalogue, scenario: Scenario) -> Iterator[tuple[str, str]]:
    """Yield each currency of the catalogue that has no rate, and where it is first used."""
    known = {code for code, _ in scenario.buying.rates} | {home_currency(catalogue, scenario)}
    used = {catalogue.currency: "the headers of the catalogue"}
    for supplier in catalogue.suppliers:
        used.setdefault(supplier.currency or catalogue.currency, f"supplier {supplier.supplier}")
    for part, rows in catalogue.offers.items():
        for offer in rows:
            used.setdefault(offer.currency or catalogue.currency, f"an offer of {part}")
    for code, where in sorted(used.items()):
        if code not in known:
            yield code, where


def let_in(offers: Mapping[str, Sequence[Offer]], scenario: Scenario) -> dict[str, tuple[Offer, ...]]:
    """Return by part the offers that a scenario lets in: its suppliers, its deadline, its day; no part without any."""
    limit, day = scenario.limits, scenario.buying.date
    kept = {part: allowed_offers(rows, limit.suppliers, limit.deadline, day) for part, rows in offers.items()}
    return {part: rows for part, rows in kept.items() if rows}


def as_paid(catalogue: Catalogue, scenario: Scenario) -> Catalogue:
    """Return a catalogue whose prices and charges are what the scenario's buyer pays, in whole cents of one currency.

    Each price of a pack, and each charge, is rounded by itself, half up. A catalogue that is so already is returned
    as it is. Raises `InputError` where a rate is missing.
    """
    faults = [
        Fault("scenario", None, "key buying.rates", "no rate", f"a rate for {code}, the currency of {where}")
        for code, where in missing_rates(catalogue, scenario)
    ]
    if faults:
        raise InputError(faults)
    home = home_currency(catalogue, scenario)
    sellers = {supplier.supplier: supplier for supplier in catalogue.suppliers}
    taxed = any(supplier.tax for supplier in catalogue.suppliers)
    foreign = any(offer.currency not in {None, home} for rows in catalogue.offers.values() for offer in rows)
    foreign |= any(supplier.currency not in {None, home} for supplier in catalogue.suppliers)
    if not (taxed or foreign or home != catalogue.currency):
        return catalogue
    rates = dict(scenario.buying.rates) | {home: Decimal(1)}

    def factor(supplier: Supplier | None) -> Decimal:
        if supplier is None or not supplier.tax:
            return Decimal(1)
        with_tax = 1 + Decimal(repr(supplier.tax))
        counted = with_tax if scenario.buying.tax == "paid" else Decimal(1)
        return counted / (with_tax if supplier.prices == "with tax" else Decimal(1))

    def paid(cents: int, currency: str | None, supplier: Supplier | None) -> int:
        exact = cents * rates[currency or catalogue.currency] * factor(supplier)
        return int(exact.quantize(Decimal(1), rounding=ROUND_HALF_UP))

    def offered(offer: Offer) -> Offer:
        if offer.supplier == OWN:
            return offer.model_copy(update={"currency": None})
        price = paid(offer.price, offer.currency, sellers.get(offer.supplier))
        return offer.model_copy(update={"price": price, "currency": None})

    def sold(supplier: Supplier) -> Supplier:
        free = supplier.delivery_free_over
        done: dict[str, Any] = {"currency": None, "tax": 0.0, "prices": "with tax"}
        for name in ("delivery", "order_min"):
            done[name] = paid(getattr(supplier, name), supplier.currency, supplier)
        done["delivery_free_over"] = None if free is None else paid(free, supplier.currency, supplier)
        return supplier.model_copy(update=done)

    return replace(
        catalogue,
        offers={part: tuple(offered(offer) for offer in rows) for part, rows in catalogue.offers.items()},
        suppliers=tuple(sold(supplier) for supplier in catalogue.suppliers),
        currency=home,
    )
