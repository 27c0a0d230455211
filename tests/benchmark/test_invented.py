"""The invented catalogues for timing are as they are said to be."""

from pathlib import Path

import pytest

from optimise.parts import read_catalogue
from tests.benchmark.invented import SHARES, invented_scenario, numbers_of, write_catalogue


@pytest.mark.parametrize("parts", [80, 160, 500])
def test_a_catalogue_has_as_many_parts_as_asked(parts: int, tmp_path: Path) -> None:
    write_catalogue(tmp_path / "catalogue", parts, 1)
    catalogue = read_catalogue(tmp_path / "catalogue")
    assert len(list(catalogue.parts())) == parts
    for kind, number in numbers_of(parts).items():
        assert len(getattr(catalogue, kind)) == number
    assert {part.part for part in catalogue.parts()} == set(catalogue.offers)


def test_160_parts_are_40_panels_6_diffusers_and_20_batteries_in_up_to_12_combinations(tmp_path: Path) -> None:
    assert numbers_of(160) == SHARES
    assert (SHARES["panels"], SHARES["diffusers"], SHARES["batteries"]) == (40, 6, 20)
    write_catalogue(tmp_path, 160, 3)
    assert max(b.series_max * b.parallel_max for b in read_catalogue(tmp_path).batteries) == 12


def test_a_seed_makes_the_same_files_and_another_seed_others(tmp_path: Path) -> None:
    for name, seed in (("first", 5), ("again", 5), ("other", 6)):
        write_catalogue(tmp_path / name, 160, seed)
    files = {
        name: [p.read_bytes() for p in sorted((tmp_path / name).iterdir())] for name in ("first", "again", "other")
    }
    assert files["first"] == files["again"] != files["other"]


def test_without_heat_no_emitter_loses_light(tmp_path: Path) -> None:
    write_catalogue(tmp_path, 160, 2, heat=False)
    assert all(e.flux_per_kelvin == 0.0 for e in read_catalogue(tmp_path).emitters)
    write_catalogue(tmp_path, 160, 2)
    assert any(e.flux_per_kelvin < 0.0 for e in read_catalogue(tmp_path).emitters)
    assert invented_scenario(2, "mass").look.diffused
