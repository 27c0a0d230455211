"""The command `reprice`: an earlier build at new prices."""

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import click
from rich.console import Console

from optimise import __version__
from optimise.cli_common import (
    ANSWERED,
    BAD_INPUT,
    IMPOSSIBLE,
    NO_ANSWER,
    across,
    apart,
    catalogue_option,
    deadline_of,
    file_to_write,
    hand_over,
    refuse,
    solving,
    sound_catalogue,
    threads_option,
    time_limit_option,
    write_or_stop,
)
from optimise.cli_guard import output_failed
from optimise.model.choice import Choice
from optimise.model.exact import build_of
from optimise.model.floors import Floors
from optimise.parts import Catalogue, Collector, Fault, InputError, read_catalogue
from optimise.parts.faults import quoted
from optimise.parts.tolerance import bad_end
from optimise.report.proof import floors_of
from optimise.report.record import Record, to_json
from optimise.report.record_parts import choice_of
from optimise.report.repricing import RepriceRecord, earlier_record, make_reprice, print_reprice, read_record
from optimise.report.stored import worked_out
from optimise.report.terminal import print_faults
from optimise.scenario import Scenario, read_text_of_scenario
from optimise.scenario.terms import as_paid
from optimise.studies.desk import in_time
from optimise.studies.repricing import best_now, spans
from optimise.studies.till import Till

LOOK_EVERY = 0.5
"""Seconds between two looks at a file that is watched."""


@click.command()
@click.argument("record", type=click.Path(path_type=Path))
@click.option("--offers", type=click.Path(path_type=Path), metavar="FILE", help="New offers, in place of offers.csv.")
@catalogue_option
@click.option("--spans/--no-spans", "wants_spans", default=True, help="How far each price may move; takes the longest.")
@click.option("--watch", is_flag=True, help="Answer again whenever the prices change, until stopped.")
@click.option("--json", "json_path", metavar="FILE", help="Write the answer to FILE, or to standard output as -.")
@time_limit_option
@threads_option
def reprice(
    record: Path,
    offers: Path | None,
    catalogue: Path,
    wants_spans: bool,
    watch: bool,
    json_path: str | None,
    time_limit: float | None,
    threads: int,
) -> None:
    """Say what the build of RECORD costs at new prices, what is best now, and how far prices may move.

    RECORD is what `build --json FILE` wrote. The new prices are those of --offers, or of the catalogue.
    """
    errors = Console(stderr=True)
    target = file_to_write(errors, "--json", json_path)
    apart(errors, (target,), record)
    if watch and json_path == "-":
        refuse(errors, "--watch: an answer after the other makes no one record; name a file for --json.")
    counter = _Counter(errors, record, catalogue, offers, wants_spans, time_limit, threads, json_path == "-")
    while True:
        seen = _state_of(catalogue, offers)
        try:
            answer = counter.answer()
        except InputError as error:
            print_faults(errors, error.faults)
            if not watch:
                sys.exit(BAD_INPUT)
            answer = None
        if answer is not None:
            if json_path == "-":
                hand_over(to_json(answer))
            else:
                print_reprice(Console(), answer)
                if target is not None:
                    write_or_stop(errors, target, to_json(answer), "Answer")
        if not watch:
            assert answer is not None
            sys.exit({"impossible": IMPOSSIBLE, "stopped": NO_ANSWER}.get(answer.status, ANSWERED))
        if output_failed():
            # Whoever read the answers has gone.
            sys.exit(NO_ANSWER)
        try:
            errors.print("Watching the prices; Ctrl-C ends it.", markup=False)
            while _state_of(catalogue, offers) == seen:
                time.sleep(LOOK_EVERY)
        except KeyboardInterrupt:
            sys.exit(ANSWERED)


def _state_of(catalogue: Path, offers: Path | None) -> tuple[tuple[str, int, int], ...]:
    """Return what tells a change of the files that prices are read from."""
    files = [offers] if offers is not None else []
    files += sorted(catalogue.glob("*.csv")) if catalogue.is_dir() else [catalogue]
    found = []
    for file in files:
        try:
            stat = file.stat()
        except OSError:
            continue
        found.append((str(file), stat.st_mtime_ns, stat.st_size))
    return tuple(found)


