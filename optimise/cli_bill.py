"""The bill of a build as files: its options, what is refused before a search, and the writing after it."""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
from rich.console import Console

from optimise.cli_common import NO_ANSWER, file_to_write, refuse, write_or_stop
from optimise.parts.sheets import has_workbooks
from optimise.report.bill_files import ENDINGS, Billed, bill_rows, supplier_files, to_csv, to_workbook
from optimise.report.table import plain
from optimise.report.whole import unfit_folder, write_folder


def bill_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options that write the bill."""
    path = click.Path(path_type=Path)
    each = click.option(
        "--bill-each", type=path, metavar="FOLDER", help="Write the bill into FOLDER, a CSV file for each supplier."
    )
    return click.option("--bill", type=path, metavar="FILE", help="Write the bill to FILE, .csv or .xlsx.")(
        each(command)
    )


@dataclass(frozen=True)
class BillTargets:
    """Where the bill goes."""

    file: Path | None
    folder: Path | None

    def write(self, errors: Console, record: Billed) -> None:
        """Write the bill wherever it is asked for, and say so; end with the code for no answer where that fails."""
        if self.file is None and self.folder is None:
            return
        if not record.orders:
            errors.print("There is no build, so no bill was written.")
            return
        if self.file is not None:
            rows = bill_rows(record)
            content = to_workbook(rows) if self.file.suffix == ".xlsx" else to_csv(rows)
            write_or_stop(errors, self.file, content, "Bill")
        if self.folder is not None:
            try:
                write_folder(self.folder, supplier_files(record))
            except OSError as error:
                errors.print(plain(f"{self.folder} was not written: {error.strerror}."))
                sys.exit(NO_ANSWER)
            errors.print(plain(f"Bill for each supplier: {self.folder}"))


def bill_targets(errors: Console, file: Path | None, folder: Path | None) -> BillTargets:
    """Return where the bill goes; refuse what cannot be written, and end with the code for bad input."""
    reasons: list[str] = []
    if file is not None:
        if file.suffix not in ENDINGS:
            reasons.append(f"--bill: {file} must end in {' or '.join(ENDINGS)}.")
        elif file.suffix == ".xlsx" and not has_workbooks():
            reasons.append("--bill: a workbook needs openpyxl: pip install 'rushlight[workbook]'.")
        if file.is_dir():
            reasons.append(f"--bill: {file} is a folder.")
    if folder is not None:
        try:
            reason = unfit_folder(folder)
        except OSError as error:
            reason = f"{folder}: {error.strerror}"
        if reason:
            reasons.append(f"--bill-each: {reason}.")
    if reasons:
        refuse(errors, *reasons)
    return BillTargets(file_to_write(errors, "--bill", file), folder)
