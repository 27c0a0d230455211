"""The command `sheet`: a record as a page to shop and to build by."""

import sys
from pathlib import Path

import click
from rich.console import Console

from optimise.cli_common import BAD_INPUT, file_to_write, refuse, sound_catalogue, write_or_stop
from optimise.parts import Catalogue, Collector, InputError
from optimise.report.kit import KitRecord
from optimise.report.record import Record
from optimise.report.stored import read_stored
from optimise.report.terminal import print_faults

_MEND = "Write it by: build SCENARIO --json FILE."


@click.command()
@click.argument("record", type=click.Path(path_type=Path))
@click.option("--out", metavar="FILE", help="Where to write the page, or - for standard output; RECORD.html otherwise.")
@click.option("--pdf", metavar="FILE", type=click.Path(path_type=Path), help="Also write it as a PDF.")
@click.option(
    "--catalogue",
    type=click.Path(path_type=Path),
    help="Say whether this catalogue has changed since; the page itself needs none.",
)
def sheet(record: Path, out: str | None, pdf: Path | None, catalogue: Path | None) -> None:
    """Write the build sheet of RECORD: one page with what to buy, cut, drill, wire, check and pack.

    RECORD is what `build --json FILE` wrote, of a light or of a kit. The page needs no network and no other file.
    """
    # Templates and drawings are a matter of this command alone: the others start without them.
    from optimise.report.sheet.page import sheet_page
    from optimise.report.sheet.paper import NoPrinterError, pdf_of, printer

    errors = Console(stderr=True)
    target = file_to_write(errors, "--out", record.with_suffix(".html") if out is None else out)
    paper = file_to_write(errors, "--pdf", pdf)
    for path in (target, paper):
        if path is not None and path.exists() and record.exists() and path.samefile(record):
            refuse(errors, f"{path} is the record itself.")
    try:
        press = None if paper is None else printer()
    except NoPrinterError as error:
        refuse(errors, f"--pdf: {error}")
    try:
        told, fingerprint, parts = _read(record, catalogue)
        page = sheet_page(told, fingerprint, record.name, parts)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    if target is None:
        click.echo(page, nl=False)
    else:
        write_or_stop(errors, target, page, "Sheet")
    if paper is not None and press is not None:
        write_or_stop(errors, paper, pdf_of(page, press), "PDF")


def _read(path: Path, catalogue: Path | None) -> tuple[Record | KitRecord, str, Catalogue | None]:
    """Return the record with its fingerprint, and the catalogue. Raises `InputError` with the faults of both."""
    faults = Collector()
    read = None
    try:
        read = read_stored(path, {"rushlight-record/1": Record, "rushlight-kit/1": KitRecord}, _MEND)
    except InputError as error:
        faults.faults += error.faults
    parts = None if catalogue is None else sound_catalogue(catalogue, faults)
    faults.stop_if_any()
    assert read is not None
    record, fingerprint = read
    assert isinstance(record, Record | KitRecord)
    return record, fingerprint, parts
