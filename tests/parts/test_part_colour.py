"""What colour an emitter's light is: stated, worked out, or not known; and files that a catalogue names."""

import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sample_files
from spectra import colour, illuminant, spectrum_of, write_illuminant

from optimise.parts import Emitter, Fault, InputError, read_catalogue
from optimise.parts.colour import (
    FIGURES,
    Colour,
    colour_of,
    colour_of_mixture,
    colour_of_spectrum,
    differences,
    figure_of,
    library_version,
    on_grid,
    spectra_worked_out_by,
    worked_out,
)
from optimise.parts.convert import convert
from optimise.parts.sheets import Sheet, workbook_bytes
from optimise.parts.similarity import reference_of, similarity, spectral_similarity
from optimise.parts.spectrum_files import Spectrum
from optimise.scenario.colour import light_of, refused
from optimise.scenario.model import Look


def emitter(**stated: Any) -> Emitter:
    return Emitter(
        **{
            "part": "E",
            "form": "module",
            "drive": "constant current",
            "flux": 1000.0,
            "current": 0.7,
            "voltage": 24.0,
            "length": 0.28,
            "width": 0.024,
            "mass": 0.03,
            **stated,
        }
    )


STATED = {"cct": 4000.0, "duv": 0.001, "cri": 85.0, "r9": 20.0, "rf": 84.0, "rg": 97.0}


def spectrum(points: list[tuple[float, float]], name: str) -> Spectrum:
    waves, values = zip(*points, strict=True)
    return Spectrum(name, name, waves, values)


def test_without_a_spectrum_all_is_as_stated() -> None:
    assert colour_of(emitter(**STATED)) == Colour(**STATED, measured=False)
    assert colour_of(emitter()) == Colour(*(None,) * 6, measured=False)
    assert similarity(emitter(**STATED), "A") is None
    assert spectra_worked_out_by([emitter()]) is None


def test_with_a_spectrum_nothing_stated_is_mixed_in() -> None:
    shining = emitter(**STATED).shining(spectrum_of("FL2"))
    seen = colour_of(shining)
    assert seen == colour_of_spectrum(spectrum_of("FL2"))
    assert seen.measured
    assert None not in (seen.cct, seen.duv, seen.cri, seen.r9, seen.rf, seen.rg)
    assert similarity(shining, "A") == 48.0
    assert spectra_worked_out_by([emitter(), shining]) == library_version()
    sent = pickle.loads(pickle.dumps(shining.model_copy(update={"flux": 900.0})))
    assert sent.measured is not None
    assert (sent.measured, sent.measured.values) == (spectrum_of("FL2"), spectrum_of("FL2").values)


