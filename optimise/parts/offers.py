"""What is on offer, and who sells it. Money is in whole cents once read."""

from collections.abc import Iterator
from datetime import date
from typing import Literal

from optimise.parts import units
from optimise.parts.columns import Row, column
from optimise.parts.part import CODE

MONEY_COLUMNS = frozenset({"price", "delivery", "delivery_free_over", "order_min"})
"""Columns that hold money, in whole cents once read."""

_CURRENCY = r"^[A-Z]{3}$"


class Offer(Row):
    """One supplier's price for one part in one pack; rows alike but for price and quantity_min are price breaks."""

    part: str = column("The part offered.", pattern=CODE)
    supplier: str = column("Who sells it; `own` is what lies in the drawer.", pattern=CODE)
    price: int = column("Price of one pack, in the currency that the header names: price [EUR]. Blank or 0 for own.")
    pack: float = column(
        "Pieces in a pack; sold by length: the step in which it is cut, in metres; by reel: metres on one reel; by "
        "sheet: sheets in a pack.",
        units.NUMBER,
        blank="1",
        default=1.0,
        gt=0,
    )
    quantity_min: float = column(
        "Least number of pieces (or metres, or sheets) to which this price applies.",
        units.NUMBER,
        blank="0",
        default=0.0,
        ge=0,
    )
    stock: float | None = column("Pieces (or metres, or sheets) that can be had.", units.NUMBER, blank="no limit", ge=0)
    lead_time: float | None = column(
        "Time until delivery.", units.DAYS, blank="left out where the scenario has a deadline", ge=0
    )
    sold_by: Literal["each", "length", "reel", "sheet"] = column(
        "each: by the piece. length: cut to order from one roll (cables, strips). reel: whole reels, pieces never "
        "joined (cables, strips). sheet: stock sheets of which panels are cut.",
        blank="each",
        default="each",
    )
    sheet_width: float | None = column(
        "Width of the stock sheet, where sold by sheet.", units.LENGTH, blank="allowed but for sold_by sheet", gt=0
    )
    sheet_height: float | None = column(
        "Height of the stock sheet, where sold by sheet.", units.LENGTH, blank="allowed but for sold_by sheet", gt=0
    )
    until: date | None = column(
        "Last day on which the offer holds, as 2031-01-31.",
        blank="no end; with a date here and none in the scenario, the end is not checked, which the notes say",
    )
    currency: str | None = column(
        "Currency of this row's price (ISO 4217); the scenario states its rate.",
        blank="that of the header",
        pattern=_CURRENCY,
    )

    def broken(self) -> Iterator[str]:
        """Yield each rule between cells that the row breaks, as column|allowed|mend."""
        for name in ("sheet_width", "sheet_height"):
            if self.sold_by == "sheet" and getattr(self, name) is None:
                yield f"{name}|a length where sold_by is sheet|Give both sides of the stock sheet."
            if self.sold_by != "sheet" and getattr(self, name) is not None:
                yield f"{name}|blank where sold_by is {self.sold_by}|Write sheet into sold_by, or clear it."


class Supplier(Row):
    """Who sells, and what delivery costs."""

    supplier: str = column("Name.", pattern=CODE)
    delivery: int = column("Delivery charge of an order.", blank="0", default=0)
    delivery_free_over: int | None = column("Order value from which delivery is free.", blank="never free")
    order_min: int = column(
        "Least order value; a smaller order is topped up to it, with what is not on the bill.", blank="0", default=0
    )
    currency: str | None = column(
        "Currency of this row's charges (ISO 4217); the scenario states its rate.",
        blank="that of the header",
        pattern=_CURRENCY,
    )
    tax: float = column(
        "Sales tax on all that is sold, as a share of the price without it.",
        units.SHARE,
        blank="0; prices are the same with and without",
        default=0.0,
        ge=0,
        lt=1,
    )
    prices: Literal["with tax", "without tax"] = column(
        "Whether prices and charges of this supplier have the tax in them.", blank="with tax", default="with tax"
    )
