"""An optional library that is missing, or does not load: what to install, the code for bad input, nothing written."""

import sys
from importlib.abc import MetaPathFinder
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from optimise.cli import main
from tests.faults.world import WORKS, everything_in, files_of, filled, invoke

ROOT = Path(__file__).parents[2]


class Refuses(MetaPathFinder):
    """Finds one library, and has it fail as it is loaded."""

    def __init__(self, name: str, error: Exception) -> None:
        self.name, self.error = name, error

    def find_spec(self, name: str, *_: Any) -> None:
        if name.split(".")[0] == self.name:
            raise self.error


def without(name: str, error: Exception, monkeypatch: pytest.MonkeyPatch) -> None:
    for module in [module for module in sys.modules if module.split(".")[0] == name]:
        monkeypatch.delitem(sys.modules, module)
    monkeypatch.setattr(sys, "meta_path", [Refuses(name, error), *sys.meta_path])


NEEDS = {
    "distributed": ("cluster", (*WORKS["study"].line[:-2], "--dask", "tcp://a:1")),
    "ezdxf": ("drawing", WORKS["sheet --dxf"].line),
    "openpyxl": ("workbook", WORKS["build --bill xlsx"].line),
    "openpyxl to write": ("workbook", WORKS["check --convert to a workbook"].line),
    "openpyxl to read": ("workbook", WORKS["check --convert to a folder"].line),
    "weasyprint": ("pdf", ("sheet", "{W}/built.json", "--out", "{O}/s.html", "--pdf", "{O}/s.pdf")),
}


@pytest.mark.parametrize("kind", [ModuleNotFoundError, ImportError])
@pytest.mark.parametrize("name", NEEDS)
def test_a_library_that_is_missing_is_named_with_how_to_install_it(
    name: str, kind: type[Exception], workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    extra, line = NEEDS[name]
    monkeypatch.delitem(sys.modules, "optimise.studies.cluster", raising=False)
    without(name.split()[0], kind(f"no {name}"), monkeypatch)
    done = CliRunner().invoke(main, filled(line, workshop, tmp_path))
    assert done.exit_code == 2, done.output
    assert f"pip install 'rushlight[{extra}]'" in " ".join(done.output.split())
    assert "Traceback" not in done.output
    assert not everything_in(tmp_path)


def test_a_study_without_parquet_has_its_table_all_the_same(
    workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    without("pyarrow", ModuleNotFoundError("no pyarrow"), monkeypatch)
    done = invoke(WORKS["study"], workshop, tmp_path)
    assert done.exit_code == 0, done.output
    assert {name for name in files_of(tmp_path / "out") if "/" not in name} == {"results.csv"}


def test_every_extra_of_what_runs_is_looked_at() -> None:
    import tomllib

    extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    # Of colour: tests/report/test_report_colour.py, for only a record of an emitter with a spectrum needs it.
    looked_at = {extra for extra, _ in NEEDS.values()} | {"parquet", "spectra"}
    assert set(extras) - {"test", "browser", "benchmark", "mutation", "dev"} == looked_at


def test_the_lines_are_of_commands_that_need_them(workshop: Path, tmp_path: Path) -> None:
    """With its library a command writes: what is refused above is for want of it."""
    done = invoke(WORKS["check --convert to a workbook"], workshop, tmp_path)
    assert done.exit_code == 0, done.output
    assert everything_in(tmp_path) == {"shop.xlsx"}
