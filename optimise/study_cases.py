"""The cases of a study: reading them with all faults at once, and solving one wherever it is sent."""

import os
import pickle
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from optimise import __version__
from optimise.cli_common import across, clash_of, one_light, sound_catalogue, sound_scenario
from optimise.model.search import best_build
from optimise.parts import Catalogue, Collector, Fault
from optimise.parts.colour import spectra_worked_out_by
from optimise.report.record import InputsRecord, make_record, to_json
from optimise.scenario import Scenario
from optimise.scenario.model import Objective
from optimise.scenario.terms import as_paid
from optimise.studies.batch import Answer
from optimise.studies.naming import record_names, short_names
from optimise.studies.tolerances import over_tolerances


@dataclass(frozen=True)
class StudyCase:
    """One case of a study, with all that it takes to solve it anywhere."""

    name: str
    scenario_name: str
    catalogue_name: str
    objective: Objective
    scenario: Scenario
    catalogue: bytes
    """Packed, so that each process unpacks it once, and a cluster needs none of the files."""
    inputs: InputsRecord


_one_at_a_time = threading.Lock()


@lru_cache(maxsize=8)
def _unpacked(catalogue: bytes) -> Catalogue:
    read: Catalogue = pickle.loads(catalogue)
    return read


def solve_case(case: StudyCase) -> Answer:
    """Solve one case to its record; an error of this program is told as the case's, and the study goes on."""
    # The solver has one scheduler a process, whatever number of threads a cluster's worker has.
    with _one_at_a_time:
        began = time.monotonic()
        try:
            parts = as_paid(_unpacked(case.catalogue), case.scenario)
            result = best_build(parts, case.scenario, case.objective)
            clash = clash_of(result, lambda text: None, began)
            best = result.evaluation
            spread = None if best is None else over_tolerances(best.choice, parts, case.scenario)
            fingerprint = case.inputs.scenario
            record = make_record(result, result.objective, fingerprint, clash, tolerances=spread, stated=parts)
        except Exception as error:  # SolverError and CannotRefineError are known; one unknown must not stop the others
            return Answer(None, f"{type(error).__name__}: {error}")
    return Answer(to_json(record))


def _files(paths: Sequence[Path], faults: Collector) -> list[Path]:
    """Return the scenario files that are named or lie in the folders named, each once."""
    found: list[Path] = []
    for path in paths:
        inside = sorted(p for p in path.glob("*.toml") if not p.name.startswith(".")) if path.is_dir() else [path]
        if not inside:
            faults.add(Fault(str(path), read="a folder without a scenario", allowed="TOML files, or folders of *.toml"))
        found += inside
    return _each_once(found)


def _each_once(paths: Sequence[Path]) -> list[Path]:
    return list({os.path.abspath(path): path for path in reversed(paths)}.values())[::-1]  # noqa: PTH100 - links are kept


def read_cases(
    scenarios: Sequence[Path], catalogues: Sequence[Path], objectives: Sequence[Objective], time_limit: float | None
) -> list[StudyCase]:
    """Return all cases. Raises `InputError` with the faults of all scenarios and catalogues, by their paths."""
    faults = Collector()
    files = _files(scenarios, faults)
    wanted: dict[Path, Scenario] = {}
    for path in files:
        own = Collector()
        scenario = sound_scenario(path, own)
        faults.faults += [replace(fault, file=str(path)) for fault in own.faults]
        if scenario is not None:
            faults.faults += one_light(scenario, str(path))
            wanted[path] = scenario
    folders = _each_once(catalogues)
    read: dict[Path, Catalogue] = {}
    for folder in folders:
        own = Collector()
        catalogue = sound_catalogue(folder, own)
        faults.faults += [
            fault if fault.file == str(folder) else replace(fault, file=_place(folder, fault.file))
            for fault in own.faults
        ]
        if catalogue is not None:
            read[folder] = catalogue
    for path, scenario in wanted.items():
        for folder, catalogue in read.items():
            faults.faults += across(catalogue, scenario, f"{path} with {folder}")
    faults.stop_if_any()
    return _cases(wanted, read, objectives, time_limit)


def _place(catalogue: Path, file: str) -> str:
    """Return where a file of a catalogue, or a sheet of it, is."""
    return str((catalogue if catalogue.is_dir() else catalogue.parent) / file)


def _cases(
    wanted: dict[Path, Scenario],
    read: dict[Path, Catalogue],
    objectives: Sequence[Objective],
    time_limit: float | None,
) -> list[StudyCase]:
    cases: list[StudyCase] = []
    packed = {folder: pickle.dumps(catalogue) for folder, catalogue in read.items()}
    for scenario, scenario_name in zip(wanted.values(), short_names(list(wanted)), strict=True):
        limit = scenario.search.time_limit if time_limit is None else time_limit
        search = scenario.search.model_copy(update={"time_limit": limit})
        for folder, catalogue_name in zip(read, short_names(list(read)), strict=True):
            prints = dict(sorted(read[folder].fingerprints.items()))
            inputs = InputsRecord(
                scenario=scenario.fingerprint,
                job=scenario.text,
                catalogue=prints,
                time_limit=limit,
                version=__version__,
                colour=spectra_worked_out_by(read[folder].emitters),
            )
            cases += [
                StudyCase(
                    name="",
                    scenario_name=scenario_name,
                    catalogue_name=catalogue_name,
                    objective=objective,
                    scenario=scenario.model_copy(update={"search": search}),
                    catalogue=packed[folder],
                    inputs=inputs,
                )
                for objective in dict.fromkeys(objectives or (scenario.search.objective,))
            ]
    names = record_names([(case.scenario_name, case.catalogue_name, case.objective) for case in cases])
    return [replace(case, name=name) for case, name in zip(cases, names, strict=True)]
