"""A whole catalogue: all tables of a folder or workbook, read together and checked against each other."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar, cast

from optimise.parts.beside import files_named, plain_name
from optimise.parts.buying import Want, pieces_in
from optimise.parts.drivers import Driver
from optimise.parts.emitters import Emitter
from optimise.parts.faults import Collector, Fault, at, nearest, quoted
from optimise.parts.figures import Calibration
from optimise.parts.kinds import PART_KINDS, TABLES, Battery, Cable, Connector, Diffuser, Fuse, Mount, Panel
from optimise.parts.offers import Offer, Supplier
from optimise.parts.part import Part
from optimise.parts.photometry_files import read_photometric_file
from optimise.parts.sources import OtherOffers, Source, open_source
from optimise.parts.spectrum_files import read_spectrum
from optimise.parts.tables import Table, read_table
from optimise.parts.workbooks import Book

_NEEDED = frozenset({"emitters", "drivers", "panels", "offers"})
_P = TypeVar("_P", bound=Part)


@dataclass(frozen=True)
class Catalogue:
    """Everything that can be bought: parts of each kind sorted by code, and the offers for each part."""

    emitters: tuple[Emitter, ...]
    drivers: tuple[Driver, ...]
    panels: tuple[Panel, ...]
    diffusers: tuple[Diffuser, ...]
    batteries: tuple[Battery, ...]
    cables: tuple[Cable, ...]
    fuses: tuple[Fuse, ...]
    connectors: tuple[Connector, ...]
    mounts: tuple[Mount, ...]
    offers: Mapping[str, tuple[Offer, ...]]
    suppliers: tuple[Supplier, ...]
    currency: str
    fingerprints: Mapping[str, str]
    """SHA-256 of every file read, by its name."""
    places: Mapping[str, tuple[str, int]]
    """File and line of every part, by its code."""
    calibration: Calibration | None = None
    """The figures that are not the catalogue's own but measured, where there are such."""

    def parts(self) -> list[Part]:
        """Return all parts of all kinds."""
        return [part for kind in PART_KINDS for part in getattr(self, kind)]

    def find(self, kind: type[_P], code: str) -> _P:
        """Return the part of a kind with a code. Raises KeyError where there is none."""
        return cast(_P, self._index[kind.__name__, code])

    def each(self, kind: type[_P], codes: Iterable[str]) -> tuple[_P, ...]:
        """Return the parts of a kind with these codes, in their order. Raises KeyError where there is none of one."""
        return tuple(self.find(kind, code) for code in codes)

    @cached_property
    def _index(self) -> dict[tuple[str, str], Part]:
        return {(type(part).__name__, part.part): part for part in self.parts()}