@dataclass
class _Counter:
    """Where answers are asked for, one after the other while prices are watched: what was built for one serves all."""

    errors: Console
    path: Path
    folder: Path
    offers: Path | None
    wants_spans: bool
    time_limit: float | None
    threads: int
    quiet: bool
    till: Till | None = None
    """Of the last answer."""
    best: Choice | None = None
    """What was proven best there."""

    def answer(self) -> RepriceRecord:
        """Return what the record comes to at the prices of now. Raises `InputError`."""
        began = time.monotonic()
        record, scenario, parts, before = _read(self.path, self.folder, self.offers)
        assert record.choice is not None
        search = scenario.search.model_copy(update={"objective": record.objective})
        scenario = scenario.model_copy(update={"search": search})
        earlier = choice_of(record.choice)
        limit = self.time_limit if self.time_limit is not None else scenario.search.time_limit
        with solving(self.errors, quiet=self.quiet) as progress:
            floors = _floors(record) if before is not None else None
            till = Till(parts, scenario)
            if self.till is not None and self.till.serves(parts, scenario):
                before = self.till.catalogue if before is None and self.best == earlier else before
                till = self.till.at(parts)
            till = replace(till, deadline=deadline_of(limit, began), threads=self.threads, progress=progress)
            gone = _gone(earlier, parts, self.path.name)
            with worked_out(self.path.name):
                now = None if gone else till.paid(earlier)
            self.till, self.best = None, None
            result, by_proof = best_now(till, None if gone else earlier, before, began, floors)
            found = None
            if result.status == "optimal" and result.evaluation is not None:
                self.till, self.best = till, result.evaluation.choice
                moved, whole = in_time(spans(till, result.evaluation)) if self.wants_spans else ([], False)
                found = moved if whole else None
        return make_reprice(
            record,
            result,
            earlier_record(record, now, gone),
            found,
            record.inputs.scenario,
            by_proof=by_proof,
            seconds=time.monotonic() - began,
        )


def _floors(record: Record) -> Floors | None:
    """Return what a record says that other builds come to at least, if it was this version that found it out."""
    floors = record.proof.floors
    return None if floors is None or record.inputs.version != __version__ else floors_of(floors)


def _read(path: Path, folder: Path, offers: Path | None) -> tuple[Record, Scenario, Catalogue, Catalogue | None]:
    """Return the record, its scenario, the parts at the new prices, and those at the old ones where they are known.

    Raises `InputError` with the faults of all of them.
    """
    faults = Collector()
    record: Record | None = None
    scenario: Scenario | None = None
    try:
        record = read_record(path)
        faults.faults += _measured(record, path)
        scenario = read_text_of_scenario(record.inputs.job, f"{path.name}, inputs.job")
    except InputError as error:
        faults.faults += error.faults
    parts = sound_catalogue(folder, faults, offers)
    if parts is not None and scenario is not None:
        faults.faults += across(parts, scenario, path.name)
    faults.stop_if_any()
    assert record is not None
    assert scenario is not None
    assert parts is not None
    before = _before(record, parts, folder, offers)
    ready = [None if each is None else as_paid(each, scenario) for each in (parts, before)]
    if record.worst_case:
        ready = [None if each is None else bad_end(each) for each in ready]
    assert ready[0] is not None
    return record, scenario, ready[0], ready[1]


def _measured(record: Record, path: Path) -> Iterator[Fault]:
    """Yield the fault that a record is of measured figures, which nothing here knows."""
    if record.inputs.calibration is not None:
        mend = "Build it anew at the new prices: build --calibration FILE."
        yield Fault(path.name, None, "inputs.calibration", "measured figures", "a build of the catalogue's own", mend)


def _before(record: Record, parts: Catalogue, folder: Path, offers: Path | None) -> Catalogue | None:
    """Return the catalogue of a record, if it is still there and proven in full; None where it is not."""
    told = record.inputs.catalogue
    if record.status != "optimal" or offers is None:
        return None
    if {name: mark for name, mark in parts.fingerprints.items() if name != "offers.csv"} != {
        name: mark for name, mark in told.items() if name != "offers.csv"
    }:
        return None
    try:
        before = read_catalogue(folder)
    except InputError:
        return None
    return before if dict(before.fingerprints) == dict(told) else None


def _gone(choice: Choice, parts: Catalogue, file: str) -> list[str]:
    """Return the codes of a choice that the catalogue does not have. Raises `InputError` where one is of another kind.

    file: what faults call the record.
    """
    known = {part.part for part in parts.parts()}
    codes = [
        *choice.kinds,
        *(c.driver for c in choice.channels),
        choice.panel,
        *choice.sheets,
        choice.battery,
    ]
    codes += [choice.cable, choice.fuse, choice.connector, choice.mount]
    gone = [code for code in dict.fromkeys(codes) if code is not None and code not in known]
    if not gone:
        try:
            build_of(choice, parts)
        except KeyError as error:
            kind, code = error.args[0]
            allowed = "a part of the kind that the record has it for"
            raise InputError([Fault(file, None, "choice", f"{kind.lower()} {quoted(code)}", allowed)]) from None
    return gone
