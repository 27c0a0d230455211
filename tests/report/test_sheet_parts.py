"""Parts of the sheet against the record, the physics and sums by hand: light, field, board, cuts, power, bag, tests."""

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
from sheets import BUILDS, demonstration, kit_record, record_of

from optimise.model.exact import evaluate, wanted_illuminance
from optimise.report.lamp import Lamp, lamps_of
from optimise.report.record_parts import MarginRecord
from optimise.report.sheet import board, cuts, energy, field, first_use, light, margins, shopping, travel
from optimise.report.sheet.wiring import circuit_of
from optimise.scenario import read_text_of_scenario


def lamp_of(name: str) -> Lamp:
    return lamps_of(record_of(name), "r.json")[0]


@pytest.mark.parametrize("name", sorted(BUILDS))
def test_light_at_the_target_is_that_of_the_record(name: str) -> None:
    lamp = lamp_of(name)
    steps = light.falloff(lamp)
    target = next(step for step in steps if step.target)
    assert target.lux == pytest.approx(lamp.figure("illuminance"), rel=1e-9)
    assert target.stops == pytest.approx(lamp.figure("above_target"), abs=1e-9)
    assert [step.lux for step in steps] == sorted((step.lux for step in steps), reverse=True)
    # Far from any source the inverse-square law holds: two stops for a doubled distance.
    far = [light.lux_at(lamp, distance) for distance in (200.0, 400.0)]
    assert math.log2(far[0] / far[1]) == pytest.approx(2.0, abs=1e-4)


@pytest.mark.parametrize("name", ["battery", "pack"])
def test_contour_lines_lie_where_the_light_is_as_they_say(name: str) -> None:
    # The lines come from a library that interpolates on a grid; the light at their points is worked out anew.
    lamp = lamp_of(name)
    over = field.field_of(lamp)
    assert over.middle == pytest.approx(lamp.figure("illuminance"), rel=1e-9)
    drawing = ET.fromstring(field.field_map(lamp, over))
    wide = float(over.x[-1] - over.x[0])
    frame = next(node for node in drawing if node.tag == "rect" and "s-piece" in (node.get("class") or ""))
    left, top, width = (float(frame.get(side) or 0) for side in ("x", "y", "width"))
    checked = 0
    for node in drawing.iter("path"):
        look = node.get("class")
        numbers = [float(text) for text in re.findall(r"-?[0-9.]+", node.get("d") or "")]
        if look not in {"s-curve", "s-third"} or len(numbers) < 8:
            continue
        points = np.array(numbers).reshape(-1, 2)[::5]
        x = (points[:, 0] - left) / width * wide + over.x[0]
        y = over.y[-1] - (points[:, 1] - top) / width * wide
        lux = field.field_at(lamp, np.column_stack([x, y, np.full(len(x), lamp.scenario.light.distance)]))
        below = -np.log2(lux / over.middle)
        level = min((0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0), key=lambda one: abs(one - float(np.mean(below))))
        assert below == pytest.approx(level, abs=0.03)
        assert (look == "s-curve") == (level == int(level))
        checked += 1
    assert checked >= 2


def test_points_are_marked_with_the_light_that_the_record_has_on_them() -> None:
    lamp = lamp_of("battery")
    text = (
        lamp.scenario.text
        + """
[[point]]
name = "sofa <b>"
across = "0.8 m"
up = "-0.2 m"
illuminance = "50 lx"

[[point]]
name = "wall"
distance = "4 m"
stops_max = "-1"
"""
    )
    scenario = read_text_of_scenario(text, "job.toml")
    mine = replace(lamp_of("battery"), scenario=scenario)
    figures = evaluate(lamp.build.choice, demonstration(), scenario).figures
    sofa, wall = field.spots(mine)
    assert (sofa.mark, sofa.name, wall.name) == ("P1", "sofa <b>", "wall")
    assert sofa.lux == pytest.approx(figures["illuminance at sofa <b>"][0], rel=1e-9)
    assert wall.lux == pytest.approx(figures["illuminance at wall"][0], rel=1e-9)
    assert sofa.stops == pytest.approx(math.log2(sofa.lux / 50.0))
    assert wall.most == pytest.approx(60.0)
    drawn = field.field_map(mine, field.field_of(mine, [sofa, wall]), [sofa, wall])
    assert "P1" in drawn
    assert "P2" not in drawn  # it stands behind the plane of the map
    assert "sofa" not in drawn


