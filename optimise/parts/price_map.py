"""How a supplier's own price list is to be read: its separators, its columns, its codes, all of them stated."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimise.parts import units
from optimise.parts.columns import columns_of
from optimise.parts.faults import Collector, Fault, nearest, quoted
from optimise.parts.offers import MONEY_COLUMNS, Offer
from optimise.parts.text import read_text, seen, toml_tree
from optimise.parts.units import UnitError

DELIMITERS = {",": ",", ";": ";", "tab": "\t"}
ENCODINGS = {"utf-8": "utf-8-sig", "cp1252": "cp1252"}
DECIMALS = (",", ".")
THOUSANDS = (".", ",", " ", "'", "")

_WORDS: dict[str, tuple[str, ...]] = {
    "decimal": DECIMALS,
    "thousands": THOUSANDS,
    "delimiter": tuple(DELIMITERS),
    "encoding": tuple(ENCODINGS),
}
_KEYS = ("supplier", "currency", *_WORDS, "columns", "parts", "units")
_COLUMNS = {name: column for name, column in columns_of(Offer).items() if name != "supplier"}
_NEEDED = ("part", "price")


@dataclass(frozen=True)
class PriceMap:
    """A mapping, read: `columns` is their header by our column, `parts` our code by theirs, `units` by our column."""

    supplier: str
    currency: str
    decimal: str
    thousands: str
    delimiter: str
    encoding: str
    columns: dict[str, str]
    parts: dict[str, str] | None
    """None where their codes are ours."""
    units: dict[str, str]


def read_map(path: Path) -> PriceMap:
    """Read a mapping from a TOML file. Raises `InputError` with all its faults; nothing in it is guessed."""
    faults = Collector()
    text = read_text(path, path.name, faults)
    faults.stop_if_any()
    assert text is not None
    tree = toml_tree(text, path.name, faults)
    faults.stop_if_any()
    assert tree is not None

    def tell(key: str, read: str, allowed: str, mend: str = "") -> None:
        faults.add(Fault(path.name, None, f"key {key}", read, allowed, mend))

    for key in tree:
        if key not in _KEYS:
            tell(key, "an unknown key", ", ".join(_KEYS), nearest(key, _KEYS))
    supplier = _text(tree, "supplier", "the supplier's name, as in suppliers.csv", tell)
    if supplier.strip() in {"own", ""} and isinstance(tree.get("supplier"), str):
        tell("supplier", quoted(supplier), "the name of a supplier, other than own")
    currency = _text(tree, "currency", "a currency code (ISO 4217), such as EUR", tell)
    if currency and re.fullmatch("[A-Z]{3}", currency) is None:
        tell("currency", quoted(currency), "a currency code (ISO 4217), such as EUR")
    words = {key: _text(tree, key, _choice(allowed), tell, allowed) for key, allowed in _WORDS.items()}
    if words["thousands"] and words["thousands"] == words["decimal"]:
        tell("thousands", quoted(words["thousands"]), "another sign than that of decimal")
    columns = _section(tree, "columns", _COLUMNS, tell) or {}
    for name in _NEEDED:
        if isinstance(tree.get("columns"), dict) and name not in tree["columns"]:
            tell(f"columns.{name}", "no such key", "their header of the column, since it is required")
    for header in sorted({h for h in columns.values() if list(columns.values()).count(h) > 1}):
        tell("columns", f"{quoted(header)} for more than one column", "a header once")
    units_of = _section(tree, "units", _COLUMNS, tell) if "units" in tree else {}
    _check_units(columns, units_of or {}, tell)
    parts = _section(tree, "parts", None, tell) if "parts" in tree else None
    faults.stop_if_any()
    return PriceMap(
        supplier=supplier,
        currency=currency,
        decimal=words["decimal"],
        thousands=words["thousands"],
        delimiter=DELIMITERS[words["delimiter"]],
        encoding=ENCODINGS[words["encoding"]],
        columns=columns,
        parts=parts,
        units=units_of or {},
    )


_Tell = Callable[..., None]


def _choice(words: Iterable[str]) -> str:
    return " or ".join(f'"{word}"' for word in words)


def _text(tree: dict[str, Any], key: str, allowed: str, tell: _Tell, words: tuple[str, ...] | None = None) -> str:
    value = tree.get(key)
    if key not in tree:
        tell(key, "no such key", allowed, "Add it: nothing is assumed.")
    elif not isinstance(value, str):
        tell(key, seen(value), f"text: {allowed}")
    elif words is not None and value not in words:
        tell(key, quoted(value), allowed)
    else:
        return value
    return ""


def _section(tree: dict[str, Any], key: str, known: Iterable[str] | None, tell: _Tell) -> dict[str, str] | None:
    section = tree.get(key)
    if not isinstance(section, dict):
        tell(key, "no such section" if section is None else "no section", f"a section, [{key}]")
        return None
    found: dict[str, str] = {}
    for name, value in section.items():
        if known is not None and name not in known:
            tell(f"{key}.{name}", "an unknown column", ", ".join(known), nearest(name, known))
        elif not isinstance(value, str) or not value.strip():
            tell(
                f"{key}.{name}",
                seen(value),
                "text that says something",
            )
        else:
            found[name.strip()] = value.strip()
    return found


def _check_units(columns: dict[str, str], units_of: dict[str, str], tell: _Tell) -> None:
    for name, unit in units_of.items():
        measure = _COLUMNS[name].measure
        if name in MONEY_COLUMNS or measure is None or not measure.unit:
            tell(f"units.{name}", quoted(unit), "no unit: it has none")
            continue
        if name not in columns:
            tell(f"units.{name}", "a unit", "a unit of a column that [columns] names")
        try:
            units.check_unit(unit, measure)
        except UnitError as error:
            tell(f"units.{name}", quoted(unit), error.allowed, error.mend)
    for name in columns:
        measure = _COLUMNS[name].measure
        if measure is not None and measure.unit and name not in units_of:
            tell(f"units.{name}", "no such key", f"the unit of {name}, such as {measure.show_unit}", "Add it.")
