"""Which offers have moved, and how far prices have fallen (invented offers)."""

import pytest

from optimise.parts import Offer
from optimise.parts.moved import Moved, fallen, moved

A = Offer(part="A", supplier="north", price=100, stock=5.0)
B = Offer(part="B", supplier="north", price=100)
BEFORE = {"A": [A], "B": [B]}


def other(offer: Offer, **update: object) -> Offer:
    return offer.model_copy(update=update)


@pytest.mark.parametrize(
    ("update", "easier", "share"),
    [
        ({"price": 101}, False, 1.0),
        ({"price": 99}, True, 0.99),
        ({"stock": 4.0}, False, 1.0),
        ({"stock": 6.0}, True, None),
        ({"stock": None}, True, None),
        ({"stock": 4.0, "price": 50}, True, 0.5),
    ],
)
def test_what_moved_is_told_and_whether_it_may_help(
    update: dict[str, object], easier: bool, share: float | None
) -> None:
    now = other(A, **update)
    there = {"A": [now], "B": [B]}
    assert moved(BEFORE, there) == [Moved(A, now)]
    assert Moved(A, now).easier is easier
    assert fallen(BEFORE, there) == share


def test_what_is_gone_is_no_help_and_what_is_new_may_be() -> None:
    gone, new = Moved(B, None), Moved(None, B)
    assert moved(BEFORE, {"A": [A]}) == [gone]
    assert moved({"A": [A]}, BEFORE) == [new]
    assert (gone.easier, new.easier) == (False, True)
    assert (gone.more, new.more) == (False, True)
    assert fallen(BEFORE, {"A": [A]}) == 1.0
    assert fallen({"A": [A]}, BEFORE) is None
    assert moved(BEFORE, BEFORE) == []


def test_the_greatest_fall_counts_whatever_has_risen() -> None:
    there = {"A": [other(A, price=80)], "B": [other(B, price=300)]}
    assert fallen(BEFORE, there) == 0.8
    assert fallen(there, BEFORE) == pytest.approx(1 / 3)


def test_a_price_from_nothing_is_no_fall_and_one_to_nothing_is_a_whole_one() -> None:
    free = {"A": [other(A, price=0)], "B": [B]}
    assert fallen(free, BEFORE) == 1.0
    assert fallen(BEFORE, free) == 0.0


def test_a_price_break_is_paired_with_that_of_its_number() -> None:
    many = other(B, quantity_min=10, price=90)
    sooner = other(many, quantity_min=5)
    assert fallen({"B": [B, many]}, {"B": [B, other(many, price=45)]}) == 0.5
    # One from fewer pieces on is another offer, which was not there.
    assert fallen({"B": [B, many]}, {"B": [B, sooner]}) is None
