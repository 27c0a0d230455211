"""What a choice of parts says of itself, and a build of the parts found; counted by hand. Parts are invented."""

from dataclasses import replace

import pytest
from plain_parts import EMITTER, SCENARIO, catalogue, choice

from optimise.model.build import Build
from optimise.model.choice import ChannelChoice, Evaluation, Margin
from optimise.model.exact import build_of, evaluate
from optimise.parts import Mount

MIXED = replace(
    choice("p", "film"),
    channels=(
        ChannelChoice("d", 3, 2, 0.5, 2),
        ChannelChoice("c", 4, 1, 0.4, 1, "g"),
        ChannelChoice("d", 1, 1, 0.3, 3, "g"),
        ChannelChoice("a", 1, 1, 0.3, 1, "e"),
    ),
    battery_series=2,
    battery_parallel=3,
)


def test_pieces_are_counted_by_kind() -> None:
    # 3 × 2 × 2 of its own kind and one more that names it; 4 and 3 of the other one.
    assert MIXED.channels[0].emitters == 12
    assert MIXED.kinds == ("e", "g")
    assert MIXED.pieces == {"e": 13, "g": 7}
    assert MIXED.emitters == 20
    assert MIXED.lit_by == "13 × e + 7 × g"
    assert MIXED.drivers == {"a": 1, "c": 1, "d": 5}
    assert list(MIXED.drivers) == ["a", "c", "d"]
    assert MIXED.batteries == 6


def test_sheets_are_told_the_inner_one_first() -> None:
    assert MIXED.sheets == ("film",)
    assert replace(MIXED, second_diffuser="cloth").sheets == ("film", "cloth")
    assert replace(MIXED, diffuser=None).sheets == ()


@pytest.mark.parametrize(
    ("kind", "required", "achieved", "zero", "left"),
    [
        # Of temperatures the share is that of the rise: 40 K allowed over 20 °C, 10 K of them left.
        ("max", 60.0, 50.0, 20.0, 10.0 / 40.0),
        # A limit below where its scale begins is as wide as it is above.
        ("max", -10.0, -4.0, 20.0, -6.0 / 30.0),
        ("min", -10.0, -12.0, -11.0, -2.0),
        # Nothing is asked: there is no share, so what is left is told as it is.
        ("min", 0.0, 3.0, 0.0, 3.0),
        ("max", 0.4, 0.1, 0.0, 0.75),
    ],
)
def test_a_margin_is_a_share_of_its_scale(
    kind: str, required: float, achieved: float, zero: float, left: float
) -> None:
    margin = Margin("m", "min" if kind == "min" else "max", required, achieved, "", "test", zero)
    assert margin.left == pytest.approx(left, rel=1e-15)
    if zero == 0.0:
        assert Margin("m", margin.kind, required, achieved, "", "test").left == margin.left


def test_rounding_is_forgiven_up_to_a_billionth() -> None:
    # Nothing is required, so that what is missed is told as it is: 1e-9 in the last bit, and twice that.
    for missed, holds in ((1e-9, True), (2e-9, False), (-1e-9, True)):
        assert Margin("m", "max", 0.0, missed, "", "test").holds is holds


def evaluation() -> Evaluation:
    return evaluate(choice("p", "film"), catalogue(EMITTER), SCENARIO)


def test_a_build_passes_where_nothing_is_missed_and_all_can_be_bought() -> None:
    found = evaluation()
    kept = Margin("kept", "max", 2.0, 1.0, "", "test")
    missed = Margin("missed", "max", 1.0, 2.0, "", "test")
    for missing, margins, passes in (
        ((), (kept,), True),
        ((), (kept, missed), False),
        (("e",), (kept,), False),
        (("e",), (missed,), False),
        ((), (), True),
    ):
        assert replace(found, missing=missing, margins=margins).passes is passes


def plain_build() -> Build:
    return build_of(choice("p", "film"), catalogue(EMITTER))


def test_parts_of_a_build_are_told_once_each() -> None:
    build = plain_build()
    assert [part.part for part in build.parts] == ["e", "d", "p", "film", "b", "c", "f", "k"]
    mounted = replace(build, mount=Mount(part="m", load=1.0, mass=0.1), drivers=build.drivers * 2)
    assert [part.part for part in mounted.parts] == ["e", "d", "p", "film", "b", "c", "f", "k", "m"]
    mains = replace(build, battery=None, diffuser=None)
    assert [part.part for part in mains.parts] == ["e", "d", "p", "c", "f", "k"]
    both = build_of(replace(choice("p", "film"), second_diffuser="cloth"), catalogue(EMITTER))
    assert [part.part for part in both.parts] == ["e", "d", "p", "film", "cloth", "b", "c", "f", "k"]


def test_a_channel_has_the_kind_that_it_names() -> None:
    build = replace(plain_build(), kinds=(EMITTER, EMITTER.model_copy(update={"part": "g"})), choice=MIXED)
    assert build.emitter is EMITTER
    assert [build.emitter_of(channel).part for channel in MIXED.channels] == ["e", "g", "g", "e"]
