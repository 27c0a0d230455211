"""Invented catalogues of any size, as hard as real ones: written as CSV files from a seed.

No such product, price or supplier exists. What makes them hard: prices that follow what a part can do, with a
little noise, so that many builds cost nearly the same; odd voltages; windows that few strings fit; price
breaks, packs and stock that runs out; drawers with a few parts left over.
"""

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path
from random import Random

from optimise.scenario import Scenario

SHARES = {
    "emitters": 30,
    "drivers": 36,
    "panels": 40,
    "diffusers": 6,
    "batteries": 20,
    "cables": 10,
    "fuses": 8,
    "connectors": 4,
    "mounts": 6,
}
"""Parts of each kind among 160; other sizes keep the proportions."""

SUPPLIERS = ("brightholm", "duskmere", "fennelby", "hartswell", "ivelthorpe")


def numbers_of(parts: int) -> dict[str, int]:
    """Return how many parts of each kind a catalogue of so many parts holds."""
    numbers = {kind: max(1, share * parts // 160) for kind, share in SHARES.items()}
    numbers["drivers"] += parts - sum(numbers.values())
    return numbers


class _Writer:
    """Rows of all files, with the offers of each part."""

    def __init__(self, folder: Path, seed: int, parts: int) -> None:
        self.folder = folder
        self.rng = Random(f"{seed} {parts}")
        self.offers: list[Sequence[object]] = []

    def table(self, name: str, header: str, rows: Iterable[Sequence[object]]) -> None:
        with (self.folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            file.write("# Invented data for timing: no such product or supplier exists.\n")
            writer = csv.writer(file)
            writer.writerow(header.split(","))
            writer.writerows(rows)

    def near(self, value: float, share: float, digits: int = 3) -> float:
        """Return a value within a share of the one given, rounded."""
        return round(value * self.rng.uniform(1.0 - share, 1.0 + share), digits)

    def offer(self, part: str, price: float, *, many: bool = False, length: bool = False) -> None:
        """Offer a part for about a price: one to three suppliers, now and then a price break, tight stock."""
        rng = self.rng
        for supplier in rng.sample(SUPPLIERS, rng.choice([1, 1, 2, 3])):
            asked = max(0.05, self.near(price, 0.04, 2))
            pack = rng.choice([1, 1, 1, 1, 5]) if many else 1
            if length:
                pack = rng.choice([1, 1, 0.5, 5])
            stock = rng.choice(["", "", rng.randint(2, 40)]) if many else rng.choice(["", "", rng.randint(1, 9)])
            stock = "" if length else stock
            sold = "length" if length else "each"
            days = rng.randint(1, 12)
            self.offers.append((part, supplier, f"{asked * pack:.2f}", pack, "", stock, days, sold))
            if many and rng.random() < 0.4:
                broken = asked * rng.uniform(0.9, 0.97) * pack
                self.offers.append((part, supplier, f"{broken:.2f}", pack, rng.choice([5, 10, 25]), stock, days, sold))
        if not length and rng.random() < 0.05:
            self.offers.append((part, "own", "", 1, "", rng.randint(1, 4), "", "each"))

    def code(self, prefix: str, index: int) -> str:
        return f"{prefix}-{self.rng.randint(100, 999)}-{index:05d}"


def write_catalogue(folder: Path, parts: int, seed: int, *, heat: bool = True, delivery: bool = False) -> None:
    """Write a catalogue of so many parts into an empty folder.

    delivery: whether suppliers charge for it. Without it a build costs what its goods cost.

    heat: whether the light of emitters falls with heat. Without it one linear program is the whole problem, and
    a solver that is given that program must come to the same optimum.
    """
    folder.mkdir(parents=True, exist_ok=True)
    numbers = numbers_of(parts)
    w = _Writer(folder, seed, parts)
    _emitters(w, numbers["emitters"], heat)
    _drivers(w, numbers["drivers"])
    _panels(w, numbers["panels"])
    _diffusers(w, numbers["diffusers"])
    _batteries(w, numbers["batteries"])
    _lead(w, numbers)
    w.table(
        "offers",
        "part,supplier,price [EUR],pack,quantity_min,stock,lead_time [day],sold_by",
        sorted(w.offers, key=lambda row: (row[0], row[1], row[4] or 0)),
    )
    w.table("suppliers", "supplier,delivery [EUR]", [(name, "4.90" if delivery else "0") for name in SUPPLIERS])


def _emitters(w: _Writer, number: int, heat: bool) -> None:
    rng = w.rng
    rows: list[Sequence[object]] = []
    for index in range(number):
        strip = rng.random() < 0.2
        volts = rng.choice([12.0, 24.0]) if strip else w.near(rng.choice([3.1, 6.2, 9.3, 12.4, 18.6, 24.8, 36.0]), 0.07)
        current = w.near(rng.choice([0.15, 0.3, 0.35, 0.5, 0.7, 1.05, 1.4]), 0.1)
        watts = min(volts * current, 28.0)
        current = round(watts / volts, 3)
        watts = volts * current
        efficacy = rng.uniform(95.0, 180.0)
        flux = round(watts * efficacy, 1)
        side = 0.012 + 0.0018 * watts
        # What light costs: by the lumen, more for the more efficient, with a little noise.
        price = (0.35 + 0.0042 * flux * (0.55 + efficacy / 260.0)) * rng.uniform(0.97, 1.03)
        code = w.code("TAPE" if strip else "LED", index)
        w.offer(code, price, many=True)
        rows.append(
            (
                code,
                "strip" if strip else "module",
                "constant voltage" if strip else "constant current",
                flux,
                current,
                volts,
                "" if strip else w.near(volts * 0.96, 0.01),
                "" if strip else w.near(volts * 1.04, 0.01),
                "" if strip else round(0.18 * volts / current, 3),
                "" if strip else rng.choice(["", round(current * 1.2, 3), round(current * 1.4, 3)]),
                rng.choice([115, 120, 120, 140]),
                round((0.1 if strip else side * rng.uniform(1.0, 2.5)) * 1e3, 1),
                round((0.01 if strip else side) * 1e3, 1),
                w.near(1.5 + 1.4 * watts, 0.2, 1),
                rng.choice([4000, 5000, 5600]),
                rng.randint(80, 98),
                85,
                -round(rng.uniform(0.1, 0.25), 3) if heat else "",
                "" if strip else round(rng.uniform(0.05, 0.2), 3),
                round(1.0 - efficacy / 330.0, 3),
                round(rng.uniform(0.8, 6.0), 2),
            )
        )
    w.table(
        "emitters",
        "part,form,drive,flux [lm],current [A],voltage [V],voltage_min [V],voltage_max [V],dynamic_resistance [ohm],"
        "current_max [A],beam [deg],length [mm],width [mm],mass [g],cct [K],cri,case_max [degC],flux_per_kelvin [%/K],"
        "droop,heat_fraction,resistance_junction_case [K/W]",
        rows,
    )


def _drivers(w: _Writer, number: int) -> None:
    rng = w.rng
    rows: list[Sequence[object]] = []
    for index in range(number):
        code = w.code("DRV", index)
        volts = rng.choice([12.0, 24.0, 24.0, 48.0])
        power = w.near(rng.choice([8.0, 15.0, 25.0, 40.0, 60.0, 90.0, 120.0]), 0.12, 1)
        efficiency = round(rng.uniform(0.86, 0.96), 3)
        constant = "constant voltage" if rng.random() < 0.2 else "constant current"
        low: object = ""
        high: object = ""
        fixed: object = ""
        if constant == "constant voltage":
            top = rng.choice([12.0, 24.0])
            bottom = top
        else:
            top = w.near(rng.choice([12.0, 24.0, 36.0, 42.0, 54.0]), 0.08, 1)
            bottom = round(top * rng.uniform(0.2, 0.7), 1)
            most = power / top * rng.uniform(1.0, 1.6)
            if rng.random() < 0.5:
                high, low = round(most, 3), round(most * rng.uniform(0.3, 0.6), 3)
            else:
                fixed = round(most, 3)
        price = (2.4 + 0.135 * power + 22.0 * (efficiency - 0.86)) * rng.uniform(0.97, 1.03)
        w.offer(code, price, many=True)
        rows.append(
            (
                code,
                "dc",
                round(volts * rng.choice([0.6, 0.72, 0.8]), 1),
                round(volts * rng.choice([1.25, 1.5, 2.4]), 1),
                constant,
                fixed,
                low,
                high,
                bottom,
                top,
                power,
                efficiency,
                w.near(18.0 + 1.6 * power, 0.15, 1),
            )
        )
    w.table(
        "drivers",
        "part,input,input_min [V],input_max [V],output,output_current [A],current_min [A],current_max [A],"
        "output_min [V],output_max [V],power_max [W],efficiency,mass [g]",
        rows,
    )


def _panels(w: _Writer, number: int) -> None:
    rng = w.rng
    rows: list[Sequence[object]] = []
    for index in range(number):
        code = w.code("PAN", index)
        width = w.near(rng.choice([0.3, 0.4, 0.5, 0.6, 0.8, 1.0]), 0.08)
        height = round(width * rng.uniform(0.6, 1.1), 3)
        metal = rng.random() < 0.7
        area = width * height
        w.offer(code, (1.9 + 21.0 * area * (1.0 if metal else 0.7)) * rng.uniform(0.97, 1.03))
        rows.append(
            (
                code,
                width,
                height,
                0.9,
                "invented sheet",
                "yes" if metal else "no",
                1,
                round(rng.uniform(0.6, 0.95), 2),
                80,
                "" if metal else 0.4,
                w.near(area * (2.9 if metal else 1.6), 0.1),
            )
        )
    w.table(
        "panels",
        "part,width [m],height [m],usable,material,metal,faces,emissivity,temperature_max [degC],"
        "heat_density_max [W/cm^2],mass [kg]",
        rows,
    )


def _diffusers(w: _Writer, number: int) -> None:
    rng = w.rng
    rows: list[Sequence[object]] = []
    for index in range(number):
        code = w.code("DIF", index)
        through = round(rng.uniform(0.5, 0.86), 3)
        side = rng.choice([0.6, 1.0, 1.25, 1.5])
        weight = w.near(rng.choice([80.0, 130.0, 1200.0]), 0.2, 1)
        w.offer(code, (2.0 + 9.0 * through * side) * rng.uniform(0.97, 1.03))
        rows.append((code, through, rng.choice(["", "", 60, 80]), side, round(side * 0.8, 2), weight))
    w.table("diffusers", "part,transmittance,spread [deg],width [m],height [m],mass_per_area [g/m^2]", rows)


def _batteries(w: _Writer, number: int) -> None:
    rng = w.rng
    rows: list[Sequence[object]] = []
    for index in range(number):
        code = w.code("BAT", index)
        cells, each, least, most = rng.choice([(3, 3.6, 3.0, 4.2), (4, 3.6, 3.0, 4.2), (4, 3.2, 2.6, 3.65)])
        amp_hours = w.near(rng.choice([2.6, 4.0, 5.2, 7.0, 9.0, 12.0]), 0.1, 2)
        energy = cells * each * amp_hours
        series, parallel = rng.choice([(1, 1), (1, 4), (2, 2), (3, 4), (4, 3)])
        w.offer(code, (3.0 + 0.52 * energy) * rng.uniform(0.97, 1.03), many=True)
        rows.append(
            (
                code,
                "lifepo4" if each == 3.2 else "li-ion",
                round(cells * each, 2),
                round(cells * least, 2),
                round(cells * most, 2),
                amp_hours,
                5,
                round(rng.uniform(1.0, 1.08), 3),
                round(amp_hours * rng.uniform(1.0, 2.5), 1),
                0.9,
                0.5,
                series,
                parallel,
                w.near(energy / (105.0 if each == 3.2 else 160.0), 0.06),
            )
        )
    w.table(
        "batteries",
        "part,chemistry,voltage [V],voltage_min [V],voltage_max [V],capacity [Ah],rated_time [h],peukert,"
        "current_max [A],usable,capacity_per_kelvin [%/K],series_max,parallel_max,mass [kg]",
        rows,
    )


def _lead(w: _Writer, numbers: dict[str, int]) -> None:
    rng = w.rng
    rows: list[Sequence[object]] = []
    for index in range(numbers["cables"]):
        code = w.code("FLEX", index)
        area, rating = rng.choice([(0.5, 3.0), (0.75, 6.0), (1.0, 10.0), (1.5, 16.0), (2.5, 25.0), (4.0, 32.0)])
        w.offer(code, (0.35 + 0.42 * area) * rng.uniform(0.97, 1.03), length=True)
        rows.append((code, area, 2, w.near(rating, 0.05, 1), 300, w.near(14.0 + 25.0 * area, 0.1, 1)))
    w.table("cables", "part,area [mm^2],cores,rating [A],voltage_max [V],mass_per_length [g/m]", rows)
    rows = []
    for index in range(numbers["fuses"]):
        code = w.code("FUSE", index)
        rating = rng.choice([2, 3, 5, 7.5, 10, 15, 20, 25])
        w.offer(code, (0.6 + 0.03 * rating) * rng.uniform(0.9, 1.1))
        rows.append((code, rating, rng.choice([32, 58, 80]), "dc", "invented", w.near(14.0, 0.2, 1)))
    w.table("fuses", "part,rating [A],voltage_max [V],supply,kind,mass [g]", rows)
    rows = []
    for index in range(numbers["connectors"]):
        code = w.code("CON", index)
        rating = rng.choice([8, 15, 30])
        w.offer(code, (0.9 + 0.06 * rating) * rng.uniform(0.9, 1.1))
        rows.append((code, rating, 80, "dc", w.near(9.0 + 0.5 * rating, 0.2, 1)))
    w.table("connectors", "part,rating [A],voltage_max [V],supply,mass [g]", rows)
    rows = []
    for index in range(numbers["mounts"]):
        code = w.code("MNT", index)
        load = w.near(rng.choice([2.0, 4.0, 6.0, 10.0]), 0.1, 2)
        w.offer(code, (2.0 + 1.1 * load) * rng.uniform(0.97, 1.03))
        rows.append((code, load, w.near(0.06 + 0.045 * load, 0.1)))
    w.table("mounts", "part,load [kg],mass [kg]", rows)


def invented_scenario(seed: int, objective: str) -> Scenario:
    """Return the job for a seed: a soft light of some thousand lumens from batteries, in a purse and a bag."""
    rng = Random(f"job {seed}")
    return Scenario.model_validate(
        {
            "title": "an invented job for timing",
            "light": {"illuminance": float(rng.randint(350, 700)), "distance": rng.choice([1.8, 2.0, 2.4])},
            "look": {"cri_min": 84.0, "source_size_min": 0.35, "diffused": True},
            "power": {"source": "battery", "runtime": 4500.0, "lead_length": 3.0, "ambient": 20.0},
            "limits": {"budget": 60000, "mass": 9.0},
            "search": {"objective": objective},
            "currency": "EUR",
        }
    )
