"""Figures measured on a built light in place of the catalogue's: the file of them, and a catalogue that has them.

Only what `MEASURABLE` lists can be replaced. Ratings (of fuse, cable, connector, driver, battery current, temperature)
are never among it, so a measurement relaxes none of them.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from optimise.parts import units
from optimise.parts.catalogue import Catalogue
from optimise.parts.faults import Collector, Fault, nearest, quoted
from optimise.parts.figures import MEASURABLE, MEASURES, Calibrated, Calibration, measurable, with_measured
from optimise.parts.kinds import PART_KINDS
from optimise.parts.part import Part
from optimise.parts.text import read_text, seen, toml_tree
from optimise.parts.units import Measure, UnitError

SCHEMA: Literal["rushlight-calibration/1"] = "rushlight-calibration/1"

MOST = 10.0
"""How many times more or less than stated a figure may be: beyond is a mistake (common practice, no source)."""
_TOP = ("schema", "record", "figure")
_KEYS = ("part", "figure", "value", "stated", "low", "high", "readings", "behind", "heat", "predicted")
_WRITE = "Write it by: measure RECORD --calibration FILE."


def read_calibration(path: Path, faults: Collector) -> Calibration | None:
    """Return what a file of measured figures holds, or None after adding all its faults."""
    text = read_text(path, path.name, faults)
    tree = None if text is None else toml_tree(text, path.name, faults)
    if text is None or tree is None:
        return None
    own = Collector()

    def tell(key: str, read: str, allowed: str, mend: str = "") -> None:
        own.add(Fault(path.name, None, f"key {key}", read, allowed, mend))

    if tree.get("schema") != SCHEMA:
        tell("schema", seen(tree.get("schema", "nothing")), SCHEMA, _WRITE)
    for key in tree:
        if key not in _TOP:
            tell(key, "an unknown key", ", ".join(_TOP), nearest(key, _TOP))
    entries = tree.get("figure")
    figures: dict[str, Calibrated] = {}
    if not isinstance(entries, list) or not entries or not all(isinstance(entry, dict) for entry in entries):
        tell("figure", "no figures", "at least one [[figure]]", _WRITE)
        entries = []
    for number, entry in enumerate(entries, 1):
        found = _figure(entry, path.name, f"figure[{number}]", own)
        if found is not None and found.part in figures:
            tell(f"figure[{number}].part", f"{quoted(found.part)} again", "every part once")
        elif found is not None:
            figures[found.part] = found
    faults.faults += own.faults
    if own.faults:
        return None
    return Calibration(tuple(figures.values()), hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest())


def _figure(entry: dict[str, Any], file: str, name: str, faults: Collector) -> Calibrated | None:
    before = len(faults.faults)

    def tell(key: str, read: str, allowed: str, mend: str = "") -> None:
        faults.add(Fault(file, None, f"key {name}.{key}", read, allowed, mend))

    for key in entry:
        if key not in _KEYS:
            tell(key, "an unknown key", ", ".join(_KEYS), nearest(key, _KEYS))
    part, figure = entry.get("part"), entry.get("figure")
    if not isinstance(part, str) or not part:
        tell("part", seen(part) if "part" in entry else "no such key", "the code of a part")
    if not isinstance(figure, str) or figure not in MEASURES:
        tell("figure", seen(figure) if "figure" in entry else "no such key", ", ".join(MEASURES))
        return None

    def amount(key: str, measure: Measure) -> float | None:
        if key not in entry:
            return None
        value = entry[key]
        try:
            if not isinstance(value, str):
                raise UnitError(f"{measure.name}, a quantity in quotes")  # noqa: TRY301
            read = units.convert(value, measure, None)
            if not read > 0.0:
                raise UnitError(f"a {measure.name} of more than 0")  # noqa: TRY301
        except UnitError as error:
            tell(key, seen(value), error.allowed, error.mend)
            return None
        return read

    measure = MEASURES[figure]
    value = amount("value", measure)
    if "value" not in entry:
        tell("value", "no such key", f"the {measure.name}")
    others = {key: amount(key, measure) for key in ("stated", "low", "high", "predicted")}
    heat = amount("heat", units.POWER)
    readings = entry.get("readings", 1)
    if not isinstance(readings, int) or isinstance(readings, bool) or readings < 1:
        tell("readings", seen(readings), "a whole number of at least 1")
    behind = entry.get("behind", [])
    if not isinstance(behind, list) or not all(isinstance(code, str) for code in behind):
        tell("behind", seen(behind), "a list of codes")
    if len(faults.faults) > before or value is None:
        return None
    assert isinstance(part, str)
    return Calibrated(part, figure, value, **_named(others), readings=readings, behind=tuple(behind), heat=heat)


def _named(others: Mapping[str, float | None]) -> dict[str, Any]:
    return dict(others)


def calibrated(catalogue: Catalogue, measured: Calibration, file: str, faults: Collector) -> Catalogue:
    """Return a catalogue whose parts have the measured figures; what is wrong is added to `faults`."""
    known = {part.part: part for part in catalogue.parts()}
    changed: dict[str, Part] = {}
    figures: list[Calibrated] = []
    for number, one in enumerate(measured.figures, 1):
        part = known.get(one.part)

        def tell(key: str, read: str, allowed: str, mend: str = "", number: int = number) -> None:
            faults.add(Fault(file, None, f"key figure[{number}].{key}", read, allowed, mend))

        if part is None:
            mend = nearest(one.part, known) or "Take its [[figure]] out."
            tell("part", quoted(one.part), "the code of a part in the catalogue", mend)
            continue
        if type(part) not in MEASURABLE or MEASURABLE[type(part)][0] != one.figure:
            kind = next(kind.__name__.lower() for kind, (name, _) in MEASURABLE.items() if name == one.figure)
            whose = f"an {kind}" if kind == "emitter" else f"a {kind}"
            tell("figure", f"{one.figure} of {one.part}", f"{one.figure} of {whose}")
            continue
        refused = refusal(part, one.value)
        if refused is not None:
            tell("value", units.shown(one.value, MEASURES[one.figure]), refused, "Measure again.")
            continue
        changed[one.part] = with_measured(part, one.value)
        figures.append(replace(one, catalogue=measurable(part)))
    kinds: dict[str, Any] = {
        kind: tuple(changed.get(part.part, part) for part in getattr(catalogue, kind)) for kind in PART_KINDS
    }
    return replace(catalogue, **kinds, calibration=Calibration(tuple(figures), measured.fingerprint))


def refusal(part: Part, value: float) -> str | None:
    """Return what a figure of `MEASURABLE` of a part is allowed to be, None where `value` is that."""
    figure, measure = MEASURABLE[type(part)]
    stated = measurable(part)
    if stated is not None and not stated / MOST <= value <= stated * MOST:
        return f"within {MOST:g} times of the {units.shown(stated, measure)} that is stated"
    try:
        # The code is only a name here: of a record's part it need not be one that a table would take.
        type(part)(**{**part.model_dump(), "part": "part", figure: value})
    except ValidationError as error:
        first = error.errors()[0]
        if first["type"] == "less_than_equal":
            return f"at most {first['ctx']['le']:g}"
        text = first["msg"].removeprefix("Value error, ")
        return text.split("|")[1] if "|" in text else text
    return None
