"""Two whites at the command line: what is refused, what is printed, and what other commands make of it."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from few_parts import PARTS, write_few_parts, write_job

from optimise.cli import main
from optimise.report.record import Record

KINDS = {"LED-BAR9-3092", "LED-BAR9-5692"}
LOOK = '[look]\ncct_min = "4000 K"\ncct_max = "4500 K"\ndiffused = true\n'


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_few_parts(tmp_path_factory.mktemp("mixed") / "parts", parts=(PARTS - {"LED-STAR6-5590-60"}) | KINDS)


def job(folder: Path, look: str = LOOK, more: str = "") -> Path:
    path = write_job(folder / "job.toml")
    head, rest = path.read_text(encoding="utf-8").split("[look]")
    rest = rest[rest.index("[power]") :].replace('objective = "mass"', 'objective = "cost"\nemitter_kinds = 2')
    path.write_text(f"{head}{look}\n{rest}{more}", encoding="utf-8")
    assert "emitter_kinds" in rest
    return path


def run(*words: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, [str(word) for word in words])
    return result.exit_code, result.output


@pytest.fixture(scope="module")
def answer(parts: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    folder = tmp_path_factory.mktemp("answer")
    code, output = run("build", job(folder), "--catalogue", parts, "--json", folder / "record.json")
    assert code == 0, output
    return output, folder / "record.json"


def test_a_mixture_is_told(answer: tuple[str, Path]) -> None:
    output, path = answer
    record = Record.model_validate_json(path.read_text(encoding="utf-8"))
    assert record.choice is not None
    assert set(record.choice.kinds) == KINDS
    assert record.choice.lit_by in output
    assert record.figures["colour_temperature"].value == pytest.approx(4250.0, abs=250.0)
    assert {run.emitter for run in record.layout.runs} == KINDS  # type: ignore[union-attr]
    assert "Two whites are mixed" in output.replace("\n", " ")
    assert record.tolerances is None
    assert any("tolerances of both fluxes" in note for note in record.notes)


def test_earlier_records_of_a_mixture_are_repriced(answer: tuple[str, Path], parts: Path) -> None:
    _, path = answer
    code, output = run("reprice", path, "--catalogue", parts, "--no-spans", "--json", "-")
    assert code == 0, output
    told = json.loads(output)
    assert told["earlier"]["gone"] == []
    assert told["same"] is True
    assert told["differences"] == []


def test_a_mixture_on_the_sheet(answer: tuple[str, Path], tmp_path: Path) -> None:
    _, path = answer
    code, output = run("sheet", path, "--out", tmp_path / "sheet.html")
    assert code == 0, output
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    record = Record.model_validate_json(path.read_text(encoding="utf-8"))
    assert record.mixture is not None
    for kind in record.mixture:
        assert f"{kind.pieces} emitters" in page
        assert f"S1 {kind.emitter}" in page


def test_the_next_best_leaves_out_either_kind(parts: Path, tmp_path: Path) -> None:
    code, output = run("build", job(tmp_path), "--catalogue", parts, "--different", "emitter")
    assert code == 0, output
    assert "other emitter: there is none" in output


def test_what_is_refused(parts: Path, tmp_path: Path) -> None:
    code, output = run("build", job(tmp_path), "--catalogue", parts, "--worst-case")
    assert code == 2
    assert "no one bad end" in output
    code, output = run("check", parts, job(tmp_path, "[look]\ndiffused = true\n"))
    assert code == 2
    assert "emitter_kinds" in output
    assert "window" in output
    kit = '\n[[kit]]\nname = "key"\n[[kit]]\nname = "fill"\n'
    code, output = run("check", parts, job(tmp_path, more=kit))
    assert code == 2
    assert "key search.emitter_kinds" in output
    assert output.count("read:") == 1