def test_without_the_library_all_is_as_stated(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("colour", "similarity"):
        monkeypatch.setattr(f"optimise.parts.{module}.library_version", lambda: None)
    shining = emitter(**STATED).shining(spectrum_of("FL2"))
    assert not worked_out(shining)
    assert colour_of(shining) == Colour(**STATED, measured=False)
    assert similarity(shining, "A") is None
    assert differences(shining) == []
    assert spectra_worked_out_by([shining]) is None


def test_no_more_is_worked_out_than_is_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    shining = emitter(**STATED).shining(spectrum_of("FL3"))
    whole = colour_of_spectrum(spectrum_of("FL3"))
    assert {name: figure_of(shining, name) for name in FIGURES} == {name: getattr(whole, name) for name in FIGURES}
    assert {name: figure_of(emitter(**STATED), name) for name in FIGURES} == STATED
    with pytest.raises(KeyError):
        figure_of(shining, "ssi")
    for name in ("_rendering", "_fidelity"):
        monkeypatch.setattr(f"optimise.parts.colour.{name}", None)
    warm = emitter(cct=9000.0).shining(spectrum(illuminant("LED-B1"), "not seen before"))
    assert refused(light_of(warm, Look(cct_min=5000.0, cri_min=90.0, rf_min=90.0)), Look(cct_min=5000.0)) is not None
    with pytest.raises(TypeError):
        figure_of(warm, "cri")


def test_what_is_stated_otherwise_is_told_where_it_matters() -> None:
    near = emitter(cct=4200.0, cri=65.0, r9=-80.0, rf=69.0).shining(spectrum_of("FL2"))  # 4224 K, 64.2, −83.6, 70.1
    assert differences(near) == []
    far = emitter(cct=4400.0, duv=0.006, cri=70.0, rg=86.0).shining(spectrum_of("FL2"))
    assert [(name, stated) for name, stated, _ in differences(far)] == [("cct", 4400.0), ("duv", 0.006), ("cri", 70.0)]
    green = emitter(cct=6000.0).shining(spectrum(GREEN, "green"))
    assert differences(green) == [("cct", 6000.0, None)]


GREEN = [(float(w), 1.0 if 520 <= w <= 530 else 0.0) for w in range(380, 781)]


def test_a_light_far_from_white_has_no_figures() -> None:
    assert colour_of_spectrum(spectrum(GREEN, "green")) == Colour(*(None,) * 6, measured=True)
    red = [(w, 1.0 if 640 <= w <= 650 else 0.0) for w, _ in GREEN]
    assert colour_of_spectrum(spectrum(red, "red")).cct is None


def test_no_figure_depends_on_what_was_worked_out_before() -> None:
    # Some functions of the library re-shape what they are given: an illuminant is then another one afterwards.
    before = [tuple(colour.SDS_ILLUMINANTS[name].wavelengths.tolist()) for name in ("A", "C", "D50", "D65")]
    for name in ("A", "C", "D50", "D65"):
        colour_of_mixture([(spectrum_of(name), 1.0)])
        spectral_similarity.__wrapped__(spectrum_of("FL1"), name)
    assert [tuple(colour.SDS_ILLUMINANTS[n].wavelengths.tolist()) for n in ("A", "C", "D50", "D65")] == before
    again = spectral_similarity.__wrapped__(spectrum_of("C"), "D65", rounded=False)
    assert again == pytest.approx(94.182971057336, abs=1e-9)


def test_a_grid_of_its_own_is_kept_and_any_other_goes_by_whole_nm() -> None:
    five, values = on_grid(*(tuple(v) for v in zip(*illuminant("FL1"), strict=True)))
    assert len(five) == 81
    assert values.tolist() == [v for _, v in illuminant("FL1")]
    uneven = tuple(np.linspace(399.5, 700.5, 100).tolist())
    grid, power = on_grid(uneven, (1.0,) * 100)
    assert (len(grid), grid[0], grid[-1]) == (401, 380.0, 780.0)
    assert (power.sum(), power[19], power[20], power[320], power[321]) == (301.0, 0.0, 1.0, 1.0, 0.0)
    wide, kept = on_grid(tuple(map(float, range(300, 900, 5))), (2.0,) * 120)
    assert (len(wide), kept.min(), kept.max()) == (81, 2.0, 2.0)


def test_references() -> None:
    assert reference_of("D65") == "D65"
    assert reference_of(" tungsten  3200 K") == ("planckian", 3200.0)
    assert reference_of("daylight 3000 K") is None
    with pytest.raises(ValueError, match="no reference"):
        spectral_similarity(spectrum_of("A"), "moonlight")


def test_mixtures_that_cannot_be() -> None:
    for lights in ([], [(spectrum_of("A"), 0.0)], [(spectrum_of("A"), -1.0)], [(spectrum_of("A"), float("nan"))]):
        with pytest.raises(ValueError, match=r"light|flux"):
            colour_of_mixture(lights)
    alone = colour_of_mixture([(spectrum_of("FL7"), 12.0), (spectrum_of("A"), 0.0)])
    assert alone.cct == pytest.approx(colour_of_spectrum(spectrum_of("FL7")).cct, abs=1e-6)


EMITTERS = sample_files.TABLES["emitters"].replace("ip,note", "ip,spectrum,note")


def naming(name: str, second: str = "") -> str:
    """Return the sample's emitters with a file of a spectrum for the module, and for the strip."""
    rows = EMITTERS.splitlines()
    rows[2] = rows[2].replace("IP20,", f"IP20,{name},")
    rows[3] = rows[3].removesuffix(",") + f",{second},"
    rows[4] = rows[4].removesuffix(",glass") + ",,glass"
    return "\n".join(rows) + "\n"


def test_a_catalogue_reads_each_spectrum_once_and_keeps_its_fingerprint(tmp_path: Path) -> None:
    name = write_illuminant(tmp_path, "FL4", ".spdx")
    sample_files.write(tmp_path, {**sample_files.TABLES, "emitters": naming(name, name)})
    catalogue = read_catalogue(tmp_path)
    bar, strip = catalogue.find(Emitter, "BAR"), catalogue.find(Emitter, "STRIP")
    assert bar.measured is strip.measured
    assert bar.measured is not None
    assert catalogue.fingerprints[name] == bar.measured.digest
    assert catalogue.find(Emitter, "TUBE").measured is None
    assert colour_of(bar).cct == pytest.approx(2938, abs=1)


def test_a_spectrum_may_lie_beside_the_tables_or_a_workbook(tmp_path: Path) -> None:
    write_illuminant(tmp_path, "FL4")
    (tmp_path / "spectra" / "FL4.csv").rename(tmp_path / "warm.csv")
    sample_files.write(tmp_path, {**sample_files.TABLES, "emitters": naming("warm.csv")})
    assert read_catalogue(tmp_path).find(Emitter, "BAR").measured is not None
    made = convert(tmp_path)
    assert isinstance(made.content, bytes)
    assert made.lost == ("the file warm.csv, which must be copied to lie beside it",)
    (tmp_path / "all.xlsx").write_bytes(made.content)
    book = read_catalogue(tmp_path / "all.xlsx")
    assert book.find(Emitter, "BAR").measured == read_catalogue(tmp_path).find(Emitter, "BAR").measured
    assert sorted(book.fingerprints) == ["all.xlsx", "warm.csv"]


def test_a_sheet_of_a_spectrum_is_an_unknown_table(tmp_path: Path) -> None:
    rows = {name: [line.split(",") for line in text.splitlines()] for name, text in sample_files.TABLES.items()}
    rows["emitters"] = [line.split(",") for line in naming("warm.csv").splitlines()]
    sheets = [Sheet(name, iter(cells)) for name, cells in rows.items()] + [Sheet("warm", iter([["380", "1"]]))]
    (tmp_path / "all.xlsx").write_bytes(workbook_bytes(sheets))
    with pytest.raises(InputError) as caught:
        read_catalogue(tmp_path / "all.xlsx")
    assert {fault.read for fault in caught.value.faults} >= {"an unknown table", '"warm.csv", which is not there'}


PLACE = "a file in the catalogue's folder or below it, as light/name.csv"


def test_files_that_are_not_there_or_lead_out_are_told_by_the_row(tmp_path: Path) -> None:
    found = sample_files.faults_with(tmp_path, emitters=naming("spectra/none.csv", "../../etc/hosts.csv"))
    assert [(f.file, f.row, f.column, f.read, f.allowed) for f in found] == [
        ("emitters.csv", 3, "column spectrum", '"spectra/none.csv", which is not there', PLACE),
        ("emitters.csv", 4, "column spectrum", '"../../etc/hosts.csv", a name that leads out of the folder', PLACE),
    ]


def test_faults_of_tables_and_of_a_spectrum_are_told_together(tmp_path: Path) -> None:
    (tmp_path / "spectra").mkdir()
    (tmp_path / "spectra" / "a.csv").write_text("380,1\n385,x\n")
    panels = sample_files.TABLES["panels"].replace("0.7", "-1")
    found = sample_files.faults_with(tmp_path, emitters=naming("spectra/a.csv", "spectra/a.csv"), panels=panels)
    assert [(fault.file, fault.row) for fault in found] == [("panels.csv", 2), ("spectra/a.csv", 2)]
    assert found[1] == Fault(
        "spectra/a.csv", 2, "value", '"x"', "a finite number, with or without a unit", "Write a number."
    )