def test_numbers_of_contour_lines_keep_off_what_is_marked() -> None:
    lamp = lamp_of("battery")
    over = field.field_of(lamp)
    plain = ET.fromstring(field.field_map(lamp, over))
    (x, y), *_ = [(float(n.get("x") or 0), float(n.get("y") or 0)) for n in plain.iter("text") if n.text == "−0.25"]
    # A point is put where the map has that number.
    frame = next(node for node in plain if node.tag == "rect" and node.get("class") == "s-piece")
    left, width = float(frame.get("x") or 0), float(frame.get("width") or 0)
    across = (x - left) / width * float(over.x[-1] - over.x[0]) + float(over.x[0])
    job = lamp.scenario.text + f'\n[[point]]\nname = "sofa"\nacross = "{across:.4f} m"\n'
    mine = replace(lamp_of("battery"), scenario=read_text_of_scenario(job, "job.toml"))
    drawn = ET.fromstring(field.field_map(mine, field.field_of(mine), field.spots(mine)))
    levels = [
        node for node in drawn.iter("text") if (node.text or "").startswith("−") and node.get("class") == "s-halo"
    ]
    assert "−0.25" in [node.text for node in levels]
    assert all(abs(float(n.get("x") or 0) - x) > 30.0 or abs(float(n.get("y") or 0) - y) > 12.0 for n in levels)


def test_the_number_under_the_centre_of_mass_stands_beside_it() -> None:
    lamp = lamp_of("battery")
    assert lamp.layout is not None
    drawing = ET.fromstring(board.board_drawing(lamp, lamp.layout))
    ring = next(node for node in drawing if node.tag == "circle" and node.get("class") == "s-mark")
    x, y, radius = (float(ring.get(key) or 0) for key in ("cx", "cy", "r"))
    middle = next(node for node in drawing if node.tag == "text" and node.text == "2")
    off = math.hypot(float(middle.get("x") or 0) - x, float(middle.get("y") or 0) - y)
    assert radius < off < 3.0 * radius


def test_exposure_is_that_of_the_meter_equation() -> None:
    # N² / t = E S / C (ISO 2720:1974, incident light; C = 250 lx s as the job's default).
    lamp = lamp_of("battery")
    table = light.exposure_of(lamp)
    assert table.assumed
    lux = lamp.figure("illuminance")
    assert lux is not None
    for iso, over, right in table.rows:
        assert right**2 / table.time == pytest.approx(lux * iso / 250.0, rel=1e-9)
        for aperture, stop in zip(table.apertures, over, strict=True):
            assert stop == pytest.approx(2.0 * math.log2(right / aperture), abs=1e-9)
    studio = light.exposure_of(lamp_of("mains"))
    assert (studio.time, studio.assumed) == (pytest.approx(0.5 / 24.0), False)


@pytest.mark.parametrize("name", sorted(BUILDS))
def test_the_board_is_drawn_where_the_record_has_its_emitters(name: str) -> None:
    lamp = lamp_of(name)
    layout = lamp.layout
    assert layout is not None
    drawing = ET.fromstring(board.board_drawing(lamp, layout))
    outline, *pieces = [node for node in drawing if node.tag == "rect"]
    left, top, width, height = (float(outline.get(side) or 0) for side in ("x", "y", "width", "height"))
    scale = width / layout.width
    assert height / layout.height == pytest.approx(scale, rel=1e-3)
    drawn = sorted(
        (
            round((float(p.get("x") or 0) + float(p.get("width") or 0) / 2.0 - left) / scale, 3),
            round((top + height - float(p.get("y") or 0) - float(p.get("height") or 0) / 2.0) / scale, 3),
        )
        for p in pieces
    )
    wanted = sorted((x, y) for run in layout.runs for one in run.strings for x, y in zip(one.x, one.y, strict=True))
    assert np.array(drawn) == pytest.approx(np.array(wanted), abs=1.1e-3)
    table = {(float(x), float(y)) for _, x, y, _ in board.drill_points(layout)}
    assert table == {(round(1e3 * x, 1), round(1e3 * y, 1)) for x, y in wanted}
    assert [way.wire for way in board.ways_of(layout)] == [run.wire for run in layout.runs]


def test_the_centre_of_mass_is_that_of_all_masses() -> None:
    lamp = lamp_of("battery")
    assert lamp.layout is not None
    places = board.places_of(lamp.layout)
    # All symmetric: in the middle. One emitter of 32 g left at (0.25, 0.1): by hand, the board of 0.32 kg and the film
    # of 85 g/m² × 0.25 m² stay in the middle.
    assert board.centre_of_mass(lamp, places) == pytest.approx((0.25, 0.25))
    alone = board.Place(1, 0.25, 0.1, "U1", "S1")
    still = 0.32 + 0.085 * 0.25
    by_hand = (still * 0.25 + 0.032 * 0.1) / (still + 0.032)
    assert board.centre_of_mass(lamp, [alone]) == pytest.approx((0.25, by_hand))


