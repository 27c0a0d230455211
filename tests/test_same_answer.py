"""The same parts and job written otherwise are the same answer, byte for byte: other units, rows and columns, keys.

And figures that are allowed but absurd lead to a told fault or a sound answer, never to a number that is none.
"""

import csv
import json
import warnings
from collections.abc import Callable
from decimal import Decimal
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner, Result
from few_parts import ROOT, write_few_parts, write_job

from optimise.cli import main

Table = tuple[str, list[list[str]]]
"""The comment over a table, and its rows: names, then parts."""

OBJECTIVES = ("cost", "mass", "power")

UNITS: dict[str, tuple[str, Decimal]] = {
    "mm": ("m", Decimal("0.001")),
    "cm": ("mm", Decimal(10)),
    "m": ("cm", Decimal(100)),
    "g": ("kg", Decimal("0.001")),
    "kg": ("g", Decimal(1000)),
    "g/m": ("kg/m", Decimal("0.001")),
    "g/m^2": ("kg/m^2", Decimal("0.001")),
    "A": ("mA", Decimal(1000)),
    "V": ("mV", Decimal(1000)),
    "mV/K": ("V/K", Decimal("0.001")),
    "W": ("mW", Decimal(1000)),
    "W/cm^2": ("W/m^2", Decimal(10000)),
    "lm": ("klm", Decimal("0.001")),
    "h": ("min", Decimal(60)),
    "day": ("h", Decimal(24)),
    "Ah": ("mAh", Decimal(1000)),
    "mm^2": ("cm^2", Decimal("0.01")),
    "ohm": ("mohm", Decimal(1000)),
    "%": ("", Decimal("0.01")),
    "%/K": ("1/K", Decimal("0.01")),
    "Hz": ("kHz", Decimal("0.001")),
    "kHz": ("Hz", Decimal(1000)),
}
"""What figures in a unit are in another one, exactly."""

KEYS = {
    '"120 lx"': '"0.12 klx"',
    '"2.5 m"': '"250 cm"',
    '"30 cm"': '"300 mm"',
    '"60 min"': '"1 h"',
    '"2 m"': '"2000 mm"',
    '"5 degC"': '"41 degF"',
}


def tables(folder: Path) -> dict[Path, Table]:
    found = {}
    for path in sorted(folder.glob("*.csv")):
        comment, *rows = path.read_text(encoding="utf-8").splitlines()
        found[path] = comment, list(csv.reader(rows))
    return found


def write(path: Path, table: Table) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write(f"{table[0]}\n")
        csv.writer(file).writerows(table[1])


def build(folder: Path, objective: str) -> Result:
    job, parts = str(folder / "job.toml"), str(folder / "parts")
    return CliRunner().invoke(main, ["build", job, "--catalogue", parts, "--objective", objective, "--json", "-"])


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], str]:
    """Return the record of the files as they are, worked out once for each objective."""
    folder = tmp_path_factory.mktemp("plain")
    write_few_parts(folder / "parts", charges=True)
    write_job(folder / "job.toml")
    return cache(lambda objective: record(folder, objective))


def record(folder: Path, objective: str) -> str:
    """Return the record of the best build of a folder's parts and job, but for fingerprints of files and seconds."""
    result = build(folder, objective)
    assert result.exit_code == 0, result.output
    told: dict[str, Any] = json.loads(result.stdout)
    assert told.pop("inputs")
    assert told["proof"].pop("seconds") >= 0.0
    return json.dumps(told)


def in_other_units(folder: Path) -> None:
    changed = set()
    for path, (comment, rows) in tables(folder / "parts").items():
        for place, title in enumerate(rows[0]):
            name, _, unit = title.rstrip("]").partition(" [")
            if unit not in UNITS:
                continue
            other, factor = UNITS[unit]
            changed.add(unit)
            rows[0][place] = f"{name} [{other}]" if other else name
            for row in rows[1:]:
                if row[place].strip() and not any(sign.isalpha() or sign == "%" for sign in row[place]):
                    row[place] = f"{(Decimal(row[place]) * factor).normalize():f}"
        write(path, (comment, rows))
    assert len(changed) >= 15, sorted(changed)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    for one, other in KEYS.items():
        assert one in text, one
        text = text.replace(one, other)
    (folder / "job.toml").write_text(text, encoding="utf-8")


