"""What was measured on a built light: read from options or from a file, with all faults told at once."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from optimise.parts import Collector, Fault, units
from optimise.parts.faults import nearest, quoted
from optimise.parts.text import read_text, seen, toml_tree
from optimise.parts.units import Measure, UnitError
from optimise.scenario.keys import lines_of

Quantity = Literal["illuminance", "bare illuminance", "current", "board temperature", "runtime"]


@dataclass(frozen=True)
class Reading:
    """One figure as it was read off a meter, in the canonical unit of its kind."""

    quantity: Quantity
    value: float
    """lx, A, °C or s."""
    where: float | None = None
    """Distance straight ahead, m, or for a current the voltage of the supply, V (None: the nominal one)."""
    to_empty: bool = False
    """Of a runtime: until the battery itself ended it, rather than to the share that is to be used."""
    origin: tuple[str, int | None, str] = ("", None, "")
    """File or command, line, and option or key that it comes from."""

    def fault(self, read: str, allowed: str, mend: str = "") -> Fault:
        """Return what is wrong with it, told by its place."""
        return Fault(self.origin[0], self.origin[1], self.origin[2], read, allowed, mend)


@dataclass(frozen=True)
class Measured:
    """All that was measured of one light."""

    readings: tuple[Reading, ...]
    ambient: float | None
    """Temperature of the air, °C; None where it was not said."""
    air_refused: bool = False
    """Whether it was said, and could not be read."""
    meters: Mapping[str, float] = field(default_factory=dict)
    """What each meter of `METERS` may be off to either side (95 %), by its key; those that were not stated are not in.

    A share of what it reads, but for the thermometer: K.
    """


@dataclass(frozen=True)
class _Kind:
    quantity: Quantity
    measure: Measure
    most: float
    """Greatest value that can be meant, in the canonical unit."""
    example: str
    where: Measure | None = None
    nearest: float = 0.0
    farthest: float = 1000.0
    least: float = 0.0

    @property
    def allowed(self) -> str:
        behind = "" if self.where is None else f" at a {self.where.name}"
        return f"{_A.get(self.measure.name, 'a')} {self.measure.name}{behind}, such as {quoted(self.example)}"


_A = {"illuminance": "an"}

KINDS: dict[str, _Kind] = {
    "lux": _Kind("illuminance", units.ILLUMINANCE, 1e7, "118 lx at 2.5 m", units.LENGTH, nearest=0.05),
    "bare_lux": _Kind("bare illuminance", units.ILLUMINANCE, 1e7, "240 lx at 2.5 m", units.LENGTH, nearest=0.05),
    "current": _Kind("current", units.CURRENT, 1000.0, "1.9 A at 14.6 V", units.VOLTAGE),
    "board": _Kind("board temperature", units.TEMPERATURE, 250.0, "41 degC", least=-60.0),
    "runtime": _Kind("runtime", units.DURATION, 1e7, "70 min"),
}
"""What may be measured, by its key in a file; an option is --key with - for _."""


@dataclass(frozen=True)
class Meter:
    """What a meter may be off: a share of what it reads, or an amount."""

    name: str
    quantities: tuple[Quantity, ...]
    measure: Measure
    most: float
    example: str


METERS: dict[str, Meter] = {
    "lux_meter": Meter("lux meter", ("illuminance", "bare illuminance"), units.SHARE, 0.5, "4 %"),
    "current_meter": Meter("current meter", ("current",), units.SHARE, 0.5, "2 %"),
    "thermometer": Meter("thermometer", ("board temperature",), units.TEMPERATURE_DIFFERENCE, 20.0, "1 K"),
}
"""Meters by their key in a file; an option is --key with - for _. The thermometer's is that of board over air."""

AMBIENT = "ambient"
_COLDEST, _WARMEST = -60.0, 60.0
_EMPTY = re.compile(r"\s+to\s+empty$")


def read_measured(
    options: Mapping[str, Sequence[str]],
    ambient: str | None,
    path: Path | None,
    command: str,
    faults: Collector,
    meters: Mapping[str, str | None] | None = None,
) -> Measured:
    """Return what options and a file say was measured; both add up, and faults of both are added to `faults`.

    options: the texts given for each key of `KINDS`; command: what faults call them by; meters: the text given for
    each key of `METERS`, if any.
    """
    found: list[Reading] = []
    airs: dict[str, float] = {}
    stated: dict[str, dict[str, float]] = {}
    before = len(faults.faults)
    for key, told_off in (meters or {}).items():
        if told_off is not None:
            _meter(key, told_off, (command, None, f"--{key.replace('_', '-')}"), stated, faults)
    for key, texts in options.items():
        for text in texts:
            found += _reading(key, text, (command, None, f"--{key.replace('_', '-')}"), faults)
    if ambient is not None:
        airs |= _air(ambient, (command, None, f"--{AMBIENT}"), faults)
    if path is not None:
        found += _from_file(path, airs, stated, faults)
    for key, each in stated.items():
        if len(set(each.values())) > 1:
            faults.add(Fault(command, None, f"--{key.replace('_', '-')}", f"two, by {' and '.join(each)}", "one"))
    if len(set(airs.values())) > 1:
        told = " and ".join(airs)
        faults.add(Fault(command, None, f"--{AMBIENT}", f"two temperatures of the air, by {told}", "one"))
    refused = any(AMBIENT in fault.column for fault in faults.faults[before:])
    known = {key: next(iter(each.values())) for key, each in stated.items()}
    return Measured(tuple(found), next(iter(airs.values()), None), refused, known)


