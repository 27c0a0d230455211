"""What the exact check makes of a choice, part by part: what is bought, what weighs, which figure goes where.

Parts are invented; figures are added up by hand.
"""

import math
from dataclasses import replace
from typing import Any

import pytest
from plain_parts import EMITTER, SCENARIO, asking, catalogue, choice
from small_world import priced

from optimise.model import exact
from optimise.model.build import Figures
from optimise.model.choice import ChannelChoice, Choice, Evaluation
from optimise.model.exact import bill_of, bought, build_of, evaluate, wants_of
from optimise.parts import Catalogue, Mount
from optimise.parts.buying import Want
from optimise.physics.softness import corneal_image
from optimise.scenario.points import Point

PRICES = {
    "e": 300,
    "g": 500,
    "d": 900,
    "a": 800,
    "p": 1500,
    "cloth": 400,
    "film": 800,
    "b": 4000,
    "c": 150,
    "f": 100,
    "k": 250,
    "m": 600,
}


def parts() -> Catalogue:
    """Return the plain parts with a second emitter, a second driver and a mount, all on offer."""
    plain = catalogue(EMITTER.model_copy(update={"flux_per_kelvin": -0.002}))
    second = EMITTER.model_copy(update={"part": "g", "flux": 500.0, "mass": 0.03, "flux_per_kelvin": -0.004})
    other = plain.drivers[0].model_copy(update={"part": "a", "mass": 0.25})
    grams = {"fuses": 0.002, "connectors": 0.01}
    light = {
        kind: tuple(part.model_copy(update={"mass": mass}) for part in getattr(plain, kind))
        for kind, mass in grams.items()
    }
    full = replace(
        plain,
        emitters=(*plain.emitters, second),
        drivers=(other, *plain.drivers),
        mounts=(Mount(part="m", load=5.0, mass=0.3),),
        **light,
    )
    return priced(full, PRICES)


PARTS = parts()
MIXED = replace(
    choice("p", "cloth"),
    channels=(
        ChannelChoice("d", 2, 1, 0.5, 3),
        ChannelChoice("a", 1, 2, 0.25, 1),
        ChannelChoice("a", 1, 1, 0.5, 2, "g"),
    ),
    second_diffuser="film",
    battery_series=1,
    battery_parallel=2,
    mount="m",
)
JOB = asking(power={"lead_length": 3.0})


def test_all_parts_are_bought_in_the_numbers_that_they_are_needed_in() -> None:
    build = build_of(MIXED, PARTS)
    face = {"size": (0.8, 0.25), "kerf": 0.003}
    wanted = [
        Want("e", 8, 0.2),
        Want("g", 2, 0.2),
        Want("a", 3),
        Want("d", 3),
        Want("p", 1, **face),  # type: ignore[arg-type]
        Want("cloth", 1, sheet=(1.0, 1.0), **face),  # type: ignore[arg-type]
        Want("film", 1, sheet=(1.0, 1.0), **face),  # type: ignore[arg-type]
        Want("b", 2),
        Want("c", 1, 3.0),
        Want("f", 1),
        Want("k", 1),
        Want("m", 1),
    ]
    assert wants_of(build, JOB) == wanted
    twice = build_of(replace(MIXED, diffuser="film"), PARTS)
    assert [want for want in wants_of(twice, JOB) if want.part == "film"] == [
        Want("film", 2, sheet=(1.0, 1.0), **face)  # type: ignore[arg-type]
    ]
    less = build_of(replace(choice("p", None), battery=None), PARTS)
    assert [want.part for want in wants_of(less, JOB)] == ["e", "d", "p", "c", "f", "k"]


def cents() -> int:
    pieces = 8 * 300 + 2 * 500 + 3 * 800 + 3 * 900
    return pieces + 1500 + 400 + 800 + 2 * 4000 + 3 * 150 + 100 + 250 + 600


def head() -> float:
    """Return the grams of the head: board, emitters, drivers, 0.3 kg/m² of either sheet on 0.2 m², and the mount."""
    return 1000 + 8 * 20 + 2 * 30 + 3 * 250 + 3 * 100 + 2 * 300 * 0.2 + 300


