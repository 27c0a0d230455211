"""The record of a kit, and what a person reads of it."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal

from pydantic import Field
from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from optimise.model.choice import Evaluation
from optimise.model.exact import build_of
from optimise.model.kit import KitEvaluation
from optimise.model.kit_search import KitResult
from optimise.model.market import build_market
from optimise.model.search import Result
from optimise.parts import Catalogue
from optimise.report.bill import print_bill
from optimise.report.dimmed import DimmedRecord, dimmed_lines
from optimise.report.layout import LayoutRecord, layout_record
from optimise.report.parts_record import PartRecord, parts_record
from optimise.report.proof import ProofRecord, proof_record
from optimise.report.record import InputsRecord, Record, inputs_of, make_record
from optimise.report.record_parts import (
    BillRecord,
    ChoiceRecord,
    ConflictRecord,
    FigureRecord,
    MarginRecord,
    OrderRecord,
    RecordModel,
    bill_record,
    choice_of,
    figures_record,
    margins_record,
    orders_record,
)
from optimise.report.stored import read_stored
from optimise.report.table import plain, table_of
from optimise.report.terminal import (
    number,
    print_choice,
    print_conflict,
    print_figures,
    print_lines,
    print_margins,
    print_tightest,
    proof_line,
)
from optimise.report.words import buying_notes
from optimise.studies.kit_conflict import KitClash

SCHEMA: Literal["rushlight-kit/1"] = "rushlight-kit/1"


class KitLightRecord(RecordModel):
    """One light of a kit, of which there are `count` equal ones; all but `count` is of one."""

    name: str
    count: int
    choice: ChoiceRecord
    figures: dict[str, FigureRecord]
    margins: list[MarginRecord]
    dimmed: DimmedRecord | None
    parts: list[PartRecord] | None = None
    layout: LayoutRecord | None = None


class KitRecord(RecordModel):
    """Everything a search for a kit came to.

    `figures`, `margins`, `bill` and `orders` are those of the whole kit. Where it is impossible, `conflict` names the
    limits that cannot hold together: of the light `conflict_light` alone, or of the kit where that is null.
    """

    schema_: Literal["rushlight-kit/1"] = Field(SCHEMA, alias="schema")
    status: Literal["optimal", "feasible", "impossible", "stopped"]
    objective: Literal["cost", "mass", "power"]
    title: str
    currency: str
    lights: list[KitLightRecord]
    figures: dict[str, FigureRecord]
    margins: list[MarginRecord]
    bill: list[BillRecord]
    orders: list[OrderRecord]
    proof: ProofRecord
    conflict_light: str | None
    conflict: list[ConflictRecord] | None
    cautions: list[str]
    notes: list[str]
    inputs: InputsRecord
    worst_case: bool = False

    def lacks(self) -> tuple[str, ...]:
        """Return the figures that a record with lights always has, and this one has not."""
        return tuple(name for name in ("cost", "mass", "power") if self.lights and name not in self.figures)


def make_kit_record(
    result: KitResult,
    scenario_print: str,
    clash: KitClash | None = None,
    *,
    worst_case: bool = False,
    stated: Catalogue | None = None,
) -> KitRecord:
    """Return the record of a kit; `clash` says why there is none, where it is impossible.

    stated: the catalogue as it stands, where the result is of its bad end.
    """
    best, scenario = result.evaluation, result.scenario
    singles = [] if best is None else list(_singles(result, best, scenario_print))
    cautions = _told([(entry.name, record.cautions) for entry, record in zip(scenario.kit, singles, strict=False)])
    notes = _told([(entry.name, record.notes) for entry, record in zip(scenario.kit, singles, strict=False)])
    if best is not None:
        # Who sells is a matter of the kit, not of its lights.
        notes += buying_notes(best, build_market(result.catalogue, scenario.kit[0].job))
    lights = [
        KitLightRecord(
            name=entry.name,
            count=entry.count,
            choice=record.choice,
            figures={name: figure for name, figure in record.figures.items() if name != "cost"},
            margins=record.margins,
            dimmed=record.dimmed,
            parts=parts_record(choice_of(record.choice), stated or result.catalogue),
            layout=layout_record(build_of(choice_of(record.choice), stated or result.catalogue)),
        )
        for entry, record in zip(scenario.kit, singles, strict=False)
        if record.choice is not None
    ]
    return KitRecord(
        status=result.status,
        objective=result.objective,
        title=scenario.title,
        currency=result.catalogue.currency,
        lights=lights,
        figures={} if best is None else figures_record(best.figures),
        margins=[] if best is None else margins_record(best.margins),
        bill=[] if best is None else bill_record(best.bill),
        orders=[] if best is None else orders_record(best.orders),
        proof=proof_record(result.proof),
        conflict_light=None if clash is None else clash.light,
        conflict=None if clash is None else [ConflictRecord(limit=name, asked=asked) for name, asked in clash.limits],
        cautions=cautions,
        notes=notes,
        inputs=inputs_of(result.catalogue, scenario, scenario_print),
        worst_case=worst_case,
    )


def _singles(result: KitResult, best: KitEvaluation, scenario_print: str) -> Iterable[Record]:
    """Yield the record of each light by itself."""
    for entry, light in zip(result.scenario.kit, best.lights, strict=True):
        market = build_market(result.catalogue, entry.job)
        alone: Evaluation = replace(light, bill=(), orders=())
        yield make_record(
            Result(result.status, alone, result.proof, market, result.objective), result.objective, scenario_print
        )


def _told(lines: Sequence[tuple[str, Sequence[str]]]) -> list[str]:
    """Return what is told of the lights, each line once: with the lights that it is told of, where that is not all."""
    who: dict[str, list[str]] = {}
    for name, texts in lines:
        for text in texts:
            who.setdefault(text, []).append(name)
    return [text if len(names) == len(lines) else f"{', '.join(names)}: {text}" for text, names in who.items()]


def print_kit(console: Console, record: KitRecord) -> None:
    """Print a kit: the answer, each light, what to buy, the figures and margins of all, proof and cautions."""
    if record.title:
        console.print(Text("Job: ", style="dim") + plain(record.title))
    console.print(Text(kit_answer(record), style="bold"))
    for light in record.lights:
        single = as_record(record, light)
        equal = "" if light.count == 1 else f", {light.count} equal ones"
        console.print(Text("\n") + plain(f"{light.name}{equal}"), style="bold")
        print_choice(console, light.choice, light.layout)
        print_figures(console, single)
        for line in dimmed_lines(light.dimmed) if light.dimmed is not None else ():
            console.print(plain(line))
        print_margins(console, single)
        print_tightest(console, light.margins)
    if record.lights:
        print_bill(console, record.bill, record.orders, record.currency)
        table = table_of("\nThe whole kit", ("figure", False), ("value", True))
        for name, figure in record.figures.items():
            table.add_row(name, number(figure.value, figure.unit, record.currency))
        console.print(table)
        if record.margins:
            print_margins(console, as_record(record, None))
    elif record.conflict_light is not None:
        console.print(plain(f"The light {record.conflict_light} cannot even be built alone."))
    if not record.lights:
        print_conflict(console, record.status, record.conflict)
    console.print(Padding(plain(proof_line(as_record(record, None))), (1, 0, 0, 0)))
    print_lines(console, record.cautions, record.notes)


def kit_answer(record: KitRecord) -> str:
    """Return the answer in one sentence."""
    what = {"cost": "cheapest", "mass": "lightest", "power": "thriftiest"}[record.objective]
    if record.status == "impossible":
        return "Impossible: no kit from this catalogue keeps every limit of the scenario."
    if not record.lights:
        return "Stopped: no kit was found in the time allowed, and none was ruled out."
    cost, mass, power = (record.figures[name] for name in ("cost", "mass", "power"))
    lights = sum(light.count for light in record.lights)
    figures = ", ".join(
        [
            f"{number(cost.value, cost.unit, record.currency)} at the door",
            *(number(figure.value, figure.unit) for figure in (mass, power)),
            "1 light" if lights == 1 else f"{lights} lights",
        ]
    )
    end = " at the bad end of all tolerances" if record.worst_case else ""
    if record.status == "optimal":
        return f"The proven {what} kit{end}: {figures}."
    return f"A kit{end}, not proven {what}: {figures}."


def as_record(record: KitRecord, light: KitLightRecord | None) -> Record:
    """Return one light, or the whole kit, as the record of a build, as far as tables need it."""
    return Record(
        status=record.status,
        objective=record.objective,
        title="",
        currency=record.currency,
        choice=None if light is None else light.choice,
        figures=record.figures if light is None else light.figures,
        margins=record.margins if light is None else light.margins,
        bill=[],
        orders=[],
        proof=record.proof,
        conflict=record.conflict,
        cautions=[],
        notes=[],
        inputs=record.inputs,
        worst_case=record.worst_case,
    )


BUILDS: dict[str, type[RecordModel]] = {"rushlight-record/1": Record, "rushlight-kit/1": KitRecord}
"""Records of builds by their schema."""


def read_build(path: Path) -> tuple[Record | KitRecord, str]:
    """Return the record of a light or of a kit, and the SHA-256 of its text. Raises `InputError`."""
    told, fingerprint = read_stored(path, BUILDS)
    assert isinstance(told, Record | KitRecord)
    return told, fingerprint
