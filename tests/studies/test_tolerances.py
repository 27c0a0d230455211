"""A build over its tolerances: ends, shares of made lights against sums by hand, and what the draws hang on."""

from dataclasses import replace
from typing import Any

import pytest
from numpy.random import PCG64

from optimise.model.choice import ChannelChoice, Choice
from optimise.model.exact import evaluate
from optimise.parts import Catalogue, Emitter, read_catalogue
from optimise.parts.kinds import PART_KINDS
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Limits, Power
from optimise.studies.tolerances import Ends, Tolerances, over_tolerances

# Invented parts, one of each.
FILES = {
    "emitters": "part,form,drive,flux [lm],current [A],voltage [V],voltage_min [V],voltage_max [V],length [mm],"
    "width [mm],mass [g],flux_per_kelvin [%/K],heat_fraction\n"
    "E,module,constant current,1000,0.7,12,11.5,12.5,50,50,100,-0.2,0.6\n",
    "drivers": "part,input,input_min [V],input_max [V],output,output_current [A],output_min [V],output_max [V],"
    "power_max [W],efficiency,mass [g]\n"
    "D,dc,10,30,constant current,0.7,20,50,35,0.9,100\n",
    "panels": "part,width [m],height [m],material,metal,mass [kg]\nP,0.5,0.4,aluminium,yes,1.2\n",
    "diffusers": "part,transmittance,width [m],height [m],mass_per_area [g/m^2]\nS,0.6,1,1,500\n",
    "batteries": "part,chemistry,voltage [V],voltage_min [V],voltage_max [V],capacity [Ah],current_max [A],mass [kg]\n"
    "B,lifepo4,12.8,10.4,14.6,20,25,2.4\n",
    "cables": "part,area [mm^2],cores,rating [A],voltage_max [V],mass_per_length [g/m]\nC,4,2,32,500,188\n",
    "fuses": "part,rating [A],voltage_max [V],supply,kind,mass [g]\nF,10,32,dc,blade,2\n",
    "connectors": "part,rating [A],voltage_max [V],supply\nK,15,48,dc\n",
    "mounts": "part,load [kg],mass [g]\nM,5,300\n",
    "offers": "part,supplier,price [EUR],sold_by\n"
    "E,s,4,\nD,s,20,\nP,s,30,\nS,s,12,\nB,s,40,\nC,s,1.5,length\nF,s,1,\nK,s,3,\nM,s,8,\n",
}
CHOICE = Choice("E", (ChannelChoice("D", 3, 1, 0.7, 2),), "P", "S", "B", 1, 1, "C", "F", "K", "M")
MANY = 100_000


