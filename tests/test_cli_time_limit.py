"""How long a search may take, as it is written on the command line."""

import click
import pytest
from click.testing import CliRunner, Result

from optimise.cli import main
from optimise.cli_common import time_limit_option


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


@pytest.mark.parametrize(("written", "seconds"), [("90", 90.0), ("90 s", 90.0), ("1.5 min", 90.0), ("0.001", 0.001)])
def test_a_time_limit_is_written_as_in_a_scenario_or_in_seconds(written: str, seconds: float) -> None:
    @click.command()
    @time_limit_option
    def told(time_limit: float) -> None:
        click.echo(repr(time_limit))

    result = CliRunner().invoke(told, ["--time-limit", written])
    assert (result.exit_code, result.stdout.strip()) == (0, repr(seconds))


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("soon", "'soon' is no time; allowed: "),
        ("3 kg", "'3 kg' is no time; allowed: time in a unit such as s, or a number"),
        ("0 s", "'0 s' is not more than 0 s."),
        ("-5", "'-5' is not more than 0 s."),
        ("nan", "'nan' is no time"),
        ("\x1b[31m1", "is no time"),
    ],
)
@pytest.mark.parametrize("command", ["build", "study"])
def test_what_is_no_time_limit_is_told(command: str, written: str, told: str) -> None:
    result = run(command, "job.toml", "--time-limit", written)
    assert result.exit_code == 2
    assert told in result.stderr
    assert "\x1b" not in result.stderr
