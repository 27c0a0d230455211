"""Which checks a build says were not made: a row for each blank cell, and nothing where all is stated.

Parts are invented.
"""

from dataclasses import replace
from typing import Any

import pytest
from plain_parts import EMITTER, SCENARIO, asking, catalogue, choice, with_part

from optimise.model.build import Build
from optimise.model.exact import build_of
from optimise.model.unchecked import unchecked
from optimise.parts import Emitter
from optimise.parts import colour as colours
from optimise.parts.spectrum_files import Spectrum
from optimise.scenario import Scenario

STATED = EMITTER.model_copy(
    update={
        "voltage_min": 11.0,
        "voltage_max": 13.0,
        "voltage_per_kelvin": -0.01,
        "case_max": 80.0,
        "resistance_junction_case": 2.0,
        "flux_per_kelvin": -0.002,
        "emitting_area": 1e-4,
        "back": 0.0,
    }
)
SPECTRUM = "e: spectrum is not stated; not checked: blue light."


def told_all() -> Build:
    """Return a build of which everything is stated but a spectrum."""
    build = build_of(choice("p", "cloth"), catalogue(STATED))
    build = with_part(build, "panel", metal=True, temperature_max=90.0, depth=0.05, reflectance=0.9)
    build = with_part(build, "drivers", dimmable="no", ripple=0.0)
    return with_part(build, "battery", temperature_min=-10.0, capacity_per_kelvin=0.008, peukert=1.1)


BUILD = told_all()
BARE = replace(BUILD, diffuser=None, choice=choice("p", None))
COLD = asking(power={"ambient": 20.0})
MAINS = asking(power={"source": "mains", "mains_voltage": 230.0, "circuit": 10.0})


def on_mains(build: Build) -> Build:
    return replace(build, battery=None, connector=build.connector.model_copy(update={"earth": True}))


def words(build: Build, scenario: Scenario = COLD) -> set[str]:
    """Return what is told beside the spectrum, each once."""
    found = unchecked(build, scenario)
    assert len(set(found)) == len(found)
    assert SPECTRUM in found
    return set(found) - {SPECTRUM}


def test_nothing_is_told_where_all_is_stated() -> None:
    assert words(BUILD) == words(BARE) == words(on_mains(BUILD), MAINS) == set()


@pytest.mark.parametrize(
    ("kind", "cells", "column", "check"),
    [
        ("kinds", {"voltage_min": None}, "voltage_min or voltage_max", "the driver's window over the maker's spread"),
        ("kinds", {"voltage_max": None}, "voltage_min or voltage_max", "the driver's window over the maker's spread"),
        ("kinds", {"voltage_per_kelvin": 0.0}, "voltage_per_kelvin", "string voltage at a cold start"),
        ("kinds", {"case_max": None}, "case_max", "case temperature"),
        (
            "kinds",
            {"resistance_junction_case": None},
            "resistance_junction_case",
            "junction temperature (taken as the board's)",
        ),
        ("kinds", {"flux_per_kelvin": 0.0}, "flux_per_kelvin", "loss of light with heat"),
        (
            "panel",
            {"metal": False},
            "heat_density_max",
            "the spot under each emitter (the board is taken as evenly warm)",
        ),
        ("panel", {"temperature_max": None}, "temperature_max", "what the board bears"),
        ("battery", {"temperature_min": None}, "temperature_min", "discharge in the cold"),
        ("battery", {"capacity_per_kelvin": 0.0}, "capacity_per_kelvin", "loss of capacity in the cold"),
    ],
)
def test_each_blank_cell_is_told(kind: str, cells: dict[str, Any], column: str, check: str) -> None:
    build = with_part(BUILD, kind, **cells)
    part = build.panel if kind == "panel" else build.battery if kind == "battery" else build.emitter
    assert part is not None
    assert words(build) == {f"{part.part}: {column} is not stated; not checked: {check}."}


def test_a_board_whose_heat_is_limited_has_its_spots_checked() -> None:
    assert words(with_part(BUILD, "panel", metal=False, heat_density_max=2000.0)) == set()


def test_a_tube_has_no_window_and_no_junction() -> None:
    tube = Emitter(
        part="e", form="tube", drive="ballast", flux=3350.0, power=36.0, length=0.2, width=0.05, mass=0.1, case_max=80.0
    ).model_copy(update={"flux_per_kelvin": -0.002, "emitting_area": 0.01, "back": 0.5})
    assert words(replace(BUILD, kinds=(tube,))) == set()


def test_capacity_in_the_cold_matters_below_25_degrees() -> None:
    # Capacity is rated at 25 °C; the plain job is at that.
    blank = with_part(BUILD, "battery", capacity_per_kelvin=0.0)
    assert SCENARIO.power.ambient == 25.0
    assert words(blank, SCENARIO) == set()
    assert len(words(blank, asking(power={"ambient": 24.9}))) == 1
    assert words(blank, asking(power={"ambient": 25.5})) == set()


