"""Whether a build is dangerous, judged from its record and from the CSV files alone.

Nothing here is the project's: what flows and how warm it gets is read from the record, what the parts bear is looked up
in the files, and the rules are written out again, each with its source. `Asked` is what the job asks.
"""

import csv
import io
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

SLACK = 1e-9
"""Relative excess that is rounding."""

Found = dict[str, float | None]
Cells = dict[str, str]

HOURS = {"h": 1.0, "min": 1 / 60}


@dataclass(frozen=True)
class Asked:
    """What a job asks, as far as it bears on safety; the defaults are those that the README states."""

    ambient: float = 25.0
    lead: float = 0.0
    runtime: float | None = None
    """h"""
    mains: float | None = None
    circuit: float | None = None
    ip: str | None = None
    mount: bool = True
    air: bool = False
    approval: bool = False
    drop: float = 0.03
    continuous: float = 1.25
    touch: float = 60.0
    open_string: float = 60.0
    flicker: float | None = None
    shutter: float | None = None
    frequency: float | None = None


def asked_of(text: str) -> Asked:
    """Return what the text of a scenario asks."""
    job = tomllib.loads(text)

    def number(section: str, key: str) -> float | None:
        value = job.get(section, {}).get(key)
        if value is None:
            return None
        amount, _, unit = str(value).partition(" ")
        top, _, bottom = amount.partition("/")
        return float(top) / float(bottom or 1) * HOURS.get(unit, 1.0) * (0.01 if unit == "%" else 1.0)

    def filled(**values: float | None) -> dict[str, float]:
        return {name: value for name, value in values.items() if value is not None}

    limits, travel = job.get("limits", {}), job.get("travel", {})
    return Asked(
        runtime=number("power", "runtime"),
        mains=number("power", "mains_voltage"),
        circuit=number("power", "circuit"),
        ip=limits.get("ip"),
        mount=limits.get("mount", True),
        air=travel.get("mode") == "air",
        approval=travel.get("approval", False),
        flicker=number("look", "flicker_max"),
        shutter=number("look", "shutter"),
        frequency=number("power", "mains_frequency"),
        **filled(
            ambient=number("power", "ambient"),
            lead=number("power", "lead_length"),
            drop=number("safety", "voltage_drop"),
            continuous=number("safety", "continuous_factor"),
            touch=number("safety", "touch_temperature"),
            open_string=number("safety", "string_voltage"),
        ),
    )


class Parts:
    """The rows of the CSV files by code, each cell in the unit of its header."""

    def __init__(self, files: Mapping[str, str]) -> None:
        self.rows: dict[str, Cells] = {}
        for name, text in files.items():
            if not name.endswith(".csv") or name in {"offers.csv", "suppliers.csv"}:
                continue
            for row in csv.DictReader(io.StringIO(text)):
                self.rows[row["part"]] = {key.split(" [")[0]: cell for key, cell in row.items()}

    def figure(self, code: str, column: str, blank: float = math.nan) -> float:
        """Return a figure of a part; `blank` where its cell is empty."""
        cell = self.rows[code].get(column) or ""
        return float(cell) if cell else blank

    def word(self, code: str, column: str) -> str:
        """Return a word of a part, empty where there is none."""
        return self.rows[code].get(column) or ""


def dangers_of(record: Mapping[str, Any], files: Mapping[str, str], asked: Asked | None = None) -> list[str]:
    """Return what is dangerous in the build of a record, in words; nothing where it is sound."""
    parts, job = Parts(files), asked or asked_of(files["job.toml"])
    figures = {name: found["value"] for name, found in record["figures"].items()}
    choice = record["choice"]
    return [
        *_lead(choice, figures, parts, job),
        *_strings(choice, figures, parts, job),
        *_heat(choice, figures, parts, job),
        *(_battery(choice, figures, parts, job) if choice["battery"] else _mains(choice, figures, parts, job)),
        *_housing(choice, figures, parts, job),
    ]


