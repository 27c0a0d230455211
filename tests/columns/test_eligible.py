"""Which parts a scenario lets in, and why the others are left out. Invented parts."""

from types import MappingProxyType

import pytest

from optimise.columns.eligible import Eligible, code_digits, driver_flicker, eligible_parts, flying_number, meets_ip
from optimise.parts import (
    Battery,
    Cable,
    Catalogue,
    Connector,
    Diffuser,
    Driver,
    Emitter,
    Fuse,
    Mount,
    Offer,
    Panel,
    Part,
)
from optimise.parts.catalogue import PART_KINDS
from optimise.parts.colour import library_version
from optimise.parts.spectrum_files import Spectrum
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Limits, Look, Power, Search, Travel


def scenario(source: str = "battery", ambient: float = 20.0, **sections: object) -> Scenario:
    mains = {"mains_voltage": 230.0, "mains_frequency": 50.0, "circuit": 16.0} if source != "battery" else {}
    power = Power(source=source, runtime=3600.0, lead_length=2.0, ambient=ambient, **mains)  # type: ignore[arg-type]
    return Scenario.model_validate({"light": Light(illuminance=100.0, distance=2.0), "power": power, **sections})


def let_in(wanted: Scenario, *more: Emitter, **parts: Part) -> Eligible:
    """Return what is let in of one part a kind, and more emitters, each of which is on offer."""
    every = {kind: (parts[kind],) if kind in parts else () for kind in PART_KINDS}
    every["emitters"] += more
    offers = {p.part: (Offer(part=p.part, supplier="shop", price=100),) for rows in every.values() for p in rows}
    nothing: MappingProxyType[str, str] = MappingProxyType({})
    return eligible_parts(
        Catalogue(**every, offers=offers, suppliers=(), currency="EUR", fingerprints=nothing, places={}),  # type: ignore[arg-type]
        wanted,
    )


def panel(**changes: object) -> Panel:
    return Panel(
        **{"part": "p", "width": 0.6, "height": 0.4, "material": "board", "metal": False, "mass": 1.0, **changes}
    )


def driver(**changes: object) -> Driver:
    figures: dict[str, object] = {
        "part": "d",
        "input": "ac",
        "input_min": 220.0,
        "input_max": 240.0,
        "output": "constant current",
        "output_current": 0.7,
        "output_min": 9.0,
        "output_max": 36.0,
        "power_max": 25.0,
        "efficiency": 0.87,
        "power_factor": 0.95,
        "mass": 0.1,
    }
    return Driver(**{**figures, **changes})


def battery(**changes: object) -> Battery:
    figures: dict[str, object] = {
        "part": "b",
        "chemistry": "li-ion",
        "voltage": 14.4,
        "voltage_min": 12.0,
        "voltage_max": 16.8,
        "capacity": 6.6 * 3600.0,
        "current_max": 10.0,
        "mass": 0.6,
    }
    return Battery(**{**figures, **changes})


def cable(conductor_max: float = 60.0) -> Cable:
    return Cable(
        part="c", area=1e-6, cores=2, rating=10.0, voltage_max=300.0, conductor_max=conductor_max, mass_per_length=0.06
    )


def why(wanted: Scenario, kind: str, part: Part) -> str | None:
    """Return the reason for which a part is left out; None where it is let in."""
    found = let_in(wanted, **{kind: part})
    kept = getattr(found, kind)
    if kept:
        assert kept == (part,)
        assert found.left_out == {}
        return None
    ((where, reasons),) = found.left_out.items()
    ((reason, number),) = reasons.items()
    assert (where, number) == (kind, 1)
    return reason


