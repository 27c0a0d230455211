"""Emitters that no driver of a catalogue can feed. Invented parts."""

from optimise.columns.feeding import unfed_emitters
from optimise.parts import Catalogue, Driver, Emitter
from optimise.parts.catalogue import PART_KINDS

TUBE = Emitter(
    part="tube", form="tube", drive="ballast", flux=3000.0, power=36.0, length=1.2, width=0.026, mass=0.1, case_max=60.0
)


def ballast(power: float) -> Driver:
    return Driver(
        part=f"b{power:g}",
        input="ac",
        input_min=220.0,
        input_max=240.0,
        output="ballast",
        lamps=1,
        lamp_power=power,
        power_max=power,
        efficiency=0.9,
        power_factor=0.95,
        mass=0.2,
    )


def catalogue(*drivers: Driver) -> Catalogue:
    kinds = {kind: {"emitters": (TUBE,), "drivers": drivers}.get(kind, ()) for kind in PART_KINDS}
    return Catalogue(
        **kinds, offers={}, suppliers=(), currency="EUR", fingerprints={}, places={"tube": ("emitters.csv", 7)}
    )  # type: ignore[arg-type]


def test_a_tube_needs_a_ballast_of_its_power() -> None:
    assert unfed_emitters(catalogue(ballast(36.0))) == []
    (fault,) = unfed_emitters(catalogue(ballast(18.0), ballast(58.0)))
    told = str(fault)
    for part in ("emitters.csv", "7", "column power", "tube: a lamp of 36 W", "18 W, 58 W"):
        assert part in told


def test_without_any_driver_nothing_is_said() -> None:
    assert unfed_emitters(catalogue()) == []


MODULE = Emitter(
    part="module",
    form="module",
    drive="constant current",
    flux=900.0,
    current=0.5,
    voltage=12.0,
    length=0.05,
    width=0.05,
    mass=0.02,
)


def driver(part: str, output: str, low: float, high: float) -> Driver:
    return Driver(
        part=part,
        input="dc",
        input_min=10.0,
        input_max=30.0,
        output=output,  # type: ignore[arg-type]
        output_current=0.5,
        output_min=low,
        output_max=high,
        power_max=50.0,
        efficiency=0.9,
        mass=0.1,
    )


def test_every_emitter_is_looked_at_and_told_of_what_could_feed_it() -> None:
    odd = MODULE.model_copy(update={"part": "odd", "voltage": 17.0})
    strip = MODULE.model_copy(update={"part": "strip", "form": "strip", "drive": "constant voltage"})
    drivers = driver("a", "constant current", 9.0, 15.0), driver("b", "constant current", 22.0, 26.0)
    kinds = {kind: {"emitters": (MODULE, odd, strip), "drivers": drivers}.get(kind, ()) for kind in PART_KINDS}
    found = unfed_emitters(
        Catalogue(**kinds, offers={}, suppliers=(), currency="EUR", fingerprints={}, places={})  # type: ignore[arg-type]
    )
    # One of 12 V is fed by either; 17 V and 34 V lie between and beyond both windows.
    first, second = map(str, found)
    for part in ("emitters.csv", "column voltage", "odd: 17 V at 0.5 A", "a constant current driver: 22 to 26 V, 9 to"):
        assert part in first
    for part in ("strip: 12 V at 0.5 A", "a constant voltage driver: there is none"):
        assert part in second
