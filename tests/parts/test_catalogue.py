"""All tables of a folder together: faults between files, and what reading does not depend on."""

import csv
import hashlib
import io
import shutil
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from sample_files import TABLES, faults_of, faults_with, spoilt, write

from optimise.parts import Catalogue, Emitter, Fault, InputError, Mount, Offer, read_catalogue
from optimise.parts.columns import Row
from optimise.parts.faults import nearest
from optimise.parts.kinds import TABLES as KINDS

DEMONSTRATION = Path(__file__).parents[2] / "catalogue"


def test_sound_catalogue_is_read_whole(tmp_path: Path) -> None:
    catalogue = read_catalogue(write(tmp_path))
    assert [part.part for part in catalogue.emitters] == ["BAR", "STRIP", "TUBE"]
    assert len(catalogue.parts()) == 16
    assert catalogue.currency == "EUR"
    assert [supplier.supplier for supplier in catalogue.suppliers] == ["north", "south"]
    assert catalogue.places["TUBE"] == ("emitters.csv", 5)
    assert catalogue.find(Mount, "YOKE").load == 6.0
    with pytest.raises(KeyError):
        catalogue.find(Mount, "BAR")


def test_offers_of_a_part_are_gathered_with_prices_in_cents(tmp_path: Path) -> None:
    offers = read_catalogue(write(tmp_path)).offers
    assert list(offers) == ["BAR", "CORD", "STRIP", "TUBE"]
    assert [(offer.supplier, offer.price, offer.quantity_min) for offer in offers["BAR"]] == [
        ("north", 460, 0.0),
        ("north", 420, 10.0),
        ("own", 0, 0.0),
    ]


def test_fingerprints_are_those_of_the_files(tmp_path: Path) -> None:
    catalogue = read_catalogue(write(tmp_path))
    assert set(catalogue.fingerprints) == {f"{name}.csv" for name in TABLES}
    assert catalogue.fingerprints["mounts.csv"] == hashlib.sha256(TABLES["mounts"].encode()).hexdigest()


@pytest.mark.parametrize("make", [False, True])
def test_folder_that_is_none_is_told(tmp_path: Path, make: bool) -> None:
    folder = tmp_path / "nowhere"
    if make:
        folder.write_text("a file")
    read = "another file" if make else "no such folder or file"
    mend = "Name the folder or the workbook (in a build: --catalogue PATH)."
    allowed = "a folder of CSV files, or a workbook (.xlsx)"
    assert faults_of(folder) == (Fault(str(folder), None, "", read, allowed, mend),)


@pytest.mark.parametrize("name", ["emitters", "drivers", "panels", "offers"])
def test_missing_file_that_is_needed_is_told(tmp_path: Path, name: str) -> None:
    write(tmp_path)
    (tmp_path / f"{name}.csv").unlink()
    mend = "Every catalogue needs drivers.csv, emitters.csv, offers.csv, panels.csv."
    assert faults_of(tmp_path) == (Fault(f"{name}.csv", None, "", "no such file", f"the file, in {tmp_path}", mend),)


def test_empty_folder_lacks_all_that_is_needed(tmp_path: Path) -> None:
    assert [fault.file for fault in faults_of(tmp_path)] == ["drivers.csv", "emitters.csv", "offers.csv", "panels.csv"]


def test_missing_file_that_is_not_needed_holds_nothing(tmp_path: Path) -> None:
    for name in ("diffusers", "batteries", "fuses", "connectors", "mounts", "suppliers"):
        write(tmp_path)
        (tmp_path / f"{name}.csv").unlink()
        assert getattr(read_catalogue(tmp_path), name) == ()


def test_offer_for_a_part_of_a_file_that_is_left_out_is_told(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "cables.csv").unlink()
    (fault,) = faults_of(tmp_path)
    assert (fault.file, fault.row, fault.column, fault.read) == ("offers.csv", 5, "column part", '"CORD"')


def test_unknown_table_is_told_with_the_nearest_name(tmp_path: Path) -> None:
    write(tmp_path)
    shutil.copy(tmp_path / "mounts.csv", tmp_path / "mount.csv")
    allowed = ", ".join(f"{name}.csv" for name in KINDS)
    assert faults_of(tmp_path) == (Fault("mount.csv", None, "", "an unknown table", allowed, 'Did you mean "mounts"?'),)


