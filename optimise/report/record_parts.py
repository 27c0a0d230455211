"""What records are made of: figures, margins, bills, orders, choices; and how they are made."""

import math
from collections.abc import Mapping, Sequence
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from optimise.model.choice import BillLine, ChannelChoice, Choice, Margin
from optimise.parts.basket import Order
from optimise.studies.tolerances import Ends


class RecordModel(BaseModel):
    """What every record is made of."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    def lacks(self) -> tuple[str, ...]:
        """Return the names of the figures that a record needs to be read back, and has not."""
        return ()


class FigureRecord(RecordModel):
    """A figure of the build; the value is null where it does not apply (runtime on mains)."""

    value: float | None
    unit: str


class EndRecord(RecordModel):
    """One limit at one end of all tolerances; null where there is no finite figure (a lead that cannot carry)."""

    required: float | None
    achieved: float | None
    left: float | None


class MarginRecord(RecordModel):
    """What the build has left on one limit; `left` is a share of the requirement.

    `worst` and `best` are at the bad and the good end of all tolerances, `share` that of the made lights which
    keep the limit; all null where no tolerance matters, and `share` where no lights were drawn.
    """

    name: str
    kind: Literal["min", "max"]
    required: float
    achieved: float
    unit: str
    left: float
    source: str
    worst: EndRecord | None = None
    best: EndRecord | None = None
    share: float | None = None


class BillRecord(RecordModel):
    """One line of the bill: packs of one offer. Prices are in the record's currency, as they are paid.

    `quantity` is what the build takes of the part in all, in pieces, or in metres of cable; `left_over` what all
    purchases of the part give beyond that. A part bought by several offers has several lines. `sheet_width` and
    `sheet_height`, m, are those of the stock sheet of which pieces are cut.
    """

    part: str
    quantity: float
    packs: int
    pack: float
    sold_by: Literal["each", "length", "reel", "sheet"]
    supplier: str
    unit_price: float
    line: float
    left_over: float
    sheet_width: float | None = None
    sheet_height: float | None = None


class OrderRecord(RecordModel):
    """What one supplier is paid; a top-up buys what is not on the bill, to reach a least order or free delivery."""

    supplier: str
    goods: float
    top_up: float
    delivery: float
    total: float


MOST = 100_000
"""Of pieces, or of A, in one place of a build: a record that says more was not written by this program."""


class ChannelRecord(RecordModel):
    """So many equal channels: a driver with series × parallel emitters at a current, A (0 for tubes).

    `emitter` is the code of its emitters; empty, in records of an earlier version, means that of the choice.
    """

    driver: str
    series: int = Field(ge=1, le=MOST)
    parallel: int = Field(ge=1, le=MOST)
    current: float = Field(ge=0.0, le=float(MOST), allow_inf_nan=False)
    number: int = Field(ge=1, le=MOST)
    emitter: str = ""


class ChoiceRecord(RecordModel):
    """All parts by code; battery null means mains, a second diffuser stands before the first.

    Of two kinds of emitter, `emitter` is the first by code.
    """

    emitter: str
    channels: list[ChannelRecord]
    panel: str
    diffuser: str | None
    battery: str | None
    battery_series: int = Field(ge=0, le=MOST)
    battery_parallel: int = Field(ge=0, le=MOST)
    cable: str
    fuse: str
    connector: str
    mount: str | None
    second_diffuser: str | None = None

    @property
    def codes_of_sheets(self) -> tuple[str, ...]:
        """Diffusers by code, the inner one first."""
        return tuple(code for code in (self.diffuser, self.second_diffuser) if code is not None)

    @property
    def sheets(self) -> str | None:
        """What stands before the emitters, in words; None for nothing."""
        return " + ".join(self.codes_of_sheets) or None

    @property
    def emitters(self) -> int:
        """Emitters of the whole build."""
        return sum(c.number * c.series * c.parallel for c in self.channels)

    @property
    def kinds(self) -> tuple[str, ...]:
        """Codes of the kinds of emitter."""
        return choice_of(self).kinds

    @property
    def pieces(self) -> dict[str, int]:
        """How many of each kind of emitter, by code."""
        return choice_of(self).pieces

    @property
    def lit_by(self) -> str:
        """Its emitters in words."""
        return choice_of(self).lit_by

    @property
    def supply(self) -> str:
        """What feeds it, in words."""
        return "mains" if self.battery is None else f"{self.battery_series * self.battery_parallel} × {self.battery}"


class ConflictRecord(RecordModel):
    """One of the limits that cannot hold together."""

    limit: str
    asked: str


def short(value: float) -> float:
    """Round to twelve significant digits: what differs after them is rounding of floating point."""
    return value if value == 0.0 or not math.isfinite(value) else float(f"{value:.12g}")


def choice_of(record: ChoiceRecord) -> Choice:
    """Return the choice of a record; its currents have twelve digits."""
    channels = (
        ChannelChoice(
            c.driver, c.series, c.parallel, c.current, c.number, "" if c.emitter == record.emitter else c.emitter
        )
        for c in record.channels
    )
    return Choice(**{**record.model_dump(), "channels": tuple(sorted(channels))})


def choice_record(choice: Choice) -> ChoiceRecord:
    """Return the record of a choice."""
    return ChoiceRecord(
        emitter=choice.emitter,
        channels=[
            ChannelRecord(
                driver=c.driver,
                series=c.series,
                parallel=c.parallel,
                current=short(c.current),
                number=c.number,
                emitter=c.emitter or choice.emitter,
            )
            for c in choice.channels
        ],
        panel=choice.panel,
        diffuser=choice.diffuser,
        second_diffuser=choice.second_diffuser,
        battery=choice.battery,
        battery_series=choice.battery_series,
        battery_parallel=choice.battery_parallel,
        cable=choice.cable,
        fuse=choice.fuse,
        connector=choice.connector,
        mount=choice.mount,
    )


def figures_record(figures: Mapping[str, tuple[float | None, str]]) -> dict[str, FigureRecord]:
    """Return the record of figures, (value, unit) by name."""
    return {
        name: FigureRecord(value=None if value is None else short(value), unit=unit)
        for name, (value, unit) in figures.items()
    }


def margins_record(margins: Sequence[Margin], over: Sequence[Ends | None] | None = None) -> list[MarginRecord]:
    """Return the record of margins; `over` says how each is over the tolerances."""
    ends = (None,) * len(margins) if over is None else over
    return [
        MarginRecord(
            name=m.name,
            kind=m.kind,
            required=short(m.required),
            achieved=short(m.achieved),
            unit=m.unit,
            left=short(m.left),
            source=m.source,
            worst=None if end is None else _end(end.worst),
            best=None if end is None else _end(end.best),
            share=None if end is None else end.share,
        )
        for m, end in zip(margins, ends, strict=True)
    ]


def _end(margin: Margin) -> EndRecord:
    figures = {"required": margin.required, "achieved": margin.achieved, "left": margin.left}
    return EndRecord(**{name: short(value) if math.isfinite(value) else None for name, value in figures.items()})


def bill_record(bill: Sequence[BillLine]) -> list[BillRecord]:
    """Return the record of the lines of a bill."""
    return [
        BillRecord(
            part=line.part,
            quantity=short(line.needed),
            packs=line.purchase.packs,
            pack=line.purchase.offer.pack,
            sold_by=line.purchase.offer.sold_by,
            supplier=line.purchase.offer.supplier,
            unit_price=line.purchase.offer.price / 100,
            line=line.purchase.line / 100,
            left_over=short(line.left_over),
            sheet_width=line.purchase.offer.sheet_width,
            sheet_height=line.purchase.offer.sheet_height,
        )
        for line in bill
    ]


def orders_record(orders: Sequence[Order]) -> list[OrderRecord]:
    """Return the record of what each supplier is paid."""
    return [
        OrderRecord(
            supplier=order.supplier,
            goods=order.goods / 100,
            top_up=order.top_up / 100,
            delivery=order.delivery / 100,
            total=order.total / 100,
        )
        for order in orders
    ]
