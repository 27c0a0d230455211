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
