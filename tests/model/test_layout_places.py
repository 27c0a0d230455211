"""Places on small boards, told by hand: which way pieces lie, which string takes which, and turns of two kinds.

All parts are invented.
"""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from plain_parts import EMITTER, PANEL, catalogue, choice

from optimise.model.build import Build
from optimise.model.choice import ChannelChoice
from optimise.model.exact import build_of
from optimise.model.layout import by_turns, layout_of
from optimise.parts import Emitter


def built(
    emitters: Sequence[Emitter], sides: tuple[float, float], *channels: ChannelChoice, usable: float = 1.0
) -> Build:
    panel = PANEL.model_copy(update={"width": sides[0], "height": sides[1], "usable": usable})
    parts = replace(catalogue(emitters[0]), emitters=tuple(emitters), panels=(panel,))
    return build_of(replace(choice("p", None), channels=channels), parts)


def places(build: Build) -> list[tuple[float, float]]:
    layout = layout_of(build)
    assert layout is not None
    return sorted((round(x, 9), round(y, 9)) for x, y in zip(layout.x.tolist(), layout.y.tolist(), strict=True))


def test_a_row_of_pieces_stands_in_the_middle_of_its_share_of_the_board() -> None:
    # Pieces of 0.2 m × 0.05 m; the board holds two of them end to end in each of two rows.
    pair = built([EMITTER], (0.4, 0.1), ChannelChoice("d", 4, 1, 0.5, 1))
    layout = layout_of(pair)
    assert layout is not None
    assert places(pair) == [(0.1, 0.025), (0.1, 0.075), (0.3, 0.025), (0.3, 0.075)]
    assert (layout.lying, layout.in_line) == (True, 2)
    assert (layout.clearance_x, layout.clearance_y) == (pytest.approx(0.0), pytest.approx(0.0))
    upright = built([EMITTER], (0.1, 0.6), ChannelChoice("d", 6, 1, 0.5, 1))
    layout = layout_of(upright)
    assert layout is not None
    assert (layout.lying, layout.in_line) == (False, 3)
    assert places(upright) == [(x, y) for x in (0.025, 0.075) for y in (0.1, 0.3, 0.5)]


def test_clearance_is_from_the_outermost_piece_to_the_edge() -> None:
    for sides, lying in (((0.5, 0.12), True), ((0.12, 0.5), False)):
        layout = layout_of(built([EMITTER], sides, ChannelChoice("d", 4, 1, 0.5, 1)))
        assert layout is not None
        assert layout.lying is lying
        x, y = (float(axis.min()) for axis in (layout.x, layout.y))
        size = (0.2, 0.05) if lying else (0.05, 0.2)
        assert layout.clearance_x == pytest.approx(x - size[0] / 2)
        assert layout.clearance_y == pytest.approx(y - size[1] / 2)
        assert layout.clearance_x >= 0.0
        assert layout.clearance_y >= 0.0


def test_a_board_holds_what_fits_and_no_more() -> None:
    for number, fits in ((1, True), (4, True), (5, False), (6, False)):
        assert (layout_of(built([EMITTER], (0.4, 0.1), ChannelChoice("d", 1, 1, 0.5, number))) is not None) is fits
    assert layout_of(built([EMITTER], (0.4, 0.1))) is None


def strings(build: Build) -> list[tuple[str, int, str, list[list[tuple[float, float]]]]]:
    """Return driver, its number, the kind, and the places of each string, of every run."""
    layout = layout_of(build)
    assert layout is not None
    at = [(round(x, 6), round(y, 6)) for x, y in zip(layout.x.tolist(), layout.y.tolist(), strict=True)]
    return [(run.driver, run.number, run.emitter, [[at[i] for i in one] for one in run.strings]) for run in layout.runs]


SMALL = EMITTER.model_copy(update={"length": 0.1, "width": 0.1})


def test_drivers_share_out_one_line_through_the_board() -> None:
    # A line of six pieces: two drivers of two each, then one that has two strings of one.
    line = built([SMALL], (0.6, 0.1), ChannelChoice("d", 2, 1, 0.5, 2), ChannelChoice("d", 1, 2, 0.25, 1))
    found = strings(line)
    assert [(driver, number, kind) for driver, number, kind, _ in found] == [
        ("d", 1, "e"),
        ("d", 2, "e"),
        ("d", 3, "e"),
    ]
    assert [sorted(x for x, _ in sum(runs, [])) for *_, runs in found] == [[0.05, 0.15], [0.25, 0.35], [0.45, 0.55]]  # noqa: RUF017
    assert [[len(one) for one in runs] for *_, runs in found] == [[2], [2], [1, 1]]