def test_a_build_is_added_up(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Figures] = []
    real = exact.limits.margins

    def margins(build: Any, figures: Figures, *more: Any) -> Any:
        told.append(figures)
        assert more == (JOB, 100.0, "EUR")
        return real(build, figures, *more)

    monkeypatch.setattr(exact.limits, "margins", margins)
    found = evaluate(MIXED, PARTS, JOB)
    (figures,) = told
    assert found.cents == figures.cents == cents()
    assert figures.head_milligrams == head() * 1000
    # Fuse 2 g, plug 10 g, 3 m of lead of 100 g each, two batteries of 1 kg.
    assert found.milligrams == figures.milligrams == (head() + 2 + 10 + 300 + 2000) * 1000
    # What the limits are told is what the evaluation says.
    said = found.figures
    assert said["cost"] == (cents() / 100, "EUR")
    assert said["mass"] == (found.milligrams / 1e6, "kg")
    assert said["head_mass"] == (head() / 1000, "kg")
    assert said["power"] == (found.watts, "W")
    assert figures.watts == found.watts
    assert said["illuminance"] == (found.lux, "lx")
    assert figures.lux == found.lux
    assert said["above_target"] == (pytest.approx(math.log2(found.lux / 100.0)), "stop")
    assert said["board_temperature"] == (found.board, "degC")
    assert figures.board == found.board
    assert said["heat"] == (found.heat, "W")
    assert found.heat == pytest.approx(math.fsum(string.heat for string in figures.strings))
    assert figures.runtime is not None
    assert said["runtime"] == (figures.runtime / 3600.0, "h")
    assert said["junction_temperature"] == (figures.hottest, "degC") == (None, "degC")
    assert said["luminous_flux"] == (pytest.approx(sum(found.fluxes)), "lm")
    assert figures.fluxes == found.fluxes
    lead = figures.lead
    assert said["supply_voltage"] == (lead.nominal, "V") == (12.0, "V")
    assert (said["current"], said["voltage_drop"], said["lead_loss"]) == (
        (lead.current, "A"), (lead.drop, "V"), (lead.loss, "W"),
    )  # fmt: skip
    assert said["emitters"] == (10.0, "")
    assert [string.channel for string in figures.strings] == list(MIXED.channels)
    assert found.apparent == pytest.approx(math.fsum(string.apparent for string in figures.strings))
    # Light lost with a kelvin: 0.2 % of 6 × 1000 lm and of 2 × 500 lm at half the current, 0.4 % of 2 × 500 lm.
    lost = 0.002 * (6 * 1000 + 2 * 500) + 0.004 * 2 * 500
    assert found.warming == pytest.approx(-lost * found.lux / sum(found.fluxes))
    assert found.dimming < 0.0
    assert (found.missing, found.choice) == ((), MIXED)
    assert found.unchecked


def test_lines_of_a_bill_tell_what_is_left_over() -> None:
    packed = replace(
        PARTS, offers={**PARTS.offers, "e": tuple(o.model_copy(update={"pack": 5.0}) for o in PARTS.offers["e"])}
    )
    found = evaluate(MIXED, packed, JOB)
    lines = {line.part: line for line in found.bill}
    assert set(lines) == set(PRICES)
    # Two packs of five for eight.
    assert (lines["e"].needed, lines["e"].left_over, lines["e"].purchase.packs) == (8.0, 2.0, 2)
    assert (lines["c"].needed, lines["c"].left_over) == (3.0, 0.0)
    assert lines["b"].needed == 2.0
    assert found.cents == cents() + 2 * 300 - 8 * 300
    assert sum(order.goods for order in found.orders) == found.cents


def test_a_basket_that_is_given_is_paid() -> None:
    dear = priced(PARTS, {code: 2 * price for code, price in PRICES.items()})
    basket = bought(wants_of(build_of(MIXED, dear), JOB), dear, JOB)
    found = evaluate(MIXED, PARTS, JOB, basket)
    assert found.cents == 2 * cents()
    assert found.bill == bill_of(basket)
    assert evaluate(MIXED, PARTS, JOB).cents == cents()