def test_pieces_are_cut_with_the_kerf_between_them() -> None:
    # By hand: of 1500 × 1200 mm with a kerf of 3 mm, 500 × 500 mm goes twice across (3 × 500 + 2 × 3 > 1500), twice up.
    record = record_of("battery")
    found = {cut.what: cut for cut in cuts.cuts_of([lamp_of("battery")], record.bill)}
    assert found["diffuser"].stock == "a sheet of 1500 mm × 1200 mm, which gives 4; kerf 3 mm"
    assert found["board"].stock == "comes in this size: check it"
    assert (found["lead"].size, found["lead"].pieces) == ("2 m", 1)
    sheet = [line.model_copy(update={"sheet_width": 1.2, "sheet_height": 2.4}) for line in record.bill]
    three = cuts.cuts_of([replace(lamp_of("battery"), count=3)], sheet)
    drawing = ET.fromstring(str(next(cut for cut in three if cut.what == "board").drawing))
    stock = next(node for node in drawing if node.get("class") == "s-line")
    scale = float(stock.get("width") or 0) / 1200.0
    pieces = [
        [float(node.get(side) or 0) / scale for side in ("x", "y", "width", "height")]
        for node in drawing
        if node.tag == "rect" and node.get("class") == "s-part"
    ]
    assert len(pieces) == 3
    assert all(piece[2:] == pytest.approx([500.0, 500.0], abs=0.1) for piece in pieces)
    assert pieces[1][0] - pieces[0][0] == pytest.approx(503.0, abs=0.1)
    assert pieces[0][1] - pieces[2][1] == pytest.approx(503.0, abs=0.1)


def test_lights_of_a_kit_share_their_sheets() -> None:
    record = kit_record()
    found = cuts.cuts_of(lamps_of(record, "r.json"), record.bill)
    assert [(cut.what, cut.pieces) for cut in found] == [("board", 3), ("diffuser", 3), ("lead", 3)]
    drawing = ET.fromstring(str(found[1].drawing))
    assert len([node for node in drawing if node.get("class") == "s-part"]) == 3


def test_bars_show_how_much_of_a_limit_is_used() -> None:
    rows = {
        (kind, required, achieved): margins.used(
            MarginRecord(
                name="m",
                kind=kind,  # type: ignore[arg-type]
                required=required,
                achieved=achieved,
                unit="kg",
                left=(achieved - required if kind == "min" else required - achieved) / required,
                source="scenario",
            )
        )
        for kind, required, achieved in (("max", 4.0, 1.0), ("min", 2.0, 8.0), ("max", 3.0, 3.0))
    }
    assert list(rows.values()) == pytest.approx([0.25, 0.25, 1.0])


def test_the_list_is_the_bill() -> None:
    record = record_of("battery")
    shops, total = shopping.shops_of(record.bill, record.orders)
    assert sum(len(shop.lines) for shop in shops) == len(record.bill)
    assert shops[-1].own
    paid = sum(round(100 * float(shop.total)) for shop in shops)
    goods = sum(round(100 * float(line.line)) for shop in shops for line in shop.lines)
    charges = sum(round(100 * float(amount)) for shop in shops for _, amount in shop.charges)
    assert paid == goods + charges == round(100 * float(total))


def test_a_discharge_takes_the_running_time_of_the_record() -> None:
    lamp = lamp_of("battery")
    battery = lamp.build.battery
    assert battery is not None
    runs = {run.air: run for run in energy.runs_of(lamp)}
    assert sorted(runs) == [-10.0, 5.0, 25.0]
    here = runs[lamp.scenario.power.ambient]
    assert here.hours == pytest.approx(lamp.figure("runtime"), rel=1e-9)
    assert here.hour[-1] == pytest.approx(here.hours, rel=1e-12)
    assert here.volts[0] == battery.voltage_max
    assert list(here.volts) == sorted(here.volts, reverse=True)
    # By hand: 90 % of the charge is used, so that 4/5 of the way from nominal (half) to empty is gone.
    assert here.volts[-1] == pytest.approx(battery.voltage - 0.8 * (battery.voltage - battery.voltage_min))
    assert all(light_ < source for light_, source in zip(here.at_light, here.volts, strict=True))
    # In the cold 0.6 %/K of the capacity below 25 °C is lost, and time with it (the current is the same).
    assert runs[-10.0].hours / runs[25.0].hours == pytest.approx(1.0 - 0.006 * 35.0, rel=1e-9)
    # A constant load takes ever more current, so that the second half of the charge goes faster than the first.
    assert here.hour[30] > here.hours / 2.0
    assert energy.runs_of(lamp_of("mains")) == []


def test_limits_of_several_drivers_say_whose_they_are() -> None:
    names = [margin.name for margin in lamp_of("mains").margins]
    assert len(names) == len(set(names))
    drivers = {channel.driver for channel in lamp_of("mains").choice.channels}
    assert len(drivers) == 2
    assert {f"{driver}: emitter current, high" for driver in drivers} <= set(names)
    assert "emitter current, high" in {margin.name for margin in lamp_of("battery").margins}


