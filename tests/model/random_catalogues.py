"""Small random catalogues and jobs, made from a number; all parts, prices and suppliers are invented.

Parts are drawn to fit each other (a driver to an emitter, a fuse to a load), for a purely random catalogue
would hold no build at all; the target is read off one build, so that most jobs can be done and some cannot.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

import numpy as np
from random_points import random_points
from random_stacks import with_filters

from optimise.model.dots import ripple_of
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
    Supplier,
)
from optimise.parts.photometry import Kind, Photometry
from optimise.physics.beams import beam_exponent
from optimise.physics.faces import lux_per_lumen
from optimise.physics.heat import heat_shed
from optimise.scenario import Scenario
from optimise.scenario.light import Light
from optimise.scenario.model import Limits, Look, Power, Safety, Travel

SUPPLIERS = ("ashgrove", "birchway", "cloverley")


@dataclass(frozen=True)
class Case:
    """One random problem."""

    name: str
    catalogue: Catalogue
    scenario: Scenario


def random_case(number: int, source: str, attempt: int = 0, most_emitters: int = 8) -> Case:
    """Return the problem of a number, fed from `source` (battery, mains or any), at one of many attempts.

    A source that ends in +measured has tables of intensity in place of most beams, one in +even a subject of some
    size, most often with limits on how evenly it is lit, one in +points has points with targets of their own; in one
    +dots most panels state a depth, and how far emitters may show on the diffuser is limited; one in
    +stacked may have two sheets, which are filters.
    """
    rng = Random(f"{source} {number} {attempt}")
    fed, _, more = source.partition("+")
    draw = _Draw(
        rng,
        fed,
        most_emitters,
        sees=number % 7 == 2,
        boxed=number % 7 == 4,
        measured="measured" in more,
        even="even" in more,
        dots="dots" in more,
    )
    catalogue, scenario = draw.catalogue(), draw.scenario()
    if "stacked" in more:
        catalogue, scenario = with_filters(catalogue, scenario, Random(f"stacked {source} {number} {attempt}"))
    if "points" in more:
        chance = Random(f"points {source} {number} {attempt}")
        scenario = scenario.model_copy(update={"points": random_points(chance, scenario.light)})
    return Case(f"case {number} ({source})", catalogue, scenario)


def stated(part: Part) -> bool | None:
    """Return yes, no or a blank, by the part's own figures, so that nothing else is drawn otherwise."""
    return Random(repr(part)).choice([None, None, True, True, True, False])


def random_table(rng: Random) -> Photometry:
    """Return an invented table of intensity of any type and symmetry: narrow, wide, dark in the middle, lopsided."""
    kind: Kind = rng.choice(["C", "C", "C", "A", "B"])
    if kind == "C":
        last = rng.choice([90.0, 180.0])
        first, end = rng.choice([(0.0, 0.0), (0.0, 90.0), (0.0, 180.0), (90.0, 270.0), (0.0, 360.0)])
        vertical = np.linspace(0.0, last, round(last / rng.choice([5.0, 10.0, 15.0])) + 1)
        horizontal = np.array([0.0]) if end == 0.0 else np.arange(first, end + 1.0, rng.choice([15.0, 45.0, 90.0]))
        axis = np.cos(np.radians(vertical))[None, :]
    else:
        vertical, horizontal = (
            np.linspace(low, 90.0, 13) for low in (rng.choice([-90.0, 0.0]), rng.choice([-90.0, 0.0]))
        )
        axis = np.cos(np.radians(horizontal))[:, None] * np.cos(np.radians(vertical))[None, :]
    power = rng.choice([0.7, 1.0, 3.0, 12.0])
    middle = rng.choice([0.0, 0.0, 0.0, 0.6, 1.0])
    shape = np.maximum(axis, 0.0) ** power * (1.0 - middle * np.maximum(axis, 0.0)) + 0.02 * (axis < 0.0)
    uneven = np.array([[1.0 + 0.5 * rng.random() for _ in vertical] for _ in horizontal])
    return Photometry(kind, vertical, horizontal, shape * uneven * 1000.0)


