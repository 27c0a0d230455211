"""The circuit of the sheet: currents that sum to nothing at every point, energy that is kept, and its diagram."""

import math
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from sheets import BUILDS, record_of

from optimise.report.drawing import LOOKS
from optimise.report.lamp import Lamp, lamps_of
from optimise.report.sheet.schematic import schematic
from optimise.report.sheet.wiring import circuit_of, gathered_feeds, listed, points_of, unbalanced


@pytest.fixture(params=sorted(BUILDS))
def lamp(request: pytest.FixtureRequest) -> Lamp:
    return lamps_of(record_of(request.param), "r.json")[0]


def test_currents_sum_to_nothing_at_every_point(lamp: Lamp) -> None:
    # Kirchhoff's law of currents, point by point: the source closes the loop.
    circuit = circuit_of(lamp)
    left = unbalanced(circuit)
    assert {"F1", "T1L", "T1N"} <= left.keys() or {"F1", "T1+", "T1−"} <= left.keys()
    assert max(abs(amps) for amps in left.values()) < 1e-9
    whole = circuit.lead.nominal_current
    assert math.fsum(feed.amps_in for feed in circuit.feeds) == pytest.approx(whole, rel=1e-9)


def test_a_wire_that_is_left_out_is_noticed(lamp: Lamp) -> None:
    circuit = circuit_of(lamp)
    for wire in circuit.wires:
        if wire.amps > 0.0:
            less = type(circuit)(**{**vars(circuit), "wires": tuple(w for w in circuit.wires if w is not wire)})
            assert max(abs(amps) for amps in unbalanced(less).values()) > 1e-6 or circuit.wires.count(wire) > 1


def test_energy_is_kept(lamp: Lamp) -> None:
    # What the source gives (at the nominal voltage) is what the lead loses and what the drivers take; on mains the
    # drivers' share is in volt-amperes. The loss is the record's own figure.
    circuit = circuit_of(lamp)
    amps, volts = circuit.lead.nominal_current, circuit.lead.nominal
    loss = lamp.figure("lead_loss")
    assert loss is not None
    into = sum(feed.amps_in * circuit.at_light for feed in circuit.feeds)
    assert volts * amps == pytest.approx(loss + into, rel=1e-9)
    for string, feed in zip(lamp.strings, gathered_feeds(circuit), strict=True):
        if feed.volts_out is not None:
            given = feed.volts_out * feed.amps * feed.parallel
            assert given == pytest.approx(string.power / string.channel.number * string.driver.efficiency, rel=1e-9)
            assert feed.low <= feed.volts_out <= feed.high


def test_voltages_follow_from_ohm_and_the_power_taken(lamp: Lamp) -> None:
    # Independent of the closed form: the current at which a load of this power and the drop agree, by bisection.
    circuit = circuit_of(lamp)
    lead = circuit.lead
    power = sum(string.apparent for string in lamp.strings)
    for source, index in ((lead.nominal, 0), (lead.lowest, 1), (lead.highest, 2)):
        low, high = 0.0, source / lead.resistance / 2.0
        for _ in range(200):
            middle = (low + high) / 2.0
            low, high = (middle, high) if (source - middle * lead.resistance) * middle < power else (low, middle)
        point = next(p for p in points_of(circuit) if p.where.startswith("Terminals T1"))
        shown = (point.volts, point.low, point.high)[index]
        assert shown == pytest.approx(source - low * lead.resistance, rel=1e-9)


def test_drivers_have_the_numbers_that_the_layout_gives_them(lamp: Lamp) -> None:
    assert lamp.layout is not None
    assert [feed.driver for feed in circuit_of(lamp).feeds] == [run.driver for run in lamp.layout.runs]
    for feed, run in zip(circuit_of(lamp).feeds, lamp.layout.runs, strict=True):
        assert [len(string.x) for string in run.strings] == [feed.series] * feed.parallel


def test_wires_bear_the_fuse_and_the_current_and_the_earth_carries_none(lamp: Lamp) -> None:
    circuit = circuit_of(lamp)
    table = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0}
    # BS 7671, Table 4F3A (seen second-hand), as in tests/published/test_published_cords.py.
    for wire in listed(circuit):
        if wire.pole == "PE":
            assert wire.amps == 0.0
        elif wire.area is None and wire.least is not None:
            assert table[wire.least] >= wire.amps
            inside = "out" in wire.start + wire.end or " S" in wire.start + wire.end or wire.start[:2] != "T1"
            assert inside or table[wire.least] >= lamp.build.fuse.rating
        elif wire.area is not None:
            assert wire.length == lamp.scenario.power.lead_length
    assert circuit.earth == (lamp.mains and lamp.build.cable.cores == 3)
    assert any(wire.pole == "PE" for wire in circuit.wires) == circuit.earth


def test_alike_drivers_and_strings_stand_in_one_line() -> None:
    circuit = circuit_of(lamps_of(record_of("pack"), "r.json")[0])
    assert [feed.alike for feed in gathered_feeds(circuit)] == [8]
    assert [f"{w.start} {w.end}" for w in listed(circuit)][3:7] == [
        "T1+ U1…U8 in +",
        "U1…U8 in − T1−",
        "U1…U8 out + T2…T9 +",
        "T2…T9 + U1…U8 S1…S2 +",
    ]


def drawn(name: str) -> ET.Element:
    return ET.fromstring(schematic(circuit_of(lamps_of(record_of(name), "r.json")[0]), "w", "lead", "F1  fuse"))


@pytest.mark.parametrize("name", sorted(BUILDS))
def test_the_diagram_is_a_picture_and_nothing_else(name: str) -> None:
    root = drawn(name)
    assert {node.tag for node in root.iter()} <= {
        *("svg", "title", "desc", "path", "polygon", "circle", "text", "tspan", "rect", "ellipse", "g", "line")
    }
    assert [node.get("id") for node in root.iter() if node.get("id")] == ["w-t", "w-d"]
    for node in root.iter():
        assert not {"style", "href", "onload"} & node.attrib.keys()
        if node.tag == "path":
            assert any(f"s-{look}" in (node.get("class") or "") for look in LOOKS)
    told = " ".join(root.itertext())
    assert "U1" in told
    assert ("L" in told) == (name in {"mains", "tubes", "strips"})
    assert schematic(circuit_of(lamps_of(record_of(name), "r.json")[0]), "w", "lead", "F1  fuse") == ET.tostring(
        root, encoding="unicode"
    )


def test_the_long_plate_of_the_battery_is_on_the_side_of_the_fuse() -> None:
    # IEC 60617: of the two lines of a cell, the longer one is the positive pole (from memory).
    plates = []
    for node in drawn("battery").iter("path"):
        steps = [tuple(map(float, part.split(","))) for part in (node.get("d") or "").replace("M ", "").split(" L ")
                 if part.count(",") == 1 and " " not in part.strip()]  # fmt: skip
        if len(steps) == 2 and steps[0][0] == pytest.approx(steps[1][0]):
            plates.append((steps[0][0], abs(steps[0][1] - steps[1][1])))
    cells = sorted(plates)[:4] if len(plates) >= 4 else plates
    lengths = [length for x, length in sorted(plates) if 10.0 < length < 40.0]
    assert len(lengths) >= 2, cells
    assert lengths[0] > lengths[1]
    assert np.argmax(lengths) == 0
