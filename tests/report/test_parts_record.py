"""Parts in a record: enough to work out again what the record says of its build."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from few_parts import write_few_parts, write_job
from plain_parts import EMITTER, SCENARIO, catalogue, choice

from optimise.cli import main
from optimise.model.exact import evaluate
from optimise.parts import Emitter
from optimise.parts.photometry import Photometry
from optimise.parts.tolerance import bad_end
from optimise.report.parts_record import PartRecord, UnknownPartError, catalogue_of, parts_record
from optimise.report.record import Record
from optimise.report.record_parts import choice_of
from optimise.scenario import read_text_of_scenario


@pytest.mark.parametrize("worst", [False, True])
def test_figures_of_a_record_follow_from_it_alone(tmp_path: Path, worst: bool) -> None:
    parts, job = write_few_parts(tmp_path / "parts"), write_job(tmp_path / "job.toml", 60.0)
    command = ["build", job, "--catalogue", parts, "--json", "-", "--draws", 0, *(["--worst-case"] if worst else [])]
    record = Record.model_validate_json(CliRunner().invoke(main, [str(word) for word in command]).stdout)
    assert record.choice is not None
    assert record.parts is not None
    assert sorted(part.kind for part in record.parts) == sorted(
        ["emitters", "drivers", "panels", "diffusers", "batteries", "cables", "fuses", "connectors", "mounts"]
    )
    alone = catalogue_of(record.parts, record.currency)
    scenario = read_text_of_scenario(record.inputs.job, "job.toml")
    again = evaluate(choice_of(record.choice), bad_end(alone) if worst else alone, scenario)
    for name, (value, unit) in again.figures.items():
        if name != "cost":
            assert record.figures[name].unit == unit
            known = value if value is None else pytest.approx(value, rel=1e-10)
            assert record.figures[name].value == known, name


def test_a_table_of_intensity_goes_with_its_part() -> None:
    table = Photometry("C", np.array([0.0, 45.0, 90.0]), np.array([0.0]), np.array([[100.0, 30.0, 0.0]]), name="a.ies")
    before = catalogue(EMITTER.beaming(table))
    mine = choice("p", None)
    written = json.dumps([part.model_dump(mode="json") for part in parts_record(mine, before)])
    after = catalogue_of([PartRecord.model_validate(part) for part in json.loads(written)], "EUR")
    assert after.find(Emitter, "e").photometric == table
    assert evaluate(mine, after, SCENARIO).lux == evaluate(mine, before, SCENARIO).lux
    assert evaluate(mine, after, SCENARIO).lux != evaluate(mine, catalogue(EMITTER), SCENARIO).lux


BATTERY = {
    "part": "CELL",
    "chemistry": "lead-acid",
    "voltage": 12.0,
    "voltage_min": 10.5,
    "voltage_max": 14.4,
    "capacity": 25200.0,
    "current_max": 14.0,
    "mass": 2.4,
}


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (PartRecord(kind="lenses", columns={"part": "x"}), "lenses"),
        (PartRecord(kind="fuses", columns={"part": "x", "rating": -1.0}), "rating"),
        *(
            (PartRecord(kind="batteries", columns=BATTERY, rated_capacity=rated), "rated_capacity: .* which no battery")
            for rated in (0.0, -25200.0, 5e-324, 1e300)
        ),
    ],
)
def test_what_is_no_part_is_told(part: PartRecord, words: str) -> None:
    with pytest.raises(UnknownPartError, match=words):
        catalogue_of([part], "EUR")