def _from_file(
    path: Path, airs: dict[str, float], stated: dict[str, dict[str, float]], faults: Collector
) -> Iterator[Reading]:
    text = read_text(path, path.name, faults)
    if text is None:
        return
    tree = toml_tree(text, path.name, faults, 'Quantities stand in quotes: board = "41 degC".')
    lines = lines_of(text)
    for key, value in (tree or {}).items():
        origin = (path.name, lines.get(key), f"key {key}")
        if key not in KINDS and key not in METERS and key != AMBIENT:
            known = [AMBIENT, *METERS, *KINDS]
            faults.add(Fault(*origin, "an unknown key", ", ".join(known), nearest(key, known)))
            continue
        entries: list[Any] = value if isinstance(value, list) and key in KINDS else [value]
        for place, entry in enumerate(entries, 1):
            here = (*origin[:2], f"key {key}, entry {place}") if isinstance(value, list) else origin
            if not isinstance(entry, str):
                faults.add(Fault(*here, seen(entry), "a quantity in quotes, or a list of such"))
            elif key == AMBIENT:
                airs |= _air(entry, here, faults)
            elif key in METERS:
                _meter(key, entry, here, stated, faults)
            else:
                yield from _reading(key, entry, here, faults)


def _reading(key: str, text: str, origin: tuple[str, int | None, str], faults: Collector) -> Iterator[Reading]:
    kind = KINDS[key]
    empty = key == "runtime" and _EMPTY.search(text) is not None
    try:
        value, where = _amounts(kind, _EMPTY.sub("", text) if empty else text)
    except UnitError as error:
        faults.add(Fault(*origin, quoted(text), error.allowed, error.mend or f"Write it as {quoted(kind.example)}."))
        return
    yield Reading(kind.quantity, value, where, empty, origin)


def _amounts(kind: _Kind, text: str) -> tuple[float, float | None]:
    """Return a value and where it was read. Raises `UnitError`."""
    said, _, behind = text.partition(" at ")
    if (behind and kind.where is None) or (kind.where is units.LENGTH and not behind):
        raise UnitError(kind.allowed)
    value = units.convert(said, kind.measure, None)
    if not kind.least < value <= kind.most:
        span = f"more than {units.shown(kind.least, kind.measure)}, at most {units.shown(kind.most, kind.measure)}"
        raise UnitError(f"{kind.measure.name} {span}")
    if not behind or kind.where is None:
        return value, None
    where = units.convert(behind, kind.where, None)
    if not kind.nearest <= where <= kind.farthest or where <= 0.0:
        least = f"at least {units.shown(kind.nearest, kind.where)}" if kind.nearest else "more than 0"
        raise UnitError(f"a {kind.where.name} of {least}, at most {units.shown(kind.farthest, kind.where)}")
    return value, where


def _meter(
    key: str,
    text: str,
    origin: tuple[str, int | None, str],
    stated: dict[str, dict[str, float]],
    faults: Collector,
) -> None:
    """Add what a meter may be off to `stated`, or a fault."""
    meter = METERS[key]
    try:
        value = units.convert(text, meter.measure, None)
        if not 0.0 < value <= meter.most:
            most = units.shown(meter.most, meter.measure) if meter.measure.unit else f"{100.0 * meter.most:g} %"
            raise UnitError(f"what it may be off to either side: more than 0, at most {most}")  # noqa: TRY301
    except UnitError as error:
        mend = error.mend or f"Write it as {quoted(meter.example)}."
        faults.add(Fault(*origin, quoted(text), error.allowed, mend))
        return
    stated.setdefault(key, {})[f"{origin[0]}, {origin[2]}"] = value


def _air(text: str, origin: tuple[str, int | None, str], faults: Collector) -> dict[str, float]:
    allowed, mend = f"a temperature of {_COLDEST:g} to {_WARMEST:g} °C", 'Write it as "22 degC".'
    try:
        value = units.convert(text, units.TEMPERATURE, None)
    except UnitError as error:
        faults.add(Fault(*origin, quoted(text), error.allowed, error.mend or mend))
        return {}
    if not _COLDEST <= value <= _WARMEST:
        faults.add(Fault(*origin, quoted(text), allowed, mend))
        return {}
    return {f"{origin[0]}, {origin[2]}": value}