def test_file_that_is_no_table_is_let_be(tmp_path: Path) -> None:
    (tmp_path / "README.md").write_text("# Words")
    assert faults_of(write(tmp_path)) == ()


def again(file: str, row: int, column: str, read: str, allowed: str, mend: str) -> Fault:
    return Fault(file, row, f"column {column}", read, allowed, mend)


ONCE = "every code once in the catalogue"


def test_part_twice_in_one_file_is_told(tmp_path: Path) -> None:
    assert faults_with(tmp_path, mounts=TABLES["mounts"] + "YOKE,7,0.4\n") == (
        again("mounts.csv", 3, "part", '"YOKE" again', ONCE, "It is already in mounts.csv line 2."),
    )


def test_part_twice_in_two_files_is_told(tmp_path: Path) -> None:
    assert faults_with(tmp_path, mounts=TABLES["mounts"] + "TUBE,7,0.4\n") == (
        again("mounts.csv", 3, "part", '"TUBE" again', ONCE, "It is already in emitters.csv line 5."),
    )


def test_supplier_twice_is_told(tmp_path: Path) -> None:
    assert faults_with(tmp_path, suppliers=TABLES["suppliers"] + "north,0,,\n") == (
        again("suppliers.csv", 4, "supplier", '"north" again', "every supplier once", "It is already in line 2."),
    )


def in_offers(row: int, column: str, read: str, allowed: str, mend: str = "") -> Fault:
    return Fault("offers.csv", row, f"column {column}", read, allowed, mend)


OFFERS = [
    (
        "TUBE,south",
        "TUBES,south",
        in_offers(7, "part", '"TUBES"', "the code of a part in the catalogue", 'Did you mean "TUBE"?'),
    ),
    ("TUBE,south", "tube,south", in_offers(7, "part", '"tube"', "the code of a part in the catalogue")),
    (
        "TUBE,south",
        "TUBE,sout",
        in_offers(7, "supplier", '"sout"', "a supplier of suppliers.csv, or own", 'Did you mean "south"?'),
    ),
    (
        "TUBE,south",
        "TUBE,Own",
        in_offers(7, "supplier", '"Own"', "a supplier of suppliers.csv, or own"),
    ),
    ("BAR,own,,", "BAR,own,0.50,", in_offers(4, "price", "0.50", "0 or blank: what is owned costs nothing")),
    (
        "100,3,length",
        "100,3,each",
        in_offers(5, "sold_by", "each", "length or reel for a cable", "State the metres of a step or reel in pack."),
    ),
    (
        "TUBE,south,7.10,,,,,",
        "TUBE,south,7.10,,,,,length",
        in_offers(7, "sold_by", "length", "each, but for cables and strips"),
    ),
    ("BAR,north,4.60,1,", "BAR,north,4.60,1.5,", in_offers(2, "pack", "1.5", "a whole number of pieces")),
    ("4.20,2,10,40", "4.20,2,10.5,40", in_offers(3, "quantity_min", "10.5", "a whole number of pieces")),
    ("4.20,2,10,40", "4.20,2,10,40.5", in_offers(3, "stock", "40.5", "a whole number of pieces")),
]


def offers_with(old: str, new: str) -> str:
    # A cable sold each is told of its whole pieces as well, which is another case.
    return spoilt(spoilt(TABLES["offers"], "0.90,0.5", "0.90,1"), old, new)


@pytest.mark.parametrize(("old", "new", "fault"), OFFERS)
def test_offer_that_fits_no_other_file_is_told(tmp_path: Path, old: str, new: str, fault: Fault) -> None:
    assert faults_with(tmp_path, offers=offers_with(old, new)) == (fault,)


def test_currency_is_the_same_in_offers_and_suppliers(tmp_path: Path) -> None:
    found = faults_with(tmp_path, suppliers=TABLES["suppliers"].replace("[EUR]", "[GBP]"))
    assert found == (Fault("suppliers.csv", None, "", "currency GBP", "the currency of offers.csv, EUR"),)


