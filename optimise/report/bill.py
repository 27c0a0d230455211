"""The bill: for people by supplier, and as rows for files."""

from collections.abc import Iterator, Sequence

from rich.console import Console

from optimise.parts.buying import OWN
from optimise.report.record_parts import BillRecord, OrderRecord
from optimise.report.table import plain, table_of


def by_supplier(
    bill: Sequence[BillRecord], orders: Sequence[OrderRecord]
) -> list[tuple[OrderRecord, list[BillRecord]]]:
    """Return each order with its lines; what is one's own comes last."""
    ranked = sorted(orders, key=lambda order: (order.supplier == OWN, order.supplier))
    return [(order, [line for line in bill if line.supplier == order.supplier]) for order in ranked]


def packs_of(line: BillRecord) -> str:
    """Return how many packs of what, such as `2 × 5 m`; only the number where a pack is one piece."""
    if line.sold_by in {"length", "reel"}:
        return f"{line.packs} × {line.pack:g} m"
    if line.sold_by == "sheet":
        return f"{line.packs:g} sheet{'s' if line.packs > 1 else ''}"
    return str(line.packs) if line.pack == 1 else f"{line.packs} × {line.pack:g}"


def measure(amount: float, line: BillRecord) -> str:
    """Return an amount of what a line is in: pieces, or metres."""
    return f"{amount:g}{' m' if line.sold_by in {'length', 'reel'} else ''}"


def print_bill(console: Console, bill: Sequence[BillRecord], orders: Sequence[OrderRecord], currency: str) -> None:
    """Print what to buy from whom, and what arrives at the door for how much."""
    table = table_of(
        "\nTo buy",
        ("part", False),
        ("needed", True),
        ("packs", True),
        ("left over", True),
        (f"a pack [{currency}]", True),
        (f"line [{currency}]", True),
    )
    grouped = by_supplier(bill, orders)
    last = last_lines(grouped)
    for order, lines in grouped:
        name = "from the drawer" if order.supplier == OWN else order.supplier
        table.add_row(plain(name), "", "", "", "", "", style="bold")
        for line in lines:
            table.add_row(
                plain(f"  {line.part}"),
                measure(line.quantity, line),
                packs_of(line),
                measure(line.left_over, line) if line.left_over > 1e-9 and id(line) in last else "",
                f"{line.unit_price:.2f}",
                f"{line.line:.2f}",
            )
        for text, cents in charges_of(order):
            table.add_row(f"  {text}", "", "", "", "", f"{cents:.2f}")
    table.add_row("at the door", "", "", "", "", f"{total_of(orders):.2f}", style="bold")
    console.print(table)


def last_lines(grouped: Sequence[tuple[OrderRecord, list[BillRecord]]]) -> set[int]:
    """Return the identities of the lines that tell what is left over: the last one of each part."""
    return set({line.part: id(line) for _, lines in grouped for line in lines}.values())


def total_of(orders: Sequence[OrderRecord]) -> float:
    """Return what all orders cost together."""
    return sum(round(order.total * 100) for order in orders) / 100


def charges_of(order: OrderRecord) -> Iterator[tuple[str, float]]:
    """Yield what is paid beyond the goods, in words and money."""
    if order.top_up:
        why = "for free delivery" if order.delivery == 0 else "to the least order"
        yield f"anything else, {why}", order.top_up
    if order.delivery:
        yield "delivery", order.delivery
