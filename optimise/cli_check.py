"""The command `check`: whether catalogues and scenarios are sound, and a catalogue in its other form."""

import sys
from pathlib import Path

import click
from rich.console import Console

from optimise.cli_common import BAD_INPUT, NO_ANSWER, read_all
from optimise.parts import Fault, InputError
from optimise.parts.convert import convert
from optimise.report.table import plain
from optimise.report.terminal import print_catalogue, print_faults
from optimise.report.whole import unfit_folder, write_folder, write_whole


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--convert",
    "target",
    type=click.Path(path_type=Path),
    metavar="TARGET",
    help="Write the one catalogue in its other form: a folder as a workbook (.xlsx), a workbook as a folder.",
)
def check(paths: tuple[Path, ...], target: Path | None) -> None:
    """Check catalogues (folders or workbooks) and scenarios (TOML files), and tell every fault."""
    console, errors = Console(), Console(stderr=True)
    if target is not None and (reason := _unfit(paths, target)):
        errors.print(plain(f"--convert: {reason}. Nothing was written."))
        sys.exit(BAD_INPUT)
    faults: list[Fault] = []
    for path in paths:
        try:
            if path.suffix == ".toml":
                wanted = read_all(None, path)[1]
                assert wanted is not None
                console.print(plain(f"{path}: sound."))
            else:
                read = read_all(path, None)[0]
                assert read is not None
                print_catalogue(console, str(path), read)
        except InputError as error:
            faults += error.faults
    if faults:
        print_faults(errors, InputError(faults).faults)
        sys.exit(BAD_INPUT)
    if target is not None:
        _convert(errors, paths[0], target)


def _unfit(paths: tuple[Path, ...], target: Path) -> str:
    """Return why the target may not be written, or ''."""
    if len(paths) != 1 or paths[0].suffix == ".toml":
        return "name one catalogue with it, and nothing else"
    book = target.suffix.lower() == ".xlsx"
    if paths[0].is_dir() and not book:
        return f"a folder becomes a workbook, and {target} does not end in .xlsx"
    if paths[0].is_file() and book:
        return f"a workbook becomes a folder, and {target} ends in .xlsx"
    if not book:
        try:
            return unfit_folder(target)
        except OSError as error:
            return f"{target}: {error.strerror}"
    if target.exists() or target.is_symlink():
        return f"{target} is there already"
    return "" if target.parent.is_dir() else f"there is no folder {target.parent}"


def _convert(errors: Console, path: Path, target: Path) -> None:
    try:
        made = convert(path)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    try:
        if isinstance(made.content, bytes):
            write_whole(target, made.content)
        else:
            write_folder(target, made.content)
    except OSError as error:
        errors.print(plain(f"{target} was not written: {error.strerror}."))
        sys.exit(NO_ANSWER)
    for what in made.lost:
        errors.print(plain(f"Not kept: {what}."))
    errors.print(plain(f"Catalogue: {target}"))
