"""`rushlight sheet`: a page from a record, beside it or where it is asked for; what is no record is told."""

import json
import sys
from pathlib import Path
from types import ModuleType

import pytest
from click.testing import CliRunner, Result
from few_parts import write_few_parts, write_job
from sheets import kit_record

from optimise.cli import main
from optimise.report.record import to_json


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with parts and the record of a build from them."""
    folder = tmp_path_factory.mktemp("shop")
    parts, job = write_few_parts(folder / "parts"), write_job(folder / "job.toml", 60.0)
    done = run("build", job, "--catalogue", parts, "--json", folder / "built.json", "--draws", 0)
    assert done.exit_code == 0
    return folder


def test_the_page_lies_beside_the_record(shop: Path) -> None:
    done = run("sheet", shop / "built.json")
    assert done.exit_code == 0, done.output
    page = (shop / "built.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "A night walk through the orchard" in page
    assert run("sheet", shop / "built.json", "--out", "-").stdout == page
    assert run("sheet", shop / "built.json", "--out", shop / "there.html").exit_code == 0
    assert (shop / "there.html").read_text(encoding="utf-8") == page
    assert not [path for path in shop.iterdir() if path.name.startswith(".")]


def test_a_catalogue_that_has_changed_is_told(shop: Path, tmp_path: Path) -> None:
    same = run("sheet", shop / "built.json", "--out", "-", "--catalogue", shop / "parts")
    assert "still the one that this record was made from" in same.stdout
    other = write_few_parts(tmp_path / "dearer", dearer=10)
    changed = run("sheet", shop / "built.json", "--out", "-", "--catalogue", other)
    assert "The catalogue has changed since this record was made (<bdi>offers.csv</bdi>" in changed.stdout


def test_a_kit_is_one_page_with_a_part_for_each_light(tmp_path: Path) -> None:
    (tmp_path / "kit.json").write_text(to_json(kit_record()), encoding="utf-8")
    page = run("sheet", tmp_path / "kit.json", "--out", "-").stdout
    assert "proven lightest kit" in page
    assert "<bdi>key &lt;b&gt;</bdi>" in page
    assert "<b>" not in page
    assert ", 2 equal ones" in page
    assert page.count("Try out before first use (") == 2
    assert page.count('id="buy"') == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("{", "broken JSON"),
        ('{"schema": "rushlight-reasons/1"}', "rushlight-record/1 or rushlight-kit/1 or rushlight-front/1"),
        ('{"schema": ["x"]}', "rushlight-kit/1"),
        ('{"schema": "rushlight-kit/1"}', "a whole record"),
    ],
)
def test_what_is_no_record_is_told_and_nothing_is_written(tmp_path: Path, content: str, words: str) -> None:
    (tmp_path / "r.json").write_text(content, encoding="utf-8")
    done = run("sheet", tmp_path / "r.json")
    assert done.exit_code == 2
    assert words in " ".join(done.output.split())
    assert [path.name for path in tmp_path.iterdir()] == ["r.json"]


def test_an_impossible_job_has_no_sheet(shop: Path, tmp_path: Path) -> None:
    job = write_job(tmp_path / "job.toml", 60.0)
    job.write_text(job.read_text(encoding="utf-8").replace('budget = "450 EUR"', 'budget = "1 EUR"'), encoding="utf-8")
    assert run("build", job, "--catalogue", shop / "parts", "--json", tmp_path / "none.json").exit_code == 3
    done = run("sheet", tmp_path / "none.json")
    assert done.exit_code == 2
    assert "a record of a job that is impossible" in " ".join(done.output.split())


def test_the_record_is_never_written_over(shop: Path) -> None:
    before = (shop / "built.json").read_bytes()
    done = run("sheet", shop / "built.json", "--out", shop / "built.json")
    assert done.exit_code == 2
    assert "is the record itself" in done.output
    assert (shop / "built.json").read_bytes() == before


@pytest.mark.parametrize(("library", "option", "extra"), [("weasyprint", "pdf", "pdf"), ("ezdxf", "dxf", "drawing")])
def test_without_its_library_a_file_is_refused_before_anything_is_written(
    shop: Path, tmp_path: Path, library: str, option: str, extra: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, library, None)
    wanted = tmp_path / f"s.{option}"
    done = run("sheet", shop / "built.json", "--out", tmp_path / "s.html", f"--{option}", wanted)
    assert done.exit_code == 2
    assert f"pip install 'rushlight[{extra}]'" in " ".join(done.output.split())
    assert not list(tmp_path.iterdir())


def test_a_library_without_its_own_libraries_says_what_is_missing(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "weasyprint.py").write_text("raise OSError('cannot load library libpango')", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    done = run("sheet", shop / "built.json", "--out", "-", "--pdf", tmp_path / "s.pdf")
    assert done.exit_code == 2
    assert "Pango" in done.output
    assert not (tmp_path / "s.pdf").exists()


def test_the_pdf_is_made_of_the_page(shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given: dict[str, object] = {}

    class Html:
        def __init__(self, string: str, url_fetcher: object) -> None:
            given.update(string=string, fetcher=url_fetcher)

        def write_pdf(self, pdf_identifier: bytes) -> bytes:
            return b"%PDF-" + pdf_identifier

    module = ModuleType("weasyprint")
    module.HTML = Html  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "weasyprint", module)
    done = run("sheet", shop / "built.json", "--out", tmp_path / "s.html", "--pdf", tmp_path / "s.pdf")
    assert done.exit_code == 0, done.output
    assert (tmp_path / "s.pdf").read_bytes() == b"%PDF-rushlight"
    assert given["string"] == (tmp_path / "s.html").read_text(encoding="utf-8")
    with pytest.raises(ValueError, match="asks for nothing"):
        given["fetcher"]("https://example.org/x")  # type: ignore[operator]


def test_boards_are_drawn_at_full_size_where_asked(shop: Path, tmp_path: Path) -> None:
    names = ["b.dxf", "b.svg", "b.html"]
    options = [
        word
        for kind, name in zip(("dxf", "svg", "tiles"), names, strict=True)
        for word in (f"--{kind}", tmp_path / name)
    ]
    done = run("sheet", shop / "built.json", "--out", tmp_path / "s.html", *options)
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.dxf", "b.html", "b.svg", "s.html"]
    assert (tmp_path / "b.dxf").read_text(encoding="utf-8").rstrip().endswith("EOF")
    assert "A night walk through the orchard" in (tmp_path / "b.html").read_text(encoding="utf-8")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert run("sheet", shop / "built.json", "--out", tmp_path / "s.html", *options).exit_code == 0
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_kit_has_a_drawing_for_each_light(tmp_path: Path) -> None:
    (tmp_path / "kit.json").write_text(to_json(kit_record()), encoding="utf-8")
    done = run(
        "sheet", tmp_path / "kit.json", "--out", "-", "--svg", tmp_path / "b.svg", "--tiles", tmp_path / "t.html"
    )
    assert done.exit_code == 0, done.output
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["b-1.svg", "b-2.svg", "kit.json", "t-1.html", "t-2.html"]
    assert "<bdi>key &lt;b&gt;</bdi>" in (tmp_path / "t-1.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--svg", "{}/built.json"], "is the record itself"),
        (["--svg", "{}/a.x", "--tiles", "{}/a.x"], "asked for twice"),
        (["--svg", "{}/page.html"], "asked for twice"),
        (["--dxf", "{}/none/a.dxf"], "there is no folder"),
    ],
)
def test_drawings_never_write_over_anything(shop: Path, tmp_path: Path, options: list[str], words: str) -> None:
    (tmp_path / "built.json").write_bytes((shop / "built.json").read_bytes())
    given = [option.replace("{}", str(tmp_path)) for option in options]
    done = run("sheet", tmp_path / "built.json", "--out", tmp_path / "page.html", *given)
    assert done.exit_code == 2
    assert words in " ".join(done.output.split())
    assert [path.name for path in tmp_path.iterdir()] == ["built.json"]


def test_a_board_that_cannot_hold_its_emitters_has_no_drawing(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("optimise.report.lamp.layout_record", lambda build: None)
    text = (shop / "built.json").read_text(encoding="utf-8")
    tree = {**json.loads(text), "layout": None}
    (tmp_path / "r.json").write_text(json.dumps(tree), encoding="utf-8")
    done = run("sheet", tmp_path / "r.json", "--svg", tmp_path / "b.svg")
    assert done.exit_code == 2
    assert "a board that cannot hold its" in " ".join(done.output.split())
    assert [path.name for path in tmp_path.iterdir()] == ["r.json"]
