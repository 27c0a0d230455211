"""The command `study`: every scenario on every catalogue for every objective, solved side by side."""

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import Any, NoReturn

import click
from rich.console import Console

from optimise import __version__
from optimise.cli_common import ANSWERED, BAD_INPUT, NO_ANSWER, in_seconds
from optimise.parts import InputError
from optimise.report.record import Record
from optimise.report.results import Row, counted, ordered, print_rows
from optimise.report.study_folder import StudyFolder
from optimise.report.table import plain
from optimise.report.terminal import print_faults
from optimise.scenario.model import Objective
from optimise.studies.batch import Answer, ClusterError, run
from optimise.study_cases import StudyCase, read_cases, solve_case


@click.command()
@click.argument("scenarios", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--catalogue",
    "catalogues",
    type=click.Path(path_type=Path),
    multiple=True,
    default=["catalogue"],
    show_default=True,
    help="Folder of a catalogue's CSV files, or a workbook (.xlsx); may be given several times.",
)
@click.option(
    "--objective",
    "objectives",
    type=click.Choice(["cost", "mass", "power"]),
    multiple=True,
    help="What to make least; may be given several times; each scenario's own choice if left out.",
)
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder of the records and the table.")
@click.option("--workers", type=click.IntRange(1, 1024), help="Processes on this machine; one a core if left out.")
@click.option("--dask", metavar="ADDRESS", help="A cluster of Dask to use instead, such as tcp://10.0.0.5:8786.")
@click.option(
    "--time-limit",
    callback=in_seconds,
    metavar="TIME",
    help="Longest search of a case: '2 min', or a number of seconds.",
)
def study(
    scenarios: tuple[Path, ...],
    catalogues: tuple[Path, ...],
    objectives: tuple[Objective, ...],
    out: Path,
    workers: int | None,
    dask: str | None,
    time_limit: float | None,
) -> None:
    """Solve all SCENARIOS (TOML files, or folders of them) on each catalogue, and make a table.

    A study that was stopped goes on by the same command: what is answered is not solved again, unless its files,
    objective, time limit or the version of rushlight have changed.
    """
    errors = Console(stderr=True)
    if workers is not None and dask is not None:
        _refuse(errors, "--workers is for processes on this machine; a cluster of --dask has its own.")
    try:
        cases = read_cases(scenarios, catalogues, objectives, time_limit)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    except KeyboardInterrupt:
        _say(errors, "Stopped before a case was solved; the same command goes on.")
        sys.exit(NO_ANSWER)
    folder = StudyFolder(out)
    rows: list[Row] = []
    with ExitStack() as stack:
        cluster = _cluster(stack, dask, errors)
        _open(stack, folder, errors)
        try:
            kept = _solve(cases, folder, rows, errors, workers=workers, cluster=cluster)
            tables = folder.write_tables(ordered(rows))
        except (KeyboardInterrupt, ClusterError, OSError) as error:
            # Counted where they lie: the last one may have been written and not yet told.
            kept = sum(folder.answer(case.name, case.inputs, case.objective) is not None for case in cases)
            _say(
                errors,
                f"Stopped{_why(error)}. {kept} of {len(cases)} cases are answered and kept in {folder.records}; "
                "the same command goes on from there.",
            )
            sys.exit(NO_ANSWER)
    console = Console()
    print_rows(console, ordered(rows))
    told = f"; {kept} kept from an earlier run" if kept else ""
    console.print()
    _say(console, f"{counted(rows)}{told}.")
    _say(console, f"Table: {' and '.join(str(path) for path in tables)}; records: {folder.records}.")
    sys.exit(NO_ANSWER if any(row.status in {"stopped", "failed"} for row in rows) else ANSWERED)


def _solve(
    cases: list[StudyCase],
    folder: StudyFolder,
    rows: list[Row],
    errors: Console,
    *,
    workers: int | None,
    cluster: Any,
) -> int:
    """Answer the cases and add their rows as they come; return how many were answered in an earlier run."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    kept = 0
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=errors, transient=True, disable=not errors.is_terminal) as bar:
        task = bar.add_task("solving", total=len(cases))

        def earlier(case: StudyCase) -> str | None:
            text = folder.answer(case.name, case.inputs, case.objective)
            if text is None:
                folder.drop_tables()
            return text

        def keep(case: StudyCase, answer: Answer, new: bool) -> None:
            nonlocal kept
            if new:
                folder.keep(case.name, answer.text)
            else:
                kept += 1
            record = None if answer.text is None else Record.model_validate_json(answer.text)
            if record is None:
                _say(
                    errors,
                    f"{case.name} failed: {answer.fault}. This is a fault of rushlight or of this machine, not of "
                    "your files; the next run tries it again.",
                )
            rows.append(Row(case.scenario_name, case.catalogue_name, case.objective, record))
            bar.advance(task)

        run(cases, solve_case, earlier, keep, workers=workers, cluster=cluster)
    return kept


def _open(stack: ExitStack, folder: StudyFolder, errors: Console) -> None:
    """Make the study's folder, which is its own while it runs, or end with what is wrong with it."""
    try:
        refusal = folder.refusal()
        if not refusal:
            stack.enter_context(folder.opened())
    except BlockingIOError as error:
        _say(errors, f"--out: {error.filename}: {error.strerror}; nothing was solved. Try again when it has ended.")
        sys.exit(NO_ANSWER)
    except OSError as error:
        refusal = f"{error.filename or folder.folder}: {error.strerror}"
    if refusal:
        _refuse(errors, f"--out: {refusal}; nothing was solved.")


def _cluster(stack: ExitStack, address: str | None, errors: Console) -> Any:
    """Return a client of the cluster at an address, None without one, or end with what is wrong with it."""
    if address is None:
        return None
    try:
        from optimise.studies.cluster import cluster_at
    except ImportError:
        _refuse(errors, "--dask: Dask's scheduler is not installed; pip install 'rushlight[cluster]'.")
    try:
        return stack.enter_context(cluster_at(address, __version__))
    except ClusterError as error:
        _refuse(errors, f"--dask: {error}; nothing was solved.")


def _why(error: BaseException) -> str:
    if isinstance(error, KeyboardInterrupt):
        return ""
    if isinstance(error, OSError) and error.filename is not None:
        return f": {error.filename} was not written: {error.strerror}"
    return f": {error}"


def _refuse(errors: Console, text: str) -> NoReturn:
    _say(errors, text)
    sys.exit(BAD_INPUT)


def _say(console: Console, text: str) -> None:
    console.print(plain(text), soft_wrap=True)
