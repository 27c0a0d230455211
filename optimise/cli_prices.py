"""The command `prices`: a supplier's own price list into rows of offers."""

import sys
from pathlib import Path

import click
from rich.console import Console

from optimise.cli_common import BAD_INPUT, NO_ANSWER
from optimise.parts import InputError
from optimise.parts.price_list import read_price_list
from optimise.parts.price_map import read_map
from optimise.report.table import plain
from optimise.report.terminal import print_faults
from optimise.report.whole import write_whole


@click.command()
@click.argument("price_list", metavar="LIST", type=click.Path(path_type=Path))
@click.option(
    "--mapping",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="TOML file that says how the list is written and what its columns are.",
)
@click.option(
    "--out", required=True, type=click.Path(path_type=Path), metavar="FILE", help="New CSV file for the rows of offers."
)
def prices(price_list: Path, mapping: Path, out: Path) -> None:
    """Turn a supplier's price LIST (CSV, columns in any order) into rows for offers.csv, and tell every fault."""
    console, errors = Console(), Console(stderr=True)
    reason = ""
    if out.exists() or out.is_symlink():
        reason = f"{out} is there already"
    elif not out.parent.is_dir():
        reason = f"there is no folder {out.parent}"
    if reason:
        errors.print(plain(f"--out: {reason}. Nothing was written."))
        sys.exit(BAD_INPUT)
    try:
        offers = read_price_list(price_list, read_map(mapping))
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    try:
        write_whole(out, offers.text)
    except OSError as error:
        errors.print(plain(f"{out} was not written: {error.strerror}."))
        sys.exit(NO_ANSWER)
    console.print(
        plain(f"{out}: offers: {offers.rows}; rows skipped, since [parts] lacks their codes: {offers.skipped}.")
    )
    if offers.absent:
        console.print(plain(f"Codes of [parts] that the list lacks: {', '.join(offers.absent)}."))
