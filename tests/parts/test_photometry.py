"""Photometric files (ANSI/IES LM-63): every edition and type against a second reader, every fault with its line."""

import string

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from photometric_texts import HEADS, second_reading, text_of

from optimise.parts import Collector, Fault
from optimise.parts.photometry import MAX_ANGLES, MAX_BYTES, MAX_FAULTS, Photometry, read_photometry

VERTICAL = [0.0, 30.0, 60.0, 90.0]
CANDELA = np.array([[100.0, 80.0, 40.0, 0.0]])
SOUND = text_of(VERTICAL, [0.0], CANDELA)


def read(text: str | bytes) -> tuple[Photometry | None, tuple[Fault, ...]]:
    faults = Collector()
    data = text if isinstance(text, bytes) else text.encode("latin-1")
    return read_photometry(data, "spot.ies", faults), tuple(faults.faults)


def sound(text: str) -> Photometry:
    table, faults = read(text)
    assert faults == ()
    assert table is not None
    return table


def told(text: str | bytes) -> list[str]:
    table, faults = read(text)
    assert table is None
    assert faults
    return [str(fault) for fault in faults]


def invented(seed: int, vertical: list[float], horizontal: list[float]) -> np.ndarray:
    return np.random.default_rng(seed).uniform(0.0, 900.0, (len(horizontal), len(vertical))).round(2)


SPANS = {
    1: [
        ([0, 45, 90], [0]),
        ([0, 20, 90], [0, 45, 90]),
        ([0, 50, 100, 180], [0, 60, 120, 180]),
        ([0, 10, 90], [90, 180, 270]),
        ([0, 30, 60, 90], [0, 90, 180, 270, 360]),
    ],
    2: [([-90, 0, 90], [-90, -10, 40, 90]), ([0, 45, 90], [0, 90])],
    3: [([-90, -30, 30, 90], [0, 45, 90]), ([0, 90], [-90, 0, 90])],
}


@pytest.mark.parametrize("edition", HEADS)
@pytest.mark.parametrize(("kind", "span"), [(kind, span) for kind, spans in SPANS.items() for span in spans])
def test_every_edition_type_and_symmetry_is_read_as_a_second_reader_does(
    edition: int, kind: int, span: tuple[list[float], list[float]]
) -> None:
    text = text_of(
        *span,
        invented(edition + kind, *span),
        edition=edition,
        kind=kind,
        lamps="2 1150.5 1.25",
        size="1 0.5 -1.5 .25",
        factors="0.95 0.9 31.4",
    )
    table, other = sound(text), second_reading(text)
    assert table.kind == {1: "C", 2: "B", 3: "A"}[kind]
    assert table.edition == edition
    for name in ("vertical", "horizontal", "candela", "opening", "watts"):
        np.testing.assert_allclose(getattr(table, name), other[name], rtol=1e-14, atol=0.0, err_msg=name)
    assert table.lumens == 2301.0


def test_a_ballast_lamp_factor_counts_until_1995_and_what_took_its_place_does_not() -> None:
    # LM-63-2002 keeps the number free; from memory LM-63-2019 tells there how the file was made.
    peak = {
        edition: float(sound(text_of(VERTICAL, [0.0], CANDELA, edition=edition, factors="1 0.5 10")).candela.max())
        for edition in HEADS
    }
    assert peak == {1986: 50.0, 1991: 50.0, 1995: 50.0, 2002: 100.0, 2019: 100.0}


def test_multiplier_and_ballast_factor_multiply_and_feet_become_metres() -> None:
    plain = sound(text_of(VERTICAL, [0.0], CANDELA, size="2 0.3 0.6 0"))
    other = sound(text_of(VERTICAL, [0.0], CANDELA, lamps="1 1000 2.5", size="1 1 -2 0", factors="0.8 1 10"))
    np.testing.assert_allclose(other.candela, 2.0 * plain.candela, rtol=1e-15)
    assert plain.opening == (0.3, 0.6, 0.0)
    assert other.opening == pytest.approx((0.3048, -0.6096, 0.0))


def test_minus_one_lumen_is_absolute_photometry() -> None:
    assert sound(text_of(VERTICAL, [0.0], CANDELA, lamps="1 -1 1")).lumens is None
    assert sound(SOUND).lumens == 1000.0