def test_any_supplier_is_known_without_a_table_of_suppliers(tmp_path: Path) -> None:
    write(tmp_path, {**TABLES, "offers": spoilt(TABLES["offers"], "TUBE,south", "TUBE,west")})
    (tmp_path / "suppliers.csv").unlink()
    assert [offer.supplier for offer in read_catalogue(tmp_path).offers["TUBE"]] == ["west"]


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("emitters", "BAR,module", "BAR,modul"),
        ("emitters", "flux [lm]", "flux [cd]"),
        ("emitters", "TUBE,tube", "TUBE,tub"),
        ("cables", "1.5,2,16", "1.5,1,16"),
        ("suppliers", "south,6.50", "south,-6.50"),
        ("suppliers", "order_min [EUR]", "order_mini [EUR]"),
    ],
)
def test_nothing_else_complains_of_the_absence_of_what_was_refused(
    tmp_path: Path, name: str, old: str, new: str
) -> None:
    found = faults_with(tmp_path, **{name: spoilt(TABLES[name], old, new)})
    assert [fault.file for fault in found] == [f"{name}.csv"]


def test_faults_of_all_files_are_told_at_once_sorted_by_place(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "panels.csv").unlink()
    (tmp_path / "lamps.csv").write_text("")
    changed: dict[str, str | bytes] = {
        "emitters": spoilt(spoilt(TABLES["emitters"], "0.1,1.0", "0.8,1.0"), "14,11,", "14,-11,"),
        "drivers": spoilt(TABLES["drivers"], "efficiency", "efficency"),
        "diffusers": "",
        "batteries": TABLES["batteries"].encode("utf-16"),
        "cables": spoilt(TABLES["cables"], "CORD,1.5", 'CORD,"1,5"'),
        "fuses": spoilt(TABLES["fuses"], "blade", "bl\xe4de").encode("latin-1"),
        "mounts": TABLES["mounts"] + "TWIN,5,1\n",
        "offers": spoilt(TABLES["offers"], "TUBE,south", "TUB,sout"),
        "suppliers": spoilt(TABLES["suppliers"], "4.90", "4.9 0"),
    }
    write(tmp_path, changed)
    assert [(fault.file, fault.row, fault.column) for fault in faults_of(tmp_path)] == [
        ("batteries.csv", None, ""),
        ("cables.csv", 2, "column area"),
        ("diffusers.csv", None, ""),
        ("drivers.csv", 1, 'column "efficency"'),
        ("drivers.csv", 1, "column efficiency"),
        ("emitters.csv", 3, "column current_min"),
        ("emitters.csv", 4, "column mass"),
        ("fuses.csv", 2, ""),
        ("lamps.csv", None, ""),
        ("mounts.csv", 3, "column part"),
        ("offers.csv", 7, "column supplier"),
        ("panels.csv", None, ""),
        ("suppliers.csv", 2, "column delivery"),
    ]


def test_offer_is_told_of_part_and_supplier_at_once(tmp_path: Path) -> None:
    found = faults_with(tmp_path, offers=spoilt(TABLES["offers"], "TUBE,south", "TUB,sout"))
    assert [fault.column for fault in found] == ["column part", "column supplier"]


def test_message_says_where_what_was_read_what_is_allowed_and_how_to_mend_it(tmp_path: Path) -> None:
    write(tmp_path, {**TABLES, "emitters": spoilt(TABLES["emitters"], ",1000,", ",1000 cd,")})
    with pytest.raises(InputError) as caught:
        read_catalogue(tmp_path)
    assert str(caught.value) == (
        'emitters.csv line 3, column flux: read "1000 cd"; allowed: luminous flux in lm, lumen, klm, kilolumen.'
        " Correct the number or its unit."
    )


# --- What reading does not depend on ------------------------------------------------------------------------


def parsed(text: str) -> list[list[str]]:
    """Return header and rows without comments."""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    return [row for row in rows if row and not row[0].startswith("#")]


