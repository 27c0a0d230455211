"""The smallest catalogues that a light can be built of, as rows of their CSV files. All parts are invented.

Each world has one part of each kind that it takes, all of them dear and heavy, so that any other part that is free and
weighs nothing is a temptation.
"""

import copy
import csv
import hashlib
import io
import json
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from optimise.model.search import Result, best_build
from optimise.parts import Catalogue, read_catalogue
from optimise.report.record import make_record, to_json
from optimise.scenario import Scenario, read_scenario
from optimise.scenario.model import Objective

Row = dict[str, Any]
"""Cells by the name of their column; the unit of each is that of `UNITS`."""
Tables = dict[str, dict[str, Row]]
"""Rows by kind and code."""
Job = dict[str, dict[str, Any]]
"""Keys of a scenario by section."""

UNITS = {
    "flux": "lm",
    "current": "A",
    "current_min": "A",
    "current_max": "A",
    "voltage": "V",
    "voltage_min": "V",
    "voltage_max": "V",
    "voltage_per_kelvin": "V/K",
    "power": "W",
    "length": "m",
    "width": "m",
    "height": "m",
    "mass": "g",
    "case_max": "degC",
    "input_min": "V",
    "input_max": "V",
    "output_current": "A",
    "output_min": "V",
    "output_max": "V",
    "power_max": "W",
    "lamp_power": "W",
    "thermal_resistance": "K/W",
    "resistance_junction_case": "K/W",
    "flux_per_kelvin": "1/K",
    "capacity_per_kelvin": "1/K",
    "depth": "m",
    "temperature_max": "degC",
    "temperature_min": "degC",
    "heat_density_max": "W/cm^2",
    "mass_per_area": "g/m^2",
    "capacity": "Ah",
    "rated_time": "h",
    "area": "mm^2",
    "rating": "A",
    "resistance": "ohm/km",
    "dynamic_resistance": "ohm",
    "mass_per_length": "g/m",
    "load": "kg",
    "pwm": "Hz",
    "ripple_frequency": "Hz",
    "cct": "K",
    "conductor_max": "degC",
    "price": "EUR",
}
"""Units of the columns; those of other columns have none."""

OF_CONSTANT_CURRENT = ("current_min", "voltage_min", "voltage_max", "voltage_per_kelvin")
EMITTER: Row = {
    "form": "module",
    "drive": "constant current",
    "flux": 1000,
    "current": 0.5,
    "current_min": 0.45,
    "voltage": 12,
    "voltage_min": 11.5,
    "voltage_max": 12.5,
    "voltage_per_kelvin": -0.01,
    "length": 0.1,
    "width": 0.02,
    "mass": 50,
    "case_max": 85,
    "heat_fraction": 0.6,
    "resistance_junction_case": 2,
    "flux_per_kelvin": -0.001,
    "ip": "IP65",
}
TAPE: Row = {column: cell for column, cell in EMITTER.items() if column not in OF_CONSTANT_CURRENT} | {
    "form": "strip",
    "drive": "constant voltage",
}
DRIVER: Row = {
    "input": "dc",
    "input_min": 9,
    "input_max": 30,
    "output": "constant current",
    "output_current": 0.5,
    "output_min": 20,
    "output_max": 40,
    "power_max": 30,
    "efficiency": 0.9,
    "dimmable": "no",
    "ripple": 0,
    "mass": 200,
    "ip": "IP65",
}
PANEL: Row = {
    "width": 0.4,
    "height": 0.3,
    "material": "foam",
    "metal": "no",
    "depth": 0.1,
    "reflectance": 0.9,
    "thermal_resistance": 1,
    "temperature_max": 80,
    "heat_density_max": 100,
    "mass": 1000,
    "ip": "IP65",
}
SHEET: Row = {"transmittance": 0.8, "reflectance": 0.1, "width": 1, "height": 1, "mass_per_area": 300}
BATTERY: Row = {
    "chemistry": "nimh",
    "voltage": 12,
    "voltage_min": 10.8,
    "voltage_max": 14.4,
    "capacity": 20,
    "rated_time": 20,
    "peukert": 1.1,
    "current_max": 20,
    "usable": 0.8,
    "capacity_per_kelvin": 0.005,
    "temperature_min": -30,
    "mass": 4000,
    "ip": "IP65",
}
CABLE: Row = {"area": 1.5, "cores": 3, "rating": 16, "voltage_max": 300, "mass_per_length": 120}
FUSE: Row = {"rating": 5, "voltage_max": 32, "supply": "dc", "kind": "blade", "mass": 20}
PLUG: Row = {"rating": 10, "voltage_max": 48, "supply": "dc", "mass": 30}
MOUNT: Row = {"load": 10, "mass": 500}
TUBE: Row = {
    "form": "tube",
    "drive": "ballast",
    "flux": 1300,
    "power": 18,
    "length": 0.35,
    "width": 0.03,
    "mass": 80,
    "case_max": 85,
    "back": 0.5,
    "ip": "IP65",
}
BALLAST: Row = {
    "input": "ac",
    "input_min": 200,
    "input_max": 250,
    "output": "ballast",
    "lamps": 2,
    "lamp_power": 18,
    "efficiency": 0.9,
    "power_factor": 0.95,
    "ballast": "electronic",
    "dimmable": "no",
    "ripple": 0,
    "mass": 300,
    "ip": "IP65",
}
DEAR = 50.0
"""EUR for each part that is not a temptation."""