@pytest.mark.parametrize(
    ("code", "wanted", "holds"),
    [
        ("IP44", "IP44", True),
        ("IP65", "IP44", True),
        ("IP43", "IP44", False),
        ("IP34", "IP44", False),
        ("IP4X", "IP44", False),
        ("IPX4", "IP44", False),
        ("IP44", "IPX4", True),
        ("IP20", "IP2X", True),
        (None, "IPX0", False),
        (None, None, True),
        ("IP00", None, True),
    ],
)
def test_a_code_is_met_by_both_of_its_digits(code: str | None, wanted: str | None, holds: bool) -> None:
    # IEC 60529: an X is not stated, and is never taken as at least anything.
    assert meets_ip(code, wanted) is holds


def test_digits_of_a_code() -> None:
    assert code_digits("IP65") == (6, 5)
    assert code_digits("IPX8") == (-1, 8)


@pytest.mark.parametrize("kind", ["panels", "drivers", "batteries"])
def test_a_part_without_its_code_is_left_out_where_one_is_asked(kind: str) -> None:
    wanted = scenario("any", limits=Limits(ip="IP44"))
    for code, reason in ((None, "IP code not stated"), ("IP20", "IP code too low"), ("IP44", None)):
        part = {"panels": panel, "drivers": driver, "batteries": battery}[kind](ip=code)
        assert why(wanted, kind, part) == reason


def test_what_is_not_on_offer_is_left_out() -> None:
    catalogue = Catalogue(
        **{kind: (panel(),) if kind == "panels" else () for kind in PART_KINDS},  # type: ignore[arg-type]
        offers={},
        suppliers=(),
        currency="EUR",
        fingerprints={},
        places={},
    )
    found = eligible_parts(catalogue, scenario())
    assert found.left_out == {"panels": {"no offer within suppliers, deadline and day": 1}}


def test_a_panel_must_fit_and_be_soft_enough() -> None:
    for limits, reason in (
        (Limits(width=0.6, height=0.4), None),
        (Limits(width=0.599), "too wide"),
        (Limits(height=0.399), "too high"),
    ):
        assert why(scenario(limits=limits), "panels", panel()) == reason
    for least, reason in ((0.4, None), (0.401, "too small to be soft enough")):
        assert why(scenario(look=Look(source_size_min=least)), "panels", panel()) == reason


@pytest.mark.parametrize(
    ("source", "figures", "reason"),
    [
        ("battery", {}, "needs mains"),
        ("mains", {}, None),
        ("any", {}, None),
        ("mains", {"input_min": 230.0, "input_max": 230.0}, None),
        ("mains", {"input_min": 231.0}, "not for this mains voltage"),
        ("mains", {"input_max": 229.0}, "not for this mains voltage"),
        ("mains", {"input": "dc", "input_min": 10.0, "input_max": 30.0}, "needs a battery"),
        ("battery", {"input": "dc", "input_min": 10.0, "input_max": 30.0}, None),
    ],
)
def test_a_driver_must_be_made_for_the_source(source: str, figures: dict[str, object], reason: str | None) -> None:
    assert why(scenario(source), "drivers", driver(**figures)) == reason


def test_a_driver_must_dim_as_far_as_asked() -> None:
    wanted = scenario("mains", look=Look(dim_to=0.1))
    for figures, reason in (
        ({"dimmable": "no"}, "does not dim"),
        ({"dimmable": "current", "dim_min": 0.11}, "does not dim so far"),
        ({"dimmable": "current", "dim_min": 0.1}, None),
    ):
        assert why(wanted, "drivers", driver(**figures)) == reason


def test_a_battery_must_bear_the_cold_and_the_journey() -> None:
    cold = battery(temperature_min=-10.0)
    assert why(scenario(ambient=-10.0), "batteries", cold) is None
    assert why(scenario(ambient=-11.0), "batteries", cold) == "too cold for it"
    # IATA DGR 2.3 (seen second-hand): 95 Wh need no approval, 144 Wh do, 173 Wh never fly.
    for capacity, approval, number in ((6.6, False, 20), (10.0, False, 0), (10.0, True, 2), (12.0, True, 0)):
        wanted = scenario(travel=Travel(mode="air", approval=approval))
        pack = battery(capacity=capacity * 3600.0)
        assert flying_number(pack, wanted) == number
        assert why(wanted, "batteries", pack) == (None if number else "may not fly as asked")
    assert flying_number(battery(), scenario()) is None
    # Not asked for, so not told either.
    assert let_in(scenario("mains"), batteries=battery()).left_out == {}
    assert let_in(scenario("mains"), batteries=battery()).batteries == ()


