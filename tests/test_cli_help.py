"""The help of the commands: examples that can be typed, one page of it all, completion, no colours in a file."""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from optimise.cli import main
from optimise.cli_examples import EXAMPLES

SCENARIO = Path(__file__).parents[1] / "scenarios" / "impossible-pier.toml"


@pytest.mark.parametrize("name", main.commands)
def test_each_command_has_examples_that_can_be_typed(name: str) -> None:
    shown = CliRunner().invoke(main, [name, "--help"]).stdout
    for line in EXAMPLES[name]:
        assert f"  {line}\n" in shown
        words = shlex.split(line.split(" > ")[0])
        assert words[:2] == ["rushlight", name]
        # Options and arguments are parsed and nothing is done.
        main.commands[name].make_context(name, words[2:], parent=click.Context(main, info_name="rushlight"))


def test_the_manual_has_the_help_of_all_commands() -> None:
    page = CliRunner().invoke(main, ["manual"])
    assert page.exit_code == 0
    for name in main.commands:
        assert f"rushlight {name} " in page.stdout.replace("main ", "rushlight ")


def test_the_tab_key_completes_commands_and_options() -> None:
    def completed(words: str, place: int) -> list[str]:
        environment = {
            **os.environ,
            "_RUSHLIGHT_COMPLETE": "bash_complete",
            "COMP_WORDS": words,
            "COMP_CWORD": str(place),
        }
        code = "from optimise.cli import main; main(prog_name='rushlight')"
        done = subprocess.run(
            [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True, timeout=120
        )
        return [line.split(",")[1] for line in done.stdout.splitlines()]

    assert completed("rushlight re", 1) == ["reprice"]
    assert "--objective" in completed("rushlight build --obj", 2)


def test_nothing_is_coloured_where_there_is_no_terminal() -> None:
    shown = CliRunner().invoke(main, ["check", str(SCENARIO)])
    assert shown.exit_code == 0
    assert "\x1b" not in shown.output