def leaden() -> Lamp:
    """Return a light that runs from one lead-acid battery of 67.7 Wh, half of which is used."""
    lamp = lamp_of("battery")
    battery = lamp.build.battery
    assert battery is not None
    lead = battery.model_copy(update={"chemistry": "lead-acid", "voltage": 12.0, "usable": 0.5})
    return replace(lamp, build=replace(lamp.build, battery=lead))


def test_what_may_fly_is_said_whatever_the_job() -> None:
    # IATA passenger provisions (tests/published/test_published_flight.py): 67.7 Wh goes free, 144 Wh of lead-acid not.
    free = travel.packed(lamp_of("battery"))
    assert free.flight.startswith("1 to carry, within the 20")
    assert ("Energy of one battery", "67.68 Wh") in free.rows
    assert "may not fly" in travel.packed(lamp_of("pack")).flight
    assert travel.packed(lamp_of("pack")).batteries == 4
    many = replace(lamp_of("battery"), count=21)
    assert "MORE than the 20" in travel.packed(many).flight
    assert travel.packed(lamp_of("mains")).flight == ""
    assert "non-spillable" not in free.flight
    assert "within the 2 " in travel.packed(leaden()).flight
    assert "non-spillable ones alone" in travel.packed(leaden()).flight


def plan_for(lamp: Lamp) -> list[first_use.Test]:
    return first_use.plan_of(lamp, circuit_of(lamp), field.spots(lamp))


def test_the_plan_measures_what_was_calculated() -> None:
    battery, mains = ({t.name: t for t in plan_for(lamp_of(n))} for n in ("battery", "mains"))
    assert "Protective earth" in mains
    assert "Protective earth" not in battery
    assert list(battery)[:3] == ["Continuity of the lead", "No short circuit", "Polarity and voltage"]
    # 2 m of 0.5 mm² of class 5: 39 Ω/km at 20 °C (IEC 60228).
    assert battery["Continuity of the lead"].expected.startswith("0.078 Ω")
    assert battery["Polarity and voltage"].expected.startswith("+12 V to +16.8 V")
    lamp = lamp_of("battery")
    lux = light.lux_at(lamp.at(20.0), 2.5)
    assert f"({lux:.1f} lx ± 12 %)" in battery["Light at 2.5 m"].expected
    assert lux < wanted_illuminance(lamp.scenario) * 1.01
    assert {"Temperature after 30 minutes", "Current at first power", "First full run"} <= battery.keys()
    # Lithium packs have a protection; lead-acid has none, and is spoilt by running on.
    assert "until its protection ends it" in battery["First full run"].expected
    assert "protection" not in next(t for t in plan_for(leaden()) if t.name == "First full run").expected
    assert "First full run" not in mains
    assert "Lamps of U1" in [t.name for t in plan_for(lamp_of("tubes"))]
    assert len({t.key for t in plan_for(lamp)}) == len(battery)


POINTS = """
[[point]]
name = "as the subject"

[[point]]
name = "sofa <b>"
across = "-80 cm"
up = "20 cm"
distance = "2 m"
face_bearing = "30 deg"
face_tilt = "-10 deg"
illuminance = "50 lx"
illuminance_max = "200 lx"

[[point]]
name = "behind"
face_bearing = "180 deg"
"""


def test_the_plan_has_a_line_for_each_point() -> None:
    plain = lamp_of("battery")
    lamp = replace(plain, scenario=read_text_of_scenario(plain.scenario.text + POINTS, "job.toml"))
    plan = plan_for(lamp)
    ahead, same, sofa, behind = plan[-5:-1]
    assert [t.name for t in plan_for(plain)] == [t.name for t in plan if not t.called]
    assert plan[-1].name == "First full run"
    assert [t.called for t in (same, sofa, behind)] == ["as the subject", "sofa <b>", "behind"]
    assert len({t.key for t in plan}) == len(plan)
    # What stands where the target stands reads what is to be read there.
    assert same.expected == ahead.expected
    assert "meter 2.5 m before the front of the light, parallel to the board" in same.how
    assert (
        "2 m before the front of the light, 0.8 m to the left of its axis, 0.2 m above its axis, turned 30° to the "
        "right, leant 10° forward" in sofa.how
    )
    # By hand, in a room of 20 °C: the light of the job's 5 °C times what the flux loses by the warmer board, 12 % off.
    lost = lamp.at(20.0).state.flux / lamp.state.flux
    lux = lost * field.spots(lamp)[1].lux
    assert sofa.expected == (
        f"{0.88 * lux:.1f} lx to {1.12 * lux:.1f} lx ({lux:.1f} lx ± 12 %); the job asks for at least 50 lx and at "
        "most 200 lx"
    )
    assert "turned away" in behind.expected