def test_a_cable_must_be_cooler_than_its_insulation_bears() -> None:
    assert why(scenario(ambient=49.0), "cables", cable(50.0)) is None
    assert why(scenario(ambient=50.0), "cables", cable(50.0)) == "too hot for it"


@pytest.mark.parametrize(
    ("source", "supply", "reason"),
    [
        ("battery", "dc", None),
        ("battery", "ac", "for mains"),
        ("mains", "ac", None),
        ("mains", "dc", "for batteries"),
        ("any", "ac", None),
        ("any", "dc", None),
    ],
)
def test_fuses_and_connectors_are_for_one_kind_of_supply(source: str, supply: str, reason: str | None) -> None:
    fuse = Fuse(part="f", rating=5.0, voltage_max=250.0, supply=supply, kind="blade")  # type: ignore[arg-type]
    plug = Connector(part="k", rating=5.0, voltage_max=250.0, supply=supply)  # type: ignore[arg-type]
    assert why(scenario(source), "fuses", fuse) == reason
    assert why(scenario(source), "connectors", plug) == reason


def test_mounts_are_looked_at_where_one_is_asked() -> None:
    mount = Mount(part="m", load=5.0, mass=0.5)
    assert let_in(scenario(limits=Limits(mount=True)), mounts=mount).mounts == (mount,)
    assert let_in(scenario(limits=Limits(mount=False)), mounts=mount).mounts == ()


def test_a_driver_with_live_strings_is_none() -> None:
    assert why(scenario("mains"), "drivers", driver(isolated=False)) == "not isolated from the mains"
    assert why(scenario("mains"), "drivers", driver(isolated=True)) is None


def test_a_driver_flickers_as_it_switches_at_the_lowest_level() -> None:
    switching = driver(dimmable="pwm", pwm=1000.0, ripple=0.0)
    # Half of the time on, 20.83 periods of 1 kHz in 1/48 s: 10.5 to 10.33 of them, log2 of which is 0.0231 stops.
    dimmed = Look(shutter=1 / 48, dim_to=0.5)
    assert driver_flicker(switching, scenario("mains", look=dimmed)) == pytest.approx(0.02308, abs=1e-5)
    assert driver_flicker(switching, scenario("mains", look=Look(shutter=1 / 48))) == pytest.approx(0.0, abs=1e-12)
    assert driver_flicker(switching, scenario("mains", look=Look(dim_to=0.5))) is None
    change = driver_flicker(switching, scenario("mains", look=dimmed))
    assert change is not None
    for most, reason in ((change, None), (0.999 * change, "flickers too much at this shutter")):
        look = Look(shutter=1 / 48, dim_to=0.5, flicker_max=most)
        assert why(scenario("mains", look=look), "drivers", switching) == reason
    # What is not known refuses nothing; what is not asked for neither.
    unknown = driver(dimmable="pwm")
    assert why(scenario("mains", look=Look(shutter=1 / 48, dim_to=0.5, flicker_max=0.01)), "drivers", unknown) is None
    assert why(scenario("mains", look=dimmed), "drivers", switching) is None


def test_a_sheet_is_let_in_as_it_is() -> None:
    sheet = Diffuser(part="s", transmittance=0.6, width=1.0, height=1.0, mass_per_area=0.3)
    assert why(scenario(), "diffusers", sheet) is None