def test_a_tilt_table_in_the_file_is_read_over() -> None:
    text = text_of(VERTICAL, [0.0], CANDELA, tilt="INCLUDE\n1\n3\n0 45 90\n1.0 0.9\n0.8")
    table = sound(text)
    assert table.tilt
    np.testing.assert_array_equal(table.candela, second_reading(text)["candela"])


@pytest.mark.parametrize("end", ["\r\n", "\r", "\n"])
@pytest.mark.parametrize("between", [" ", ",", ", ", "\t"])
def test_any_delimiter_and_end_of_line_will_do(end: str, between: str) -> None:
    head, body = SOUND.split("TILT=NONE\n")
    other = (head + "TILT=NONE\n").replace("\n", end) + body.replace(" ", between).replace("\n", end)
    np.testing.assert_array_equal(sound(other).candela, sound(SOUND).candela)


def test_numbers_may_wrap_anywhere_and_a_last_mark_of_the_end_is_none() -> None:
    head, body = SOUND.split("TILT=NONE\n")
    np.testing.assert_array_equal(sound(head + " tilt = none \n" + "\n".join(body.split())).candela, CANDELA)
    np.testing.assert_array_equal(sound(SOUND + "\x1a").candela, CANDELA)
    np.testing.assert_array_equal(sound(SOUND.replace("[MANUFAC] invented", "[MANUFAC] \xe9t\xe9")).candela, CANDELA)


def test_tables_are_equal_where_their_files_are() -> None:
    other = sound(SOUND.replace("100", "101"))
    assert sound(SOUND) == sound(SOUND)
    assert hash(sound(SOUND)) == hash(sound(SOUND))
    assert sound(SOUND) != other
    bare = Photometry("C", np.array(VERTICAL), np.zeros(1), CANDELA)
    assert bare == Photometry("C", np.array(VERTICAL), np.zeros(1), CANDELA.copy())
    assert bare != Photometry("B", np.array(VERTICAL), np.zeros(1), CANDELA)
    with pytest.raises(ValueError, match="read-only"):
        bare.candela[0, 0] = 1.0


# Faults --------------------------------------------------------------------------------------------------

LINES = SOUND.splitlines()
COUNTS, FACTORS, FIRST = 7, 8, 9
"""Lines of the counts, the factors and the first angles."""


def changed(line: int, new: str) -> str:
    lines = list(LINES)
    lines[line - 1] = new
    return "\n".join(lines)


def test_the_fixture_has_its_lines_where_the_faults_look_for_them() -> None:
    assert LINES[COUNTS - 1] == "1 1000 1 4 1 1 2 0 0 0"
    assert LINES[FACTORS - 1] == "1 1 10"
    assert LINES[FIRST - 1] == "0 30 60 90 0 100 80"
    assert LINES[FIRST] == "40 0"


