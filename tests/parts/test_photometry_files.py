"""Photometric files that a catalogue names: read from its folder and from nowhere else. All parts are invented."""

import hashlib
import os
import pickle
from pathlib import Path

import numpy as np
import pytest
from photometric_texts import text_of
from sample_files import TABLES, faults_of, spoilt, write

from optimise.parts import Emitter, read_catalogue
from optimise.parts.beside import ALLOWED
from optimise.parts.convert import convert
from optimise.parts.tolerance import bad_end

SPOT = text_of([0.0, 30.0, 90.0], [0.0], np.array([[100.0, 60.0, 0.0]]))


def naming(name: str) -> dict[str, str]:
    """Return the sound tables with a photometric file of the bar."""
    header, rest = TABLES["emitters"].split(",note\n")
    bar, others = rest.split(",\n", 1)
    return {**TABLES, "emitters": f"{header},photometry,note\n{bar},{name},\n{others.replace(',glass', ',,glass')}"}


def test_a_file_beside_the_tables_is_read_with_its_fingerprint(tmp_path: Path) -> None:
    (tmp_path / "spot.ies").write_text(SPOT)
    catalogue = read_catalogue(write(tmp_path, naming("spot.ies")))
    bar, tube = catalogue.find(Emitter, "BAR"), catalogue.find(Emitter, "TUBE")
    assert bar.photometry == "spot.ies"
    assert bar.photometric is not None
    np.testing.assert_array_equal(bar.photometric.candela, [[100.0, 60.0, 0.0]])
    assert tube.photometric is None
    assert catalogue.fingerprints["spot.ies"] == hashlib.sha256(SPOT.encode()).hexdigest()
    # What becomes of a part on the way to a build keeps its light.
    assert bad_end(catalogue).find(Emitter, "BAR").photometric == bar.photometric
    assert pickle.loads(pickle.dumps(bar)) == bar
    assert hash(pickle.loads(pickle.dumps(bar))) == hash(bar)


def test_a_file_may_lie_in_a_folder_of_the_catalogue_and_serve_many(tmp_path: Path) -> None:
    (tmp_path / "light").mkdir()
    (tmp_path / "light" / "spot.ies").write_text(SPOT)
    tables = naming("light/spot.ies")
    tables["emitters"] = spoilt(tables["emitters"], "1200,42,180,,,", "1200,42,180,,./light/spot.ies,")
    catalogue = read_catalogue(write(tmp_path, tables))
    assert [e.photometric is not None for e in catalogue.emitters] == [True, False, True]
    assert set(catalogue.fingerprints) - {f"{name}.csv" for name in TABLES} == {"light/spot.ies"}


@pytest.mark.parametrize(
    "name",
    [
        *("../spot.ies", "light/../../spot.ies", "/etc/hostname", "..", ".", "light\\spot.ies", "C:spot.ies"),
        "~/../../spot.ies",
    ],
)
def test_a_place_outside_the_folder_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "spot.ies").write_text(SPOT)
    (tmp_path / "parts").mkdir()
    (fault,) = faults_of(write(tmp_path / "parts", naming(name)))
    assert (fault.file, fault.row, fault.column) == ("emitters.csv", 3, "column photometry")
    assert fault.read == f'"{name}", a name that leads out of the folder'
    assert fault.allowed == ALLOWED


def test_a_link_that_leads_out_is_refused_and_one_within_is_not(tmp_path: Path) -> None:
    folder = tmp_path / "parts"
    folder.mkdir()
    (tmp_path / "secret.ies").write_text(SPOT)
    (folder / "spot.ies").symlink_to(tmp_path / "secret.ies")
    (fault,) = faults_of(write(folder, naming("spot.ies")))
    assert fault.read == '"spot.ies", a name that leads out of the folder'
    (folder / "away").symlink_to(tmp_path)
    (fault,) = faults_of(write(folder, naming("away/secret.ies")))
    assert fault.read == '"away/secret.ies", a name that leads out of the folder'
    (folder / "spot.ies").unlink()
    (folder / "real.ies").write_text(SPOT)
    (folder / "spot.ies").symlink_to("real.ies")
    assert faults_of(write(folder, naming("spot.ies"))) == ()
    (folder / "round.ies").symlink_to("round.ies")
    (fault,) = faults_of(write(folder, naming("round.ies")))
    assert fault.column == "column photometry"


def test_what_is_no_file_is_told_and_never_waited_for(tmp_path: Path) -> None:
    (tmp_path / "spots.ies").write_text(SPOT)
    (fault,) = faults_of(write(tmp_path, naming("spot.ies")))
    assert str(fault) == (
        f'emitters.csv line 3, column photometry: read "spot.ies", which is not there; allowed: {ALLOWED}. '
        'Did you mean "spots.ies"?'
    )
    os.mkfifo(tmp_path / "pipe.ies")
    (fault,) = faults_of(write(tmp_path, naming("pipe.ies")))
    assert fault.read == '"pipe.ies", which is no plain file'
    (fault,) = faults_of(write(tmp_path, naming("x" * 201)))
    assert fault.allowed == ALLOWED
    (fault,) = faults_of(write(tmp_path, naming("file:///etc/hostname")))
    assert fault.read == '"file:///etc/hostname", which is not there'


def test_faults_in_the_file_are_told_beside_those_of_the_tables(tmp_path: Path) -> None:
    (tmp_path / "spot.ies").write_text(SPOT.replace("0 100 60", "0 -100 60"))
    tables = naming("spot.ies")
    tables["mounts"] = spoilt(tables["mounts"], "YOKE,6", "YOKE,0")
    assert [str(fault).split(":")[0] for fault in faults_of(write(tmp_path, tables))] == [
        "mounts.csv line 2, column load",
        "spot.ies line 9, intensity",
    ]


def test_files_of_a_workbook_lie_beside_it(tmp_path: Path) -> None:
    (tmp_path / "spot.ies").write_text(SPOT)
    converted = convert(write(tmp_path, naming("spot.ies")))
    assert converted.lost == ("the file spot.ies, which must be copied to lie beside it",)
    assert isinstance(converted.content, bytes)
    (tmp_path / "other").mkdir()
    book = tmp_path / "other" / "book.xlsx"
    book.write_bytes(converted.content)
    (fault,) = faults_of(book)
    assert (fault.file, fault.row) == ("book.xlsx, sheet emitters", 3)
    (tmp_path / "other" / "spot.ies").write_text(SPOT)
    catalogue = read_catalogue(book)
    assert catalogue.find(Emitter, "BAR").photometric is not None
    assert set(catalogue.fingerprints) == {"book.xlsx", "spot.ies"}