def emitter(part: str, cct: float | None, **changes: object) -> Emitter:
    figures: dict[str, object] = {
        "part": part,
        "form": "module",
        "drive": "constant current",
        "flux": 1000.0,
        "current": 0.7,
        "voltage": 12.0,
        "length": 0.1,
        "width": 0.03,
        "mass": 0.02,
        "cct": cct,
    }
    return Emitter(**{**figures, **changes})


def sheet(shift: float) -> Diffuser:
    return Diffuser(part="s", transmittance=0.6, width=1.0, height=1.0, mass_per_area=0.3, mired_shift=shift)


def let_in_for(look: Look, cct: float, shift: float | None) -> bool:
    parts = {} if shift is None else {"diffusers": sheet(shift)}
    return bool(let_in(scenario(look=look), emitter("e", cct), **parts).emitters)


def test_an_emitter_must_have_the_colour_that_is_asked_for_bare_or_behind_a_filter() -> None:
    narrow = Look(cct_min=3995.0, cct_max=4005.0)
    assert why(scenario(), "emitters", emitter("e", None)) is None
    assert why(scenario(look=narrow), "emitters", emitter("e", 4000.0)) is None
    assert why(scenario(look=narrow), "emitters", emitter("e", 3990.0)) == "colour temperature out of range"
    assert why(scenario(look=narrow), "emitters", emitter("e", None)) == "colour temperature not stated"
    # One filter that helps is enough; and one that does not takes nothing away.
    assert let_in_for(narrow, 4000.0, 50.0)
    assert not let_in_for(narrow, 5000.0, None)
    assert let_in_for(narrow, 5000.0, 50.0)
    assert not let_in_for(narrow, 5000.0, -50.0)
    # Without a filter nothing shifts it: 250 mired are not 251 mired.
    assert not let_in_for(Look(cct_min=3975.0, cct_max=3990.0), 4000.0, None)
    # 200 mired and two filters of 50 are 300 mired, 3333 K.
    for sheets, enough in ((1, False), (2, True)):
        assert let_in_for(Look(cct_min=3300.0, cct_max=3370.0, sheets_max=sheets), 5000.0, 50.0) is enough
    # Two of them may be too much where one is right.
    assert let_in_for(narrow.model_copy(update={"sheets_max": 2}), 5000.0, 50.0)


def test_what_a_spectrum_does_not_tell_is_not_known_and_not_unstated(monkeypatch: pytest.MonkeyPatch) -> None:
    if library_version() is None:
        pytest.skip("no spectrum is worked out without colour-science")
    # As of light that is too far from white; working one out in earnest takes seconds to begin with.
    monkeypatch.setattr("optimise.scenario.colour.figure_of", lambda emitter, figure: None)
    blue = Spectrum("blue.csv", "of blue", (440.0, 450.0, 460.0), (0.0, 1.0, 0.0))
    shining = emitter("e", 4000.0).shining(blue)
    assert why(scenario(look=Look(cct_min=3000.0)), "emitters", shining) == "colour temperature not known"


def test_whites_that_miss_the_window_may_be_mixed_where_two_kinds_may() -> None:
    window = Look(cct_min=3900.0, cct_max=4300.0)
    warm, cold, right = emitter("warm", 2700.0), emitter("cold", 6500.0), emitter("right", 4000.0)
    unknown = emitter("unknown", None)
    every = warm, cold, right, unknown
    mixed = let_in(scenario(look=window, search=Search(emitter_kinds=2)), *every)
    assert mixed.emitters == (warm, cold, right)
    assert mixed.only_mixed == {"warm", "cold"}
    assert mixed.left_out == {"emitters": {"colour temperature not stated": 1}}
    alone = let_in(scenario(look=window), *every)
    assert alone.emitters == (right,)
    assert alone.only_mixed == set()
    # Each reason is counted.
    assert alone.left_out == {"emitters": {"colour temperature out of range": 2, "colour temperature not stated": 1}}
