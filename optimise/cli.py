"""The command `rushlight`: reading arguments, calling the library, choosing the exit code."""

import sys
from pathlib import Path

import click
from rich.console import Console

from optimise import __version__
from optimise.cli_build import build
from optimise.cli_check import check
from optimise.cli_common import BAD_INPUT
from optimise.cli_prices import prices
from optimise.cli_reprice import reprice
from optimise.cli_sheet import sheet
from optimise.cli_study import study
from optimise.cli_trade import trade
from optimise.cli_why import why
from optimise.demonstration import copy_demonstration

_EPILOG = "Exit codes: 0 answered, 2 bad input, 3 proven impossible, 4 stopped with no answer."


@click.group(epilog=_EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="rushlight")
def main() -> None:
    """Choose the parts for a self-built soft light, and prove the choice."""


main.add_command(build)
main.add_command(check)
main.add_command(prices)
main.add_command(reprice)
main.add_command(sheet)
main.add_command(study)
main.add_command(trade)
main.add_command(why)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
def start(folder: Path) -> None:
    """Copy the demonstration catalogue and scenarios (invented data) into FOLDER."""
    console = Console()
    try:
        written = copy_demonstration(folder)
    except FileExistsError as error:
        Console(stderr=True).print(f"{error.filename or error} is there already; nothing was written.", markup=False)
        sys.exit(BAD_INPUT)
    except OSError as error:
        Console(stderr=True).print(f"{folder}: {error.strerror}; nothing usable was written.", markup=False)
        sys.exit(BAD_INPUT)
    console.print(f"{len(written)} files of invented demonstration data are in {folder}.", markup=False)
    console.print(
        f"Try: rushlight build {folder / 'scenarios' / 'orchard-night.toml'} --catalogue {folder / 'catalogue'}",
        markup=False,
        highlight=False,
        soft_wrap=True,
    )
