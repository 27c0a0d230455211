"""The shopping list: what to buy from whom, with a box to tick for each line."""

from collections.abc import Sequence
from dataclasses import dataclass

from optimise.parts.buying import OWN
from optimise.report.bill import by_supplier, charges_of, last_lines, measure, packs_of, total_of
from optimise.report.record_parts import BillRecord, OrderRecord


@dataclass(frozen=True)
class Line:
    """One line of the list."""

    key: str
    """What its tick is remembered by."""
    part: str
    packs: str
    needed: str
    left_over: str
    price: str
    line: str


@dataclass(frozen=True)
class Shop:
    """What one supplier sells; `own` is one's own drawer."""

    key: str
    supplier: str
    own: bool
    lines: Sequence[Line]
    charges: Sequence[tuple[str, str]]
    total: str


def shops_of(bill: Sequence[BillRecord], orders: Sequence[OrderRecord]) -> tuple[list[Shop], str]:
    """Return the list by supplier, one's own drawer last, and what all comes to."""
    grouped = by_supplier(bill, orders)
    last = last_lines(grouped)
    shops = [_shop(number, order, lines, last) for number, (order, lines) in enumerate(grouped, 1)]
    return shops, f"{total_of(orders):.2f}"


def _shop(number: int, order: OrderRecord, lines: Sequence[BillRecord], last: set[int]) -> Shop:
    own = order.supplier == OWN
    return Shop(
        key=f"shop-{number}",
        supplier=order.supplier,
        own=own,
        lines=[
            Line(
                key=f"buy-{number}-{place}",
                part=line.part,
                packs=packs_of(line),
                needed=measure(line.quantity, line),
                left_over=measure(line.left_over, line) if line.left_over > 1e-9 and id(line) in last else "",
                price=f"{line.unit_price:.2f}",
                line=f"{line.line:.2f}",
            )
            for place, line in enumerate(lines, 1)
        ],
        charges=[(text, f"{amount:.2f}") for text, amount in charges_of(order)],
        total=f"{order.total:.2f}",
    )
