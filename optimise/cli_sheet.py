"""The command `sheet`: a record as a page to shop and to build by."""

import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.console import Console

from optimise.cli_common import BAD_INPUT, apart, file_to_write, hand_over, refuse, sound_catalogue, write_or_stop
from optimise.parts import Catalogue, Collector, Fault, InputError
from optimise.report.front import FrontRecord
from optimise.report.kit import BUILDS, KitRecord
from optimise.report.record import Record
from optimise.report.stored import read_stored
from optimise.report.terminal import print_faults

if TYPE_CHECKING:
    from optimise.report.sheet.plan import Plan


@click.command()
@click.argument("record", type=click.Path(path_type=Path))
@click.option("--out", metavar="FILE", help="Where to write the page, or - for standard output; RECORD.html otherwise.")
@click.option("--pdf", metavar="FILE", type=click.Path(path_type=Path), help="Also write it as a PDF.")
@click.option("--dxf", metavar="FILE", type=click.Path(path_type=Path), help="Also write the board as a DXF, in mm.")
@click.option("--svg", metavar="FILE", type=click.Path(path_type=Path), help="Also write the board as an SVG at 1:1.")
@click.option(
    "--tiles",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Also write the board at 1:1 on sheets of A4, as HTML to print and to drill by.",
)
@click.option(
    "--catalogue",
    type=click.Path(path_type=Path),
    help="Say whether this catalogue has changed since; the page itself needs none.",
)
def sheet(
    record: Path,
    out: str | None,
    pdf: Path | None,
    dxf: Path | None,
    svg: Path | None,
    tiles: Path | None,
    catalogue: Path | None,
) -> None:
    """Write the build sheet of RECORD: one page with what to buy, cut, drill, wire, check and pack.

    RECORD is what `build --json FILE` wrote, of a light or of a kit. The page needs no network and no other file.
    Drawings of the boards of a kit get the number of their light: board.svg becomes board-1.svg, board-2.svg.
    Of what `trade --json FILE` wrote, it is the page that `trade --page` writes.
    """
    # Templates and drawings are a matter of this command alone: the others start without them.
    from optimise.report.sheet.paper import NoPrinterError, printer

    errors = Console(stderr=True)
    target = file_to_write(errors, "--out", record.with_suffix(".html") if out is None else out)
    paper = file_to_write(errors, "--pdf", pdf)
    boards = {
        kind: path
        for kind, given in (("DXF", dxf), ("SVG", svg), ("Tiles", tiles))
        if (path := file_to_write(errors, f"--{kind.lower()}", given)) is not None
    }
    try:
        press = None if paper is None else printer()
    except NoPrinterError as error:
        refuse(errors, f"--pdf: {error}")
    makers = _makers(errors, boards)
    try:
        told, fingerprint, parts = _read(record, catalogue)
        page = _page(errors, told, fingerprint, record.name, parts, boards)
        drawn = _drawn(told, record.name, parts, boards, makers)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    apart(errors, (target, paper, *(path for path, _, _ in drawn)), record)
    if target is None:
        hand_over(page)
    else:
        write_or_stop(errors, target, page, "Sheet")
    if paper is not None and press is not None:
        write_or_stop(errors, paper, press(page), "PDF")
    for path, text, kind in drawn:
        write_or_stop(errors, path, text, kind)


def _page(
    errors: Console,
    told: Record | KitRecord | FrontRecord,
    fingerprint: str,
    file: str,
    parts: Catalogue | None,
    boards: Mapping[str, Path],
) -> str:
    """Return the page of a record; refuse what a front has not. Raises `InputError`."""
    if isinstance(told, FrontRecord):
        from optimise.report.front_page.page import front_page

        asked = [f"--{kind.lower()}" for kind in boards] + ([] if parts is None else ["--catalogue"])
        if asked:
            refuse(
                errors, f"{', '.join(asked)}: {file} is of a front, which has no board; take the record of one build."
            )
        return front_page(told)
    from optimise.report.sheet.page import sheet_page

    return sheet_page(told, fingerprint, file, parts)


Maker = Callable[["Plan", str, str], str]
"""What makes a drawing of a plan, the job's title and the light's name."""


def _makers(errors: Console, boards: Mapping[str, Path]) -> dict[str, Maker]:
    """Return what makes each kind of drawing, or say what it takes and end with the code for bad input."""
    from optimise.report.sheet.dxf import NoDrafterError, drafter
    from optimise.report.sheet.full_size import full_size
    from optimise.report.sheet.tiles import tiles_page

    makers: dict[str, Maker] = {"SVG": lambda plan, title, name: full_size(plan), "Tiles": tiles_page}
    if "DXF" in boards:
        try:
            draft = drafter()
        except NoDrafterError as error:
            refuse(errors, f"--dxf: {error}")
        makers["DXF"] = lambda plan, title, name: draft(plan)
    return makers


def _drawn(
    record: Record | KitRecord | FrontRecord,
    file: str,
    catalogue: Catalogue | None,
    boards: Mapping[str, Path],
    makers: Mapping[str, Maker],
) -> list[tuple[Path, str, str]]:
    """Return path, content and kind of each drawing of a board. Raises `InputError` where one is asked of none."""
    from optimise.report.lamp import lamps_of
    from optimise.report.sheet.plan import plan_of

    if not boards or isinstance(record, FrontRecord):
        return []
    lamps = lamps_of(record, file, catalogue)
    faults, plans = Collector(), []
    for lamp in lamps:
        if lamp.layout is None:
            read = f"a board that cannot hold its {lamp.choice.emitters} emitters" + (
                f" ({lamp.name})" if lamp.name else ""
            )
            faults.faults.append(
                Fault(file, read=read, allowed="a board with a layout", mend="Leave its drawings out.")
            )
        else:
            plans.append((plan_of(lamp, lamp.layout), lamp.name))
    faults.stop_if_any()
    found = []
    for kind, path in boards.items():
        for number, (plan, name) in enumerate(plans, 1):
            own = path if len(plans) == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")
            found.append((own, makers[kind](plan, record.title, name), kind))
    return found


def _read(path: Path, catalogue: Path | None) -> tuple[Record | KitRecord | FrontRecord, str, Catalogue | None]:
    """Return the record with its fingerprint, and the catalogue. Raises `InputError` with the faults of both."""
    faults = Collector()
    read = None
    try:
        read = read_stored(path, {**BUILDS, "rushlight-front/1": FrontRecord})
    except InputError as error:
        faults.faults += error.faults
    parts = None if catalogue is None else sound_catalogue(catalogue, faults)
    faults.stop_if_any()
    assert read is not None
    told, fingerprint = read
    assert isinstance(told, Record | KitRecord | FrontRecord)
    return told, fingerprint, parts
