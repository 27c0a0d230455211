"""Tolerances: cells right and wrong, and a catalogue at either end of them. All parts are invented."""

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from sample_files import TABLES, faults_with, spoilt, write

from optimise.parts import Battery, Cable, Catalogue, Diffuser, Emitter, Fault, Panel, Part, read_catalogue
from optimise.parts.kinds import PART_KINDS
from optimise.parts.tolerance import bad_end, delivered, good_end, tolerances_of

End = Callable[[Catalogue], Catalogue]

GIVEN = {
    "emitters": ("flux_tolerance,voltage_tolerance,mass_tolerance [%]", ["0.07,3 %,5", "0.1,,", ",,0"]),
    "drivers": ("mass_tolerance", ["0.02", "", "", ""]),
    "panels": ("mass_tolerance", ["0.04"]),
    "diffusers": ("mass_tolerance", ["0.1", ""]),
    "batteries": ("capacity_tolerance,mass_tolerance", ["0.05,0.01"]),
    "cables": ("mass_tolerance", ["", "0.2"]),
    "fuses": ("mass_tolerance", ["0.3"]),
    "connectors": ("mass_tolerance", ["0.15"]),
    "mounts": ("mass_tolerance", ["99 %"]),
}
"""More columns for the sample catalogue, a cell or several for each of its rows."""


def widened(name: str, header: str, cells: list[str]) -> str:
    first, *rows = [line for line in TABLES[name].splitlines() if not line.startswith("#")]
    assert len(cells) == len(rows)
    return "\n".join([f"{first},{header}", *(f"{row},{more}" for row, more in zip(rows, cells, strict=True))]) + "\n"


def given() -> dict[str, str]:
    return {**TABLES, **{name: widened(name, *columns) for name, columns in GIVEN.items()}}


@pytest.fixture
def catalogue(tmp_path: Path) -> Catalogue:
    return read_catalogue(write(tmp_path, given()))


def test_every_kind_that_has_a_mass_may_state_its_tolerance() -> None:
    assert set(GIVEN) == set(PART_KINDS)
    for kind in PART_KINDS.values():
        assert "mass_tolerance" in kind.model_fields


def test_tolerances_are_read_as_shares_and_a_blank_is_not_stated(catalogue: Catalogue) -> None:
    read = {part.part: tolerances_of(part) for part in catalogue.parts()}
    assert read["BAR"] == {"flux": 0.07, "voltage": 0.03, "mass": 0.05}
    assert read["STRIP"] == {"flux": 0.1, "mass": None}
    assert read["TUBE"] == {"flux": None, "mass": 0.0}
    assert read["CELL"] == {"capacity": 0.05, "mass": 0.01}
    singles = {"CC": 0.02, "CCA": None, "BOARD": 0.04, "CLOTH": 0.1, "FILM": None, "CORD": None, "TWIN": 0.2}
    singles |= {"FUSE": 0.3, "PLUG": 0.15, "YOKE": 0.99}
    assert {code: read[code]["mass"] for code in singles} == singles


def wrong(name: str, title: str, row: int, read: str, allowed: str, mend: str = "") -> Fault:
    return Fault(f"{name}.csv", row, f"column {title}", read, allowed, mend)


PHYSICS = "less, so that the greatest flux stays within 683 lm/W of the least power (the physical limit)"
MEND = "Correct it, or flux or voltage."


