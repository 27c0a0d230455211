"""The command `start`: the demonstration files, a first job by a few questions, an empty catalogue."""

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click
from rich.console import Console

from optimise.cli_common import BAD_INPUT, NO_ANSWER
from optimise.demonstration import copy_demonstration, demonstration_folder
from optimise.parts import Collector, Fault, InputError
from optimise.report.table import plain
from optimise.report.terminal import print_faults
from optimise.report.whole import write_folder, write_whole
from optimise.scenario import read_text_of_scenario
from optimise.scenario.draft import BRIGHT, Answers, draft

EXAMPLES = (
    "LED-BAR9-5692",
    "DRV-D12-CCA105-45",
    "PAN-FOAM-50x50",
    "DIF-FILM-HALF",
    "BAT-LI14-068",
    "FLEX-2x0.5",
    "FUSE-B32-3",
    "CON-DC5",
    "MNT-HANDLE-2",
)
"""Demonstration parts that make an empty catalogue's examples: a light can be built of them."""


@dataclass(frozen=True)
class _Question:
    """One thing that is asked, by the name of its answer."""

    name: str
    words: str
    example: str
    needed: Callable[[Answers], bool] = lambda answers: True
    must: bool = False
    """Whether there is no job without it."""


def _on_battery(answers: Answers) -> bool:
    return answers.source != "mains"


def _on_mains(answers: Answers) -> bool:
    return answers.source != "battery"


QUESTIONS = (
    _Question("title", "What is the job?", "My light"),
    _Question(
        "bright", "How bright on the subject: lux, or ISO, f-number, shutter?", "ISO 800, f/4, 1/50 s", must=True
    ),
    _Question("distance", "How far is the subject?", "2.5 m", must=True),
    _Question("source", "Fed from battery, mains, or any of the two?", "battery", must=True),
    _Question("runtime", "For how long from the battery?", "60 min", _on_battery, must=True),
    _Question("mains_voltage", "What is the mains voltage?", "230 V", _on_mains, must=True),
    _Question("lead_length", "How far from the supply to the light?", "2 m"),
    _Question("flying", "Does it fly (yes or no)?", "no", _on_battery),
    _Question("budget", "What may all of it cost? Nothing for no limit.", ""),
    _Question("mass", "What may all of it weigh? Nothing for no limit.", ""),
    _Question("objective", "Least of what: cost, mass or power?", "cost"),
)


_MEANWHILE: dict[str, Any] = {"runtime": "60 min", "mains_voltage": "230 V"}


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--template", is_flag=True, help="Write an empty catalogue instead: all columns, one example a kind.")
@click.option("--job", default="my-job", show_default=True, metavar="NAME", help="Name of the scenario's file.")
@click.option("--questions/--no-questions", default=None, help="Whether to ask; by default in a terminal.")
@click.option("--title", metavar="TEXT", help="A line that names the job.")
@click.option("--bright", metavar="TEXT", help=f"How bright: {BRIGHT}.")
@click.option("--distance", metavar="LENGTH", help="From the light to the subject, as 2.5 m.")
@click.option("--source", metavar="SUPPLY", help="battery, mains or any.")
@click.option("--runtime", metavar="TIME", help="How long from the battery, as 60 min.")
@click.option("--mains-voltage", metavar="VOLTAGE", help="As 230 V.")
@click.option("--lead-length", metavar="LENGTH", help="From the supply to the light; 2 m where it is not said.")
@click.option("--flying/--driving", default=None, help="Whether it flies as a passenger's baggage.")
@click.option("--budget", metavar="AMOUNT", help="As 300 EUR; without it there is no limit.")
@click.option("--mass", metavar="MASS", help="As 5 kg; without it there is no limit.")
@click.option("--objective", metavar="FIGURE", help="cost, mass or power; cost where it is not said.")
def start(folder: Path, template: bool, job: str, questions: bool | None, **given: Any) -> None:
    """Copy the demonstration catalogue and scenarios (invented data) into FOLDER, and write a first job of your own.

    In a terminal a few questions are asked; options answer them, for scripts. Where FOLDER has a catalogue already,
    only the job is written.
    """
    errors = Console(stderr=True)
    told = {name: value for name, value in given.items() if value is not None}
    try:
        if template:
            _write_template(folder, bool(told))
            return
        asks = sys.stdin.isatty() if questions is None else questions
        answers = _asked(told) if asks else _answered(told) if told else None
        if answers is not None and (Path(job).name != job or not job):
            _fault("--job", job, "a file's name without a folder")
        _write(folder, job if job.endswith(".toml") else f"{job}.toml", answers)
    except InputError as error:
        print_faults(errors, error.faults)
        sys.exit(BAD_INPUT)
    except FileExistsError as error:
        errors.print(plain(f"{error.filename or error} is there already; nothing was written."), soft_wrap=True)
        sys.exit(BAD_INPUT)
    except OSError as error:
        errors.print(plain(f"{folder}: {error.strerror}; nothing usable was written."), soft_wrap=True)
        sys.exit(NO_ANSWER)
    except click.Abort:
        errors.print("Stopped; nothing was written.")
        sys.exit(NO_ANSWER)