def test_what_is_not_on_offer_is_missing() -> None:
    gone = replace(PARTS, offers={code: rows for code, rows in PARTS.offers.items() if code != "k"})
    found = evaluate(MIXED, gone, JOB)
    assert found.missing == ("k",)
    assert not found.passes


def test_parts_of_a_choice_are_found_by_code() -> None:
    build = build_of(MIXED, PARTS)
    found = [build.panel, build.battery, build.cable, build.fuse, build.connector, build.mount, *build.kinds]
    assert [part.part for part in found if part is not None] == ["p", "b", "c", "f", "k", "m", "e", "g"]
    assert [driver.part for driver in build.drivers] == ["d", "a", "a"]
    less = build_of(replace(MIXED, battery=None, mount=None, diffuser=None, second_diffuser=None), PARTS)
    assert (less.battery, less.mount, less.diffuser) == (None, None, None)
    with pytest.raises(KeyError):
        build_of(replace(MIXED, cable="nothing"), PARTS)


def seen(job: Any, *drivers: dict[str, Any]) -> dict[str, tuple[float | None, str]]:
    """Return what camera and subject see of a build with drivers that have these figures."""
    build = build_of(choice("p", "film"), PARTS)
    (channel,), (driver,) = build.choice.channels, build.drivers
    rows = tuple(driver.model_copy(update=figures) for figures in drivers)
    many = replace(build.choice, channels=(channel,) * len(rows))
    return exact._seen(replace(build, choice=many, drivers=rows), job)


def test_flicker_is_that_of_the_worst_driver_and_known_if_all_are() -> None:
    filmed = asking(look={"shutter": 0.02})
    worse, better = {"ripple": 0.3, "ripple_frequency": 120.0}, {"ripple": 0.1, "ripple_frequency": 120.0}
    # A sine of 120 Hz over 2.4 periods: so much of its depth is left.
    share = abs(math.sin(math.pi * 2.4) / (math.pi * 2.4))
    stops = [math.log2((1 + depth * share) / (1 - depth * share)) for depth in (0.3, 0.1)]
    assert seen(filmed, worse)["flicker"] == (pytest.approx(stops[0]), "stop")
    assert seen(filmed, better, worse)["flicker"] == (pytest.approx(stops[0]), "stop")
    assert seen(filmed, better)["flicker"] == (pytest.approx(stops[1]), "stop")
    assert seen(filmed, worse, {})["flicker"] == (None, "stop")
    assert seen(filmed, {})["flicker"] == (None, "stop")
    assert seen(SCENARIO, worse)["flicker"] == (None, "stop")
    # At full output nothing is switched, however low it could dim.
    assert seen(filmed, better | {"dimmable": "pwm", "pwm": 30.0})["flicker"] == (pytest.approx(stops[1]), "stop")


def test_how_soft_a_face_is_goes_by_its_sides() -> None:
    # 0.25 m by 0.8 m at 1 m, a background 2 m behind the subject.
    found = seen(asking(look={"background": 2.0}), {})
    assert found["source_angle"] == (pytest.approx(2 * math.degrees(math.atan(0.125))), "deg")
    assert found["penumbra"] == (pytest.approx(0.25 * 2.0), "m")
    # A cornea of 7.8 mm is a mirror of 3.9 mm focal length (value from memory): 0.8 m at 1 m is some 3 mm in it.
    assert found["catch_light"][0] == pytest.approx(800 * 3.9 / 1003.9, rel=0.02)
    assert found["catch_light"] == (pytest.approx(1000.0 * float(corneal_image(0.8, 1.0)), rel=1e-12), "mm")
    assert seen(SCENARIO, {})["penumbra"] == (None, "m")


def test_a_board_without_emitters_is_dark() -> None:
    fed = asking(power={"source": "mains", "mains_voltage": 230.0})
    found = evaluate(replace(choice("p", "cloth"), channels=(), battery=None), PARTS, fed)
    assert (found.lux, found.figures["luminance"][0]) == (0.0, 0.0)


def lit(job: Any, emitter: dict[str, Any], way: Choice) -> Evaluation:
    changed = replace(PARTS, emitters=tuple(row.model_copy(update=emitter) for row in PARTS.emitters))
    return evaluate(way, changed, job)


