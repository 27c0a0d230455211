"""What one panel, mount and sheet cost, and two sheets one behind the other, by hand. Invented parts."""

import math
from dataclasses import replace

import numpy as np
from plain_parts import EMITTER, PANEL, SCENARIO, SHEETS, TALL, catalogue
from random_shops import offer

from optimise.columns.eligible import Eligible, eligible_parts
from optimise.model.part_prices import prices_of
from optimise.model.stacks import stack_of
from optimise.parts import Mount, Offer

CLOTH, FILM = SHEETS
MOUNTS = (Mount(part="m", load=5.0, mass=0.3), Mount(part="n", load=9.0, mass=0.4))


def priced(offers: dict[str, tuple[Offer, ...]], sheets: tuple[object, ...] = SHEETS) -> Eligible:
    known = replace(catalogue(EMITTER), offers=offers, mounts=MOUNTS)
    parts = eligible_parts(known, SCENARIO)
    return replace(parts, panels=(PANEL, TALL), diffusers=sheets, mounts=MOUNTS, offers=offers)  # type: ignore[arg-type]


def test_one_of_each_by_its_cheapest_offer() -> None:
    offers = {
        "p": (offer("p", "north", 900), offer("p", "south", 800)),
        "cloth": (offer("cloth", "north", 300, pack=2.0), offer("cloth", "south", 250)),
        "n": (offer("n", "north", 70, quantity_min=2.0), offer("n", "north", 80)),
    }
    found = prices_of(priced(offers), SCENARIO)
    assert found.panels.tolist() == [800.0, math.inf]
    assert found.mounts.tolist() == [math.inf, 80.0]
    assert found.diffusers.tolist() == [[250.0, math.inf]] * 2
    assert found.diffusers.shape == (2, 2)


def test_a_panel_cut_from_a_stock_sheet_needs_a_sheet_that_holds_it() -> None:
    small = offer("p", "north", 500, sold_by="sheet", sheet_width=0.7, sheet_height=0.5)
    large = offer("p", "south", 900, sold_by="sheet", sheet_width=1.0, sheet_height=0.5)
    assert prices_of(priced({"p": (small, large)}), SCENARIO).panels.tolist() == [900.0, math.inf]
    assert prices_of(priced({"p": (small,)}), SCENARIO).panels[0] == math.inf


def test_two_sheets_of_one_kind_come_off_one_where_it_is_large_enough() -> None:
    twice, both, other = stack_of(CLOTH, CLOTH), stack_of(CLOTH, FILM), stack_of(FILM, FILM)
    # A sheet of 1 m × 1 m covers a board of 0.8 m × 0.25 m twice.
    offers = {"cloth": (offer("cloth", "north", 250),), "film": (offer("film", "north", 400),)}
    found = prices_of(priced(offers, (CLOTH, twice, both, other)), SCENARIO)
    assert found.diffusers.tolist() == [[250.0, 250.0, 650.0, 400.0]] * 2
    # On a board of 0.8 m × 0.6 m each face takes a sheet.
    parts = priced(offers, (CLOTH, twice, both))
    broad = replace(parts, panels=(PANEL, PANEL.model_copy(update={"height": 0.6})))
    assert prices_of(broad, SCENARIO).diffusers.tolist() == [[250.0, 250.0, 650.0], [250.0, 500.0, 650.0]]
    # With a kerf two faces of half a sheet do not come off one.
    halves = replace(parts, panels=(PANEL.model_copy(update={"height": 0.5}),))
    whole, cut = (
        SCENARIO.model_copy(update={"buying": SCENARIO.buying.model_copy(update={"kerf": kerf})})
        for kerf in (0.0, 0.003)
    )
    assert prices_of(halves, whole).diffusers.tolist() == [[250.0, 250.0, 650.0]]
    assert prices_of(halves, cut).diffusers.tolist() == [[250.0, 500.0, 650.0]]


def test_what_cannot_be_had_costs_endlessly_much() -> None:
    twice, both = stack_of(CLOTH, CLOTH), stack_of(CLOTH, FILM)
    one_left = {"cloth": (offer("cloth", "north", 250, stock=1.0),)}
    found = prices_of(priced(one_left, (twice, both, FILM)), SCENARIO)
    assert np.isinf(found.diffusers[:, 1:]).all()
    assert found.diffusers[:, 0].tolist() == [250.0, 250.0]
    parts = priced(one_left, (twice,))
    broad = replace(parts, panels=(PANEL.model_copy(update={"height": 0.6}),))
    assert prices_of(broad, SCENARIO).diffusers.tolist() == [[math.inf]]