def _fault(option: str, read: str, allowed: str) -> None:
    faults = Collector()
    faults.add(Fault("start", column=option, read=read, allowed=allowed))
    faults.stop_if_any()


def _write_template(folder: Path, told: bool) -> None:
    if told:
        _fault("--template", "answers to questions beside it", "--template alone")
    from optimise.parts.blank import blank_catalogue

    examples = demonstration_folder() / "catalogue"
    files = blank_catalogue(examples, EXAMPLES) | {"README.md": (examples / "README.md").read_text(encoding="utf-8")}
    console, place = Console(), folder / "catalogue"
    _make_room(place)
    write_folder(place, files)
    console.print(plain(f"{place}: an empty catalogue, with an example (invented) of each kind."), soft_wrap=True)
    console.print(plain(f"Put your parts in, then: rushlight check {place}"), soft_wrap=True)


def _make_room(path: Path) -> None:
    """Make the folders above a new file or folder. Raises FileExistsError where it is there already, and OSError."""
    if path.exists():
        raise FileExistsError(path)
    path.parent.mkdir(parents=True, exist_ok=True)


def _write(folder: Path, name: str, answers: Answers | None) -> None:
    console = Console()
    catalogue, scenarios = folder / "catalogue", folder / "scenarios"
    text = None if answers is None else draft(answers)
    if text is not None:
        _make_room(folder / name)
    if text is None or not catalogue.exists():
        written = copy_demonstration(folder)
        console.print(plain(f"{len(written)} files of invented demonstration data are in {folder}."))
    job = scenarios / "orchard-night.toml"
    if text is not None:
        job = folder / name
        write_whole(job, text)
        console.print(plain(f"{job}: your job; its comments say what else it may ask."), soft_wrap=True)
    line = f"Try: rushlight build {job} --catalogue {catalogue}"
    console.print(plain(line), soft_wrap=True)


def _answered(told: dict[str, Any]) -> Answers:
    """Return the answers that options give. Raises `InputError` with all that is missing or wrong."""
    answers = Answers(**told)
    faults = Collector()
    for question in QUESTIONS:
        if question.must and question.needed(answers) and question.name not in told:
            option = f"--{question.name.replace('_', '-')}"
            faults.add(Fault("start", column=option, read="nothing", allowed=f"{question.words} As {question.example}"))
    try:
        # What is not said yet does not stand in the way of telling what else is wrong.
        _check(Answers(**(_MEANWHILE | told)))
    except InputError as error:
        faults.faults += error.faults
    faults.stop_if_any()
    return answers


def _asked(told: dict[str, Any]) -> Answers:
    """Return the answers that a person gives, each asked again until it can be read; those told are not asked."""
    errors = Console(stderr=True)
    answers = Answers(**(_MEANWHILE | told))
    _check(answers)
    for question in QUESTIONS:
        while question.name not in told and question.needed(answers):
            reply = click.prompt(question.words, default=question.example, show_default=bool(question.example)).strip()
            value: Any = reply or None
            if question.name == "flying":
                value = {"yes": True, "y": True, "no": False, "n": False}.get(reply.lower())
                if value is None:
                    errors.print("yes or no, please.")
                    continue
            try:
                _check(replace(answers, **{question.name: value}))
            except InputError as error:
                print_faults(errors, error.faults)
                continue
            answers = replace(answers, **{question.name: value})
            break
    return replace(
        answers,
        runtime=answers.runtime if _on_battery(answers) else None,
        mains_voltage=answers.mains_voltage if _on_mains(answers) else None,
        flying=answers.flying and _on_battery(answers),
    )


def _check(answers: Answers) -> None:
    """Raise `InputError` where the answers make no sound scenario."""
    try:
        text = draft(answers)
    except ValueError as error:
        _fault("--bright", str(error), BRIGHT)
        return
    read_text_of_scenario(text, "your answers")