def of(figures: Found, name: str) -> float:
    """Return a figure that the build has."""
    value = figures[name]
    assert value is not None
    return value


def over(value: float, limit: float) -> bool:
    """Whether a value is above a limit by more than rounding; a limit that is not stated is never passed."""
    return value > limit + SLACK * abs(limit)


def _volts(choice: Mapping[str, Any], parts: Parts, job: Asked, column: str) -> float:
    if not choice["battery"]:
        assert job.mains is not None
        return job.mains
    return float(choice["battery_series"]) * parts.figure(choice["battery"], column)


def _lead(choice: Mapping[str, Any], figures: Found, parts: Parts, job: Asked) -> Iterator[str]:
    current, cable, fuse, plug = of(figures, "current"), choice["cable"], choice["fuse"], choice["connector"]
    rating = parts.figure(fuse, "rating")
    # IEC 60364-4-43, 433.1: load ≤ fuse ≤ what the conductor may carry (from memory).
    hot = parts.figure(cable, "conductor_max", 60.0)
    # BS 7671 Table 4F3A, derating for ambient: the heat that the conductor may shed, √((60 − Ta) / 30) for cords.
    derated = math.sqrt(min(max(hot - job.ambient, 0.0) / (hot - 30.0), 1.0))
    if over(rating, parts.figure(cable, "rating") * derated):
        yield "the fuse is above what the cable carries"
    if over(rating, parts.figure(plug, "rating")):
        yield "the fuse is above what the connector carries"
    # NEC 210.20(A): 125 % of a load that runs for hours.
    if over(job.continuous * current, rating):
        yield "the load is above what the fuse carries for hours"
    highest = _volts(choice, parts, job, "voltage_max")
    for name, code in (("fuse", fuse), ("cable", cable), ("connector", plug)):
        if over(highest, parts.figure(code, "voltage_max")):
            yield f"the voltage is above that of the {name}"
    supply = "dc" if choice["battery"] else "ac"
    for name, code in (("fuse", fuse), ("connector", plug)):
        if parts.word(code, "supply") != supply:
            yield f"the {name} is not for {supply}"
    drop = of(figures, "voltage_drop")
    # BS 7671 Appendix 4, Table 4Ab: 3 % for lighting.
    if over(drop, job.drop * _volts(choice, parts, job, "voltage")):
        yield "the lead drops too much"


def _strings(choice: Mapping[str, Any], figures: Found, parts: Parts, job: Asked) -> Iterator[str]:
    drop = of(figures, "voltage_drop")
    lowest = _volts(choice, parts, job, "voltage_min") - drop
    highest = _volts(choice, parts, job, "voltage_max")
    for channel in choice["channels"]:
        driver, emitter = channel["driver"], channel.get("emitter") or choice["emitter"]
        output = parts.word(driver, "output")
        if output != parts.word(emitter, "drive"):
            yield "the driver is not for these emitters"
        if (parts.word(driver, "input") == "ac") == bool(choice["battery"]):
            yield "the driver is not for this supply"
        if over(highest, parts.figure(driver, "input_max")):
            yield "the supply is above the driver's input"
        if over(parts.figure(driver, "input_min"), lowest):
            yield "the supply falls below the driver's input"
        # IEC 61140, class III: what can be touched is separated from the mains.
        if parts.word(driver, "isolated") == "no":
            yield "the strings are not separated from the mains"
        if output == "ballast":
            if channel["parallel"] != parts.figure(driver, "lamps"):
                yield "the ballast has another number of lamps"
            if abs(parts.figure(emitter, "power") / parts.figure(driver, "lamp_power") - 1.0) > SLACK:
                yield "the lamp is not that of the ballast"
            continue
        series, parallel, current = channel["series"], channel["parallel"], channel["current"]
        rated = parts.figure(emitter, "voltage")
        spread = parts.figure(emitter, "voltage_max", rated)
        slope = parts.figure(emitter, "dynamic_resistance", 0.0)
        spread += slope * (current - parts.figure(emitter, "current"))
        cold = spread + parts.figure(emitter, "voltage_per_kelvin", 0.0) * min(job.ambient - 25.0, 0.0)
        if output == "constant voltage":
            spread = cold = rated
        top = parts.figure(driver, "output_max")
        if over(series * cold, top):
            yield "the string is above the driver's output"
        if over(series * parallel * current * spread, parts.figure(driver, "power_max")):
            yield "the string takes more power than the driver gives"
        # IEC 60598-1, 8.2.3: what can be touched stays below 60 V dc, also where the string is unplugged.
        if over(max(top, series * cold), job.open_string):
            yield "a loose string can be touched at more than extra-low voltage"
        most = parts.figure(emitter, "current_max", parts.figure(emitter, "current"))
        if over(current, most):
            yield "the emitter's current is above the most that it bears"
        given = parts.figure(driver, "output_current", parts.figure(driver, "current_max", math.inf))
        if over(current * parallel, given):
            yield "the strings take more current than the driver gives"
        if output == "constant current" and over(parts.figure(driver, "output_current", 0.0), current * parallel):
            yield "the driver gives more current than the strings are counted with"
        if job.flicker is not None and parts.figure(driver, "ripple", 0.0) > 0.0:
            yield from _flicker(driver, parts, job)


