"""The command `rushlight`: reading arguments, calling the library, choosing the exit code."""

import click

from optimise import __version__
from optimise.cli_build import build
from optimise.cli_check import check
from optimise.cli_examples import manual, with_examples
from optimise.cli_guard import Guarded
from optimise.cli_measure import measure
from optimise.cli_prices import prices
from optimise.cli_reprice import reprice
from optimise.cli_sheet import sheet
from optimise.cli_start import start
from optimise.cli_study import study
from optimise.cli_trade import trade
from optimise.cli_why import why

_EPILOG = "Exit codes: 0 answered, 2 bad input, 3 proven impossible, 4 stopped, or output not written."


@click.group(cls=Guarded, epilog=_EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="rushlight")
def main() -> None:
    """Choose the parts for a self-built soft light, and prove the choice."""


main.add_command(build)
main.add_command(check)
main.add_command(manual)
main.add_command(measure)
main.add_command(prices)
main.add_command(reprice)
main.add_command(sheet)
main.add_command(start)
main.add_command(study)
main.add_command(trade)
main.add_command(why)
with_examples(main)