@pytest.mark.parametrize(
    ("line", "new", "fault"),
    [
        (COUNTS, "0 1000 1 4 1 1 2 0 0 0", "number of lamps: read 0; allowed: a whole number above 0."),
        (COUNTS, "1.5 1000 1 4 1 1 2 0 0 0", "number of lamps: read 1.5; allowed: a whole number above 0."),
        (
            COUNTS,
            "1 0 1 4 1 1 2 0 0 0",
            "lumens per lamp: read 0; allowed: more than 0, or −1 for absolute photometry.",
        ),
        (COUNTS, "1 1000 -1 4 1 1 2 0 0 0", "candela multiplier: read -1; allowed: more than 0."),
        (
            COUNTS,
            "1 1000 1 4.5 1 1 2 0 0 0",
            "number of vertical angles: read 4.5; allowed: a whole number from 1 to 1000.",
        ),
        (
            COUNTS,
            "1 1000 1 4 0 1 2 0 0 0",
            "number of horizontal angles: read 0; allowed: a whole number from 1 to 1000.",
        ),
        (COUNTS, "1 1000 1 999 999 1 2 0 0 0", "number of angles: read 999 × 999; allowed: at most 250000 values."),
        (COUNTS, "1 1000 1 4 1 4 2 0 0 0", "photometric type: read 4; allowed: 1 (C), 2 (B) or 3 (A)."),
        (COUNTS, "1 1000 1 4 1 1 3 0 0 0", "units: read 3; allowed: 1 (feet) or 2 (metres)."),
        (COUNTS, "1 1000 1 4 1 1 2 wide 0 0", 'width of the luminous opening: read "wide"; allowed: a number.'),
        (FACTORS, "0 1 10", "ballast factor: read 0; allowed: more than 0."),
        (FACTORS, "1 1 -3", "input watts: read -3; allowed: at least 0."),
        (FACTORS, "1 1 nan", 'input watts: read "nan"; allowed: a number.'),
        (FACTORS, "1 1 1_0", 'input watts: read "1_0"; allowed: a number.'),
        (FACTORS, "1 1 1e999", 'input watts: read "1e999"; allowed: a number.'),
        (FIRST, "0 60 30 90 0 100 80", "vertical angles: read 30 after 60; allowed: angles that rise."),
        (
            FIRST,
            "0 30 60 85 0 100 80",
            "vertical angles: read 0 to 85; allowed: 0 to 90, 90 to 180, 0 to 180. "
            "Type C photometry spans one of these ranges.",
        ),
        (
            FIRST,
            "0 30 60 90 5 100 80",
            "horizontal angles: read 5 to 5; allowed: 0 alone, 0 to 90, 0 to 180, 90 to 270, "
            "0 to 360. Type C photometry spans one of these ranges.",
        ),
        (FIRST, "0 30 60 90 0 100 -80", "intensity: read -80; allowed: at least 0 cd."),
        (FIRST + 1, "40 O", 'intensity: read "O"; allowed: a number.'),
        (
            FIRST + 1,
            "40 0 7",
            'intensity: read "7" after 1 × 4 values; allowed: the end of the file. '
            "Compare the counts of angles with what follows.",
        ),
        (
            FIRST + 1,
            "40",
            "intensity: read the end of the file; allowed: a number. "
            "Numbers are missing: compare the counts of angles.",
        ),
        (FIRST + 1, "4e20 0", "intensity: read 4e+20 cd with all factors; allowed: at most 1e+12 cd."),
    ],
)
def test_a_fault_is_told_with_its_line(line: int, new: str, fault: str) -> None:
    assert told(changed(line, new)) == [f"spot.ies line {line}, {fault}"]


def test_faults_are_told_together() -> None:
    text = changed(COUNTS, "0 0 1 4 1 7 2 0 0 0").replace("1 1 10", "1 1 -1").replace("0 30 60 90", "0 30 x 90")
    assert [line.split(":")[0] for line in told(text)] == [
        f"spot.ies line {COUNTS}, number of lamps",
        f"spot.ies line {COUNTS}, lumens per lamp",
        f"spot.ies line {COUNTS}, photometric type",
        f"spot.ies line {FACTORS}, input watts",
        f"spot.ies line {FIRST}, vertical angle",
    ]


def test_a_file_of_another_edition_or_none_is_refused() -> None:
    assert told(SOUND.replace("2002", "2077")) == [
        'spot.ies line 1: read "IESNA:LM-63-2077"; allowed: IESNA91, IESNA:LM-63-1995, IESNA:LM-63-2002 or '
        "IES:LM-63-2019. A file of 1986 has no such line."
    ]
    assert told("part,price\nx,1\n") == [
        "spot.ies: read no line TILT=; allowed: TILT=NONE or TILT=INCLUDE before the numbers. "
        "Is it a photometric file (ANSI/IES LM-63)?"
    ]
    assert told(b"\x00\x01TILT=NONE") == [
        "spot.ies: read a file that is not text; allowed: a photometric file (ANSI/IES LM-63)."
    ]
    assert told("") == told("part,price\nx,1\n")


def test_a_tilt_file_is_not_gone_after() -> None:
    assert told(SOUND.replace("TILT=NONE", "TILT=/etc/passwd")) == [
        'spot.ies line 6, TILT: read "/etc/passwd"; allowed: NONE, or INCLUDE with the table in the file itself. '
        "Put the table of the other file behind TILT=INCLUDE, or write TILT=NONE: the flux is the part's own."
    ]
    assert told(SOUND.replace("TILT=NONE", "TILT=INCLUDE\n9 2\n0 0\n1 -1"))[:3] == [
        "spot.ies line 7, lamp-to-luminaire geometry: read 9; allowed: 1, 2 or 3.",
        "spot.ies line 8, tilt angles: read 0 after 0; allowed: angles that rise.",
        "spot.ies line 9, tilt multiplier: read -1; allowed: at least 0.",
    ]


