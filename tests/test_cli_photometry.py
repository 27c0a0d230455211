"""A build with a measured table of intensity, as a person meets it: the inputs and notes of its record, and faults."""

import csv
import hashlib
import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result
from few_parts import write_few_parts, write_job

from optimise.cli import main
from optimise.parts import Diffuser, read_catalogue
from optimise.report.words import photometry_notes

LED = "LED-BAR9-5692"
# Invented: a lobe that is wider across the piece than along it, with a little light backwards.
SPOT = """IESNA:LM-63-2002
[TEST] invented
TILT=INCLUDE
1
2
0 90
1 0.9
1 -1 1 5 2 1 2 0 0 0
1 1 10
0 30 60 90 180
0 90
100 60 10 2 2
100 90 50 2 2
"""


def build(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["build", *arguments])


def with_photometry(folder: Path, name: str) -> Path:
    """Write the few parts, one of them with a photometric file, and leave out the other emitter."""
    path = write_few_parts(folder) / "emitters.csv"
    comment, *lines = path.read_text(encoding="utf-8").splitlines()
    rows = list(csv.reader(lines))
    place = rows[0].index("part")
    kept = [[*rows[0], "photometry"], *([*row, name] for row in rows[1:] if row[place] == LED)]
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write(comment + "\n")
        csv.writer(file).writerows(kept)
    offers = folder / "offers.csv"
    comment, header, *rest = offers.read_text(encoding="utf-8").splitlines()
    offers.write_text("\n".join([comment, header, *(r for r in rest if "LED-STAR6" not in r)]) + "\n", encoding="utf-8")
    return folder


def record_of(result: Result) -> dict[str, Any]:
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_the_file_is_among_the_inputs_and_what_was_made_of_it_in_the_notes(tmp_path: Path) -> None:
    folder = with_photometry(tmp_path / "parts", "spot.ies")
    (folder / "spot.ies").write_text(SPOT)
    job = str(write_job(tmp_path / "job.toml", 40.0))
    record = record_of(build(job, "--catalogue", str(folder), "--json", "-", "--draws", "0"))
    assert record["choice"]["emitter"] == LED
    assert record["inputs"]["catalogue"]["spot.ies"] == hashlib.sha256(SPOT.encode()).hexdigest()
    told = [note for note in record["notes"] if note.startswith(f"{LED}: ") and "spot.ies" in note]
    assert len(told) == 3
    assert "the intensity is that of spot.ies (type C), scaled from the " in told[0]
    assert told[1] == f"{LED}: the table of output over tilt in spot.ies is not used."
    assert "leaves backwards" in told[2]


def test_a_fault_in_the_file_ends_with_bad_input(tmp_path: Path) -> None:
    folder = with_photometry(tmp_path / "parts", "spot.ies")
    (folder / "spot.ies").write_text(SPOT.replace("100 60", "100 sixty"))
    result = build(str(write_job(tmp_path / "job.toml")), "--catalogue", str(folder))
    assert result.exit_code == 2
    assert "spot.ies line 12, intensity" in " ".join(result.stderr.split())
    assert result.stdout == ""


def test_notes_say_what_a_sheet_makes_of_the_file(tmp_path: Path) -> None:
    folder = with_photometry(tmp_path / "parts", "spot.ies")
    (folder / "spot.ies").write_text(SPOT.replace("TILT=INCLUDE\n1\n2\n0 90\n1 0.9", "TILT=NONE"))
    (emitter,) = read_catalogue(folder).emitters
    cloth = Diffuser(part="cloth", transmittance=0.5, width=1.0, height=1.0, mass_per_area=0.1)
    film = cloth.model_copy(update={"part": "film", "spread": 30.0})
    assert list(photometry_notes(emitter, cloth)) == [
        f"{LED}: behind cloth the light is spread evenly, whatever spot.ies says."
    ]
    scaled, backwards = photometry_notes(emitter, film)
    assert "smeared by the 30° of film in both angles" in scaled
    assert backwards.endswith("it is counted as if thrown forward.")
    assert list(photometry_notes(emitter, None))[1].endswith("it does not reach the subject.")
