"""Prices for bounds against what every number of pieces costs, found by buying it."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from random import Random

import plain_parts
import priced_parts
import pytest
import small_kits
from random_shops import offer, random_shops

from optimise.model.kit_prices import (
    _faces,
    _least_of,
    _line_below,
    _stock_of,
    at_least,
    for_bounds,
    of_suppliers,
    with_weight,
)
from optimise.parts import Offer, Supplier
from optimise.parts.buying import Want, price_of
from optimise.scenario import KitLight, Scenario


def piece(catalogue_offers: Sequence[Offer]) -> int:
    """Return the price of the one offer of a part in a catalogue of bounds."""
    (only,) = catalogue_offers
    assert (only.supplier, only.pack, only.sold_by, only.stock, only.quantity_min) == ("own", 1.0, "each", None, 0.0)
    return only.price


def lights(*counts: int, leads: Sequence[float] = (), sheets: Sequence[int] = ()) -> Scenario:
    """Return a kit of so many lights of each entry, with these leads and most sheets."""
    asked = small_kits.kit(*((1.0, count) for count in counts))
    entries: list[KitLight] = []
    for entry, lead, most in zip(asked.kit, leads or [1.0] * len(counts), sheets or [1] * len(counts), strict=True):
        power = entry.job.power.model_copy(update={"lead_length": lead})
        look = entry.job.look.model_copy(update={"sheets_max": most})
        changed = entry.job.model_copy(update={"power": power, "look": look})
        entries.append(entry.model_copy(update={"job": changed}))
    return asked.model_copy(update={"kit": tuple(entries)})


def numbers(offers: Sequence[Offer], want: Want, most: int) -> dict[int, int]:
    """Return what each number of pieces up to so many costs, of those that can be had."""
    prices = {number: price_of(offers, replace(want, pieces=number)) for number in range(1, most + 1)}
    return {number: price for number, price in prices.items() if price is not None}


@pytest.mark.parametrize("number", range(12))
def test_a_line_is_never_above_what_pieces_cost_and_touches_it(number: int) -> None:
    offers, _, wants, _ = random_shops(Random(f"line {number}"))
    for want in wants:
        single = Want(want.part, 1)
        for last in (False, True):
            prices = numbers(offers[want.part], single, 5)
            line = _line_below(offers[want.part], single, 5, 1, last=last)
            if not prices:
                assert line is None
                continue
            assert line is not None
            price, credit = line
            left = [cents - (price * n - credit) for n, cents in prices.items()]
            assert min(left) >= -1e-9
            assert credit >= 0.0
            assert last or credit == 0.0
            # It is no lower than it must be: it touches a price, or goes through nothing for nothing.
            assert min(left) == pytest.approx(0.0, abs=1e-9) or credit == 0.0
            end = max(prices)
            assert not last or prices[end] == pytest.approx(price * end - credit)


def test_lines_by_hand() -> None:
    one = Want("P", 1)
    drawer = [offer("P", "own", 0, stock=1.0), offer("P", "north", 300)]
    # 0, 300, 600: by the first pieces nothing at least; by the last 300 each, and one is given back.
    assert _line_below(drawer, one, 3, 1, last=False) == (0.0, 0.0)
    assert _line_below(drawer, one, 3, 1, last=True) == (300.0, 300.0)
    packs = [offer("P", "north", 500, pack=2.0)]
    # 500, 500, 1000: 250 a piece at least, of two.
    assert _line_below(packs, one, 3, 1, last=False) == (250.0, 0.0)
    assert _line_below(packs, one, 1, 1, last=False) == (500.0, 0.0)
    assert _line_below(packs, one, 2, 1, last=False) == (250.0, 0.0)
    # Through (3, 1000): from (0, 0) 333, from (1, 500) 250, from (2, 500) 500.
    assert _line_below(packs, one, 3, 1, last=True) == (500.0, 500.0)
    # Two faces of each sheet: one, one, two sheets for one to three faces.
    assert _line_below([offer("P", "north", 400)], one, 3, 2, last=False) == (200.0, 0.0)
    # Only two are in stock; no third is ever paid for.
    assert _line_below([offer("P", "north", 400, stock=2.0)], one, 3, 1, last=True) == (400.0, 0.0)
    assert _line_below([], one, 3, 1, last=True) is None


def test_the_least_of_a_piece_by_hand() -> None:
    one, strip = Want("P", 1), Want("P", 1, 0.4)
    rows = [offer("P", "north", 500, pack=5.0), offer("P", "south", 110)]
    assert _least_of(rows, one) == 100
    assert _least_of([*rows, offer("P", "south", 90, quantity_min=20.0)], one) == 90
    assert _least_of([offer("P", "north", 500, pack=5.0, stock=4.0), offer("P", "south", 110)], one) == 110
    assert _least_of([offer("P", "north", 100, sold_by="length")], strip) == pytest.approx(40.0)
    # A reel of 1 m at the best is used up, though it gives two pieces only.
    assert _least_of([offer("P", "north", 100, sold_by="reel")], strip) == pytest.approx(40.0)
    assert _least_of([], one) is None
    # A sheet too small for the face gives none.
    sheet = offer("P", "north", 900, sold_by="sheet", sheet_width=0.5, sheet_height=0.5)
    assert _least_of([sheet], Want("P", 1, size=(0.6, 0.2))) is None
    assert _least_of([sheet], Want("P", 1, size=(0.25, 0.5))) == 450


def test_stock_is_counted_in_pieces() -> None:
    rows = [offer("P", "own", 0, stock=3.0), offer("P", "own", 0, pack=5.0, stock=12.0), offer("P", "north", 1)]
    assert list(_stock_of(rows, Want("P", 1))) == [3.0, 10.0, math.inf]


def test_faces_of_a_sheet_are_cut_the_better_way() -> None:
    panel = plain_parts.PANEL  # 0.8 m × 0.25 m
    assert _faces((0.8, 0.25), panel, 0.0) == 1
    assert _faces((0.8, 0.5), panel, 0.0) == 2
    assert _faces((0.8, 0.5), panel, 0.003) == 1
    assert _faces((0.5, 0.8), panel, 0.0) == 2
    assert _faces((1.0, 1.0), panel, 0.0) == 4
    assert _faces((0.7, 0.7), panel, 0.0) == 0


def test_offers_of_some_suppliers() -> None:
    offers = {"P": (offer("P", "north", 1), offer("P", "south", 2)), "Q": (offer("Q", "south", 3),), "R": ()}
    assert of_suppliers(offers, {"north"}) == {"P": (offers["P"][0],)}
    assert of_suppliers(offers, ["south"]) == {"P": (offers["P"][1],), "Q": offers["Q"]}


PACKED = {
    **priced_parts.offers_of(priced_parts.PRICES),
    "e": (offer("e", "north", 4000, pack=5.0), offer("e", "own", 0, stock=2.0)),
    "d": (offer("d", "north", 800), offer("d", "north", 700, quantity_min=4.0)),
    "b": (offer("b", "own", 0, stock=1.0), offer("b", "south", 3000)),
    "f": (offer("f", "own", 0, stock=2.0), offer("f", "north", 90)),
    "k": (offer("k", "north", 200, pack=2.0),),
    "m": (offer("m", "own", 0, stock=1.0), offer("m", "north", 500)),
}


def test_bounds_by_hand() -> None:
    """Three lights in two entries: what each part costs at least by the piece."""
    parts = replace(priced_parts.parts(), offers=PACKED)
    bounds = at_least(parts, PACKED, lights(1, 2), ())
    assert bounds.credit == 0.0
    assert len(bounds.catalogues) == 2
    first, second = (dict(catalogue.offers) for catalogue in bounds.catalogues)
    assert first == second
    assert bounds.catalogues[0].suppliers == ()
    assert {code: piece(rows) for code, rows in first.items()} == {
        "e": 0,
        "e2": 1100,
        "d": 700,
        "d2": 950,
        "p": 700,
        "t": 650,
        # Each sheet of 1 m × 1 m gives three faces of 0.8 m × 0.25 m, with 3 mm lost at each cut.
        "cloth": 133,
        "film": 200,
        "b": 0,
        "b2": 2500,
        # 1 m at 15 and 10 cents for 0.1 m.
        "c": 150,
        "c2": 100,
        "f": 0,
        "f2": 80,
        # A pack of two for two lights.
        "k": 100,
        "m": 0,
    }


def test_credited_parts_count_at_the_price_of_the_shop_by_hand() -> None:
    parts = replace(priced_parts.parts(), offers=PACKED)
    bounds = at_least(parts, PACKED, lights(1, 2), {"b", "f", "m"})
    prices = {code: piece(rows) for code, rows in bounds.catalogues[0].offers.items()}
    # One battery of 3000 is given back, two fuses of 90, one mount of 500.
    assert (prices["b"], prices["f"], prices["m"]) == (3000, 90, 500)
    assert bounds.credit == pytest.approx(3000 + 180 + 500)
    # Not of what the drawer holds without end, of nothing owned, nor of what no shop sells.
    assert at_least(parts, PACKED, lights(3), {"b2", "c"}).credit == 0.0
    endless = {
        **PACKED,
        "b": (offer("b", "own", 0), offer("b", "south", 3000)),
        "d": (offer("d", "own", 0, stock=3.0),),
    }
    bounds = at_least(replace(parts, offers=endless), endless, lights(3), {"b", "d"})
    assert (piece(bounds.catalogues[0].offers["b"]), piece(bounds.catalogues[0].offers["d"])) == (0, 0)
    assert bounds.credit == 0.0


def test_of_one_kind_no_more_is_given_back_than_lights_can_take() -> None:
    """Each entry has one fuse: of two kinds of fuse credited, one entry is given back the greater, two both."""
    offers = {
        **PACKED,
        "f": (offer("f", "own", 0, stock=1.0), offer("f", "north", 90)),
        "f2": (offer("f2", "own", 0, stock=1.0), offer("f2", "north", 80)),
    }
    parts = replace(priced_parts.parts(), offers=offers)
    assert at_least(parts, offers, lights(3), {"f", "f2"}).credit == pytest.approx(90.0)
    assert at_least(parts, offers, lights(2, 1), {"f", "f2"}).credit == pytest.approx(170.0)


def test_sheets_count_for_as_many_layers_as_may_be() -> None:
    """A sheet of the drawer gives three faces: of 2 × 3 layers one sheet more is bought, of 1 × 3 none."""
    offers = {**PACKED, "cloth": (offer("cloth", "own", 0, stock=1.0), offer("cloth", "north", 400))}
    parts = replace(priced_parts.parts(), offers=offers)
    for most, price, credit in ((1, 0, 0.0), (2, 133, 400.0)):
        bounds = at_least(parts, offers, lights(3, sheets=[most]), {"cloth"})
        # By the last of six: from four faces on 400 for two, through 400 at six; 800 is given back.
        assert (piece(bounds.catalogues[0].offers["cloth"]), bounds.credit) == (price, pytest.approx(credit))
    mixed = at_least(parts, offers, lights(1, 2, sheets=[1, 2]), {"cloth"})
    assert mixed.credit == pytest.approx(400.0)


def test_faces_of_a_sheet_are_those_of_the_smallest_panel() -> None:
    parts = replace(priced_parts.parts(), offers=PACKED)
    small = plain_parts.PANEL.model_copy(update={"part": "s", "width": 0.4, "height": 0.4})
    # Four of 0.4 m × 0.4 m, at most one each for three lights.
    for panels, price in (((small, *parts.panels), 133), ((*parts.panels, small), 133), ((small,), 133), ((), 400)):
        bounds = at_least(replace(parts, panels=panels), PACKED, lights(3), ())
        assert piece(bounds.catalogues[0].offers["cloth"]) == price
    bounds = at_least(replace(parts, panels=(small, parts.panels[0])), PACKED, lights(4), ())
    assert piece(bounds.catalogues[0].offers["cloth"]) == 100
    # A sheet that covers none counts as one face.
    scrap = parts.diffusers[0].model_copy(update={"width": 0.2, "height": 0.2})
    bounds = at_least(replace(parts, diffusers=(scrap,)), PACKED, lights(3), ())
    assert piece(bounds.catalogues[0].offers["cloth"]) == 400


def test_panels_are_cut_from_sheets() -> None:
    """Of 1 m × 1 m three of 0.8 m × 0.25 m with 3 mm at each cut, four without."""
    sheet = offer("p", "north", 1200, sold_by="sheet", sheet_width=1.0, sheet_height=1.0)
    offers = {**PACKED, "p": (sheet,)}
    parts = replace(priced_parts.parts(), offers=offers, suppliers=(Supplier(supplier="north", delivery=5),))
    (bounds,) = at_least(parts, offers, lights(4), ()).catalogues
    assert piece(bounds.offers["p"]) == 400
    # What orders cost is counted elsewhere.
    assert bounds.suppliers == ()


def test_leads_of_several_lengths_count_by_the_metre() -> None:
    parts = replace(priced_parts.parts(), offers=PACKED)
    bounds = at_least(parts, PACKED, lights(1, 2, leads=[2.0, 5.0]), ())
    assert [piece(each.offers["c"]) for each in bounds.catalogues] == [300, 750]
    reel = {"pack": 4.0, "sold_by": "reel"}
    rolls = {**PACKED, "c": (offer("c", "own", 0, stock=4.0, **reel), offer("c", "north", 600, **reel))}
    parts = replace(parts, offers=rolls)
    assert [
        piece(each.offers["c"]) for each in at_least(parts, rolls, lights(1, 2, leads=[1.0, 3.0]), ()).catalogues
    ] == [0, 0]
    credited = at_least(parts, rolls, lights(1, 2, leads=[1.0, 3.0]), {"c"})
    # 150 a metre, and the four metres of the drawer are given back.
    assert [piece(each.offers["c"]) for each in credited.catalogues] == [150, 450]
    assert credited.credit == pytest.approx(600.0)
    # Of one length, by the piece: three leads of 3 m are three reels, the first of them owned.
    same = at_least(parts, rolls, lights(1, 2, leads=[3.0, 3.0]), {"c"})
    assert [piece(each.offers["c"]) for each in same.catalogues] == [600, 600]
    assert same.credit == pytest.approx(600.0)


def test_what_cannot_be_had_has_no_price() -> None:
    offers = {code: rows for code, rows in PACKED.items() if code not in ("e2", "f2", "c2")}
    parts = replace(priced_parts.parts(), offers=offers)
    for leads in ([1.0, 1.0], [1.0, 2.0]):
        bounds = at_least(parts, offers, lights(1, 2, leads=leads), ())
        assert all(set(each.offers) == set(offers) for each in bounds.catalogues)


@pytest.mark.parametrize("number", range(6))
def test_bounds_of_all_lights_are_never_more_than_their_basket(number: int) -> None:
    """Every number of fuses, batteries and emitters that three lights may take, at random offers, credited or not."""
    rng = Random(f"bounds {number}")
    offers, _, _, _ = random_shops(rng)
    rows = itertools.cycle(offers.values())
    mine = dict(PACKED)
    for code in ("f", "f2", "b", "e", "e2"):
        mine[code] = tuple(row.model_copy(update={"part": code}) for row in next(rows))
    parts = replace(priced_parts.parts(), offers=mine)
    for credited in (set(), {"f", "f2", "b", "e", "e2"}):
        bounds = at_least(parts, mine, lights(1, 2), credited)
        prices = {code: piece(each) for code, each in bounds.catalogues[0].offers.items()}
        taken = [
            {"f": fuses, "f2": 3 - fuses, "b": batteries, "e": emitters, "e2": 2}
            for fuses in range(4)
            for batteries in (0, 3, 5)
            for emitters in (1, 6)
        ]
        for wants in taken:
            paid = [price_of(mine[code], Want(code, n)) for code, n in wants.items() if n]
            if None not in paid:
                low = sum(prices.get(code, 0) * n for code, n in wants.items() if n) - bounds.credit
                assert low <= sum(cents for cents in paid if cents is not None) + 1e-6


def test_a_job_at_prices_of_bounds() -> None:
    asked = lights(2)
    limits = asked.kit[0].job.limits.model_copy(update={"suppliers": ("north",), "deadline": 5.0, "mass": 3.0})
    entry = asked.kit[0].model_copy(update={"job": asked.kit[0].job.model_copy(update={"limits": limits})})
    buying = entry.job.buying.model_copy(update={"date": date(2031, 1, 31)})
    entry = entry.model_copy(update={"job": entry.job.model_copy(update={"buying": buying})})
    for counts, power in ((False, None), (True, 1e9)):
        job = for_bounds(asked, entry, power_counts=counts)
        assert (job.limits.suppliers, job.limits.deadline, job.limits.mass) == (None, None, 3.0)
        assert job.limits.power == power
        assert job.search is asked.search
        # What is on offer that day is settled before.
        assert job.buying.date is None
    # A limit on power of its own stays what it is.
    limits = limits.model_copy(update={"power": 40.0})
    entry = entry.model_copy(update={"job": entry.job.model_copy(update={"limits": limits})})
    assert for_bounds(asked, entry, power_counts=True).limits.power == 40.0


def test_a_gram_counts_as_so_many_cents() -> None:
    parts = priced_parts.parts()
    heavy = with_weight(parts, 2.5).offers
    # 20 g, 100 g, 1 kg, 1 kg and 200 g; cables and diffusers as they were.
    more = {"e": 50, "e2": 75, "d": 250, "p": 2500, "b": 2500, "m": 500}
    for code, grams in more.items():
        assert heavy[code][0].price == priced_parts.PRICES[code] + grams
    for code in ("c", "cloth", "f", "k"):
        assert heavy[code] == parts.offers[code]
    # Never more than it weighs: 30 g at 0.05 cents are 1 cent.
    assert with_weight(parts, 0.05).offers["e2"][0].price == 1101
    leads = replace(
        parts,
        fuses=(parts.fuses[0].model_copy(update={"mass": 0.004}),),
        connectors=(parts.connectors[0].model_copy(update={"mass": 0.008}),),
    )
    assert [with_weight(leads, 1.0).offers[code][0].price for code in ("f", "k")] == [94, 128]