def read_catalogue(path: Path, offers: Path | None = None) -> Catalogue:
    """Read all tables of a folder, or of a workbook (.xlsx). Raises `InputError` with every fault of every table.

    offers: a CSV file of offers to read in place of its own.
    """
    faults = Collector()
    opened = open_source(path, faults)
    faults.stop_if_any()
    assert opened is not None
    source = opened if offers is None else OtherOffers(opened, offers)
    present = source.tables()
    tables: dict[str, Table[Any]] = {}
    for name, kind in TABLES.items():
        if name in present:
            tables[name] = read_table(source, name, kind, faults)
        elif name in _NEEDED:
            what = "sheet" if isinstance(source, Book) else "file"
            faults.add(
                Fault(
                    source.file(name),
                    read=f"no such {what}",
                    allowed=f"the {what}, in {path}",
                    mend="Every catalogue needs " + ", ".join(_called(source, n) for n in sorted(_NEEDED)) + ".",
                )
            )
    _check_names(source, present, tables, faults)
    emitters = tables.get("emitters", Table((), None))
    spectra = files_named(emitters, "spectrum", source, read_spectrum, faults)
    beams = files_named(emitters, "photometry", source, read_photometric_file, faults)
    beside = {beam.name: beam.digest for beam in beams.values()} | {s.name: s.digest for s in spectra.values()}
    prints = source.prints(list(tables)) | dict(sorted(beside.items()))
    _check_rows(source, tables, faults)
    codes, places = _check_codes(source, tables, faults)
    _check_suppliers(source, tables, faults)
    rows = _check_offers(source, tables, codes, faults)
    currency = _check_currency(source, tables, faults)
    faults.stop_if_any()
    by_part: dict[str, list[Offer]] = {}
    for offer in rows:
        by_part.setdefault(offer.part, []).append(offer)
    kinds: dict[str, Any] = {
        name: tuple(sorted((line.row for line in tables[name].lines), key=lambda p: cast(Part, p).part))
        if name in tables
        else ()
        for name in PART_KINDS
    }
    kinds["emitters"] = tuple(e.shining(spectra[e.spectrum]) if e.spectrum else e for e in kinds["emitters"])
    kinds["emitters"] = tuple(e.beaming(beams[e.photometry]) if e.photometry else e for e in kinds["emitters"])
    suppliers = tables["suppliers"].lines if "suppliers" in tables else ()
    return Catalogue(
        **kinds,
        offers={part: tuple(sorted(rows, key=_offer_order)) for part, rows in sorted(by_part.items())},
        suppliers=tuple(sorted((line.row for line in suppliers), key=lambda s: s.supplier)),
        currency=currency,
        fingerprints=prints,
        places=places,
    )


def _offer_order(offer: Offer) -> tuple[Any, ...]:
    return (
        offer.supplier,
        offer.sold_by,
        offer.pack,
        offer.sheet_width or 0.0,
        offer.sheet_height or 0.0,
        offer.quantity_min,
        offer.price,
        math.inf if offer.lead_time is None else offer.lead_time,
        math.inf if offer.stock is None else offer.stock,
    )


def _called(source: Source, table: str) -> str:
    return table if isinstance(source, Book) else source.file(table)


def _check_names(source: Source, present: list[str], tables: Mapping[str, Table[Any]], faults: Collector) -> None:
    # A spectrum in two columns of CSV may lie beside the tables.
    rows = [line.row for line in tables["emitters"].lines] if "emitters" in tables else []
    named = {plain_name(row.spectrum) for row in rows if row.spectrum is not None}
    for name in present:
        if name not in TABLES and (isinstance(source, Book) or source.file(name) not in named):
            faults.add(
                Fault(
                    source.file(name),
                    read="an unknown table",
                    allowed=", ".join(_called(source, known) for known in TABLES),
                    mend=nearest(name, TABLES),
                )
            )


def _check_rows(source: Source, tables: Mapping[str, Table[Any]], faults: Collector) -> None:
    for name in sorted(_NEEDED & tables.keys()):
        told = any(fault.file == source.file(name) for fault in faults.faults)
        if not told and not tables[name].lines:
            faults.add(Fault(source.file(name), read="a header and no rows", allowed="at least one row"))


def _check_suppliers(source: Source, tables: Mapping[str, Table[Any]], faults: Collector) -> None:
    lines: dict[str, int] = {}
    for line in tables["suppliers"].lines if "suppliers" in tables else ():
        name = line.row.supplier
        if name in lines:
            faults.add(
                Fault(
                    source.file("suppliers"),
                    row=line.number,
                    column="column supplier",
                    read=f"{quoted(name)} again",
                    allowed="every supplier once",
                    mend=f"It is already in {'row' if isinstance(source, Book) else 'line'} {lines[name]}.",
                )
            )
        lines.setdefault(name, line.number)