def test_points_get_their_share_of_the_light_and_of_the_most_of_it() -> None:
    bright = replace(PARTS, emitters=tuple(row.ranging(1.3, 1.0) for row in PARTS.emitters))
    job = JOB.model_copy(update={"points": (Point(name="here", illuminance=5.0, illuminance_max=9e4),)})
    found = evaluate(MIXED, bright, job)
    # Straight ahead, where the illuminance itself is told; at the bright end it is 30 % more.
    assert found.figures["illuminance at here"] == (pytest.approx(found.lux, rel=1e-9), "lx")
    margins = {margin.name: margin for margin in found.margins}
    assert margins["illuminance at here"].achieved == pytest.approx(found.lux, rel=1e-9)
    assert margins["illuminance at here, at most"].achieved == pytest.approx(1.3 * found.lux, rel=1e-9)


def test_no_light_at_all_is_endlessly_below_what_is_asked() -> None:
    # 2 % a kelvin, in a board of 10 K/W: nothing is left.
    hot = replace(PARTS, panels=tuple(row.model_copy(update={"thermal_resistance": 10.0}) for row in PARTS.panels))
    dark = replace(hot, emitters=tuple(row.model_copy(update={"flux_per_kelvin": -0.02}) for row in PARTS.emitters))
    found = evaluate(MIXED, dark, JOB)
    assert found.lux == 0.0
    assert found.figures["above_target"] == (-math.inf, "stop")
    dim = evaluate(choice("p", "cloth"), PARTS, asking(light={"distance": 50.0}))
    assert dim.lux < 1.0
    assert dim.figures["above_target"][0] == pytest.approx(math.log2(dim.lux / 100.0))


def test_mains_have_no_runtime_and_open_boards_a_luminance_of_their_brightest_piece() -> None:
    fed = asking(power={"source": "mains", "mains_voltage": 230.0})
    found = evaluate(replace(choice("p", None), battery=None), PARTS, fed)
    assert found.figures["runtime"] == (None, "h")
    pieces = replace(choice("p", None), channels=(ChannelChoice("d", 2, 1, 0.5, 1), ChannelChoice("a", 1, 2, 0.25, 1)))
    areas = lit(JOB, {"emitting_area": 1e-4, "beam": 120.0}, pieces).figures["luminance"][0]
    # 1000 lm from 1 cm² by Lambert's law: Φ / (π A), whatever dimmer pieces stand beside it.
    assert areas == pytest.approx(1000.0 / (math.pi * 1e-4), rel=0.01)


def test_dots_are_told_where_they_are_known() -> None:
    assert "dot_ripple" not in evaluate(choice("p", "cloth"), PARTS, JOB).figures
    deep = replace(PARTS, panels=tuple(row.model_copy(update={"depth": 0.05}) for row in PARTS.panels))
    found = evaluate(choice("p", "cloth"), deep, asking(look={"dots_max": 0.5}))
    ripple = found.figures["dot_ripple"][0]
    assert ripple is not None
    assert next(margin.achieved for margin in found.margins if margin.name == "dots on the diffuser") == ripple


def test_evenness_is_handed_to_the_limits() -> None:
    wide = asking(light={"subject_width": 1.0, "subject_height": 1.0, "uniformity_min": 0.5})
    found = evaluate(choice("p", "cloth"), PARTS, wide)
    margin = exact.margin_of(found, "uniformity")
    assert margin is not None
    assert 0.0 < margin.achieved < 1.0
    assert exact.margin_of(found, "nothing of the sort") is None


@pytest.mark.parametrize(("stops", "lux"), [(0.0, 62.5), (1.0, 125.0), (-2.0, 15.625), (3.0, 500.0)])
def test_stops_are_powers_of_two(stops: float, lux: float) -> None:
    # 250 × 2² / (0.02 × 800) = 62.5 lx.
    light = {"illuminance": None, "iso": 800.0, "f_number": 2.0, "shutter": 0.02, "stops": stops}
    assert exact.wanted_illuminance(asking(light=light)) == pytest.approx(lux)