def _flicker(driver: str, parts: Parts, job: Asked) -> Iterator[str]:
    assert job.flicker is not None
    assert job.shutter is not None
    periods = job.shutter * (parts.figure(driver, "ripple_frequency", 2.0 * (job.frequency or math.nan)))
    swing = parts.figure(driver, "ripple") * abs(math.sin(math.pi * periods) / (math.pi * periods))
    if over(math.log2((1.0 + swing) / (1.0 - swing)), job.flicker):
        yield "the light flickers more than is allowed"


def _heat(choice: Mapping[str, Any], figures: Found, parts: Parts, job: Asked) -> Iterator[str]:
    board, panel = of(figures, "board_temperature"), choice["panel"]
    if over(board, job.touch):
        yield "the board burns who touches it"
    if over(board, parts.figure(panel, "temperature_max")):
        yield "the board is hotter than it bears"
    for channel in choice["channels"]:
        emitter = channel.get("emitter") or choice["emitter"]
        if over(board, parts.figure(emitter, "case_max")):
            yield "the emitter's case is hotter than it bears"
        watts = parts.figure(emitter, "power", 0.0)
        if not watts:
            rated = parts.figure(emitter, "current")
            most = max(rated, channel["current"])
            slope = parts.figure(emitter, "dynamic_resistance", 0.0)
            watts = most * (parts.figure(emitter, "voltage") + slope * (most - rated))
        # 683 lm/W: the definition of the lumen; what is not light is heat.
        share = parts.figure(emitter, "heat_fraction", math.nan)
        if math.isnan(share):
            share = 1.0 - parts.figure(emitter, "flux") / parts.figure(emitter, "power", watts) / 683.0
        area = 1e4 * parts.figure(emitter, "length") * parts.figure(emitter, "width")
        if over(watts * share / area, parts.figure(panel, "heat_density_max")):
            yield "the spot under an emitter is hotter than the board bears"


def _battery(choice: Mapping[str, Any], figures: Found, parts: Parts, job: Asked) -> Iterator[str]:
    code, series, parallel = choice["battery"], choice["battery_series"], choice["battery_parallel"]
    current = of(figures, "current")
    assert figures["runtime"] is not None
    if over(current / parallel, parts.figure(code, "current_max")):
        yield "the battery gives more than its continuous current"
    if series > parts.figure(code, "series_max", 1):
        yield "more batteries in series than the maker allows"
    if parallel > parts.figure(code, "parallel_max", 1):
        yield "more batteries in parallel than the maker allows"
    if parts.figure(code, "temperature_min") > job.ambient + 1e-9:
        yield "the battery is colder than it may be"
    # IEC 60598-1, 8.2.3: the terminals of a pack can be touched too.
    if over(series * parts.figure(code, "voltage_max"), job.open_string):
        yield "the pack is above extra-low voltage"
    yield from _depth(choice, figures, parts, job)
    if job.air:
        yield from _flight(choice, parts, job)