def _check_codes(
    source: Source, tables: Mapping[str, Table[Any]], faults: Collector
) -> tuple[dict[str, Part], dict[str, tuple[str, int]]]:
    codes: dict[str, Part] = {}
    places: dict[str, tuple[str, int]] = {}
    for name in PART_KINDS:
        for line in tables[name].lines if name in tables else ():
            code = line.row.part
            if code in codes:
                faults.add(
                    Fault(
                        source.file(name),
                        row=line.number,
                        column="column part",
                        read=f"{quoted(code)} again",
                        allowed="every code once in the catalogue",
                        mend=f"It is already in {at(*places[code])}.",
                    )
                )
            else:
                codes[code] = line.row
                places[code] = (source.file(name), line.number)
    return codes, places


def _check_offers(
    source: Source, tables: Mapping[str, Table[Any]], codes: Mapping[str, Part], faults: Collector
) -> list[Offer]:
    named: set[str] | None = None
    if "suppliers" in tables and tables["suppliers"].whole:
        named = {line.row.supplier for line in tables["suppliers"].lines} | tables["suppliers"].refused
    offers: list[Offer] = []
    refused = {code for name in PART_KINDS if name in tables for code in tables[name].refused}
    bare = {name for name in _NEEDED if name not in tables or not (tables[name].lines or tables[name].refused)}
    whole = bare.isdisjoint(PART_KINDS) and all(tables[name].whole for name in PART_KINDS if name in tables)
    for line in tables["offers"].lines if "offers" in tables else ():
        offer: Offer = line.row
        part = codes.get(offer.part)

        def tell(column: str, read: str, allowed: str, mend: str = "", number: int = line.number) -> None:
            faults.add(Fault(source.file("offers"), number, f"column {column}", read, allowed, mend))

        if part is None and whole and offer.part not in refused:
            tell("part", quoted(offer.part), "the code of a part in the catalogue", nearest(offer.part, codes))
        if named is not None and offer.supplier != "own" and offer.supplier not in named:
            tell(
                "supplier",
                quoted(offer.supplier),
                f"a supplier of {_called(source, 'suppliers')}, or own",
                nearest(offer.supplier, named),
            )
        if offer.supplier == "own" and offer.price != 0:
            tell("price", f"{offer.price / 100:.2f}", "0 or blank: what is owned costs nothing")
        if offer.sold_by in {"each", "sheet"}:
            if isinstance(part, Cable) and offer.sold_by == "each":
                tell("sold_by", "each", "length or reel for a cable", "State the metres of a step or reel in pack.")
            for column in ("pack", "quantity_min", "stock"):
                number = getattr(offer, column)
                if number is not None and number != int(number):
                    what = "pieces" if offer.sold_by == "each" else "sheets"
                    tell(column, f"{number:g}", f"a whole number of {what}")
        elif part is not None and not (isinstance(part, Cable) or (isinstance(part, Emitter) and part.form == "strip")):
            tell("sold_by", offer.sold_by, "each, but for cables and strips")
        if offer.sold_by == "reel" and isinstance(part, Emitter) and pieces_in(offer, 1, Want("", 1, part.length)) == 0:
            tell("pack", f"{offer.pack:g}", f"a reel that holds one piece, {part.length:g} m")
        if offer.sold_by == "sheet" and part is not None:
            if not isinstance(part, Panel):
                tell("sold_by", "sheet", "each, but for panels")
            elif pieces_in(offer, 1, Want(part.part, 1, size=(part.width, part.height))) == 0:
                size = f"{offer.sheet_width:g} × {offer.sheet_height:g} m"
                tell("sheet_width", size, f"a sheet that holds the panel, {part.width:g} × {part.height:g} m")
        offers.append(offer)
    return offers


def _check_currency(source: Source, tables: Mapping[str, Table[Any]], faults: Collector) -> str:
    first = tables["offers"].currency if "offers" in tables else None
    other = tables["suppliers"].currency if "suppliers" in tables else None
    if first is not None and other is not None and first != other:
        allowed = f"the currency of {_called(source, 'offers')}, {first}"
        faults.add(Fault(source.file("suppliers"), read=f"currency {other}", allowed=allowed))
    return first or other or "EUR"
