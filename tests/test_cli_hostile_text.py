"""No text of a user acts on a terminal: not of a catalogue, a job, a kit, a price list, a record, nor a file's name.

Control sequences: ECMA-48 (ISO/IEC 6429), sections 5.3 and 8.3 (C0 and C1 controls); what turns the direction of
writing: Unicode Standard Annex 9, table 4 (explicit formatting).
"""

import csv
import json
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner
from few_parts import write_few_parts, write_job
from price_lists import MAP

from optimise.cli import main

EVIL = "\x1b]x\x07\x1b[31m\x9b31m\u202e\u2066\x7f"
NAMED = "\\u001b]0;x\\u0007\\u001b[31m\\u009b31m\\u202e\\u2066"
"""The same in TOML."""
ACTS = [chr(n) for n in (*range(10), *range(11, 32), *range(127, 160))]
TURNS = [chr(n) for n in (0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))]


def run(*arguments: object, code: int = 0) -> str:
    done = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert done.exit_code == code, done.output
    assert done.exception is None or isinstance(done.exception, SystemExit)
    told = done.stdout + done.stderr
    assert told
    assert not [sign for sign in (*ACTS, *TURNS) if sign in told]
    return told


def _spoil(path: Path) -> None:
    """Put the signs into every cell of a table that holds text of the user's own, and into its comment."""
    comment, *rest = path.read_text(encoding="utf-8").split("\n", 1)
    header, *rows = list(csv.reader(rest[0].splitlines()))
    own = [i for i, name in enumerate(header) if name in {"part", "supplier", "material", "kind"} or "note" in name]
    for row in rows:
        for i in own:
            row[i] = row[i] and (row[i] if row[i] == "own" else f"{row[i]}{EVIL}")
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write(f"{comment}{EVIL}\n")
        csv.writer(file).writerows([header, *rows])


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder whose name, catalogue and job hold the signs wherever text may stand, with the record of a build."""
    place = tmp_path_factory.mktemp("hostile") / f"a{EVIL}"
    place.mkdir()
    folder = write_few_parts(place / f"parts{EVIL}", charges=True)
    for path in folder.glob("*.csv"):
        _spoil(path)
    write_job(place / "job.toml", title=f"A night {NAMED}")
    run("build", place / "job.toml", "--catalogue", folder, "--json", place / f"record{EVIL}.json")
    return place


def parts(place: Path) -> Path:
    return place / f"parts{EVIL}"


def test_the_signs_are_in_what_is_read(place: Path) -> None:
    record = json.loads((place / f"record{EVIL}.json").read_text(encoding="utf-8"))
    assert EVIL in record["bill"][0]["part"]
    assert EVIL in record["bill"][0]["supplier"]
    assert "\x1b]0;x" in record["title"]


@pytest.mark.parametrize(
    "command",
    [
        ("check", "{parts}", "{place}/job.toml"),
        ("reprice", "{record}", "--catalogue", "{parts}", "--no-spans"),
        ("measure", "{record}", "--lux", "118 lx at 2.5 m", "--ambient", "20 degC"),
        pytest.param(("sheet", "{record}", "--out", "{place}/sheet{evil}.html"), marks=pytest.mark.long),
        pytest.param(
            ("build", "{place}/job.toml", "--catalogue", "{parts}", "--bill", "{place}/bill.csv"),
            marks=pytest.mark.long,
        ),
        pytest.param(("build", "{place}/job.toml", "--catalogue", "{parts}", "--worst-case"), marks=pytest.mark.long),
        pytest.param(
            ("build", "{place}/job.toml", "--catalogue", "{parts}", "--alternatives", "2"), marks=pytest.mark.long
        ),
        pytest.param(("trade", "{place}/job.toml", "cost", "mass", "--catalogue", "{parts}"), marks=pytest.mark.long),
        pytest.param(("why", "{place}/job.toml", "--catalogue", "{parts}"), marks=pytest.mark.long),
        pytest.param(("reprice", "{record}", "--catalogue", "{parts}"), marks=pytest.mark.long),
        pytest.param(
            ("study", "{place}/job.toml", "--catalogue", "{parts}", "--workers", "1", "--out", "{place}/s{evil}"),
            marks=pytest.mark.long,
        ),
    ],
    ids=lambda command: command[0],
)
def test_what_a_command_prints_holds_none_of_them(place: Path, command: Sequence[str]) -> None:
    names = {"place": place, "parts": parts(place), "record": place / f"record{EVIL}.json", "evil": EVIL}
    told = run(*(word.format(**names) for word in command))
    assert "x" in told


def test_faults_hold_none_of_them(place: Path, tmp_path: Path) -> None:
    folder = write_few_parts(tmp_path / f"bad{EVIL}")
    offers = folder / "offers.csv"
    offers.write_text(offers.read_text(encoding="utf-8") + f"X{EVIL},s{EVIL},1\nY,{EVIL},{EVIL}\n", encoding="utf-8")
    (folder / f"panel{EVIL}.csv").write_text("x", encoding="utf-8")
    told = run("check", folder, code=2)
    assert "\\x1b" in told
    job = tmp_path / f"job{EVIL}.toml"
    job.write_text(f'"key{NAMED}" = "{NAMED}"\n[light]\n"{NAMED}" = 1\nillumin = "5 {NAMED}"\n', encoding="utf-8")
    assert "\\x1b" in run("check", job, code=2)
    for name, text in {"r.json": '{"schema": "\\u001b[2J"}', "m.toml": f'"{NAMED}" = 1'}.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert "\\x1b" in run("sheet", tmp_path / "r.json", code=2)
    assert "\\x1b" in run("measure", place / f"record{EVIL}.json", "--from", tmp_path / "m.toml", code=2)
    bought = tmp_path / f"list{EVIL}.csv"
    bought.write_text(f"a{EVIL}\n", encoding="utf-8")
    (tmp_path / "sound.toml").write_text(MAP, encoding="utf-8")
    for mapping, place_of_fault in (("m.toml", "m.toml, key"), ("sound.toml", "list\\x1b")):
        told = run("prices", bought, "--mapping", tmp_path / mapping, "--out", tmp_path / "o.csv", code=2)
        assert place_of_fault in told


@pytest.mark.skipif(sys.platform != "linux", reason="names of files are text on this system")
def test_a_name_that_is_no_text_can_be_told(tmp_path: Path) -> None:
    # A name of bytes that are no UTF-8 reaches Python as lone surrogates, which no terminal takes.
    job = tmp_path / "job\udcff.toml"
    job.write_text("a = 1\n", encoding="utf-8")
    run("check", job, code=2)
    run("build", job, "--catalogue", tmp_path / "none\udcfe", code=2)