def joined(rows: list[list[str]]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    return out.getvalue()


PARSED = {path.stem: parsed(path.read_text(encoding="utf-8")) for path in sorted(DEMONSTRATION.glob("*.csv"))}


def bare(catalogue: Catalogue) -> Catalogue:
    """Return the catalogue without where and in which bytes its parts were found."""
    return replace(catalogue, fingerprints={}, places={})


@pytest.fixture(scope="module")
def demonstration() -> Catalogue:
    return read_catalogue(DEMONSTRATION)


@settings(max_examples=8, deadline=None)
@given(st.randoms(use_true_random=False))
def test_order_of_rows_and_columns_does_not_matter(
    tmp_path_factory: pytest.TempPathFactory, demonstration: Catalogue, random: Random
) -> None:
    shuffled: dict[str, str | bytes] = {}
    for name, (header, *rows) in PARSED.items():
        random.shuffle(rows)
        order = random.sample(range(len(header)), len(header))
        full = [row + [""] * (len(header) - len(row)) for row in rows]
        shuffled[name] = joined([[row[i] for i in order] for row in [header, *full]])
    folder = write(tmp_path_factory.mktemp("shuffled"), shuffled)
    assert bare(read_catalogue(folder)) == bare(demonstration)


@settings(max_examples=15, deadline=None)
@given(
    st.permutations(["TUBE,south,7,1,0,5,3,", "TUBE,south,7,1,0,9,3,", "TUBE,south,7,1,0,,3,", "TUBE,south,7,1,0,5,,"])
)
@example(["TUBE,south,7,1,0,,0,", "TUBE,south,7,1,0,,,"])
def test_order_of_nearly_equal_offers_does_not_matter(
    tmp_path_factory: pytest.TempPathFactory, rows: list[str]
) -> None:
    def read(lines: list[str]) -> tuple[Offer, ...]:
        text = TABLES["offers"] + "\n".join(lines)
        return read_catalogue(write(tmp_path_factory.mktemp("offers"), {**TABLES, "offers": text})).offers["TUBE"]

    assert read(rows) == read(rows[::-1])


# Each unit of the demonstration files, another one for it, and one in how many of the other: SI Brochure, and the
# international yard and pound.
OTHER_UNITS: Mapping[str, tuple[tuple[str, float], ...]] = {
    "lm": (("klm", 1e3),),
    "A": (("mA", 1e-3),),
    "V": (("mV", 1e-3), ("kV", 1e3)),
    "W": (("kW", 1e3),),
    "ohm": (("mohm", 1e-3),),
    "mV/K": (("V/K", 1e3),),
    "%/K": (("1/K", 1e2),),
    "K/W": (("K/kW", 1e-3),),
    "deg": (("rad", 57.29577951308232),),
    "mm": (("in", 25.4), ("m", 1e3), ("ft", 304.8)),
    "cm": (("in", 2.54), ("mm", 0.1)),
    "m": (("ft", 0.3048), ("mm", 1e-3)),
    "g": (("kg", 1e3), ("oz", 28.349523125)),
    "kg": (("g", 1e-3), ("lb", 0.45359237)),
    "g/m^2": (("kg/m^2", 1e3), ("oz/yd^2", 33.9057474748823)),
    "g/m": (("kg/km", 1.0), ("lb/ft", 1488.16394356955)),
    "mm^2": (("cm^2", 100.0), ("in^2", 645.16)),
    "ohm/km": (("ohm/m", 1e3), ("mohm/ft", 1.0 / 0.3048)),
    "Ah": (("mAh", 1e-3), ("C", 1.0 / 3600.0)),
    "h": (("min", 1.0 / 60.0),),
    "day": (("h", 1.0 / 24.0), ("week", 7.0)),
    "": (("%", 0.01),),
}
SHARES = {"usable", "efficiency", "power_factor", "transmittance", "emissivity", "heat_fraction", "droop"}


# The two other scales, by their definitions: factor and offset from degrees Celsius.
OTHER_SCALES = (("K", 1.0, 273.15), ("degF", 1.8, 32.0))


def other_unit(head: str, cells: list[str], random: Random) -> tuple[str, list[str]]:
    """Return a column in another unit, stated in its header or in every cell."""
    title, _, rest = head.partition(" [")
    unit = rest.removesuffix("]")
    if unit == "degC":
        new, factor, offset = random.choice(OTHER_SCALES)
    elif unit in OTHER_UNITS and (unit or title in SHARES):
        new, size = random.choice(OTHER_UNITS[unit])
        factor, offset = 1.0 / size, 0.0
    else:
        return head, cells
    done = []
    own = random.random() < 0.5
    for cell in cells:
        if cell in {"", "lambertian"}:
            done.append(cell)
        else:
            text = repr(float(cell) * factor + offset)
            done.append(f"{text} {new}" if own else text)
    return (head if own else f"{title} [{new}]"), done


def same_figures(one: Row, other: Row) -> None:
    first, second = one.model_dump(), other.model_dump()
    numbers = {name for name, value in first.items() if isinstance(value, float)}
    assert {name: second[name] for name in first.keys() - numbers} == {n: first[n] for n in first.keys() - numbers}
    assert [second[name] for name in sorted(numbers)] == [
        pytest.approx(first[name], rel=1e-12, abs=1e-300) for name in sorted(numbers)
    ]


@settings(max_examples=10, deadline=None)
@given(st.randoms(use_true_random=False))
def test_units_of_columns_and_cells_do_not_matter(
    tmp_path_factory: pytest.TempPathFactory, demonstration: Catalogue, random: Random
) -> None:
    changed: dict[str, str | bytes] = {}
    for name, (header, *rows) in PARSED.items():
        columns = [
            other_unit(head, [row[i] if i < len(row) else "" for row in rows], random) for i, head in enumerate(header)
        ]
        turned = zip(*(cells for _, cells in columns), strict=True)
        changed[name] = joined([[head for head, _ in columns], *map(list, turned)])
    assert changed != {name: joined(rows) for name, rows in PARSED.items()}
    catalogue = read_catalogue(write(tmp_path_factory.mktemp("units"), changed))
    pairs: list[tuple[Row, Row]] = list(zip(demonstration.parts(), catalogue.parts(), strict=True))
    for part, offers in demonstration.offers.items():
        pairs += zip(offers, catalogue.offers[part], strict=True)
    for one, other in pairs:
        same_figures(one, other)


# --- Whatever stands in a file, only its faults are told ----------------------------------------------------

SIGNS = ["\n", "\r", "\r\n", ",", ";", '"', '""', "'", "#", "[", "]", " ", "\t", "\x00", "\ufeff", "\u2028", "\x85"]
WORDS = ["part", "BAR", "form", "flux [lm]", "mass [g]", "price [EUR]", "note", "own", "yes", "IP65", "é", "=1+1", "𝟙"]
FIGURES = ["1", "-1", "1e999", "nan", "1,5", "0.5 in", "9^9^9"]
PIECES = st.sampled_from([*SIGNS, *WORDS, *FIGURES])
BYTES = st.one_of(
    st.binary(max_size=200),
    st.lists(PIECES, max_size=40).map(lambda pieces: "".join(pieces).encode()),
)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(TABLES)), BYTES, st.booleans(), st.integers(0, 400))
def test_any_bytes_are_read_or_refused_with_faults_of_that_catalogue(
    tmp_path_factory: pytest.TempPathFactory, name: str, data: bytes, whole: bool, place: int
) -> None:
    folder = tmp_path_factory.getbasetemp() / "any-bytes"
    folder.mkdir(exist_ok=True)
    sound = TABLES[name].encode()
    write(folder, {**TABLES, name: data if whole else sound[:place] + data + sound[place:]})
    faults = faults_of(folder)
    assert {fault.file for fault in faults} <= {f"{each}.csv" for each in TABLES}
    assert all(fault.read and fault.allowed and str(fault).isprintable() for fault in faults)


def test_kinds_are_told_apart_by_find(demonstration: Catalogue) -> None:
    assert all(demonstration.find(Emitter, part.part) is part for part in demonstration.emitters)


def test_a_hint_shows_control_signs_as_escapes() -> None:
    assert nearest("LED-1", ["LED-\x01", "DRV-9"]) == 'Did you mean "LED-\\x01"?'