class _Draw:
    """The parts of one catalogue, drawn in the order in which they depend on each other."""

    def __init__(
        self,
        rng: Random,
        source: str,
        most_emitters: int,
        *,
        sees: bool,
        boxed: bool,
        measured: bool = False,
        even: bool = False,
        dots: bool = False,
    ) -> None:
        self.rng = rng
        # Flicker, shadows and boxes have numbers of their own: jobs that do not ask for them stay what they were.
        self.own = Random(f"seen {rng.getstate()[1][:9]}")
        self.sees, self.boxed = sees, boxed
        self.source = source
        self.even, self.dots = even, dots
        self.most = most_emitters
        self.mains_voltage = rng.choice([115.0, 230.0])
        self.ambient = rng.choice([-12.0, 0.0, 10.0, 20.0, 25.0, 25.0, 25.0, 33.0, 41.0])
        self.air = rng.random() < 0.2
        self.asks_ip = rng.random() < 0.12
        self.distance = rng.uniform(0.3, 2.5)
        self.touch = rng.choice([60.0, 60.0, 52.0, 75.0])
        self.panels = [self.panel(i) for i in range(rng.randint(1, 3))]
        if dots:
            self.deepened()
        self.aim_panel = max(self.panels, key=lambda p: p.width * p.height)
        self.diffusers = [self.diffuser(i) for i in range(rng.choice([0, 1, 1, 2, 2]))]
        self.count = rng.randint(1, most_emitters)
        self.emitters = self.draw_emitters()
        if measured:
            self.emitters = [e.beaming(random_table(rng)) if rng.random() < 0.8 else e for e in self.emitters]
        self.aim = rng.choice(self.emitters)
        self.count = min(self.count, self.room(self.aim, self.aim_panel))
        self.load = max(1.15 * self.count * self.aim.watts, 0.5)
        self.volts = rng.choice([7.2, 11.1, 12.0, 12.8, 14.4, 24.0, 25.6])
        self.drivers = self.draw_drivers()
        battery = source != "mains"
        self.batteries = [self.battery(i) for i in range(rng.randint(1, 3))] if battery else []
        self.lead = rng.choice([0.5, 1.0, 2.0, 3.0, 5.0, 10.0])
        self.cables = [self.cable(i) for i in range(rng.randint(1, 3))]
        self.fuses: list[Fuse] = []
        self.connectors: list[Connector] = []
        for supply in ("dc",) * battery + ("ac",) * (source != "battery"):
            self.fuses += [self.fuse(i, supply) for i in range(rng.randint(1, 3))]
            self.connectors += [self.connector(i, supply) for i in range(rng.randint(1, 2))]
        self.mounts = [self.mount(i) for i in range(rng.choice([0, 1, 1, 2]))]

    def maybe(self, chance: float, value: float) -> float | None:
        return value if self.rng.random() < chance else None

    def ip(self) -> str | None:
        return self.rng.choice([None, "IP20", "IP44", "IP65", "IP65", "IP65"]) if self.asks_ip else None

    def code(self, kind: str, index: int) -> str:
        # Codes in no order of quality: a tie broken by code must not look like a rule of something else.
        return f"{kind}-{self.rng.randint(10, 99)}-{index}"

    def panel(self, index: int) -> Panel:
        rng = self.rng
        hot = rng.random() < 0.35
        width = rng.uniform(0.05, 0.2) if hot else rng.uniform(0.15, 0.7)
        height = width * rng.uniform(0.5, 1.5)
        return Panel(
            part=self.code("PAN", index),
            width=round(width, 3),
            height=round(height, 3),
            usable=rng.choice([0.6, 0.81, 0.9, 1.0]),
            material="invented",
            metal=rng.random() < 0.5,
            faces=rng.choice([1, 1, 2]),
            emissivity=round(rng.uniform(0.05, 0.95), 2),
            thermal_resistance=self.maybe(0.25, round(rng.uniform(0.15, 3.0), 3)),
            temperature_max=self.maybe(0.3, rng.choice([45.0, 55.0, 70.0, 85.0])),
            depth=self.own.choice([None, 0.0, 0.04, 0.15]) if self.boxed else None,
            reflectance=self.own.choice([None, 0.4, 0.85, 0.97]) if self.boxed else None,
            heat_density_max=10.0 ** (3.0 + 1.5 * (width * 1e4 % 1.0)) if width * 1e3 % 1.0 < 0.2 else None,
            mass=round(6.0 * width * height * rng.uniform(0.5, 1.5), 4),
            ip=self.ip(),
        )

    def diffuser(self, index: int) -> Diffuser:
        rng = self.rng
        code, through = self.code("DIF", index), round(rng.uniform(0.4, 0.95), 3)
        return Diffuser(
            part=code,
            transmittance=through,
            reflectance=self.own.choice([0.0, 0.5, 0.9]) * (1.0 - through) if self.boxed else 0.0,
            spread=self.maybe(0.5, float(rng.randint(10, 90))),
            **self.grid(),
            width=rng.choice([0.3, 1.2, 1.2]),
            height=rng.choice([0.5, 1.2, 1.2]),
            mass_per_area=round(rng.uniform(0.05, 2.0), 3),
        )

    def grid(self) -> dict[str, float]:
        if not self.boxed or self.own.random() < 0.6:
            return {}
        return {"grid": self.own.choice([20.0, 50.0, 90.0]), "grid_transmittance": self.own.choice([0.8, 0.95, 1.0])}

    def draw_emitters(self) -> list[Emitter]:
        rng = self.rng
        number = rng.choice([1, 2, 2, 3])
        return [rng.choice([self.module, self.module, self.module, self.strip, self.tube])(i) for i in range(number)]

    def watts(self) -> float:
        """Return the power of one emitter, so that the heat of all is near what the panel sheds."""
        p = self.aim_panel
        limit = min(self.touch, p.temperature_max or 200.0)
        ambient = min(self.ambient, limit - 5.0)
        if p.thermal_resistance is not None:
            shed = (limit - ambient) / p.thermal_resistance
        else:
            shed = float(heat_shed(limit, ambient, p.width, p.height, p.faces, p.emissivity))
        return min(shed, 250.0) / self.count / 0.7 * self.rng.choice([0.15, 0.4, 0.7, 0.9, 1.0, 1.2])

    @staticmethod
    def room(emitter: Emitter, panel: Panel) -> int:
        """Return how many emitters fit, at least 1."""
        share = math.sqrt(panel.usable)
        width, height = panel.width * share, panel.height * share
        return max(
            int(width / emitter.length + 1e-9) * int(height / emitter.width + 1e-9),
            int(width / emitter.width + 1e-9) * int(height / emitter.length + 1e-9),
            1,
        )

    def size(self) -> tuple[float, float]:
        """Return length and width so that a handful of emitters fit one of the panels."""
        rng = self.rng
        panel = self.aim_panel if rng.random() < 0.7 else rng.choice(self.panels)
        share = math.sqrt(panel.usable)
        grids = [(a, b) for a in range(1, 6) for b in range(1, 5) if self.count <= a * b <= self.most]
        across, up = rng.choice(grids)
        # Sometimes a whole number of emitters fits exactly, to the last bit.
        tight = rng.choice([1.0, 0.97, 0.9])
        return panel.width * share / across * tight, panel.height * share / up * tight

    def heat_figures(self) -> dict[str, float | None]:
        rng = self.rng
        return {
            "back": self.own.choice([None, 0.0, 0.2, 0.5]) if self.boxed else None,
            "beam": rng.choice([120.0, 120.0, 160.0, 90.0, 45.0, 20.0]),
            "case_max": self.maybe(0.5, rng.choice([55.0, 70.0, 85.0, 105.0])),
            "flux_per_kelvin": -rng.choice([0.0, 0.001, 0.002, 0.004, 0.008]),
            "heat_fraction": self.maybe(0.5, round(rng.uniform(0.3, 0.9), 2)),
            "resistance_junction_case": self.maybe(0.6, round(rng.uniform(0.1, 12.0), 2)),
            "cct": rng.choice([None, 2900.0, 4000.0, 5600.0, 5600.0]),
            "cri": rng.choice([None, 80.0, 92.0, 97.0]),
            "r9": rng.choice([None, 10.0, 60.0]),
        }

    def module(self, index: int) -> Emitter:
        rng = self.rng
        voltage = round(rng.choice([3.0, 6.1, 9.2, 12.0, 18.5, 36.0]) * rng.uniform(0.95, 1.05), 2)
        current = max(round(self.watts() / voltage, 3), 0.01)
        watts = voltage * current
        length, width = self.size()
        return Emitter(
            part=self.code("LED", index),
            form="module",
            drive="constant current",
            flux=round(watts * rng.uniform(60.0, 170.0), 1),
            current=current,
            voltage=voltage,
            voltage_min=self.maybe(0.5, round(voltage * rng.uniform(0.9, 0.99), 3)),
            voltage_max=self.maybe(0.5, round(voltage * rng.uniform(1.01, 1.1), 3)),
            voltage_per_kelvin=-rng.choice([0.0, 0.0, 0.0005, 0.001]) * voltage,
            dynamic_resistance=rng.choice([0.0, 0.1, 0.25]) * voltage / current,
            current_min=self.maybe(0.4, current * rng.choice([0.1, 0.4, 0.65, 0.95])),
            current_max=self.maybe(0.3, current * rng.choice([1.0, 1.2, 1.5])),
            droop=rng.choice([0.0, 0.0, 0.1, 0.3]),
            length=length,
            width=width,
            mass=round(rng.uniform(0.002, 0.2), 4),
            ip=self.ip(),
            **self.heat_figures(),
        )

    def strip(self, index: int) -> Emitter:
        rng = self.rng
        voltage = rng.choice([12.0, 12.0, 24.0])
        watts = self.watts()
        length, width = self.size()
        return Emitter(
            part=self.code("TAPE", index),
            form="strip",
            drive="constant voltage",
            flux=round(watts * rng.uniform(50.0, 140.0), 1),
            current=max(round(watts / voltage, 4), 0.001),
            voltage=voltage,
            length=rng.choice([length, round(length, 2) or 0.01]),
            width=width,
            mass=round(rng.uniform(0.002, 0.05), 4),
            ip=self.ip(),
            **self.heat_figures(),
        )

    def tube(self, index: int) -> Emitter:
        rng = self.rng
        power = max(round(self.watts(), 1), 0.5)
        length, width = self.size()
        return Emitter(
            part=self.code("TUBE", index),
            form="tube",
            drive="ballast",
            flux=round(power * rng.uniform(50.0, 95.0), 1),
            power=power,
            length=length,
            width=width,
            mass=round(rng.uniform(0.02, 0.2), 4),
            ip=self.ip(),
            **self.heat_figures(),
        )

    def draw_drivers(self) -> list[Driver]:
        rng = self.rng
        number = rng.randint(2, 4)
        # Every emitter gets a driver while there are any; the rest go to the emitter aimed at.
        order = [self.aim, *(e for e in self.emitters if e is not self.aim)]
        wanted = [order[i] if i < len(order) else rng.choice([self.aim, *order]) for i in range(number)]
        return [self.driver(i, emitter) for i, emitter in enumerate(wanted)]

    def driver(self, index: int, emitter: Emitter) -> Driver:
        rng = self.rng
        mains = self.source == "mains" or (self.source == "any" and rng.random() < 0.5)
        if mains:
            low, high = rng.choice([(90.0, 264.0), (198.0, 264.0), (90.0, 132.0)])
            if not low <= self.mains_voltage <= high and rng.random() < 0.8:
                low, high = 90.0, 264.0
            feed = {
                "input": "ac",
                "input_min": low,
                "input_max": high,
                "power_factor": round(rng.uniform(0.5, 0.99), 2),
            }
        else:
            feed = {
                "input": "dc",
                "input_min": round(self.volts * rng.choice([0.3, 0.6, 0.75, 0.88]), 2),
                "input_max": round(self.volts * rng.choice([1.25, 1.5, 2.6]), 2),
            }
        driver = Driver(
            part=self.code("DRV", index),
            efficiency=round(rng.uniform(0.7, 0.97), 3),
            mass=round(rng.uniform(0.01, 0.4), 4),
            ip=self.ip(),
            **feed,
            **self.output(emitter),
            **self.modulation(mains),
        )
        if not driver.on_mains_strings:
            return driver
        return driver.model_copy(update={"isolated": stated(driver)})

    def modulation(self, mains: bool) -> dict[str, str | float | None]:
        own = self.own
        dimmable = own.choice([None, "no", "current", "pwm", "pwm"])
        ripple = own.choice([None, 0.0, 0.02, 0.1, 0.4, 0.9])
        frequency = None if ripple is None or (mains and own.random() < 0.8) else own.choice([300.0, 5e4])
        return {
            "dimmable": dimmable,
            "pwm": own.choice([None, 120.0, 700.0, 4000.0, 25000.0]) if dimmable == "pwm" else None,
            "dim_min": own.choice([None, 0.01, 0.1, 0.4]) if dimmable not in {None, "no"} else None,
            "ripple": ripple,
            "ripple_frequency": frequency,
        }

    def look(self, **asked: object) -> Look:
        own = self.own
        if not self.sees:
            return Look(**asked)
        flickers, dims, shadows = own.random() < 0.7, own.random() < 0.5, own.random() < 0.3
        return Look(
            **asked,
            flicker_max=own.choice([0.01, 0.05, 0.2, 1.0]) if flickers else None,
            shutter=own.choice([0.02, 1 / 48, 0.004]) if flickers else None,
            dim_to=own.choice([0.05, 0.3, 0.5]) if dims else None,
            penumbra_min=own.uniform(0.05, 0.3) if shadows else None,
            background=own.uniform(0.5, 2.0) if shadows else None,
        )

    def output(self, emitter: Emitter) -> dict[str, str | float | int]:
        rng = self.rng
        if emitter.drive == "ballast":
            return {
                "output": "ballast",
                "lamps": rng.choice([1, 1, 2, 3]),
                "lamp_power": emitter.watts if rng.random() < 0.9 else emitter.watts + 4.0,
            }
        assert emitter.voltage is not None
        assert emitter.current is not None
        most = rng.randint(1, max(1, self.count if rng.random() < 0.5 else self.count // 2))
        if emitter.drive == "constant voltage":
            volts = emitter.voltage * rng.choice([1, 1, 1, 2])
            figures: dict[str, str | float | int] = {
                "output": "constant voltage",
                "output_min": volts,
                "output_max": volts * rng.choice([1.0, 1.0, 1.1]),
                "power_max": round(most * emitter.watts * rng.choice([1.0, 1.2, 1.7]), 3),
            }
            if rng.random() < 0.5:
                figures["output_current"] = round(most * emitter.current * rng.choice([1.0, 1.5]), 4)
            return figures
        room = max(1, int(50.0 / emitter.voltage / 1.1))
        series = rng.randint(1, min(most, room))
        parallel = max(1, most // series)
        figures = {
            "output": "constant current",
            "output_min": round(emitter.voltage * series * rng.choice([0.05, 0.4, 0.7]), 3),
            "output_max": round(emitter.voltage * series * rng.choice([1.05, 1.15, 1.4]), 3),
            "power_max": round(most * emitter.watts * rng.choice([1.05, 1.3, 2.0]), 3),
        }
        current = emitter.current * parallel
        if rng.random() < 0.6:
            figures["output_current"] = max(round(current * rng.choice([0.5, 0.7, 1.0, 1.0, 1.0, 1.1]), 4), 0.001)
        else:
            figures["current_min"] = max(round(current * rng.choice([0.3, 0.55, 0.85]), 4), 0.001)
            figures["current_max"] = max(round(current * rng.choice([0.9, 1.0, 1.15]), 4), 0.001)
        return figures

    def battery(self, index: int) -> Battery:
        rng = self.rng
        chemistry = rng.choice(["li-ion", "lifepo4", "nimh", "nicd", "lead-acid"])
        volts = self.volts * rng.choice([1.0, 1.0, 1.0, 0.5])
        # The energy that the load aimed at takes in something like an hour, more or less.
        capacity = self.load / self.volts * 3600.0 * rng.uniform(0.4, 2.5)
        peukert = rng.choice([1.0, 1.05, 1.15, 1.3])
        return Battery(
            part=self.code("BAT", index),
            chemistry=chemistry,
            voltage=volts,
            voltage_min=volts * rng.choice([0.8, 0.9, 1.0]),
            voltage_max=volts * rng.choice([1.0, 1.15, 1.2]),
            capacity=capacity,
            rated_time=rng.choice([3600.0, 18000.0, 72000.0]) if peukert > 1 or rng.random() < 0.5 else None,
            peukert=peukert,
            current_max=self.load / self.volts * rng.uniform(0.7, 4.0),
            usable=rng.choice([0.5, 0.8, 0.9, 1.0]),
            capacity_per_kelvin=rng.choice([0.0, 0.004, 0.01, 0.02]),
            temperature_min=self.maybe(0.4, rng.choice([-20.0, -15.0, -10.0, 0.0])),
            # Half the voltage makes sense in pairs only.
            series_max=rng.choice([1, 1, 2]) if volts == self.volts else 2,
            parallel_max=rng.choice([1, 2, 2]),
            mass=round(capacity * volts / 3600.0 / rng.uniform(35.0, 180.0), 4),
            ip=self.ip(),
        )

    @property
    def current(self) -> float:
        return self.load / (self.mains_voltage if self.source == "mains" else self.volts)

    def cable(self, index: int) -> Cable:
        rng = self.rng
        resistance = None
        area = rng.choice([0.5, 0.75, 1.0, 1.5, 2.5])
        if rng.random() < 0.6 and self.source != "mains":
            # A lead that takes something like the drop allowed: drop and loss then decide.
            drop = 0.03 * self.volts * rng.choice([0.1, 0.2, 0.4, 0.7])
            area, resistance = 0.33, drop / max(self.current, 1e-3) / 2.4 / self.lead
        return Cable(
            part=self.code("CAB", index),
            area=area * 1e-6,
            cores=rng.choice([2, 3, 3]),
            rating=round(max(self.current, 0.3) * rng.uniform(2.0, 9.0), 2),
            voltage_max=300.0,
            conductor_max=rng.choice([60.0, 60.0, 90.0]),
            resistance=resistance,
            mass_per_length=round(rng.uniform(0.02, 0.2), 4),
        )

    def fuse(self, index: int, supply: str) -> Fuse:
        rng = self.rng
        return Fuse(
            part=self.code(f"FUSE{supply.upper()}", index),
            rating=round(max(self.current, 0.2) * rng.uniform(1.0, 3.5), 2),
            voltage_max=250.0 if supply == "ac" else self.volts * rng.choice([1.3, 2.6]),
            supply=supply,
            kind="invented",
            mass=rng.choice([0.0, 0.012, 0.03]),
        )

    def connector(self, index: int, supply: str) -> Connector:
        rng = self.rng
        plug = Connector(
            part=self.code(f"PLUG{supply.upper()}", index),
            rating=round(max(self.current, 0.2) * rng.uniform(2.5, 9.0), 2),
            voltage_max=250.0 if supply == "ac" else self.volts * rng.choice([1.5, 3.0]),
            supply=supply,
            mass=rng.choice([0.0, 0.018, 0.05]),
        )
        return plug.model_copy(update={"earth": stated(plug)})

    def mount(self, index: int) -> Mount:
        rng = self.rng
        return Mount(
            part=self.code("MNT", index),
            load=round(rng.choice([1.5, 4.0, 10.0]) * rng.uniform(0.7, 1.3), 3),
            mass=round(rng.uniform(0.05, 0.5), 3),
        )

    def parts(self) -> dict[str, Sequence[Part]]:
        return {
            "emitters": self.emitters,
            "drivers": self.drivers,
            "panels": self.panels,
            "diffusers": self.diffusers,
            "batteries": self.batteries,
            "cables": self.cables,
            "fuses": self.fuses,
            "connectors": self.connectors,
            "mounts": self.mounts,
        }

    def catalogue(self) -> Catalogue:
        kinds = {name: tuple(sorted(rows, key=lambda part: part.part)) for name, rows in self.parts().items()}
        offers = {part.part: self.offers(part) for rows in kinds.values() for part in rows}
        return Catalogue(
            **kinds,
            offers={code: rows for code, rows in sorted(offers.items()) if rows},
            suppliers=tuple(Supplier(supplier=name) for name in SUPPLIERS),
            currency="EUR",
            fingerprints={},
            places={},
        )

    def offers(self, part: Part) -> tuple[Offer, ...]:
        rng = self.rng
        base = rng.randint(50, 3000)
        rows: list[Offer] = []
        many = isinstance(part, Emitter | Driver | Battery)
        by_length = isinstance(part, Cable) or (isinstance(part, Emitter) and part.form == "strip")
        for _ in range(rng.choice([1, 1, 2, 2, 3])):
            supplier = rng.choice([*SUPPLIERS, "own"]) if rng.random() < 0.3 else rng.choice(SUPPLIERS)
            lead_time = self.maybe(0.9, rng.choice([1.0, 1.0, 3.0, 9.0]) * 86400.0)
            price = 0 if supplier == "own" else max(1, int(base * rng.uniform(0.6, 1.5)))
            pack, least, stock = 1.0, 0.0, None
            sold = "length" if isinstance(part, Cable) or (by_length and rng.random() < 0.7) else "each"
            if sold == "length":
                pack = rng.choice([1.0, 0.5, 0.1, 5.0])
                price = 0 if supplier == "own" else max(1, int(price * pack / 4))
                stock = self.maybe(0.3, rng.choice([2.5, 7.0, 30.0]))
                least = rng.choice([0.0, 0.0, 0.7, 3.0])
            elif many:
                pack = rng.choice([1.0, 1.0, 1.0, 2.0, 5.0])
                price = int(price * pack)
                stock = self.maybe(0.35, float(rng.randint(0, 2 * self.most)))
                if supplier == "own":
                    stock = float(rng.randint(1, self.most))
            else:
                stock = self.maybe(0.1, float(rng.randint(0, 3)))
            if sold == "each" and many and rng.random() < 0.35:
                least = float(rng.randint(2, 6))
            rows.append(
                Offer(
                    part=part.part,
                    supplier=supplier,
                    price=price,
                    pack=pack,
                    quantity_min=least,
                    stock=stock,
                    lead_time=lead_time,
                    sold_by=sold,
                )
            )
            if many and rng.random() < 0.3 and supplier != "own":
                # A price break of the same supplier: now and then it pays to buy more than is needed.
                rows.append(
                    rows[-1].model_copy(
                        update={
                            "price": max(1, int(price * rng.uniform(0.4, 0.9))),
                            "quantity_min": least + rng.randint(1, 6),
                        }
                    )
                )
        return tuple(
            sorted(
                rows,
                key=lambda o: (o.supplier, o.sold_by, o.pack, o.quantity_min, o.price, o.lead_time or 0.0),
            )
        )

    def target(self) -> float:
        """Return the light of a build that may or may not be possible."""
        rng = self.rng
        flux = self.aim.flux * self.count
        panel = sorted((self.aim_panel.width, self.aim_panel.height))
        sheets = [d for d in self.diffusers if sorted((d.width, d.height)) >= panel]
        if sheets:
            sheet = rng.choice(sheets)
            factor = sheet.transmittance * float(
                lux_per_lumen(self.aim_panel.width, self.aim_panel.height, self.distance)
            )
        else:
            exponent = float(beam_exponent(self.aim.beam))
            factor = (exponent + 1) / (2 * math.pi * self.distance**2)
        return flux * factor * rng.choice([0.4, 0.6, 0.7, 0.8, 0.85, 0.9, 0.98])

    def deepened(self) -> None:
        """Give most panels a depth, by the pitch of some number of emitters."""
        for place, panel in enumerate(self.panels):
            pitch = min(panel.width, panel.height) / math.sqrt(self.own.randint(1, self.most))
            depth = self.own.choice([None, *(round(share * pitch, 3) for share in (0.3, 0.5, 0.8, 1.2, 2.0, 3.0))])
            self.panels[place] = panel.model_copy(update={"depth": depth})

    def dots_max(self) -> float | None:
        """Return a limit on dots that some numbers of emitters keep and some do not."""
        own = self.own
        deep = [panel for panel in self.panels if panel.depth is not None]
        if not deep or not self.diffusers:
            return 0.5
        emitter, panel, sheet = own.choice(self.emitters), own.choice(deep), own.choice(self.diffusers)
        ripples = [ripple_of(emitter, panel, sheet, n) for n in range(1, self.room(emitter, panel) + 1)]
        found = own.choice([ripple for ripple in ripples if ripple is not None])
        return min(max(found * own.choice([1.0, 0.999, 1.001, 1.3]), 1e-6), 0.999)

    def evenness(self) -> dict[str, float | None]:
        """Return a subject and how evenly it is to be lit: a bound that some heads keep and some do not."""
        rng = self.rng
        width, height = (self.maybe(0.8, self.distance * rng.uniform(0.4, 1.6)) for _ in range(2))
        if width is None and height is None:
            return {}
        return {
            "subject_width": width,
            "subject_height": height,
            "uniformity_min": self.maybe(0.7, rng.uniform(0.5, 0.95)),
            "edge_stops_max": self.maybe(0.5, rng.uniform(0.05, 1.2)),
        }

    def scenario(self) -> Scenario:
        rng = self.rng
        subject = self.evenness() if self.even else {}
        faint = self.own.choice([0.2, 0.5, 1.0]) if self.dots else 1.0
        dots = {"dots_max": self.dots_max()} if self.dots else {}
        asks_colour = rng.random() < 0.1
        runtime = 3600.0 * rng.uniform(0.1, 0.9)
        deadline = self.maybe(0.1, rng.choice([2.0, 5.0]) * 86400.0)
        return Scenario(
            title="an invented job",
            light=Light(illuminance=min(max(faint * self.target(), 1.0), 1e6), distance=self.distance, **subject),
            look=self.look(
                **dots,
                cct_min=3500.0 if asks_colour else None,
                cri_min=rng.choice([None, 80.0, 90.0]) if asks_colour else None,
                diffused=bool(self.diffusers) and rng.random() < 0.3,
                source_size_min=self.maybe(0.1, 0.1),
            ),
            power=Power(
                source=self.source,
                mains_voltage=None if self.source == "battery" else self.mains_voltage,
                mains_frequency=50.0 if self.mains_voltage > 200.0 else 60.0,
                circuit=self.maybe(0.3, rng.choice([1.0, 2.0, 16.0])),
                runtime=None if self.source == "mains" else runtime,
                lead_length=self.lead,
                ambient=self.ambient,
            ),
            limits=Limits(
                budget=rng.randint(10000, 40000) if rng.random() < 0.12 else None,
                mass=self.maybe(0.12, rng.uniform(1.5, 8.0)),
                power=self.maybe(0.2, self.load * rng.uniform(1.0, 2.0)),
                ip=rng.choice(["IP20", "IPX4", "IP2X", "IP44"]) if self.asks_ip else None,
                suppliers=rng.choice([SUPPLIERS[:2], SUPPLIERS[1:]]) if rng.random() < 0.06 else None,
                deadline=deadline,
                mount=bool(self.mounts) if rng.random() < 0.93 else not self.mounts,
            ),
            travel=Travel(mode="air" if self.air else "road", approval=rng.random() < 0.5),
            safety=Safety(
                voltage_drop=rng.choice([0.03, 0.03, 0.05, 0.1]),
                touch_temperature=self.touch,
                string_voltage=rng.choice([60.0, 60.0, 60.0, 120.0, 30.0]),
            ),
        )