@dataclass(frozen=True)
class World:
    """A catalogue and a job."""

    tables: Tables
    job: Job
    prices: Mapping[str, float] = field(default_factory=dict)
    """What does not cost `DEAR`, EUR by code."""
    delivery: float | None = None
    """EUR for an order, where the shop charges for it."""

    def but(self, kind: str, code: str, **cells: Any) -> "World":
        """Return a world in which cells of a part are others."""
        tables = copy.deepcopy(self.tables)
        tables[kind][code] |= cells
        return replace(self, tables=tables)

    def asking(self, section: str, **keys: Any) -> "World":
        """Return a world with other keys in a section of the job; None takes a key out."""
        job = copy.deepcopy(self.job)
        job[section] = {k: v for k, v in (job.get(section, {}) | keys).items() if v is not None}
        return replace(self, job=job)

    def tempting(self, kind: str, like: str, code: str, price: float = 0.0, **cells: Any) -> "World":
        """Return a world with another part like one that it has, cheap and without mass or loss, but for `cells`."""
        row = dict(self.tables[kind][like])
        for column in ("mass", "mass_per_length", "mass_per_area"):
            if column in row:
                row[column] = 0
        if kind == "drivers":
            row["efficiency"] = 1
        if kind == "cables":
            row["resistance"] = 0.001
        tables = copy.deepcopy(self.tables)
        tables[kind][code] = row | cells
        return replace(self, tables=tables, prices={**self.prices, code: price})

    def also(self, kind: str, code: str, row: Row) -> "World":
        """Return a world with one more part, dear as the others."""
        tables = copy.deepcopy(self.tables)
        tables.setdefault(kind, {})[code] = dict(row)
        return replace(self, tables=tables)

    def without(self, kind: str, *codes: str) -> "World":
        """Return a world without parts of a kind; without any where none are named."""
        tables = copy.deepcopy(self.tables)
        for code in codes or list(tables[kind]):
            del tables[kind][code]
        return replace(self, tables=tables)

    def costing(self, **prices: float) -> "World":
        """Return a world in which parts cost otherwise, EUR."""
        return replace(self, prices={**self.prices, **prices})

    def as_kit(self, *names: str, count: int = 1) -> "World":
        """Return a world that asks for several lights at once, `count` equal ones of each name."""
        entries = [{"name": name, "count": str(count)} for name in names]
        return replace(self, job={**self.job, "kit": entries})  # type: ignore[dict-item]

    def mixed(self) -> "World":
        """Return a world that asks for a white between two kinds of LED, of which no one has it."""
        warm = copy.deepcopy(self.tables)
        for row in warm["emitters"].values():
            row["cct"] = 2700
        cool = warm["emitters"]["LED"] | {"cct": 6500}
        world = replace(self, tables=warm).also("emitters", "COOL", cool)
        return world.asking("look", cct_min="3500 K", cct_max="4700 K").asking("search", emitter_kinds="2")

    @cached_property
    def files(self) -> Mapping[str, str]:
        """The CSV files by name, and the scenario."""
        files = {f"{kind}.csv": _csv(rows) for kind, rows in self.tables.items() if rows}
        lines = ["part,supplier,price [EUR],sold_by"]
        for kind, rows in self.tables.items():
            sold = "length" if kind == "cables" else ""
            lines += [f"{code},shop,{self.prices.get(code, DEAR):.2f},{sold}" for code in rows]
        files["offers.csv"] = "\n".join(lines) + "\n"
        if self.delivery is not None:
            files["suppliers.csv"] = f"supplier,delivery [EUR],order_min [EUR]\nshop,{self.delivery:.2f},10.00\n"
        files["job.toml"] = _toml(self.job)
        return files

    @cached_property
    def _read(self) -> tuple[Catalogue, Scenario]:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            for file, text in self.files.items():
                (folder / file).write_text(text, encoding="utf-8")
            return read_catalogue(folder), read_scenario(folder / "job.toml")

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue as it is read from the files."""
        return self._read[0]

    @property
    def scenario(self) -> Scenario:
        """The job as it is read from its file."""
        return self._read[1]

    def search(self, objective: Objective = "cost") -> Result:
        """Return what the search comes to."""
        return best_build(self.catalogue, self.scenario, objective)

    def record(self, objective: Objective = "cost") -> dict[str, Any]:
        """Return the record of the best build, as JSON tells it."""
        return record_of(self.search(objective))


def record_of(result: Result) -> dict[str, Any]:
    """Return the record of a result, as JSON tells it."""
    found: dict[str, Any] = json.loads(to_json(make_record(result, result.objective, "")))
    return found


def fingerprint(world: World) -> str:
    """Return what tells two worlds apart."""
    return hashlib.sha256("\0".join(world.files.values()).encode()).hexdigest()


def _csv(rows: Mapping[str, Row]) -> str:
    columns = list(dict.fromkeys(column for row in rows.values() for column in row))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["part", *(f"{c} [{UNITS[c]}]" if c in UNITS else c for c in columns)])
    for code, row in rows.items():
        writer.writerow([code, *(_cell(row.get(column)) for column in columns)])
    return out.getvalue()


def _cell(value: Any) -> str:
    return "" if value is None else value if isinstance(value, str) else repr(value)


def _toml(job: Job) -> str:
    lines: list[str] = []
    for section, keys in job.items():
        for header, entries in (
            [(f"[{section}]", keys)] if isinstance(keys, dict) else [(f"[[{section}]]", k) for k in keys]
        ):
            lines += [header, *(f"{key} = {_value(value)}" for key, value in entries.items())]
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else f'"{value}"'


BATTERY_WORLD = World(
    {
        "emitters": {"LED": EMITTER},
        "drivers": {"DRIVER": DRIVER},
        "panels": {"BOARD": PANEL},
        "diffusers": {"CLOTH": SHEET},
        "batteries": {"PACK": BATTERY},
        "cables": {"FLEX": CABLE},
        "fuses": {"FUSE": FUSE},
        "connectors": {"PLUG": PLUG},
    },
    {
        "light": {"illuminance": "150 lx", "distance": "1 m"},
        "look": {"diffused": True},
        "power": {"source": "battery", "runtime": "3 h", "lead_length": "2 m", "ambient": "20 degC"},
        "limits": {"mount": False},
    },
)
"""A light on a battery: two LEDs in series on one driver, a diffuser before them."""

MAINS_WORLD = World(
    BATTERY_WORLD.tables
    | {
        "drivers": {"DRIVER": DRIVER | {"input": "ac", "input_min": 200, "input_max": 250, "power_factor": 0.95}},
        "batteries": {},
        "fuses": {"FUSE": FUSE | {"rating": 3, "voltage_max": 250, "supply": "ac", "kind": "plug fuse"}},
        "connectors": {"PLUG": PLUG | {"rating": 13, "voltage_max": 250, "supply": "ac"}},
    },
    BATTERY_WORLD.job
    | {"power": {"source": "mains", "mains_voltage": "230 V", "circuit": "10 A", "lead_length": "2 m"}},
)
"""The same on the mains, with a lead of three cores and a plug that holds a fuse."""

TUBE_WORLD = World(MAINS_WORLD.tables | {"emitters": {"TUBE": TUBE}, "drivers": {"BALLAST": BALLAST}}, MAINS_WORLD.job)
"""Two fluorescent tubes on one ballast."""

TAPE_WORLD = World(
    BATTERY_WORLD.tables
    | {
        "emitters": {"TAPE": TAPE},
        "drivers": {
            "DRIVER": DRIVER | {"output": "constant voltage", "output_min": 12, "output_max": 12, "output_current": 2}
        },
    },
    BATTERY_WORLD.job,
)
"""Pieces of strip on a supply of 12 V, on a battery."""
