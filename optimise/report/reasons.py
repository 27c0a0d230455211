"""The record of why a job cannot be done, or of what it hangs on, and what a person reads of it."""

from collections.abc import Sequence
from typing import Literal

from pydantic import Field
from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.model.search import Result
from optimise.report.calibration import calibration_notes
from optimise.report.record import InputsRecord, Record, inputs_of, make_record
from optimise.report.record_parts import ConflictRecord, RecordModel, short
from optimise.report.table import plain
from optimise.report.terminal import number, print_lines
from optimise.studies.limits import Limit
from optimise.studies.reasons import Ease, Mend


class MendRecord(RecordModel):
    """A limit of an impossible job; where a change of it alone mends the job, the smallest one and its best build."""

    limit: str
    asked: str
    needed: str | None
    change: str
    exact: float | None
    """On the edge of what is possible, in canonical units (cents, mg, W, s, m, lx, degC), before rounding."""
    record: Record | None


class EaseRecord(RecordModel):
    """A limit of a possible job: what easing it by the step, or giving it up, saves of the objective."""

    limit: str
    asked: str
    eased: str
    saves: float
    saves_given_up: float
    unit: str
    record: Record | None


class ReasonsRecord(RecordModel):
    """What stands in the way of a job (`impossible`), or what it hangs on (`possible`).

    `complete` is false where the time was up before every limit was looked at.
    """

    schema_: Literal["rushlight-reasons/1"] = Field("rushlight-reasons/1", alias="schema")
    status: Literal["impossible", "possible", "stopped"]
    complete: bool
    title: str
    currency: str
    objective: Literal["cost", "mass", "power"]
    best: Record | None
    mends: list[MendRecord]
    conflict: list[ConflictRecord] | None
    eases: list[EaseRecord]
    notes: list[str] = Field(default_factory=list)
    seconds: float
    inputs: InputsRecord


def make_reasons(
    result: Result,
    scenario_print: str,
    seconds: float,
    *,
    complete: bool,
    mends: Sequence[tuple[Limit, Mend | None]] = (),
    conflict: Sequence[Limit] | None = None,
    eases: Sequence[Ease] = (),
) -> ReasonsRecord:
    """Return the record; result: the answer to the scenario as it stands."""
    market, objective = result.market, result.objective
    scale, unit = {"cost": (100.0, market.catalogue.currency), "mass": (1e6, "kg"), "power": (1.0, "W")}[objective]

    def whole(found: Result | None) -> Record | None:
        return None if found is None else make_record(found, objective, scenario_print)

    status: Literal["impossible", "possible", "stopped"] = "possible"
    if result.evaluation is None:
        status = "impossible" if result.status == "impossible" else "stopped"
    return ReasonsRecord(
        status=status,
        complete=complete,
        title=market.scenario.title,
        currency=market.catalogue.currency,
        objective=objective,
        best=None if result.evaluation is None else whole(result),
        mends=[
            MendRecord(
                limit=limit.name,
                asked=limit.asked,
                needed=None if mend is None else mend.needed,
                change="" if mend is None else mend.change,
                exact=None if mend is None or mend.exact is None else short(mend.exact),
                record=None if mend is None else whole(mend.result),
            )
            for limit, mend in mends
        ],
        conflict=None if conflict is None else [ConflictRecord(limit=c.name, asked=c.asked) for c in conflict],
        eases=[
            EaseRecord(
                limit=ease.limit,
                asked=ease.asked,
                eased=ease.eased,
                saves=short(ease.saves / scale),
                saves_given_up=short(ease.dropped / scale),
                unit=unit,
                record=whole(ease.result),
            )
            for ease in eases
        ],
        notes=list(calibration_notes(market.catalogue.calibration, result.evaluation)),
        seconds=round(seconds, 3),
        inputs=inputs_of(market.catalogue, market.scenario, scenario_print),
    )


