"""What the record and the terminal say of colour, luminance and blue light."""

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from few_parts import write_few_parts, write_job
from spectra import as_csv, illuminant, spectrum_of, write_illuminant

from optimise.cli import main
from optimise.model.search import Result, best_build
from optimise.parts import Catalogue, Emitter, read_catalogue
from optimise.parts.colour import colour_of_spectrum, library_version
from optimise.report.record import Record, make_record
from optimise.scenario import read_scenario
from optimise.study_cases import read_cases

BAR = "LED-BAR9-5692"


def with_spectrum(folder: Path, name: str, **stated: str) -> Path:
    """Write a few parts into a folder, one of them with a spectrum and other figures stated."""
    write_few_parts(folder)
    path = folder / "emitters.csv"
    comment, header, *lines = path.read_text(encoding="utf-8").splitlines()
    titles = header.split(",")
    rows = [line.split(",") for line in lines if line.startswith(BAR)]
    for title, text in stated.items():
        rows[0][titles.index(title)] = text
    rows[0].append(name)
    text = "\n".join([comment, header + ",spectrum", *(",".join(row) for row in rows)])
    path.write_text(text + "\n", encoding="utf-8")
    offers = (folder / "offers.csv").read_text(encoding="utf-8").splitlines()
    (folder / "offers.csv").write_text("\n".join(o for o in offers if "LED-STAR" not in o) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = with_spectrum(
        tmp_path_factory.mktemp("colour") / "parts",
        "spectra/LED-B5.csv",
        **{"cct [K]": "6100", "cri": "82", "r9": "60"},
    )
    write_illuminant(folder, "LED-B5")
    return folder


LOOK = """[look]
cct_min = "6500 K"
cct_max = "6700 K"
duv_max = "0.002"
ssi_reference = "daylight 6500 K"
diffused = true
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = write_job(tmp_path / "job.toml")
    text = path.read_text(encoding="utf-8")
    end = text.index("\n[", text.index("[look]") + 1)
    path.write_text(text[: text.index("[look]")] + LOOK + text[end:], encoding="utf-8")
    return path


def built(catalogue: Catalogue, job: Path) -> tuple[Result, Record]:
    result = best_build(catalogue, read_scenario(job), "mass")
    return result, make_record(result, "mass", "print")


def told(lines: Sequence[str], start: str) -> list[str]:
    return [line for line in lines if line.startswith(start)]


def test_a_record_tells_what_the_spectrum_says(parts: Path, job: Path) -> None:
    _, record = built(read_catalogue(parts), job)
    seen = colour_of_spectrum(spectrum_of("LED-B5"))
    values = {name: figure.value for name, figure in record.figures.items()}
    assert values["colour_temperature"] == pytest.approx(seen.cct)
    assert values["duv"] == pytest.approx(seen.duv)
    assert values["colour_rendering_ra"] == pytest.approx(seen.cri)
    assert values["fidelity_rf"] == pytest.approx(seen.rf)
    assert values["ssi"] == float(int(values["ssi"] or 0.0))
    luminance = values["luminance"]
    assert luminance is not None
    assert values["blue_light_radiance"] == pytest.approx(luminance * 0.8856e-3, rel=0.01)
    assert {m.name for m in record.margins} >= {"colour temperature, low", "colour temperature, high", "Duv, high"}
    assert record.inputs.colour == library_version()
    assert "spectra/LED-B5.csv" in record.inputs.catalogue
    (source,) = told(record.notes, f"{BAR}: colour figures are worked out")
    assert f"spectra/LED-B5.csv, colour-science {library_version()}" in source
    assert told(record.notes, f"{BAR}: the colour temperature is stated as 6100 K; it is 6598 K by the spectrum.")
    assert told(record.notes, f"{BAR}: R9 is stated as 60; it is 7 by the spectrum.")
    assert not told(record.notes, f"{BAR}: Ra is")  # 82 and 80: no notable difference
    assert told(record.notes, "SSI is taken to daylight 6500 K")
    assert told(record.notes, "Blue light: a screening value by the weighting of IEC 62471:2006")
    assert not told(record.cautions, "Blue light")
    assert not any("not checked: blue light" in note for note in record.notes)


def test_without_the_library_the_record_says_what_was_not_checked(
    tmp_path: Path, parts: Path, job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("optimise.parts.colour.library_version", lambda: None)
    text = job.read_text(encoding="utf-8").replace("6500 K", "6000 K", 1).replace('duv_max = "0.002"', "")
    job.write_text(text, encoding="utf-8")
    _, record = built(read_catalogue(parts), job)
    assert record.figures["colour_temperature"].value == 6100.0
    assert record.figures["duv"].value is None
    assert record.figures["blue_light_radiance"].value is None
    assert record.inputs.colour is None
    assert told(record.notes, f"{BAR}: not worked out: SSI")
    (note,) = told(record.notes, f"{BAR}: colour figures as stated, though there is a spectrum")
    assert "rushlight[spectra]" in note
    assert f"{BAR}: the extra spectra is not installed; not checked: blue light." in record.notes


def test_blue_light_above_what_is_exempt_is_cautioned(parts: Path, job: Path) -> None:
    catalogue = read_catalogue(parts)
    result, record = built(catalogue, job)
    best = result.evaluation
    assert best is not None
    per_candela = (record.figures["blue_light_radiance"].value or 0.0) / (record.figures["luminance"].value or 1.0)
    for radiance, word in [(99.0, ""), (101.0, "as exempt"), (1.01e4, "as risk group 1"), (4.1e6, "as risk group 2")]:
        figures = best.figures | {"luminance": (radiance / per_candela, "cd/m²")}
        brighter = replace(result, evaluation=replace(best, figures=figures))
        cautions = told(make_record(brighter, "mass", "print").cautions, "Blue light")
        assert [word in caution and "not a classification" in caution for caution in cautions] == [True] * bool(word)


@pytest.mark.parametrize(
    ("text", "note"),
    [
        (as_csv((w, 1.0) for w in range(380, 790, 15)), "its spectrum has steps of up to 15 nm"),
        (as_csv(illuminant("FL5")), "Duv is +0.0107, greenish"),
        (as_csv(illuminant("FL2")), "not pinkish or greenish"),
        (as_csv((w, 1.0) for w in range(400, 705, 5)), "its spectrum ends where there is still light"),
        (as_csv((w, 1.0 if 520 <= w <= 530 else 0.0) for w in range(380, 785, 5)), "its light is too far from white"),
    ],
)
def test_what_is_rough_in_a_spectrum_is_told(tmp_path: Path, text: str, note: str) -> None:
    folder = with_spectrum(tmp_path / "parts", "rough.csv")
    (folder / "rough.csv").write_text(text, encoding="utf-8")
    path = write_job(tmp_path / "job.toml")
    scenario = path.read_text(encoding="utf-8")
    end = scenario.index("\n[", scenario.index("[look]") + 1)
    path.write_text(scenario[: scenario.index("[look]")] + "[look]\n" + scenario[end:], encoding="utf-8")
    _, record = built(read_catalogue(folder), path)
    assert bool(told(record.notes, f"{BAR}: {note}")) == (not note.startswith("not "))
    assert bool(told(record.notes, f"{BAR}: Duv is")) == note.startswith("Duv")


def test_a_filter_is_told_and_leaves_one_figure(parts: Path, job: Path) -> None:
    catalogue = read_catalogue(parts)
    gels = tuple(sheet.model_copy(update={"mired_shift": 30.0}) for sheet in catalogue.diffusers)
    text = job.read_text(encoding="utf-8").replace("6500 K", "5000 K", 1).replace("6700 K", "6000 K")
    text = text.replace('duv_max = "0.002"', "")
    job.write_text(text, encoding="utf-8")
    _, record = built(replace(catalogue, diffusers=gels), job)
    cct = colour_of_spectrum(spectrum_of("LED-B5")).cct
    assert cct is not None
    assert record.figures["colour_temperature"].value == pytest.approx(1e6 / (1e6 / cct + 30.0))
    assert record.figures["colour_rendering_ra"].value is None
    assert record.choice is not None
    assert told(record.notes, f"{record.choice.diffuser} shifts the colour temperature by +30 mired")


def test_a_study_solves_anew_where_the_library_changed(parts: Path, job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (case,) = read_cases([job], [parts], ["mass"], None)
    assert case.inputs.colour == library_version()
    monkeypatch.setattr("optimise.parts.colour.library_version", lambda: None)
    (other,) = read_cases([job], [parts], ["mass"], None)
    assert other.inputs != case.inputs


def test_the_command_prints_it_and_tells_a_broken_spectrum(parts: Path, job: Path, tmp_path: Path) -> None:
    arguments = ["build", str(job), "--catalogue", str(parts), "--objective", "mass", "--draws", "0"]
    result = CliRunner().invoke(main, [*arguments, "--json", str(tmp_path / "record.json")])
    assert result.exit_code == 0, result.output
    for line in ("colour temperature", "gamut Rg", "blue light, weighted radiance", "luminance of the lit face", "SSI"):
        assert line in result.output
    record = json.loads((tmp_path / "record.json").read_text(encoding="utf-8"))
    assert record["figures"]["ssi"]["value"] > 50
    broken = with_spectrum(tmp_path / "broken", "spectra/a.spdx")
    (broken / "spectra").mkdir()
    (broken / "spectra" / "a.spdx").write_text('<!DOCTYPE a [<!ENTITY b "c">]>\n<a>&b;</a>', encoding="utf-8")
    refused = CliRunner().invoke(main, ["check", str(broken)])
    assert refused.exit_code == 2
    assert "spectra/a.spdx line 1" in refused.output
    assert "a document type (DOCTYPE)" in refused.output
    assert catalogue_is_small(parts)


def catalogue_is_small(folder: Path) -> bool:
    return len(read_catalogue(folder).emitters) == 1 and read_catalogue(folder).find(Emitter, BAR).measured is not None
