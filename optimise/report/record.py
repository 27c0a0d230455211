"""The record of a run: one versioned model, the same for people's tools and for this program's own."""

import json
import math
import os
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from optimise import __version__
from optimise.model.choice import BillLine, ChannelChoice, Choice, Evaluation, Margin
from optimise.model.problem import Market
from optimise.model.search import Proof, Result
from optimise.parts import Catalogue
from optimise.parts.basket import Order
from optimise.parts.colour import spectra_worked_out_by
from optimise.report.colour import colour_figures
from optimise.report.dimmed import DimmedRecord, dimming_of
from optimise.report.words import cautions_for, notes_for, tolerance_notes
from optimise.scenario import Scenario
from optimise.studies.tolerances import Ends, Tolerances

SCHEMA: Literal["rushlight-record/1"] = "rushlight-record/1"


class RecordModel(BaseModel):
    """What every record is made of."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


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
    purchases of the part give beyond that. A part bought by several offers has several lines.
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


class OrderRecord(RecordModel):
    """What one supplier is paid; a top-up buys what is not on the bill, to reach a least order or free delivery."""

    supplier: str
    goods: float
    top_up: float
    delivery: float
    total: float


class ChannelRecord(RecordModel):
    """So many equal channels: a driver with series × parallel emitters at a current, A (0 for tubes)."""

    driver: str
    series: int
    parallel: int
    current: float
    number: int


class ChoiceRecord(RecordModel):
    """All parts by code; battery null means mains."""

    emitter: str
    channels: list[ChannelRecord]
    panel: str
    diffuser: str | None
    battery: str | None
    battery_series: int
    battery_parallel: int
    cable: str
    fuse: str
    connector: str
    mount: str | None

    @property
    def emitters(self) -> int:
        """Emitters of the whole build."""
        return sum(c.number * c.series * c.parallel for c in self.channels)

    @property
    def supply(self) -> str:
        """What feeds it, in words."""
        return "mains" if self.battery is None else f"{self.battery_series * self.battery_parallel} × {self.battery}"


class ProofRecord(RecordModel):
    """How far the objective is proven, and at what effort."""

    bound: float | None
    gap: float | None
    rounds: int
    columns: int
    kept: int
    seconds: float


class ConflictRecord(RecordModel):
    """One of the limits that cannot hold together."""

    limit: str
    asked: str


class ToleranceRecord(RecordModel):
    """A tolerance of a part chosen: flux, voltage, capacity or mass, as a share of what is stated, to either side."""

    part: str
    figure: str
    tolerance: float


class TolerancesRecord(RecordModel):
    """The build over the tolerances of its parts.

    `share` is that of the made lights which keep every limit: each figure drawn once a light, evenly within its
    tolerance, by numpy's PCG64 from `seed`; null where none were drawn.
    """

    stated: list[ToleranceRecord]
    draws: int
    seed: int
    share: float | None


class InputsRecord(RecordModel):
    """Fingerprints (SHA-256) of what went in, the scenario's text, the time limit in force in s, the version."""

    scenario: str
    job: str
    catalogue: dict[str, str]
    time_limit: float | None
    version: str
    colour: str | None = None
    """The version of colour-science that worked spectra out; null where the catalogue has none, or it is missing."""


class AlternativeRecord(RecordModel):
    """Another build: what was asked (`next best`, `other battery`, `without ...`), what was left out, how it differs.

    The record is null where there is no such build, or none within the share of the best that was asked for.
    """

    asked: str
    left_out: list[str]
    better: list[str]
    worse: list[str]
    record: "Record | None"


class Record(RecordModel):
    """Everything a run came to.

    Where `worst_case` is true, the build is the best of those that keep every limit at the bad end of all
    tolerances: `figures` and `margins` are those of the bad end, and `nominal` holds the figures as stated.
    `tolerances` is null where no part chosen states one, and for the builds of an answer of many (a front,
    alternatives, reasons), which are not looked at over them.
    """

    schema_: Literal["rushlight-record/1"] = Field(SCHEMA, alias="schema")
    status: Literal["optimal", "feasible", "impossible", "stopped"]
    objective: Literal["cost", "mass", "power"]
    title: str
    currency: str
    choice: ChoiceRecord | None
    figures: dict[str, FigureRecord]
    margins: list[MarginRecord]
    bill: list[BillRecord]
    orders: list[OrderRecord]
    proof: ProofRecord
    conflict: list[ConflictRecord] | None
    cautions: list[str]
    notes: list[str]
    inputs: InputsRecord
    worst_case: bool = False
    nominal: dict[str, FigureRecord] | None = None
    tolerances: TolerancesRecord | None = None
    dimmed: DimmedRecord | None = None
    alternatives: list[AlternativeRecord] | None = None


def short(value: float) -> float:
    """Round to twelve significant digits: what differs after them is rounding of floating point."""
    return value if value == 0.0 or not math.isfinite(value) else float(f"{value:.12g}")


