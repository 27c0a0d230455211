"""One part of each kind, so that a build and its light are easy to follow by hand. All parts are invented."""

from dataclasses import replace
from typing import Any

from optimise.model.build import Build
from optimise.model.choice import ChannelChoice, Choice
from optimise.parts import Battery, Cable, Catalogue, Connector, Diffuser, Driver, Emitter, Fuse, Offer, Panel
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Power

EMITTER = Emitter(
    part="e",
    form="module",
    drive="constant current",
    flux=1000.0,
    current=0.5,
    voltage=12.0,
    length=0.2,
    width=0.05,
    mass=0.02,
    beam=20.0,
)
SCENARIO = Scenario(
    light=Light(illuminance=100.0, distance=1.0),
    power=Power(source="battery", runtime=60.0, lead_length=1.0),
)
PANEL = Panel(part="p", width=0.8, height=0.25, usable=1.0, material="board", metal=False, mass=1.0)
TALL = PANEL.model_copy(update={"part": "t", "width": 0.25, "height": 0.8})
SHEETS = (
    Diffuser(part="cloth", transmittance=0.5, width=1.0, height=1.0, mass_per_area=0.3),
    Diffuser(part="film", transmittance=0.8, spread=30.0, width=1.0, height=1.0, mass_per_area=0.3),
)


def catalogue(emitter: Emitter) -> Catalogue:
    """Return the parts with this emitter."""
    driver = Driver(
        part="d",
        input="dc",
        input_min=9.0,
        input_max=30.0,
        output="constant current",
        output_current=0.5,
        output_min=10.0,
        output_max=30.0,
        power_max=30.0,
        efficiency=0.9,
        mass=0.1,
    )
    battery = Battery(
        part="b",
        chemistry="nimh",
        voltage=12.0,
        voltage_min=10.0,
        voltage_max=14.0,
        capacity=36000.0,
        current_max=20.0,
        mass=1.0,
    )
    return Catalogue(
        emitters=(emitter,),
        drivers=(driver,),
        panels=(PANEL, TALL),
        diffusers=SHEETS,
        batteries=(battery,),
        cables=(Cable(part="c", area=1.5e-6, cores=2, rating=16.0, voltage_max=300.0, mass_per_length=0.1),),
        fuses=(Fuse(part="f", rating=10.0, voltage_max=32.0, supply="dc", kind="blade", mass=0.0),),
        connectors=(Connector(part="k", rating=15.0, voltage_max=48.0, supply="dc", mass=0.0),),
        mounts=(),
        offers={},
        suppliers=(),
        currency="EUR",
        fingerprints={},
        places={},
    )


def choice(panel: str, diffuser: str | None, number: int = 1) -> Choice:
    """Return a choice of so many pairs of emitters."""
    return Choice("e", (ChannelChoice("d", 2, 1, 0.5, number),), panel, diffuser, "b", 1, 1, "c", "f", "k", None)


def on_offer(catalogue: Catalogue, supplier: str = "s", price: int = 100) -> Catalogue:
    """Return a catalogue with each of its parts at one price in any number, from one supplier."""
    return replace(
        catalogue, offers={p.part: (Offer(part=p.part, supplier=supplier, price=price),) for p in catalogue.parts()}
    )


def with_part(build: Build, kind: str, **keys: Any) -> Build:
    """Return a build with some figures of its part of a kind changed; of the first one where it has several."""
    part = getattr(build, kind)
    if isinstance(part, tuple):
        return replace(build, **{kind: (part[0].model_copy(update=keys), *part[1:])})
    return replace(build, **{kind: part.model_copy(update=keys)})


def asking(**sections: dict[str, Any]) -> Scenario:
    """Return the plain job with some keys of sections set."""
    update = {name: getattr(SCENARIO, name).model_copy(update=keys) for name, keys in sections.items()}
    return SCENARIO.model_copy(update=update)
