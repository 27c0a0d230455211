"""A small workshop of files, and every command that writes: what the tests of faults share."""

import json
import os
import sys
import traceback
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from optimise.cli import main
from optimise.report.record import to_json
from tests.few_parts import write_few_parts, write_job
from tests.price_lists import MAP
from tests.report.sheets import record_of

POSIX = pytest.mark.skipif(os.name != "posix", reason="needs POSIX")


@dataclass(frozen=True)
class Work:
    """A command line that writes: {W} stands for the workshop, {O} for the folder of what is written."""

    line: tuple[str, ...]
    writes: tuple[str, ...]
    solves: bool = False
    keeps: bool = False
    """Whether it refuses what is there already; else it writes a file anew."""


_JOB = ("{W}/jobs/job60.toml", "--catalogue", "{W}/shop")

WORKS = {
    "build": Work(("build", *_JOB, "--json", "{O}/r.json"), ("r.json",), solves=True),
    "build --bill": Work(("build", *_JOB, "--bill", "{O}/b.csv"), ("b.csv",), solves=True),
    "build --bill xlsx": Work(("build", *_JOB, "--bill", "{O}/b.xlsx"), ("b.xlsx",), solves=True),
    "build --bill-each": Work(("build", *_JOB, "--bill-each", "{O}/each"), ("each",), solves=True, keeps=True),
    "trade": Work(("trade", *_JOB, "cost", "mass", "--json", "{O}/f.json"), ("f.json",), solves=True),
    "trade --csv": Work(("trade", *_JOB, "cost", "mass", "--csv", "{O}/f.csv"), ("f.csv",), solves=True),
    "trade --page": Work(("trade", *_JOB, "cost", "mass", "--page", "{O}/f.html"), ("f.html",), solves=True),
    "why": Work(("why", *_JOB, "--json", "{O}/w.json"), ("w.json",), solves=True),
    "reprice": Work(
        ("reprice", "{W}/built.json", "--no-spans", "--catalogue", "{W}/shop", "--json", "{O}/p.json"),
        ("p.json",),
        solves=True,
    ),
    "sheet": Work(("sheet", "{W}/built.json", "--out", "{O}/s.html"), ("s.html",)),
    "sheet --dxf": Work(
        ("sheet", "{W}/built.json", "--out", "{O}/s.html", "--dxf", "{O}/s.dxf", "--svg", "{O}/s.svg"),
        ("s.html", "s.dxf", "s.svg"),
    ),
    "measure": Work(("measure", "{W}/built.json", "--lux", "110 lx at 2.5 m", "--json", "{O}/m.json"), ("m.json",)),
    "measure --form": Work(("measure", "{W}/built.json", "--form", "{O}/m.toml"), ("m.toml",), keeps=True),
    "measure --calibration": Work(
        ("measure", "{W}/built.json", "--lux", "110 lx at 2.5 m", "--calibration", "{O}/c.toml"), ("c.toml",)
    ),
    "prices": Work(
        ("prices", "{W}/list.csv", "--mapping", "{W}/map.toml", "--out", "{O}/o.csv"), ("o.csv",), keeps=True
    ),
    "check --convert to a workbook": Work(
        ("check", "{W}/shop", "--convert", "{O}/shop.xlsx"), ("shop.xlsx",), keeps=True
    ),
    "check --convert to a folder": Work(("check", "{W}/shop.xlsx", "--convert", "{O}/shop"), ("shop",), keeps=True),
    "start": Work(("start", "{O}/new"), ("new",), keeps=True),
    "start --template": Work(("start", "{O}/new", "--template"), ("new",), keeps=True),
    "start with a job": Work(
        (
            *("start", "{O}/new", "--bright", "120 lx", "--distance", "2.5 m"),
            *("--source", "mains", "--mains-voltage", "230 V"),
        ),
        ("new",),
        keeps=True,
    ),
    "study": Work(
        ("study", "{W}/jobs", "--catalogue", "{W}/shop", "--out", "{O}/out", "--workers", "1"), ("out",), solves=True
    ),
}


def make_workshop(folder: Path) -> Path:
    """Write all that the commands read."""
    write_few_parts(folder / "shop")
    for lux in (60, 120):
        write_job(folder / "jobs" / f"job{lux}.toml", lux)
    (folder / "built.json").write_text(to_json(record_of("battery")), encoding="utf-8")
    (folder / "map.toml").write_text(MAP, encoding="utf-8")
    (folder / "list.csv").write_text("each,code\n1.50,A1\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["check", str(folder / "shop"), "--convert", str(folder / "shop.xlsx")])
    assert done.exit_code == 0, done.output
    # As any user may read it, where a test gives up the rights of root.
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)
    return folder


def filled(line: Iterable[str], workshop: Path, out: Path) -> list[str]:
    return [word.replace("{W}", str(workshop)).replace("{O}", str(out)) for word in line]


def line_of(work: Work, workshop: Path, out: Path) -> list[str]:
    return filled(work.line, workshop, out)


def invoke(work: Work, workshop: Path, out: Path) -> Result:
    return CliRunner().invoke(main, line_of(work, workshop, out))


def files_of(folder: Path) -> dict[str, bytes]:
    """Return what files lie in a folder and below, but for what begins with a dot or lies below such."""
    found = {}
    for path in sorted(folder.rglob("*")):
        parts = path.relative_to(folder).parts
        if path.is_file() and not any(part.startswith(".") for part in parts):
            found["/".join(parts)] = path.read_bytes()
    return found


def everything_in(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def half_in(folder: Path) -> set[str]:
    """Return what is below a folder behind a dot: not yet, or never to be, under its final name."""
    return {path for path in everything_in(folder) if "/." in f"/{path}"}


def in_a_fork(does: Callable[[], object]) -> int:
    """Do something in a process forked from this one, all of whose modules are loaded, and return how it ended."""
    with warnings.catch_warnings():
        # Newer Pythons warn of threads: those of the test's own runner, which the other process has no use for.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if not child:
        code = 1
        try:
            does()
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@contextmanager
def silent() -> Iterator[None]:
    """Have what is printed go nowhere; for a forked process, which has no one to tell."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    yield


def whole_of(name: str, written: dict[str, bytes]) -> dict[str, object]:
    """Return what two runs write alike: without the seconds that a search took."""
    found: dict[str, object] = {}
    for path, content in written.items():
        if path.endswith(".json"):
            record = json.loads(content)
            record.get("proof", {}).pop("seconds", None)
            record.pop("seconds", None)
            for point in record.get("points", []):
                point["record"]["proof"].pop("seconds", None)
            for key in ("now", "earlier"):
                if isinstance(record.get(key), dict):
                    record[key].get("proof", {}).pop("seconds", None)
            found[path] = record
        elif path.endswith(".html") and name.startswith("trade"):
            found[path] = content.rstrip()[-7:]
        else:
            found[path] = content
    return found