def shuffled(folder: Path) -> None:
    rng = Random(8)
    for path, (comment, rows) in tables(folder / "parts").items():
        order = rng.sample(range(len(rows[0])), len(rows[0]))
        parts = rng.sample(rows[1:], len(rows) - 1)
        write(path, (comment, [[row[place] for place in order] for row in [rows[0], *parts]]))
    # Sections and their keys from the last to the first; what stands before them stays there.
    head, *sections = (folder / "job.toml").read_text(encoding="utf-8").split("\n[")
    lines = [section.rstrip("\n").split("\n") for section in reversed(sections)]
    turned = ["\n".join([name, *(line for line in reversed(keys) if line)]) for name, *keys in lines]
    (folder / "job.toml").write_text("\n[".join([head, *turned]) + "\n", encoding="utf-8")


CHANGES: dict[str, Callable[[Path], None]] = {"units": in_other_units, "order": shuffled}


@pytest.mark.parametrize(
    ("change", "objective"),
    [
        pytest.param(change, objective, marks=[] if objective == "cost" else [pytest.mark.long])
        for change in CHANGES
        for objective in OBJECTIVES
    ],
)
def test_the_same_written_otherwise_is_the_same_answer(
    change: str, objective: str, tmp_path: Path, known: Callable[[str], str]
) -> None:
    write_few_parts(tmp_path / "parts", charges=True)
    write_job(tmp_path / "job.toml")
    old = {path: path.read_bytes() for path in tmp_path.rglob("*.*")}
    CHANGES[change](tmp_path)
    assert all(path.read_bytes() != text for path, text in old.items() if path.stem not in {"suppliers", "mounts"})
    assert record(tmp_path, objective) == known(objective)


# Absurd figures ---------------------------------------------------------------------------------------------

EXTREMES = ("1e-300", "1e300", "1e-12", "1e12", "1e-6", "1e6", "0")


def figures() -> list[tuple[str, str]]:
    """Return (table, title) of every column of numbers of the demonstration."""
    found = []
    for path, (_, rows) in tables(ROOT / "catalogue").items():
        for place, title in enumerate(rows[0]):
            cells = [row[place].strip() for row in rows[1:] if row[place].strip()]
            if cells and all(cell.lstrip("-").replace(".", "", 1).isdigit() for cell in cells):
                found.append((path.name, title))
    return found


def refused(name: str) -> None:
    raise AssertionError(f"a record holds {name}")


def check_extreme(folder: Path, table: str, title: str, extreme: str, objective: str) -> int:
    """Assert that a build with one absurd figure in all rows, and in one row alone, is answered or refused."""
    path = folder / "parts" / table
    before = path.read_bytes()
    comment, rows = tables(folder / "parts")[path]
    place = rows[0].index(title)
    code = 0
    for changed in (rows[1:], rows[1:2]):
        old = [row[place] for row in changed]
        for row in changed:
            row[place] = ("-" if row[place].startswith("-") else "") + extreme
        write(path, (comment, rows))
        for row, cell in zip(changed, old, strict=True):
            row[place] = cell
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            result = build(folder, objective)
        assert result.exception is None or isinstance(result.exception, SystemExit), (title, extreme, result.exception)
        assert result.exit_code in {0, 2, 3, 4}, (title, extreme, result.output)
        assert "nan" not in result.stderr.lower().split()
        if result.exit_code != 2:
            json.loads(result.stdout, parse_constant=refused)
        code = result.exit_code
    path.write_bytes(before)
    return code


@pytest.mark.parametrize(
    ("table", "title", "extreme"),
    [("emitters.csv", "flux [lm]", "1e300"), ("drivers.csv", "power_max [W]", "1e-300")],
)
def test_an_absurd_figure_is_told(table: str, title: str, extreme: str, tmp_path: Path) -> None:
    write_few_parts(tmp_path / "parts")
    write_job(tmp_path / "job.toml")
    assert check_extreme(tmp_path, table, title, extreme, "cost") == 2


@pytest.mark.long
@pytest.mark.parametrize(("table", "title"), figures())
def test_absurd_figures_are_told_or_answered(table: str, title: str, tmp_path: Path) -> None:
    write_few_parts(tmp_path / "parts", charges=True)
    write_job(tmp_path / "job.toml")
    for place, extreme in enumerate(EXTREMES):
        check_extreme(tmp_path, table, title, extreme, OBJECTIVES[place % 3])
