"""What readers know: columns, keys, units and tags, which a mutation puts where something else stood."""

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from optimise.parts.columns import columns_of
from optimise.scenario.model import Scenario

_UNITS = ["lm", "A", "V", "W", "m", "mm", "in", "g", "kg", "%", "degC", "K", "EUR", "USD", "week", "day", "h", "lx"]


def _encoded(words: list[str]) -> list[bytes]:
    return [word.encode() for word in dict.fromkeys(words) if word]


def of_tables(tables: Mapping[str, Any]) -> list[bytes]:
    """Return columns with and without a unit, and the words that their cells may hold."""
    found = ["note", "own", "north", "south", "yes", "no", "BAR", "IP65", *(f"[{unit}]" for unit in _UNITS)]
    for kind in tables.values():
        for name, column in columns_of(kind).items():
            found += [name, *column.allowed.split(" | ")]
            if column.measure is not None and column.measure.unit:
                found.append(f"{name} [{column.measure.show_unit}]")
    return _encoded(found)


def of_places() -> list[bytes]:
    """Return names of files that lie beside the tables of the harness, and of what may not be opened there."""
    names = [
        "a.ies",
        "light/s.csv",
        "s.spdx",
        "out.ies",
        "up/outside.ies",
        "zero.ies",
        "round.ies",
        "folder.ies",
        "pipe.ies",
    ]
    return _encoded([*names, "../outside.ies", "/dev/zero", "./a.ies", "up/../outside.ies", "=== emitters.csv"])


def of_scenarios() -> list[bytes]:
    """Return all keys of a scenario, its sections, and values with units."""
    found = ["[[kit]]", "[[point]]", "[[kit.point]]", "[kit.light]", "kit = []", "point = 1", "name", "count"]
    found += [f'"{n} {unit}"' for unit in _UNITS for n in (0, 2)]
    found += list(_keys(Scenario))
    return _encoded([*found, '"1/50 s"', '"25 fps"', '"180 deg"', '"9 EUR"', "true", '["own"]', '{ USD = "1 EUR" }'])


def _keys(model: type[BaseModel]) -> Iterator[str]:
    for name, field in model.model_fields.items():
        yield name
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            yield f"[{name}]"
            yield from _keys(field.annotation)


OF_SHEETS = _encoded(
    [
        "inlineStr",
        "s",
        "str",
        "b",
        "e",
        "n",
        "d",
        "<f>1+1</f>",
        "<v>1</v>",
        "<is><t>x</t></is>",
        "<row>",
        "</row>",
        "<row",
        "r",
        "t",
        "A1",
        "B1",
        "XFD1048576",
        "A0",
        "<c>",
        "</c>",
        "<sheetData>",
        "</sheetData>",
        "#N/A",
        "<v/>",
        "<mergeCell ref='A1:C9'/>",
        "<dimension ref='A1'/>",
        "xml:space",
        "9",
        "14",
        "<f t='shared' si='0'/>",
    ]
)
OF_PHOTOMETRY = _encoded(
    [
        "TILT=NONE",
        "TILT=INCLUDE",
        "TILT=a.ies",
        "IESNA91",
        "IESNA:LM-63-1995",
        "IESNA:LM-63-2002",
        "IES:LM-63-2019",
        "1",
        "2",
        "3",
        "90",
        "180",
        "360",
        "-90",
        "-1",
        "1000",
        "1001",
        "250000",
        "[TEST]",
        "1e12",
        "0.0",
        "1e-300",
    ]
)
OF_SPECTRA = _encoded(
    [
        "wavelength",
        "wavelength [nm]",
        "400",
        "700",
        "380",
        "780",
        "1e30",
        "-0.001",
        "SpectralDistribution",
        "nm",
        "0",
        "SpectralQuantity",
        "SpectralData",
        "relative",
        "IESTM2714",
        "flux",
        "reflectance",
        "<SpectralData",
        "</a>",
        "/>",
    ]
)
OF_MAPS = _encoded(
    [
        "supplier",
        "currency",
        "decimal",
        "thousands",
        "delimiter",
        "encoding",
        "[columns]",
        "[parts]",
        "[units]",
        "part",
        "price",
        "pack",
        "stock",
        "lead_time",
        "until",
        "sheet_width",
        '","',
        '"."',
        '"tab"',
        '"cp1252"',
        '"EUR"',
    ]
)
OF_CALIBRATION = _encoded(
    [
        "schema",
        "record",
        "[[figure]]",
        "figure",
        "part",
        "value",
        "stated",
        "low",
        "high",
        "readings",
        "behind",
        "heat",
        "flux",
        "transmittance",
        "thermal_resistance",
        "capacity",
        '"BAR"',
        '"CLOTH"',
        '"BOARD"',
        '"CELL"',
        '"1000 lm"',
        '"50 %"',
        '"0.6 K/W"',
        '"7 Ah"',
        '["CLOTH"]',
        "predicted",
        '"rushlight-calibration/1"',
    ]
)
OF_READINGS = _encoded(
    [
        "ambient",
        '"118 lx at 2.5 m"',
        '"1.9 A at 14.6 V"',
        '"41 degC"',
        '"85 min to empty"',
        '" at "',
        '" to empty"',
        "[]",
    ]
)
