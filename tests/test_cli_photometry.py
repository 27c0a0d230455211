"""A build with a measured table of intensity, as a person meets it: the inputs and notes of its record, and faults."""

import csv
import hashlib
import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result
from few_parts import write_few_parts, write_job

from optimise.cli import main
from optimise.parts import Diffuser, Panel, read_catalogue
from optimise.report.photometry import photometry_notes

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
    assert "goes towards the board" in told[2]


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
    board = Panel(
        part="board", material="aluminium", width=0.5, height=0.4, mass=1.0, emissivity=0.9, faces=2, metal=True
    )
    white = board.model_copy(update={"reflectance": 0.8})
    spread, lost = photometry_notes(emitter, board, cloth)
    assert spread == f"{LED}: behind cloth the light is spread evenly, whatever spot.ies says of its directions."
    assert lost.endswith("of the light of spot.ies goes towards the board; it is counted as lost.")
    scaled, again = photometry_notes(emitter, white, film)
    assert "smeared by the 30° of film in both angles; " in scaled
    assert again.endswith("goes towards the board; 80% of it goes forward again.")
    eggs = film.model_copy(update={"grid": 40.0, "grid_transmittance": 0.9})
    assert "in both angles, cut by its grid of 40°; " in next(photometry_notes(emitter, white, eggs))
    assert list(photometry_notes(emitter, board, None))[1] == lost


def test_a_light_that_is_brighter_aside_says_where_its_luminance_is_taken(tmp_path: Path) -> None:
    folder = with_photometry(tmp_path / "parts", "wing.ies")
    text = SPOT.replace("TILT=INCLUDE\n1\n2\n0 90\n1 0.9", "TILT=NONE").replace("100 60", "100 160")
    (folder / "wing.ies").write_text(text)
    (emitter,) = read_catalogue(folder).emitters
    board = Panel(
        part="board", material="aluminium", width=0.5, height=0.4, mass=1.0, emissivity=0.9, faces=2, metal=True
    )
    told = f"{LED}: brighter aside than straight ahead, where its luminance and blue light are taken."
    assert told in list(photometry_notes(emitter, board, None))