def print_reasons(console: Console, reasons: ReasonsRecord) -> None:
    """Print why not, or what binds."""
    if reasons.title:
        console.print(plain(f"Job: {reasons.title}"))
    if reasons.status == "stopped":
        console.print("Stopped: it is not known yet whether the job can be done.", style="bold")
    elif reasons.status == "impossible":
        _print_impossible(console, reasons)
    else:
        _print_possible(console, reasons)
    if not reasons.complete and reasons.status != "stopped":
        console.print("Stopped before every limit was looked at.")
    console.print("Limits of safety, and what the parts bear, are never changed.")
    print_lines(console, [], reasons.notes)


def _print_impossible(console: Console, reasons: ReasonsRecord) -> None:
    console.print("Impossible: no build from this catalogue keeps every limit of the scenario.", style="bold")
    mended = [mend for mend in reasons.mends if mend.needed is not None]
    if mended:
        console.print("\nOne of these changes alone makes it possible; each is the smallest, and this is the build:")
        table = _table(("limit", False), ("asked", True), ("needed", True), ("change", True), *_BUILD)
        for mend in mended:
            assert mend.record is not None
            cells = _build(mend.record, reasons.currency)
            table.add_row(plain(mend.limit), plain(mend.asked), plain(mend.needed or ""), plain(mend.change), *cells)
        console.print(table)
    hopeless = [mend.limit for mend in reasons.mends if mend.needed is None]
    if hopeless:
        console.print()
        console.print(plain(f"No change alone mends it of: {', '.join(hopeless)}."))
    if reasons.conflict:
        clash = ", ".join(f"{item.limit} ({item.asked})" for item in reasons.conflict)
        console.print()
        if len(reasons.conflict) == 1:
            console.print(plain(f"This limit alone allows no build: {clash}."))
        else:
            told = "These are in conflict: together they allow no build; without any one of them, the others do"
            console.print(plain(f"{told}: {clash}."))
    elif reasons.conflict is not None:
        console.print("\nThe parts do not go together: no build exists even without the limits that can be given up.")


def _print_possible(console: Console, reasons: ReasonsRecord) -> None:
    assert reasons.best is not None
    figures = reasons.best.figures[reasons.objective]
    best = number(figures.value, figures.unit, reasons.currency)
    comes_to = {"cost": "costs", "mass": "weighs", "power": "draws"}[reasons.objective]
    console.print(plain(f"Possible: the best build {comes_to} {best}."), style="bold")
    binding = [ease for ease in reasons.eases if ease.saves_given_up > 0.0]
    if binding:
        console.print("\nThese limits bind. What easing each one alone saves, and giving it up:")
        table = _table(
            ("limit", False), ("asked", True), ("eased to", True), ("saves", True), ("given up, saves", True)
        )
        for ease in sorted(binding, key=lambda ease: (-ease.saves, -ease.saves_given_up, ease.limit)):
            table.add_row(
                plain(ease.limit),
                plain(ease.asked),
                plain(ease.eased),
                number(ease.saves, ease.unit, reasons.currency) if ease.saves > 0.0 else "nothing yet",
                number(ease.saves_given_up, ease.unit, reasons.currency),
            )
        console.print(table)
    free = [ease.limit for ease in reasons.eases if ease.saves_given_up <= 0.0]
    if free:
        console.print()
        console.print(plain(f"Giving these up alone saves nothing: {', '.join(free)}."))


_BUILD = (("cost", True), ("mass", True), ("emitters", False))


def _build(record: Record, currency: str) -> tuple[str | Text, ...]:
    assert record.choice is not None
    cost, mass = record.figures["cost"], record.figures["mass"]
    return (
        number(cost.value, cost.unit, currency),
        number(mass.value, mass.unit),
        plain(record.choice.lit_by),
    )


def _table(*columns: tuple[str, bool]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for name, right in columns:
        table.add_column(name, justify="right" if right else "left", overflow="fold")
    return table