def _depth(choice: Mapping[str, Any], figures: Found, parts: Parts, job: Asked) -> Iterator[str]:
    """Yield whether the battery is discharged deeper than the share that may be used of it, by Peukert's law."""
    code, power = choice["battery"], of(figures, "power")
    assert job.runtime is not None
    each = power / _volts(choice, parts, job, "voltage") / choice["battery_parallel"]
    capacity, exponent = parts.figure(code, "capacity"), parts.figure(code, "peukert", 1.0)
    rated = parts.figure(code, "rated_time", capacity / each)
    empty = min(rated * (capacity / (each * rated)) ** exponent, capacity / each)
    cold = 1.0 - parts.figure(code, "capacity_per_kelvin", 0.0) * max(25.0 - job.ambient, 0.0)
    if job.runtime / (empty * max(cold, 1e-12)) > parts.figure(code, "usable", 0.8) * (1.0 + 1e-8):
        yield "the battery is discharged deeper than it may be"


def _flight(choice: Mapping[str, Any], parts: Parts, job: Asked) -> Iterator[str]:
    """Yield what IATA's provisions for passengers do not allow (DGR 2.3; figures seen second-hand)."""
    code, number = choice["battery"], choice["battery_series"] * choice["battery_parallel"]
    chemistry, voltage = parts.word(code, "chemistry"), parts.figure(code, "voltage")
    energy = voltage * parts.figure(code, "capacity")
    if chemistry in {"li-ion", "lifepo4"}:
        if over(energy, 160.0 if job.approval else 100.0):
            yield "the battery holds too much energy to fly"
        if over(energy, 100.0) and number > 2:
            yield "more than two batteries above 100 Wh fly"
    if chemistry == "lead-acid" and (over(voltage, 12.0) or over(energy, 100.0) or number > 2):
        yield "the lead-acid battery may not fly"
    if number > 20:
        yield "more than twenty batteries fly"


def _mains(choice: Mapping[str, Any], figures: Found, parts: Parts, job: Asked) -> Iterator[str]:
    current = of(figures, "current")
    if job.mains is None:
        yield "there is no mains here"
    if job.circuit is not None and over(job.continuous * current, job.circuit):
        yield "the load is above what the circuit carries for hours"
    # IEC 61140, class I: metal that can be touched is joined to a protective earth, a third core.
    earthless = parts.figure(choice["cable"], "cores") < 3 or parts.word(choice["connector"], "earth") == "no"
    if parts.word(choice["panel"], "metal") == "yes" and earthless:
        yield "metal on the mains has no earth"


def _housing(choice: Mapping[str, Any], figures: Found, parts: Parts, job: Asked) -> Iterator[str]:
    head = of(figures, "head_mass")
    if job.mount and (choice["mount"] is None or over(head, parts.figure(choice["mount"], "load"))):
        yield "the mount does not carry the head"
    if job.ip is None:
        return
    outside = [choice["panel"], *(channel["driver"] for channel in choice["channels"])]
    outside += [choice["battery"]] if choice["battery"] else []
    if choice["diffuser"] is None:
        outside += [channel.get("emitter") or choice["emitter"] for channel in choice["channels"]]
    for code in dict.fromkeys(outside):
        have = parts.word(code, "ip") or "IPXX"
        # IEC 60529: an X says nothing, so it is never enough where something is asked.
        if any(
            want != "X" and (got == "X" or int(got) < int(want)) for got, want in zip(have[2:], job.ip[2:], strict=True)
        ):
            yield "a part is not made for this weather"