def test_light_that_goes_backwards_alone_is_refused() -> None:
    text = text_of([0.0, 90.0, 180.0], [0.0], np.array([[0.0, 5.0, 50.0]]))
    assert told(text) == [
        "spot.ies line 9, intensity: read no light ahead; allowed: an intensity above 0 at a vertical angle below 90°."
    ]


def test_what_is_too_large_is_refused_before_it_is_read() -> None:
    assert told(b" " * (MAX_BYTES + 1)) == [f"spot.ies: read {MAX_BYTES + 1} bytes; allowed: at most {MAX_BYTES}."]
    many = changed(COUNTS, f"1 1000 1 {MAX_ANGLES + 1} 1 1 2 0 0 0")
    assert told(many) == [
        f"spot.ies line {COUNTS}, number of vertical angles: read {MAX_ANGLES + 1}; "
        f"allowed: a whole number from 1 to {MAX_ANGLES}."
    ]
    assert len(told(changed(FIRST, "x " * 9).replace("40 0", "x " * 50))) <= MAX_FAULTS
    endless = "word " * 100
    assert len(told(text_of(VERTICAL * 20, [0.0], CANDELA).replace("100 80", endless))) <= MAX_FAULTS


# Fuzzing -------------------------------------------------------------------------------------------------

_PIECES = st.one_of(
    st.sampled_from(
        [
            *("IESNA:LM-63-2002", "IESNA91", "IES:LM-63-2019", "TILT=NONE", "TILT=INCLUDE", "TILT=", "[TEST]", "\n"),
            *("1", "0", "-1", "90", "180", "360", "1e300", "1e-300", "nan", "inf", "-0", ",", "\r", "\x1a", "\t"),
            "9" * 60,
        ]
    ),
    st.text(string.printable, max_size=6),
    st.floats().map(repr),
    st.integers(-10, 10**6).map(str),
)


def never_astray(data: bytes) -> None:
    faults = Collector()
    table = read_photometry(data, "x", faults)
    assert (table is None) == bool(faults.faults)
    assert len(faults.faults) <= MAX_FAULTS
    for fault in faults.faults:
        assert str(fault).isprintable()
    if table is not None:
        assert np.all(np.isfinite(table.candela))
        assert np.all(table.candela >= 0.0)
        assert table.candela.shape == (len(table.horizontal), len(table.vertical))


def mended(pieces: list[tuple[int, str]]) -> bytes:
    """Return the sound file with some of its words put out of place."""
    words = SOUND.replace("\n", " \n ").split(" ")
    for place, piece in pieces:
        words[place % len(words)] = piece
    return " ".join(words).encode("utf-8", "replace")


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 200), _PIECES), max_size=4))
def test_a_spoilt_file_is_read_or_told_of(pieces: list[tuple[int, str]]) -> None:
    never_astray(mended(pieces))


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=300), st.booleans())
def test_any_bytes_are_read_or_told_of(data: bytes, led: bool) -> None:
    never_astray(b"IESNA:LM-63-1995\nTILT=NONE\n" * led + data)


@pytest.mark.long
@settings(max_examples=20_000, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 200), _PIECES), max_size=12))
def test_many_spoilt_files_are_read_or_told_of(pieces: list[tuple[int, str]]) -> None:
    never_astray(mended(pieces))


@pytest.mark.long
@settings(max_examples=5_000, deadline=None)
@given(st.lists(_PIECES, max_size=60))
def test_many_heaps_of_words_are_read_or_told_of(pieces: list[str]) -> None:
    never_astray("\n".join(pieces).encode("utf-8", "replace"))


@pytest.mark.long
def test_the_largest_file_is_read_in_little_memory() -> None:
    import tracemalloc

    data = text_of(np.linspace(0, 180, 500), np.linspace(0, 360, 500), np.ones((500, 500)), wrap=500).encode()
    tracemalloc.start()
    table, faults = read(data)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert faults == ()
    assert table is not None
    assert peak < 40 * len(data)