def test_the_line_goes_the_way_that_takes_less_wire() -> None:
    # Of two beside each other and four up, drivers of four: two columns, or two squares; columns of one driver take a
    # wire of 0.3 m and back, squares of 0.1 m three times and back across 0.1 m.
    layout = layout_of(built([SMALL], (0.2, 0.4), ChannelChoice("d", 4, 1, 0.5, 2)))
    assert layout is not None
    assert [run.wire for run in layout.runs] == pytest.approx([0.4, 0.4])
    # On the board turned by a right angle the line goes upright, for 0.4 m less of wire.
    layout = layout_of(built([SMALL], (0.4, 0.2), ChannelChoice("d", 4, 1, 0.5, 2)))
    assert layout is not None
    assert [run.wire for run in layout.runs] == pytest.approx([0.4, 0.4])
    # Drivers of two: along a row or along a column the wire is the same, and rows are taken.
    both = strings(built([SMALL], (0.2, 0.2), ChannelChoice("d", 2, 1, 0.5, 2)))
    assert [{y for _, y in runs[0]} for *_, runs in both] == [{0.05}, {0.15}]
    # Upright where rows take more: of three columns and two rows, drivers of two.
    layout = layout_of(built([SMALL], (0.3, 0.2), ChannelChoice("d", 2, 1, 0.5, 3)))
    assert layout is not None
    assert [run.wire for run in layout.runs] == pytest.approx([0.2, 0.2, 0.2])


def test_a_tube_is_wired_at_both_of_its_ends() -> None:
    # One module takes no wire; a tube by itself has one back along its length.
    for form, wire in (("module", 0.0), ("tube", 0.2), ("strip", 0.2)):
        piece = EMITTER.model_copy(update={"form": form})
        layout = layout_of(built([piece], (0.4, 0.1), ChannelChoice("d", 1, 1, 0.5, 1)))
        assert layout is not None
        assert [run.wire for run in layout.runs] == pytest.approx([wire])


def test_strings_in_parallel_begin_where_that_saves_wire() -> None:
    # Two strings of two along a line of four: turned so that both poles are near each other, whichever comes first.
    (run,) = strings(built([SMALL], (0.4, 0.1), ChannelChoice("d", 2, 2, 0.25, 1)))
    layout = layout_of(built([SMALL], (0.4, 0.1), ChannelChoice("d", 2, 2, 0.25, 1)))
    assert layout is not None
    first, second = run[3]
    within = 0.1 + 0.1
    poles = abs(first[0][0] - second[0][0]) + abs(first[1][0] - second[1][0])
    assert layout.runs[0].wire == pytest.approx(within + poles + 0.1)
    turned = abs(first[0][0] - second[1][0]) + abs(first[1][0] - second[0][0])
    assert poles <= turned + 1e-9


def test_two_kinds_take_turns() -> None:
    other = SMALL.model_copy(update={"part": "g"})
    found = strings(
        built([SMALL, other], (0.6, 0.1), ChannelChoice("d", 2, 2, 0.25, 1), ChannelChoice("d", 1, 2, 0.25, 1, "g"))
    )
    (first, second) = ([x for one in runs for x, _ in one] for *_, runs in found)
    assert [kind for _, _, kind, _ in found] == ["e", "g"]
    # Each third is of the second kind, in the middle of its stretch.
    assert sorted(second) == [0.15, 0.45]
    assert sorted(first) == [0.05, 0.25, 0.35, 0.55]


@pytest.mark.parametrize(
    ("first", "second", "turns"),
    [
        (4, 2, "egeege"),
        (2, 1, "ege"),
        (1, 1, "ge"),
        (3, 3, "gegege"),
        (2, 4, "geggeg"),
        (5, 1, "eegeee"),
        (0, 3, "ggg"),
        (6, 3, "egeegeege"),
    ],
)
def test_turns_are_as_even_as_numbers_let_them_be(first: int, second: int, turns: str) -> None:
    order = [10 * place for place in range(first + second)]
    found = by_turns(order, [first, second])
    assert [len(places) for places in found] == [first, second]
    assert sorted(found[0] + found[1]) == order
    told = "".join("g" if place in found[1] else "e" for place in order)
    # Among the first n places there are as many of the second kind as n times its share, to the nearest; a half is up.
    share = second / (first + second)
    for n in range(1, len(order) + 1):
        assert abs(told[:n].count("g") - n * share) <= 0.5 + 1e-9
    assert told == turns


def test_one_kind_takes_the_whole_line() -> None:
    assert by_turns([3, 1, 2], [3]) == [[3, 1, 2]]
