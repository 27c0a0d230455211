"""What pieces of a part save by new prices, against buying whole baskets before and after."""

import math
from random import Random

import pytest
from few_parts import write_few_parts, write_job
from random_shops import offer, random_shops

from optimise.parts import Catalogue, Offer, read_catalogue
from optimise.parts.basket import Counter
from optimise.parts.buying import Want
from optimise.scenario import Scenario, read_scenario
from optimise.studies.savings import least_number, most_saved


def fallen(rows: list[Offer], rng: Random) -> list[Offer]:
    """Return offers of which some have become cheaper, one may have become dearer, and one may have more in stock."""
    now = [each.model_copy(update={"price": int(each.price * rng.choice([0.3, 0.9, 1.0]))}) for each in rows]
    place = rng.randrange(len(now))
    if rng.random() < 0.2:
        now[place] = now[place].model_copy(update={"price": 2 * rows[place].price})
    if rng.random() < 0.2 and now[place].stock is not None:
        now[place] = now[place].model_copy(update={"stock": now[place].stock + 2.0})
    return now


@pytest.mark.parametrize("number", range(60))
def test_no_basket_saves_more_at_the_door_than_its_pieces_do(number: int) -> None:
    rng = Random(f"savings {number}")
    known = 0
    for _ in range(6):
        offers, sellers, wants, most = random_shops(rng)
        mine = wants[0].part
        if rng.random() < 0.3:
            few = rng.choice([2.0, 4.0])
            own = {"quantity_min": few}
            offers[mine] = [o.model_copy(update=own) if o.supplier == "own" else o for o in offers[mine]]
        cheaper = offers | {mine: fallen(offers[mine], rng)}
        for pieces in (1, 2, 3, 6):
            asked = [Want(mine, pieces), *wants[1:]]
            before, now = (Counter(each, sellers, most).basket(asked) for each in (offers, cheaper))
            saved = most_saved(asked[0], offers[mine], cheaper[mine])
            if now.missing:
                continue
            if before.missing:
                assert saved == math.inf
                continue
            assert before.cents - now.cents <= saved
            known += math.isfinite(saved)
    assert known


def test_what_is_saved_by_hand() -> None:
    before = [offer("A", "north", 500), offer("A", "south", 600), offer("A", "own", 0, stock=2.0)]
    now = [before[0].model_copy(update={"price": 450}), before[1].model_copy(update={"price": 570}), before[2]]
    # Two are free; the third is 50 cheaper in the north, 30 in the south.
    assert [most_saved(Want("A", n), before, now) for n in (1, 2, 3, 5)] == [0.0, 0.0, 50.0, 150.0]
    more = [*now[:2], before[2].model_copy(update={"stock": 3.0})]
    assert most_saved(Want("A", 1), before, more) == math.inf
    kept = [*now[:2], before[2].model_copy(update={"quantity_min": 3.0})]
    assert most_saved(Want("A", 1), [*before[:2], kept[2]], kept) == 50.0
    # Three a bag: one bag to three pieces, two to four.
    bags, cheaper = ([offer("A", "north", price, pack=3.0)] for price in (900, 840))
    assert [most_saved(Want("A", n), bags, cheaper) for n in (1, 3, 4)] == [60.0, 60.0, 120.0]
    # Ten at 4.00 instead of 4.20 are also bought where nine are wanted, which saves as much as ten do.
    tens = [offer("A", "north", 500), offer("A", "north", 420, quantity_min=10.0)]
    lower = [tens[0], tens[1].model_copy(update={"price": 400})]
    assert [most_saved(Want("A", n), tens, lower) for n in (3, 9, 10)] == [0.0, 200.0, 200.0]
    # So many are not in stock.
    few = [offer("A", "north", price, stock=4.0) for price in (500, 450)]
    assert most_saved(Want("A", 5), few[:1], few[1:]) == -math.inf


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> tuple[Catalogue, Scenario]:
    folder = tmp_path_factory.mktemp("few")
    scenario = read_scenario(write_job(folder / "job.toml", 60.0))
    cost = scenario.search.model_copy(update={"objective": "cost"})
    return read_catalogue(write_few_parts(folder / "parts")), scenario.model_copy(update={"search": cost})


def test_a_better_build_uses_more_than_the_earlier_one(few: tuple[Catalogue, Scenario]) -> None:
    catalogue, scenario = few
    part = catalogue.emitters[0]
    before, now = ([offer(part.part, "north", price)] for price in (500, 450))
    assert [least_number(part, scenario, before, now, saved) for saved in (-1, 0, 49, 50, 149, 150)] == [
        1, 1, 1, 2, 3, 4,
    ]  # fmt: skip
    assert least_number(part, scenario, before, [*now, offer(part.part, "south", 900)], 150) == 1
    fuse = catalogue.fuses[0]
    before, now = ([offer(fuse.part, "north", price)] for price in (200, 150))
    assert least_number(fuse, scenario, before, now, 49) == 1
    assert least_number(fuse, scenario, before, now, 50) is None
    sheet = catalogue.diffusers[0]
    assert least_number(sheet, scenario, before, now, 50) == 1