def test_a_battery_without_peukert_keeps_its_capacity() -> None:
    told = "b: peukert is 1 or blank; capacity is taken as the same at any current."
    assert words(with_part(BUILD, "battery", peukert=1.0)) == {told}


def test_bare_emitters_need_their_lit_area_and_covered_ones_have_dots() -> None:
    bare = "e: emitting_area is not stated; not checked: luminance and blue light of bare emitters."
    assert words(with_part(BARE, "kinds", emitting_area=None)) == {bare}
    pieces = "e: emitting_area is not stated; dots on the diffuser are those of pieces lit all along."
    assert words(with_part(BUILD, "kinds", emitting_area=None)) == {pieces}
    assert words(with_part(BUILD, "kinds", emitting_area=None, form="strip")) == set()
    flat = "p: depth is not stated; not checked: dots on the diffuser."
    box = "p: depth is not stated; not counted: what the walls of the box take from the light."
    for area in (None, 1e-4):
        assert words(with_part(with_part(BUILD, "kinds", emitting_area=area), "panel", depth=None)) == {flat, box}
    assert words(with_part(BARE, "panel", depth=None)) == set()


def test_of_two_kinds_no_dots_are_known() -> None:
    other = STATED.model_copy(update={"part": "f"})
    found = words(replace(BUILD, kinds=(STATED, other)))
    spectrum = "f: spectrum is not stated; not checked: blue light."
    assert found == {spectrum, "Two kinds of emitter; not checked: dots on the diffuser."}


def test_what_is_lost_in_the_box_is_told_once_for_all_kinds() -> None:
    other = STATED.model_copy(update={"part": "f"})
    found = unchecked(with_part(replace(BUILD, kinds=(STATED, other)), "panel", reflectance=None), COLD)
    walls = "p: reflectance is not stated; not counted: what the walls of the box take from the light."
    assert found.count(walls) == 1
    # What was told before it still is.
    assert SPECTRUM in found


def test_two_sheets_throw_light_to_and_fro() -> None:
    parts = catalogue(STATED)
    told = "{}: reflectance is not stated; not checked: light thrown to and fro between the sheets."
    for second, named in (("film", ("cloth", "film")), ("cloth", ("cloth",))):
        stack = build_of(replace(choice("p", "cloth"), second_diffuser=second), parts).diffuser
        assert words(replace(BUILD, diffuser=stack)) == {told.format(name) for name in named}
    shiny = replace(parts, diffusers=tuple(s.model_copy(update={"reflectance": 0.1}) for s in parts.diffusers))
    stack = build_of(replace(choice("p", "cloth"), second_diffuser="film"), shiny).diffuser
    assert words(replace(BUILD, diffuser=stack)) == set()


def test_flicker_is_told_beside_the_rest() -> None:
    filmed = asking(power={"ambient": 20.0}, look={"shutter": 0.02})
    found = words(with_part(with_part(BUILD, "drivers", ripple=None), "panel", temperature_max=None), filmed)
    assert found == {
        "d: ripple is not stated; not checked: flicker at full output.",
        "p: temperature_max is not stated; not checked: what the board bears.",
    }


def test_no_part_of_the_lead_has_an_ip_code() -> None:
    wet = asking(power={"ambient": 20.0}, limits={"ip": "IP44"})
    told = "k, f: a catalogue has no IP code for them; not checked: ingress protection at the supply."
    assert words(BUILD, wet) == {told}


def test_strings_on_the_mains_are_isolated_or_it_is_told() -> None:
    told = "d: isolated is not stated; not checked: that its strings are separated from the mains."
    ac = with_part(on_mains(BUILD), "drivers", input="ac")
    assert words(ac, MAINS) == {told}
    assert words(with_part(ac, "drivers", isolated=True), MAINS) == set()


def test_mains_have_an_earth_and_a_circuit() -> None:
    loose = replace(on_mains(BUILD), connector=BUILD.connector)
    earth = "k: earth is not stated; not checked: the earth at the plug."
    assert words(loose, MAINS) == {earth}
    board = with_part(loose, "panel", metal=False, heat_density_max=2000.0)
    assert words(board, MAINS) == set()
    unlimited = asking(power={"source": "mains", "mains_voltage": 230.0})
    circuit = "scenario: power.circuit is not stated; not checked: the rating of the mains circuit."
    assert words(on_mains(BUILD), unlimited) == {circuit}


def test_a_spectrum_that_cannot_be_worked_out_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    spectrum = Spectrum.__new__(Spectrum)  # never looked into: what counts is that there is one
    shining = replace(BUILD, kinds=(STATED.shining(spectrum),))
    for version, told in (
        (None, ["e: the extra spectra is not installed; not checked: blue light."]),
        ("0.4", []),
    ):
        monkeypatch.setattr(colours, "library_version", lambda version=version: version)
        assert [line for line in unchecked(shining, COLD) if line.endswith("blue light.")] == told