@pytest.mark.parametrize(
    ("name", "header", "cells", "fault"),
    [
        ("mounts", "mass_tolerance", ["-0.01"], wrong("mounts", "mass_tolerance", 2, '"-0.01"', "at least 0")),
        ("mounts", "mass_tolerance", ["1"], wrong("mounts", "mass_tolerance", 2, '"1"', "less than 1")),
        ("mounts", "mass_tolerance", ["100 %"], wrong("mounts", "mass_tolerance", 2, '"100 %"', "less than 1")),
        ("mounts", "mass_tolerance [%]", ["100"], wrong("mounts", "mass_tolerance", 2, '"100"', "less than 1")),
        ("batteries", "capacity_tolerance", ["5"], wrong("batteries", "capacity_tolerance", 2, '"5"', "less than 1")),
        (
            "cables",
            "mass_tolerance",
            ["2 g", ""],
            wrong(
                "cables",
                "mass_tolerance",
                2,
                '"2 g"',
                "a share, such as 0.9 or 90 %",
                "Correct the number or its unit.",
            ),
        ),
        (
            "panels",
            "mass_tolerance [g]",
            ["1"],
            wrong(
                "panels",
                "mass_tolerance",
                1,
                'unit "g"',
                "a share, such as 0.9 or 90 %",
                "Correct the number or its unit.",
            ),
        ),
        (
            "emitters",
            "voltage_tolerance",
            ["", "0.03", ""],
            wrong(
                "emitters",
                "voltage_tolerance",
                3,
                '"0.03"',
                "blank unless drive is constant current",
                "Clear the cell: the driver or the lamp sets what it draws.",
            ),
        ),
        (
            "emitters",
            "voltage_tolerance",
            ["", "", "0"],
            wrong(
                "emitters",
                "voltage_tolerance",
                4,
                '"0"',
                "blank unless drive is constant current",
                "Clear the cell: the driver or the lamp sets what it draws.",
            ),
        ),
    ],
)
def test_a_wrong_tolerance_is_told_by_its_cell(
    tmp_path: Path, name: str, header: str, cells: list[str], fault: Fault
) -> None:
    assert faults_with(tmp_path, **{name: widened(name, header, cells)}) == (fault,)


@pytest.mark.parametrize(
    ("columns", "column", "read"),
    [
        ({"flux_tolerance": "0.05"}, "flux_tolerance", '"0.05"'),
        ({"voltage_tolerance": "0.05"}, "voltage_tolerance", '"0.05"'),
        ({"flux_tolerance": "0.02", "voltage_tolerance": "0.02"}, "flux_tolerance", '"0.02"'),
    ],
)
def test_no_tolerance_may_promise_more_light_than_physics(
    tmp_path: Path, columns: Mapping[str, str], column: str, read: str
) -> None:
    # 11 200 lm at 16.8 W are 667 lm/W: 2.5 % more would be above 683.
    cells = [",".join(columns.values()), "," * (len(columns) - 1), "," * (len(columns) - 1)]
    table = spoilt(widened("emitters", ",".join(columns), cells), ",1000,", ",11200,")
    assert faults_with(tmp_path, emitters=table) == (wrong("emitters", column, 2, read, PHYSICS, MEND),)


def test_all_faults_of_a_row_are_told_at_once(tmp_path: Path) -> None:
    table = widened("emitters", "flux_tolerance,mass_tolerance", ["2,-1", "1,", ","])
    told = [(fault.row, fault.column) for fault in faults_with(tmp_path, emitters=table)]
    assert told == [(2, "column flux_tolerance"), (2, "column mass_tolerance"), (3, "column flux_tolerance")]


def figures(part: Part) -> dict[str, object]:
    """Return the figures of a part without its tolerances."""
    return {name: value for name, value in part.model_dump().items() if not name.endswith("_tolerance")}


@pytest.mark.parametrize(("side", "end"), [(1.0, bad_end), (-1.0, good_end)])
def test_an_end_moves_what_has_a_tolerance_and_nothing_else(catalogue: Catalogue, side: float, end: End) -> None:
    moved = end(catalogue)
    expected = {
        "BAR": {
            "flux": 1000 * (1 - side * 0.07),
            "voltage": 24 * (1 + side * 0.03),
            "voltage_max": 26 * (1 + side * 0.03),
            "voltage_min": 22 * (1 - side * 0.03),
            "mass": 0.032 * (1 + side * 0.05),
        },
        "STRIP": {"flux": 500 * (1 - side * 0.1)},
        "CC": {"mass": 0.05 * (1 + side * 0.02)},
        "BOARD": {"mass": 0.7 * (1 + side * 0.04)},
        "CLOTH": {"mass_per_area": 0.135 * (1 + side * 0.1)},
        "CELL": {"capacity": 7 * 3600 * (1 - side * 0.05), "mass": 2.4 * (1 + side * 0.01)},
        "TWIN": {"mass_per_length": 0.088 * (1 + side * 0.2)},
        "FUSE": {"mass": 0.016 * (1 + side * 0.3)},
        "PLUG": {"mass": 0.016 * (1 + side * 0.15)},
        "YOKE": {"mass": 0.34 * (1 + side * 0.99)},
    }
    before = {part.part: part for part in catalogue.parts()}
    after = {part.part: part for part in moved.parts()}
    assert before.keys() == after.keys()
    for code, part in after.items():
        wanted = {**figures(before[code]), **expected.get(code, {})}
        assert figures(part) == {
            name: pytest.approx(value, rel=1e-12) if isinstance(value, float) else value
            for name, value in wanted.items()
        }, code
    assert (moved.offers, moved.suppliers, moved.currency) == (
        catalogue.offers,
        catalogue.suppliers,
        catalogue.currency,
    )
    assert moved.fingerprints == catalogue.fingerprints