@pytest.fixture(scope="module")
def stated(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    folder = tmp_path_factory.mktemp("stated")
    for name, text in FILES.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return read_catalogue(folder)


def given(catalogue: Catalogue, **tolerances: float) -> Catalogue:
    """Return the catalogue with tolerances by code and figure, as `E_flux`."""
    kinds: dict[str, Any] = {}
    for kind in PART_KINDS:
        rows = []
        for part in getattr(catalogue, kind):
            mine = {f"{n.partition('_')[2]}_tolerance": t for n, t in tolerances.items() if n[0] == part.part}
            rows.append(type(part)(**{**part.model_dump(), **mine}))
        kinds[kind] = tuple(rows)
    return replace(catalogue, **kinds)


def job(lux: float = 100.0, **limits: float) -> Scenario:
    return Scenario(
        light=Light(illuminance=lux, distance=2.0),
        power=Power(source="battery", runtime=3600.0, lead_length=2.0),
        limits=Limits(**limits),
    )


def ends_of(found: Tolerances, name: str) -> Ends:
    (place,) = [place for place, margin in enumerate(found.nominal.margins) if margin.name == name]
    ends = found.ends[place]
    assert ends is not None
    return ends


def lux_of(catalogue: Catalogue) -> float:
    return evaluate(CHOICE, catalogue, job()).lux


def test_the_build_is_sound_as_stated(stated: Catalogue) -> None:
    assert evaluate(CHOICE, stated, job()).passes


def test_with_no_tolerance_nothing_moves_and_nothing_is_drawn(stated: Catalogue) -> None:
    found = over_tolerances(CHOICE, stated, job())
    assert found.ends == (None,) * len(found.nominal.margins)
    assert found.worst == found.best == found.nominal == evaluate(CHOICE, stated, job())
    assert (found.stated, found.share) == ((), None)
    assert ("E", "flux") in found.unstated
    assert ("B", "capacity") in found.unstated
    assert [code for code, figure in found.unstated if figure == "mass"] == list("BCDEFKMPS")


@pytest.mark.parametrize(("of_nominal", "share"), [(0.98, 0.7), (1.0, 0.5), (1.03, 0.2), (0.94, 1.0), (1.06, 0.0)])
def test_the_share_that_is_bright_enough_is_that_of_an_even_draw(
    stated: Catalogue, of_nominal: float, share: float
) -> None:
    # Heat is stated, so the light is in proportion to the flux: (0.05 − (of_nominal − 1)) of 0.1 is bright enough.
    catalogue = given(stated, E_flux=0.05)
    nominal = lux_of(stated)
    found = over_tolerances(CHOICE, catalogue, job(of_nominal * nominal), MANY)
    light = ends_of(found, "illuminance")
    assert light.worst.achieved == pytest.approx(0.95 * nominal, rel=1e-12)
    assert light.best.achieved == pytest.approx(1.05 * nominal, rel=1e-12)
    assert light.share == pytest.approx(share, abs=0.005)
    assert found.share == light.share
    assert [ends for ends in found.ends if ends is not None] == [light]


def test_a_lot_is_one_for_all_pieces_of_a_part(stated: Catalogue) -> None:
    # Half of the way from the stated mass to the greatest, for all six at once: three quarters are lighter.
    # Six pieces drawn apart would be lighter in 98 of 100.
    grams = evaluate(CHOICE, stated, job()).milligrams / 1e3
    found = over_tolerances(CHOICE, given(stated, E_mass=0.1), job(mass=(grams + 6 * 5.0) / 1e3), MANY)
    assert ends_of(found, "mass").share == pytest.approx(0.75, abs=0.005)
    assert ends_of(found, "mass").worst.achieved == pytest.approx((grams + 60.0) / 1e3, rel=1e-9)


def test_figures_are_drawn_apart_and_all_limits_must_be_kept(stated: Catalogue) -> None:
    grams = evaluate(CHOICE, stated, job()).milligrams / 1e3
    catalogue = given(stated, E_flux=0.05, P_mass=0.1)
    scenario = job(0.98 * lux_of(stated), mass=(grams + 24.0) / 1e3)
    found = over_tolerances(CHOICE, catalogue, scenario, MANY)
    assert ends_of(found, "illuminance").share == pytest.approx(0.7, abs=0.005)
    assert ends_of(found, "mass").share == pytest.approx(0.6, abs=0.005)
    assert found.share == pytest.approx(0.42, abs=0.005)


def test_what_no_tolerance_moves_may_still_fail_every_light(stated: Catalogue) -> None:
    found = over_tolerances(CHOICE, given(stated, E_flux=0.05), job(50.0, mass=1.0))
    assert ends_of(found, "illuminance").share == 1.0
    assert found.share == 0.0


def test_draws_are_those_of_the_named_generator(stated: Catalogue) -> None:
    found = over_tolerances(CHOICE, given(stated, E_flux=0.05), job(0.98 * lux_of(stated)), 500, 7)
    # The generator's own bits, the upper 53 of each as a number from 0 to 1.
    evenly = [(int(bits) >> 11) * 2.0**-53 for bits in PCG64(7).random_raw(500)]
    assert found.share == sum(0.05 * (2.0 * u - 1.0) >= -0.02 for u in evenly) / 500
    assert (found.draws, found.start) == (500, 7)


def test_the_same_start_makes_the_same_lights_whatever_the_order_of_rows(stated: Catalogue) -> None:
    catalogue = given(stated, E_flux=0.05, E_voltage=0.03, P_mass=0.1, B_capacity=0.1)
    scenario = job(0.99 * lux_of(stated))
    first = over_tolerances(CHOICE, catalogue, scenario)
    other = {kind: tuple(reversed(getattr(catalogue, kind))) for kind in PART_KINDS}
    assert over_tolerances(CHOICE, replace(catalogue, **other), scenario) == first
    shares = {over_tolerances(CHOICE, catalogue, scenario, start=start).share for start in range(1, 6)}
    assert len(shares) > 1
    assert first.share in shares


def test_no_draws_leave_the_ends(stated: Catalogue) -> None:
    found = over_tolerances(CHOICE, given(stated, E_flux=0.05), job(), 0)
    assert ends_of(found, "illuminance").share is None
    assert found.share is None


def test_a_tolerance_of_nothing_is_stated_and_moves_nothing(stated: Catalogue) -> None:
    found = over_tolerances(CHOICE, given(stated, E_flux=0.0), job())
    assert found.stated == (("E", "flux", 0.0),)
    assert ("E", "flux") not in found.unstated
    assert found.ends == (None,) * len(found.nominal.margins)
    assert found.worst == found.nominal
    assert found.share == 1.0


def test_tolerances_of_parts_that_are_not_chosen_do_not_count(stated: Catalogue) -> None:
    spare = stated.find(Emitter, "E").model_copy(update={"part": "E2", "flux_tolerance": 0.3})
    found = over_tolerances(CHOICE, replace(stated, emitters=(*stated.emitters, spare)), job())
    assert found.stated == ()
    assert found.share is None