def inputs_of(catalogue: Catalogue, scenario: Scenario, scenario_print: str) -> InputsRecord:
    """Return what went in; `scenario_print` is the fingerprint of the scenario's file."""
    return InputsRecord(
        scenario=scenario_print,
        job=scenario.text,
        catalogue=dict(sorted(catalogue.fingerprints.items())),
        time_limit=scenario.search.time_limit,
        version=__version__,
        colour=spectra_worked_out_by(catalogue.emitters),
    )


def make_record(
    result: Result,
    objective: Literal["cost", "mass", "power"],
    scenario_print: str,
    conflict: Iterable[tuple[str, str]] | None = None,
    *,
    worst_case: bool = False,
    tolerances: Tolerances | None = None,
) -> Record:
    """Return the record of a result; `conflict` names limits and what they ask, where it is impossible.

    worst_case: whether the result is of the catalogue at the bad end of its tolerances; tolerances: its build over
    them, if there is one.
    """
    market, best, proof = result.market, result.evaluation, result.proof
    brightest = None if tolerances is None else tolerances.best.figures["luminous_flux"][0]
    # What is not stated is read off the catalogue as it stands: its bad end fills some blanks.
    told = best if best is None or tolerances is None else replace(best, unchecked=tolerances.nominal.unchecked)
    dimmed, dim_notes = dimming_of(best, market)
    return Record(
        status=result.status,
        objective=objective,
        title=market.scenario.title,
        currency=market.catalogue.currency,
        choice=None if best is None else choice_record(best.choice),
        figures={} if best is None else _figures(best, market),
        margins=[] if best is None else margins_record(best.margins, None if tolerances is None else tolerances.ends),
        bill=[] if best is None else bill_record(best.bill),
        orders=[] if best is None else orders_record(best.orders),
        proof=proof_record(proof),
        conflict=None if conflict is None else [ConflictRecord(limit=name, asked=asked) for name, asked in conflict],
        cautions=[] if best is None else list(cautions_for(best, market, brightest)),
        notes=[*notes_for(told, market), *dim_notes, *tolerance_notes(tolerances, worst_case)],
        inputs=inputs_of(market.catalogue, market.scenario, scenario_print),
        worst_case=worst_case,
        nominal=_figures(tolerances.nominal, market) if worst_case and tolerances is not None else None,
        tolerances=_tolerances(tolerances) if tolerances is not None and tolerances.stated else None,
        dimmed=dimmed,
    )


def choice_of(record: ChoiceRecord) -> Choice:
    """Return the choice of a record; its currents have twelve digits."""
    channels = (ChannelChoice(c.driver, c.series, c.parallel, c.current, c.number) for c in record.channels)
    return Choice(**{**record.model_dump(), "channels": tuple(sorted(channels))})


def choice_record(choice: Choice) -> ChoiceRecord:
    """Return the record of a choice."""
    return ChoiceRecord(
        emitter=choice.emitter,
        channels=[
            ChannelRecord(
                driver=c.driver, series=c.series, parallel=c.parallel, current=short(c.current), number=c.number
            )
            for c in choice.channels
        ],
        panel=choice.panel,
        diffuser=choice.diffuser,
        battery=choice.battery,
        battery_series=choice.battery_series,
        battery_parallel=choice.battery_parallel,
        cable=choice.cable,
        fuse=choice.fuse,
        connector=choice.connector,
        mount=choice.mount,
    )


def proof_record(proof: Proof) -> ProofRecord:
    """Return the record of a proof."""
    return ProofRecord(
        bound=None if proof.bound is None else short(proof.bound),
        gap=None if proof.gap is None else short(proof.gap),
        rounds=proof.rounds,
        columns=proof.columns,
        kept=proof.kept,
        seconds=round(proof.seconds, 3),
    )


def _figures(best: Evaluation, market: Market) -> dict[str, FigureRecord]:
    return figures_record(best.figures | colour_figures(best, market.catalogue, market.scenario))


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


def _tolerances(tolerances: Tolerances) -> TolerancesRecord:
    return TolerancesRecord(
        stated=[ToleranceRecord(part=p, figure=f, tolerance=short(t)) for p, f, t in tolerances.stated],
        draws=tolerances.draws,
        seed=tolerances.start,
        share=tolerances.share,
    )


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


def to_json(record: RecordModel) -> str:
    """Return a record as JSON text with a line break at its end."""
    return record.model_dump_json(by_alias=True, indent=2) + "\n"


def json_schema(model: type[RecordModel] = Record) -> str:
    """Return the JSON Schema of a record as text; the published copies lie beside this module."""
    return json.dumps(model.model_json_schema(by_alias=True), indent=2, sort_keys=True) + "\n"


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file beside its place and rename it, so that no one ever sees half of it. Raises OSError."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content.encode("utf-8") if isinstance(content, str) else content)
        mask = os.umask(0)
        os.umask(mask)
        Path(name).chmod(0o666 & ~mask)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
