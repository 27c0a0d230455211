"""Parts that several tests of columns begin from. All are invented."""

from optimise.parts import Driver, Emitter, Panel

MODULE = Emitter(
    part="e",
    form="module",
    drive="constant current",
    flux=1000.0,
    current=0.7,
    voltage=12.0,
    length=0.1,
    width=0.03,
    mass=0.02,
)
BOARD = Panel(part="p", width=0.5, height=0.4, usable=0.64, material="board", metal=False, mass=1.0)
TUBE = Emitter(part="tube", form="tube", drive="ballast", flux=3350.0, power=36.0, length=1.2, width=0.04, mass=0.15)
BALLAST = Driver(
    part="ballast",
    input="ac",
    input_min=200.0,
    input_max=250.0,
    output="ballast",
    lamps=2,
    lamp_power=36.0,
    efficiency=0.9,
    power_factor=0.96,
    mass=0.3,
)
