"""Money in the program: packs of each part that cover what is used, and what orders cost beyond their goods."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from optimise.columns.heads import NO_DIFFUSER
from optimise.columns.supplies import MAINS
from optimise.model.cells import Formulation
from optimise.model.exact import covering_wants
from optimise.model.pieces import MOST_PIECES, Buying, buying_of, per_pack
from optimise.model.solver import Program
from optimise.parts import Offer, Supplier
from optimise.parts.buying import Item, Want, each_of, items_of, least_packs, most_packs, packs_wanted
from optimise.parts.cutting import Cuts, by_length, packs_for, patterns


def cost_terms(f: Formulation) -> dict[int, float]:
    """Return what the build of a program costs, cents, by variable; packs and orders are added to the program."""
    problem, kept, market = f.problem, f.kept, f.problem.market
    if market.orders:
        purse = Purse(f.program, problem.parts.offers, market.orders, problem.scenario.limits.suppliers_max)
        return purse.terms(lots_taken(f), [singles_taken(f)])
    terms = {v: float(problem.head_cost[c.head]) for v, c in zip(f.cell_vars, f.cells, strict=True)}
    terms |= {v: float(problem.supplies.cost[s]) for v, s in zip(f.supply_vars, kept.supplies, strict=True)}
    terms |= {v: float(market.mount_cost[m]) for m, v in enumerate(f.mount_vars)}
    for buying, used in _lots(f):
        if buying.exact:
            for v, number in used.items():
                terms[v] = terms.get(v, 0.0) + number * buying.unit
        else:
            terms |= {v: cents for _, paid in _by_items(f.program, buying, used) for v, cents in paid.items()}
    return terms


def _lots(f: Formulation) -> list[tuple[Buying, dict[int, float]]]:
    """Return the emitters and drivers with the pieces that each variable takes of them."""
    problem, channels = f.problem, f.problem.channels
    pieces: dict[tuple[bool, int], dict[int, float]] = {}
    for v, c in zip(f.channel_vars, f.kept.channels, strict=True):
        pieces.setdefault((True, int(problem.kinds[c])), {})[v] = float(channels.count[c])
        pieces.setdefault((False, int(channels.driver[c])), {})[v] = 1.0
    return [
        ((problem.emitter_buying if emitter else problem.driver_buying)[index], used)
        for (emitter, index), used in pieces.items()
    ]


Taken = dict[Want, dict[int, float]]
"""By one piece wanted: how many of it each variable takes."""


def lots_taken(f: Formulation, copies: int = 1) -> Taken:
    """Return the emitters and drivers that so many equal lights take, in numbers that add up."""
    return {buying.want: {v: copies * n for v, n in used.items()} for buying, used in _lots(f)}


def singles_taken(f: Formulation, copies: int = 1) -> Taken:
    """Return all other parts that so many equal lights take: one variable alone takes any of these."""
    problem, supplies, parts = f.problem, f.problem.supplies, f.problem.parts
    heads, kerf = problem.heads, problem.scenario.buying.kerf
    taken: Taken = {}

    def take(want: Want, v: int, number: int = 1) -> None:
        taken.setdefault(want, {})[v] = float(copies * number)

    for v, cell in zip(f.cell_vars, f.cells, strict=True):
        panel, sheet = parts.panels[heads.panel[cell.head]], int(heads.diffuser[cell.head])
        take(Want(panel.part, 1, size=(panel.width, panel.height), kerf=kerf), v)
        if sheet != NO_DIFFUSER:
            for want in covering_wants(panel, parts.diffusers[sheet], kerf):
                take(replace(want, pieces=1), v, want.pieces)
    for v, s in zip(f.supply_vars, f.kept.supplies, strict=True):
        if supplies.battery[s] != MAINS:
            take(Want(parts.batteries[supplies.battery[s]].part, 1), v, int(supplies.series[s] * supplies.parallel[s]))
        take(Want(parts.cables[supplies.cable[s]].part, 1, problem.scenario.power.lead_length), v)
        take(Want(parts.fuses[supplies.fuse[s]].part, 1), v)
        take(Want(parts.connectors[supplies.connector[s]].part, 1), v)
    for v, mount in zip(f.mount_vars, problem.market.mounts, strict=True):
        take(Want(parts.mounts[mount].part, 1), v)
    return taken


Shape = tuple[Want, dict[int, float], int]
"""One piece wanted, how many of it each variable takes, and how many are surely enough."""


@dataclass(frozen=True)
class Purse:
    """Where a basket is put together in a program: what is on offer, whose orders count, from how many."""

    program: Program
    offers: Mapping[str, Sequence[Offer]]
    orders: Sequence[Supplier]
    most_suppliers: int | None

    def terms(self, lots: Taken, singles: Sequence[Taken]) -> dict[int, float]:
        """Add the packs of every part, and what each order costs; return what all costs, cents, by variable.

        singles: for each light what it takes, of which one variable alone takes any.
        """
        shapes = {want: (want, used, MOST_PIECES) for want, used in lots.items()}
        for taken in singles:
            for want, used in taken.items():
                _, before, most = shapes.get(want, (want, {}, 0))
                shapes[want] = want, {**before, **used}, most + int(max(used.values()))
        by_part: dict[str, list[Shape]] = {}
        for want, shape in shapes.items():
            by_part.setdefault(want.part, []).append(shape)
        terms: dict[int, float] = {}
        goods: dict[str, dict[int, float]] = {supplier.supplier: {} for supplier in self.orders}
        for part, mine in by_part.items():
            for name, cents in _paid(self.program, self.offers.get(part, ()), mine):
                goods.get(name, terms).update(cents)
        return terms | self._orders(goods)

    def _orders(self, goods: Mapping[str, Mapping[int, float]]) -> dict[int, float]:
        p = self.program
        terms: dict[int, float] = {}
        counted: dict[int, float] = {}
        for supplier in self.orders:
            mine = goods[supplier.supplier]
            use = p.variable(0, 1, whole=True)
            counted[use] = 1.0
            for v in mine:
                p.at_most({v: 1.0, use: -p.highs[v]}, 0.0)
            terms[_order(p, supplier, mine, use)] = 1.0
        if self.most_suppliers is not None and len(counted) > self.most_suppliers:
            p.at_most(counted, float(self.most_suppliers))
        return terms


def _paid(p: Program, offers: Sequence[Offer], shapes: Sequence[Shape]) -> list[tuple[str, dict[int, float]]]:
    """Add the packs of one part; return what each supplier is paid."""
    if len(shapes) > 1:
        return _by_cuts(p, offers, shapes)
    want, used, most = shapes[0]
    return _by_items(p, buying_of(want, offers), used, most)


def _order(p: Program, supplier: Supplier, goods: Mapping[int, float], use: int) -> int:
    """Add what an order costs where it is made, `parts.basket` says how; return the variable of its cents."""
    over, delivery = supplier.delivery_free_over, float(supplier.delivery)
    least = max(supplier.order_min, over or 0)
    most = sum(cents * p.highs[v] for v, cents in goods.items()) + least + delivery
    total = p.variable(0.0, float(most), whole=False)
    extra = {use: -delivery}
    if over is not None and delivery > 0.0:
        free = p.variable(0, 1, whole=True)
        p.at_most({free: 1.0, use: -1.0}, 0.0)
        p.at_least({total: 1.0, free: -float(max(over, supplier.order_min))}, 0.0)
        extra[free] = delivery
    p.at_least({total: 1.0, **{v: -cents for v, cents in goods.items()}, **extra}, 0.0)
    if supplier.order_min:
        p.at_least({total: 1.0, **extra, use: extra[use] - float(supplier.order_min)}, 0.0)
    return total


def _by_items(
    p: Program, buying: Buying, used: Mapping[int, float], most: int = MOST_PIECES
) -> list[tuple[str, dict[int, float]]]:
    """Add the packs of one part, mixed of any items, that cover all pieces used; return what each supplier is paid.

    most: pieces that are surely enough.
    """
    most = min(most, buying.most, sum(int(number * p.highs[v]) for v, number in used.items()))
    paid: list[tuple[str, dict[int, float]]] = []
    covered: dict[int, float] = {}
    for item in buying.items:
        cover, cents = _item(p, item, buying.of(max(most, 1)))
        covered |= cover
        paid.append((item.supplier, cents))
    p.at_least({**covered, **{v: -number for v, number in used.items()}}, 0.0)
    return paid


def _item(p: Program, item: Item, want: Want) -> tuple[dict[int, float], dict[int, float]]:
    """Add the packs of one item; return the pieces that they give and what they cost, by variable."""
    enough = packs_wanted(item.tiers[0], want)
    paid = {} if enough is None else _packs(p, item, enough)
    if not paid:
        return {}, {}
    each = per_pack(item.tiers[0], want)
    if abs(each - round(each)) < 1e-9:
        return dict.fromkeys(paid, float(round(each))), paid
    # What is over on one roll cannot be joined to what is over on another.
    pieces = p.variable(0, want.pieces, whole=True)
    p.at_most({pieces: 1.0, **dict.fromkeys(paid, -each * (1.0 + 1e-9))}, 0.0)
    return {pieces: 1.0}, paid


def _packs(p: Program, item: Item, enough: int) -> dict[int, float]:
    """Add the packs of one item, of which so many are enough; return what they cost, by variable.

    All packs have the price of one tier; a tier that has neither a least number nor others beside it needs no choice.
    """
    last = max([enough, *(least_packs(tier) for tier in item.tiers)])
    paid: dict[int, float] = {}
    taken: dict[int, float] = {}
    for tier in item.tiers:
        least, there = least_packs(tier), most_packs(tier)
        packs = last if there is None else min(last, there)
        if packs < least:
            continue
        number = p.variable(0, packs, whole=True)
        paid[number] = float(tier.price)
        if least > 1 or len(item.tiers) > 1:
            take = p.variable(0, 1, whole=True)
            p.at_most({number: 1.0, take: -float(packs)}, 0.0)
            p.at_least({number: 1.0, take: -float(least)}, 0.0)
            taken[take] = 1.0
    if len(taken) > 1:
        p.at_most(taken, 1.0)
    return paid


def _by_cuts(p: Program, offers: Sequence[Offer], shapes: Sequence[Shape]) -> list[tuple[str, dict[int, float]]]:
    """Add the packs of a part that is wanted in several lengths or sizes; return what each supplier is paid."""
    cuts = Cuts(tuple(replace(want, pieces=most) for want, _, most in shapes))
    paid: list[tuple[str, dict[int, float]]] = []
    covered: list[dict[int, float]] = [{} for _ in shapes]
    for item in items_of(offers):
        offer = item.tiers[0]
        fitting = [packs_for(offer, _only(place, cuts), cuts) for place in range(len(shapes))]
        cents = _packs(p, item, sum(packs for packs in fitting if packs is not None)) if any(fitting) else {}
        if not cents:
            continue
        paid.append((item.supplier, cents))
        most = [want.pieces if packs else 0 for want, packs in zip(cuts.wants, fitting, strict=True)]
        given = [p.variable(0, number, whole=True) for number in most]
        for cover, v in zip(covered, given, strict=True):
            cover[v] = 1.0
        _share_out(p, offer, cuts, given, cents)
    for (_, used, _), cover in zip(shapes, covered, strict=True):
        p.at_least({**cover, **{v: -number for v, number in used.items()}}, 0.0)
    return paid


def _only(place: int, cuts: Cuts) -> tuple[int, ...]:
    """Return all pieces wanted of one length or size, and none of the others."""
    return tuple(want.pieces if i == place else 0 for i, want in enumerate(cuts.wants))


def _share_out(p: Program, offer: Offer, cuts: Cuts, given: Sequence[int], packs: Mapping[int, float]) -> None:
    """Add the rows that hold the pieces given by an item within what its packs can be cut into."""
    if by_length(offer):
        metres = {v: want.length for v, want in zip(given, cuts.wants, strict=True)}
        p.at_most({**metres, **dict.fromkeys(packs, -offer.pack * (1.0 + 1e-9))}, 0.0)
    elif offer.sold_by == "reel":
        ways = patterns(offer, cuts)
        reels = [p.variable(0, sum(p.highs[v] for v in packs), whole=True) for _ in ways]
        p.at_most({**dict.fromkeys(reels, 1.0), **dict.fromkeys(packs, -1.0)}, 0.0)
        for place, v in enumerate(given):
            p.at_most({v: 1.0, **{reel: -float(way[place]) for reel, way in zip(reels, ways, strict=True)}}, 0.0)
    else:
        units: dict[int, float] = {}
        for v, want in zip(given, cuts.wants, strict=True):
            each = each_of(offer, want)
            sheets = v if each == 1 else p.variable(0, want.pieces, whole=True)
            if each != 1:
                p.at_most({v: 1.0, sheets: -float(each)}, 0.0)
            units[sheets] = 1.0
        p.at_most({**units, **dict.fromkeys(packs, -offer.pack)}, 0.0)
