"""The record of a run: one versioned model, the same for people's tools and for this program's own."""

import json
from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

from pydantic import Field

from optimise import __version__
from optimise.model.choice import Evaluation
from optimise.model.exact import build_of
from optimise.model.market import Market
from optimise.model.search import Result
from optimise.parts import Catalogue
from optimise.parts.colour import spectra_worked_out_by
from optimise.report.colour import colour_figures
from optimise.report.dimmed import DimmedRecord, dimming_of
from optimise.report.layout import LayoutRecord, layout_record
from optimise.report.mixture import KindRecord, mixture_record
from optimise.report.parts_record import PartRecord, parts_record
from optimise.report.proof import ProofRecord, proof_record
from optimise.report.record_parts import (
    BillRecord,
    ChoiceRecord,
    ConflictRecord,
    FigureRecord,
    MarginRecord,
    OrderRecord,
    RecordModel,
    bill_record,
    choice_record,
    figures_record,
    margins_record,
    orders_record,
    short,
)
from optimise.report.words import cautions_for, notes_for, tolerance_notes
from optimise.scenario import Scenario
from optimise.studies.tolerances import Tolerances

SCHEMA: Literal["rushlight-record/1"] = "rushlight-record/1"


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
    calibration: str | None = None
    """Fingerprint of the file of measured figures that took the place of the catalogue's; null where none did."""


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
    alternatives, reasons), which are not looked at over them. `parts` holds the parts chosen as the catalogue states
    them, and `layout` where its emitters sit (null for builds of an answer of many, and in a record of an earlier
    version). `mixture` holds the kinds of emitter where there are two, and `tolerances` is then null.
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
    mixture: list[KindRecord] | None = None
    alternatives: list[AlternativeRecord] | None = None
    parts: list[PartRecord] | None = None
    layout: LayoutRecord | None = None

    def lacks(self) -> tuple[str, ...]:
        """Return the figures that a record with a build always has, and this one has not."""
        needed = ("cost", "mass", "power", "illuminance") if self.choice is not None else ()
        return tuple(name for name in needed if name not in self.figures)


def inputs_of(catalogue: Catalogue, scenario: Scenario, scenario_print: str) -> InputsRecord:
    """Return what went in; `scenario_print` is the fingerprint of the scenario's file."""
    return InputsRecord(
        scenario=scenario_print,
        job=scenario.text,
        catalogue=dict(sorted(catalogue.fingerprints.items())),
        time_limit=scenario.search.time_limit,
        version=__version__,
        colour=spectra_worked_out_by(catalogue.emitters),
        calibration=None if catalogue.calibration is None else catalogue.calibration.fingerprint,
    )


def make_record(
    result: Result,
    objective: Literal["cost", "mass", "power"],
    scenario_print: str,
    conflict: Iterable[tuple[str, str]] | None = None,
    *,
    worst_case: bool = False,
    tolerances: Tolerances | None = None,
    stated: Catalogue | None = None,
) -> Record:
    """Return the record of a result; `conflict` names limits and what they ask, where it is impossible.

    worst_case: whether the result is of the catalogue at the bad end of its tolerances; tolerances: its build over
    them, if there is one; stated: the catalogue as it stands, from which the parts chosen and their layout are kept.
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
        parts=None if best is None or stated is None else parts_record(best.choice, stated),
        layout=None if best is None or stated is None else layout_record(build_of(best.choice, stated)),
        mixture=mixture_record(best, market.catalogue),
    )


def _figures(best: Evaluation, market: Market) -> dict[str, FigureRecord]:
    return figures_record(best.figures | colour_figures(best, market.catalogue, market.scenario))


def _tolerances(tolerances: Tolerances) -> TolerancesRecord:
    return TolerancesRecord(
        stated=[ToleranceRecord(part=p, figure=f, tolerance=short(t)) for p, f, t in tolerances.stated],
        draws=tolerances.draws,
        seed=tolerances.start,
        share=tolerances.share,
    )


def to_json(record: RecordModel) -> str:
    """Return a record as JSON text with a line break at its end."""
    return record.model_dump_json(by_alias=True, indent=2) + "\n"


def json_schema(model: type[RecordModel] = Record) -> str:
    """Return the JSON Schema of a record as text; the published copies lie beside this module."""
    return json.dumps(model.model_json_schema(by_alias=True), indent=2, sort_keys=True) + "\n"