@pytest.mark.parametrize("end", [bad_end, good_end])
def test_an_end_has_no_tolerance_left_to_count_twice(catalogue: Catalogue, end: End) -> None:
    moved = end(catalogue)
    assert all(share is None for part in moved.parts() for share in tolerances_of(part).values())
    assert end(moved).parts() == moved.parts()


def test_without_tolerances_both_ends_are_what_is_stated(tmp_path: Path) -> None:
    plain = read_catalogue(write(tmp_path))
    assert bad_end(plain).parts() == good_end(plain).parts() == plain.parts()


def test_a_blank_spread_is_widened_from_the_voltage(tmp_path: Path) -> None:
    tables = given()
    tables["emitters"] = spoilt(tables["emitters"], ",22,26,", ",,,")
    catalogue = read_catalogue(write(tmp_path, tables))
    bad, good = (end(catalogue).find(Emitter, "BAR") for end in (bad_end, good_end))
    assert (bad.voltage, bad.voltage_min, bad.voltage_max) == (24 * 1.03, 24 * 0.97, None)
    assert (good.voltage, good.voltage_min, good.voltage_max) == (24 * 0.97, 24 * 1.03, None)
    lot = delivered(catalogue, {("BAR", "voltage"): 0.02}).find(Emitter, "BAR")
    assert (lot.voltage, lot.voltage_min, lot.voltage_max) == (24 * 1.02, None, None)


def test_a_blank_share_of_heat_follows_flux_and_voltage(catalogue: Catalogue) -> None:
    stated, bad, good = (c.find(Emitter, "BAR") for c in (catalogue, bad_end(catalogue), good_end(catalogue)))
    assert stated.heat_fraction is None
    assert bad.heat_share == pytest.approx(1 - 1000 * 0.93 / (24 * 1.03 * 0.7) / 683, rel=1e-12)
    assert good.heat_share == pytest.approx(1 - 1000 * 1.07 / (24 * 0.97 * 0.7) / 683, rel=1e-12)
    assert good.heat_share < stated.heat_share < bad.heat_share


def test_what_a_battery_may_fly_by_is_its_rated_energy(catalogue: Catalogue) -> None:
    stated = catalogue.find(Battery, "CELL").watt_hours
    assert stated == pytest.approx(84.0)
    for moved in (bad_end(catalogue), good_end(catalogue), delivered(catalogue, {("CELL", "capacity"): -0.5})):
        assert moved.find(Battery, "CELL").watt_hours == stated
    twice = delivered(delivered(catalogue, {("CELL", "capacity"): -0.5}), {("CELL", "capacity"): 0.1})
    assert twice.find(Battery, "CELL").capacity == pytest.approx(7 * 3600 * 0.55)
    assert twice.find(Battery, "CELL").watt_hours == stated


def test_delivered_moves_what_is_named_by_as_much(catalogue: Catalogue) -> None:
    lot = {("BAR", "flux"): -0.03, ("BAR", "voltage"): 0.01, ("CORD", "mass"): 0.5, ("CLOTH", "mass"): -0.1}
    moved = delivered(catalogue, lot)
    bar = moved.find(Emitter, "BAR")
    assert bar.flux == pytest.approx(970)
    assert (bar.voltage, bar.voltage_min, bar.voltage_max) == (24 * 1.01, 22 * 1.01, 26 * 1.01)
    assert bar.mass_tolerance == 0.05
    assert moved.find(Cable, "CORD").mass_per_length == pytest.approx(0.129)
    assert moved.find(Diffuser, "CLOTH").mass_per_area == pytest.approx(0.1215)
    assert moved.find(Panel, "BOARD") == catalogue.find(Panel, "BOARD")


@pytest.mark.parametrize(
    "lot", [{("NONE", "mass"): 0.1}, {("STRIP", "voltage"): 0.1}, {("BOARD", "flux"): 0.1}, {("BAR", "length"): 0.1}]
)
def test_delivered_knows_no_other_part_and_no_other_figure(
    catalogue: Catalogue, lot: Mapping[tuple[str, str], float]
) -> None:
    with pytest.raises(KeyError):
        delivered(catalogue, lot)
