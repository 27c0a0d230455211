"""An earlier build at new prices: the record, and what a person reads."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from pydantic import Field
from rich.console import Console

from optimise.model.choice import Choice, Evaluation
from optimise.model.search import Result
from optimise.parts import Fault, InputError
from optimise.report.record import Record, make_record
from optimise.report.record_parts import RecordModel, choice_of, choice_record
from optimise.report.stored import read_stored
from optimise.report.table import plain, table_of
from optimise.report.terminal import number
from optimise.studies.repricing import Span

SCHEMA: Literal["rushlight-reprice/1"] = "rushlight-reprice/1"


class SlotRecord(RecordModel):
    """What one place of a build has, then and now; null where it has nothing."""

    slot: str
    before: str | None
    now: str | None


class LineRecord(RecordModel):
    """What a part of the earlier build cost, and costs now, in all; null where it cannot be had."""

    part: str
    before: float
    now: float | None


class EarlierRecord(RecordModel):
    """The earlier build at the new prices.

    `cost` is null where a part is gone or cannot be had in the number needed; `missed` names the limits that it does
    not keep any more.
    """

    cost_before: float
    cost: float | None
    gone: list[str]
    missed: list[str]
    lines: list[LineRecord]


class SpanRecord(RecordModel):
    """How far the price of a pack may move, up and down, before another build is the better one.

    `low` and `high` are the last prices at which it is not; null: there is no end. `below` and `above` are the builds
    that win a cent beyond them. `elsewhere`: without an upper end, who the part is bought from once this price is too
    high, the build the same. `between` is false where only the prices that were looked at are proven.
    """

    part: str
    supplier: str
    pack: float
    quantity_min: float
    price: float
    low: float | None
    high: float | None
    below: Record | None
    above: Record | None
    elsewhere: list[str]
    between: bool


class RepriceRecord(RecordModel):
    """An earlier build at new prices, the best build now, and how far each price may move before that changes.

    `proof` says whether the earlier proof alone answers (no offer has become better, or one part's has and saves no
    other build more), or a search was made. `spans` is null where they were not asked for, or the time was up.
    """

    schema_: Literal["rushlight-reprice/1"] = Field(SCHEMA, alias="schema")
    status: Literal["optimal", "feasible", "impossible", "stopped"]
    title: str
    currency: str
    same: bool
    proof: Literal["earlier", "search"]
    earlier: EarlierRecord
    differences: list[SlotRecord]
    best: Record | None
    spans: list[SpanRecord] | None
    seconds: float


def read_record(path: Path) -> Record:
    """Read the record of a build. Raises `InputError`."""
    record, _ = read_stored(path, {"rushlight-record/1": Record})
    assert isinstance(record, Record)
    if record.choice is None:
        fault = Fault(path.name, read=f"a record of an {record.status} job", allowed="a record with a build")
        raise InputError([fault])
    return record


def earlier_record(record: Record, now: Evaluation | None, gone: Sequence[str]) -> EarlierRecord:
    """Return what became of the build of a record; `now` is None where parts of it are not in the catalogue."""
    before: dict[str, int] = {}
    for line in record.bill:
        before[line.part] = before.get(line.part, 0) + round(line.line * 100)
    after: dict[str, int] = {}
    for bought in now.bill if now is not None else ():
        after[bought.part] = after.get(bought.part, 0) + bought.purchase.line
    missing = [*gone, *(now.missing if now is not None else ())]
    whole = now is not None and not missing
    # What is dangerous now is so whether all of it can be bought or not; what it costs is then not known.
    missed = [m.name for m in now.margins if not m.holds and (whole or m.name != "budget")] if now is not None else []
    return EarlierRecord(
        cost_before=record.figures["cost"].value or 0.0,
        cost=now.cents / 100 if now is not None and whole else None,
        gone=list(missing),
        missed=missed,
        lines=[
            LineRecord(
                part=part,
                before=cents / 100,
                now=None if part in missing or part not in after else after[part] / 100,
            )
            for part, cents in before.items()
        ],
    )


def slots_of(choice: Choice) -> list[tuple[str, str | None]]:
    """Return what a build has, place by place, in words."""
    battery = None if choice.battery is None else f"{choice.batteries} × {choice.battery}"
    return [
        ("emitters", choice.lit_by),
        ("drivers", ", ".join(f"{n} × {code}" for code, n in choice.drivers.items())),
        ("panel", choice.panel),
        ("diffuser", " + ".join(choice.sheets) or None),
        ("battery", battery),
        ("cable", choice.cable),
        ("fuse", choice.fuse),
        ("connector", choice.connector),
        ("mount", choice.mount),
    ]


def differences(before: Choice, now: Choice) -> list[SlotRecord]:
    """Return the places in which two builds differ."""
    pairs = zip(slots_of(before), slots_of(now), strict=True)
    return [SlotRecord(slot=slot, before=old, now=new) for (slot, old), (_, new) in pairs if old != new]


def make_reprice(
    record: Record,
    result: Result,
    earlier: EarlierRecord,
    spans: Sequence[Span] | None,
    scenario_print: str,
    *,
    by_proof: bool,
    seconds: float,
) -> RepriceRecord:
    """Return the whole answer."""
    assert record.choice is not None
    best = result.evaluation

    def told(found: Evaluation | None) -> Record | None:
        if found is None:
            return None
        other = Result("optimal", found, result.proof, result.market, result.objective)
        return make_record(other, result.objective, scenario_print)

    return RepriceRecord(
        status=result.status,
        title=record.title,
        currency=result.market.catalogue.currency,
        same=best is not None and choice_record(best.choice) == record.choice,
        proof="earlier" if by_proof else "search",
        earlier=earlier,
        differences=[] if best is None else differences(choice_of(record.choice), best.choice),
        best=None if best is None else make_record(result, result.objective, scenario_print),
        spans=None
        if spans is None
        else [
            SpanRecord(
                part=span.offer.part,
                supplier=span.offer.supplier,
                pack=span.offer.pack,
                quantity_min=span.offer.quantity_min,
                price=span.offer.price / 100,
                low=None if span.low is None else span.low / 100,
                high=None if span.high is None else span.high / 100,
                below=told(span.below),
                above=told(span.above),
                elsewhere=list(span.elsewhere),
                between=span.between,
            )
            for span in spans
        ],
        seconds=round(seconds, 3),
    )


def print_reprice(console: Console, answer: RepriceRecord) -> None:
    """Print the answer first, then what changed on the bill, the difference, and how far prices may move."""
    money = answer.currency
    if answer.title:
        console.print(plain(f"Job: {answer.title}"))
    console.print(plain(_headline(answer)), style="bold")
    old = answer.earlier
    if old.gone:
        console.print(plain(f"Not to be had any more, or not in the number needed: {', '.join(old.gone)}."))
    if old.missed:
        console.print(plain(f"The earlier build does not keep: {', '.join(old.missed)}."))
    moved = [line for line in old.lines if line.now != line.before]
    if moved:
        table = table_of("\nThe earlier build", ("part", False), (f"then [{money}]", True), (f"now [{money}]", True))
        for line in moved:
            table.add_row(plain(line.part), f"{line.before:.2f}", "none" if line.now is None else f"{line.now:.2f}")
        console.print(table)
    if answer.differences:
        table = table_of("\nThe difference", ("", False), ("then", False), ("now", False))
        for slot in answer.differences:
            table.add_row(slot.slot, plain(slot.before or "none"), plain(slot.now or "none"))
        console.print(table)
    if answer.spans is not None:
        assert answer.best is not None
        _print_spans(console, answer.spans, answer.best, money)


def _headline(answer: RepriceRecord) -> str:
    old, money = answer.earlier, answer.currency
    then = number(old.cost_before, money, money)
    now = (
        "cannot be bought any more" if old.cost is None else f"costs {number(old.cost, money, money)} now, {then} then"
    )
    if answer.best is None:
        what = "no build keeps every limit now" if answer.status == "impossible" else "the time was up before an answer"
        return f"The earlier build {now}; {what}."
    best = answer.best.figures["cost"].value
    if answer.status == "feasible":
        return f"The earlier build {now}; the best found in time costs {number(best, money, money)}, not proven."
    if answer.same:
        return f"The earlier build {now}, and is still the best."
    what = {"cost": "cheapest", "mass": "lightest", "power": "thriftiest"}[answer.best.objective]
    return f"The earlier build {now}; the {what} build is another one now, for {number(best, money, money)}."


def _print_spans(console: Console, spans: Sequence[SpanRecord], best: Record, money: str) -> None:
    table = table_of(
        "\nHow far a price may move before another build wins",
        ("offer", False),
        (f"price [{money}]", True),
        ("down to", True),
        ("up to", True),
        ("then wins", False),
    )
    for span in spans:
        winners = [
            f"{way} {_change(best, found)}"
            for way, found in (("below:", span.below), ("above:", span.above))
            if found is not None
        ]
        if span.elsewhere:
            winners.append(f"above: the same parts, with this one from {' and '.join(span.elsewhere)}")
        table.add_row(
            plain(f"{span.part} ({span.supplier})"),
            f"{span.price:.2f}",
            "any" if span.low is None else f"{span.low:.2f}",
            "any" if span.high is None else f"{span.high:.2f}",
            plain("; ".join(winners)),
        )
    console.print(table)
    if not all(span.between for span in spans):
        console.print(
            "Where a supplier has a least order or free delivery, a build might win at a price between that was not "
            "looked at; the ends are proven."
        )


def _change(best: Record, other: Record) -> str:
    assert best.choice is not None
    assert other.choice is not None
    changed = differences(choice_of(best.choice), choice_of(other.choice))
    price = other.figures["cost"].value or 0.0
    told = ", ".join(f"{slot.now or 'no ' + slot.slot}" for slot in changed) or "other drive levels"
    return f"{told}, {price:.2f} in all"
