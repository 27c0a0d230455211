"""Money in the program: packs of each part that cover what is used, and what orders cost beyond their goods."""

from collections.abc import Mapping

from optimise.columns.heads import NO_DIFFUSER
from optimise.columns.supplies import MAINS
from optimise.model.cells import Formulation
from optimise.model.pieces import MOST_PIECES, Buying, buying_of, per_pack
from optimise.model.solver import Program
from optimise.parts import Supplier
from optimise.parts.buying import Item, Want, least_packs, most_packs, packs_wanted


def cost_terms(f: Formulation) -> dict[int, float]:
    """Return what the build of a program costs, cents, by variable; packs and orders are added to the program."""
    problem, kept = f.problem, f.kept
    if problem.market.orders:
        return _basket(f)
    terms = {v: float(problem.head_cost[c.head]) for v, c in zip(f.cell_vars, f.cells, strict=True)}
    terms |= {v: float(problem.supplies.cost[s]) for v, s in zip(f.supply_vars, kept.supplies, strict=True)}
    terms |= {v: float(problem.market.mount_cost[m]) for m, v in enumerate(f.mount_vars)}
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
        pieces.setdefault((True, int(channels.emitter[c])), {})[v] = float(channels.count[c])
        pieces.setdefault((False, int(channels.driver[c])), {})[v] = 1.0
    return [
        ((problem.emitter_buying if emitter else problem.driver_buying)[index], used)
        for (emitter, index), used in pieces.items()
    ]


def _basket(f: Formulation) -> dict[int, float]:
    """Add the packs of every part, and what each order with a least value is topped up to; return what all costs."""
    market, p = f.problem.market, f.program
    terms: dict[int, float] = {}
    goods: dict[str, dict[int, float]] = {supplier.supplier: {} for supplier in market.orders}
    bought = [pair for buying, used in _lots(f) for pair in _by_items(p, buying, used)]
    for buying, used in _singles(f):
        # One variable alone takes any of these.
        bought += _by_items(p, buying, used, int(max(used.values())))
    for name, paid in bought:
        goods.get(name, terms).update(paid)
    counted: dict[int, float] = {}
    for supplier in market.orders:
        mine = goods[supplier.supplier]
        use = p.variable(0, 1, whole=True)
        counted[use] = 1.0
        for v in mine:
            p.at_most({v: 1.0, use: -p.highs[v]}, 0.0)
        total = _order(p, supplier, mine, use)
        terms[total] = 1.0
    most = f.problem.scenario.limits.suppliers_max
    if most is not None and len(counted) > most:
        p.at_most(counted, float(most))
    return terms


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


def _singles(f: Formulation) -> list[tuple[Buying, dict[int, float]]]:
    """Return all other parts with the pieces that each variable takes of them."""
    problem, supplies, parts = f.problem, f.problem.supplies, f.problem.parts
    market, heads, kerf = problem.market, problem.heads, problem.scenario.buying.kerf
    taken: dict[Want, dict[int, float]] = {}
    for v, cell in zip(f.cell_vars, f.cells, strict=True):
        panel, sheet = parts.panels[heads.panel[cell.head]], int(heads.diffuser[cell.head])
        taken.setdefault(Want(panel.part, 1, size=(panel.width, panel.height), kerf=kerf), {})[v] = 1.0
        if sheet != NO_DIFFUSER:
            taken.setdefault(Want(parts.diffusers[sheet].part, 1), {})[v] = 1.0
    for v, s in zip(f.supply_vars, f.kept.supplies, strict=True):
        if supplies.battery[s] != MAINS:
            number = float(supplies.series[s] * supplies.parallel[s])
            taken.setdefault(Want(parts.batteries[supplies.battery[s]].part, 1), {})[v] = number
        length = problem.scenario.power.lead_length
        taken.setdefault(Want(parts.cables[supplies.cable[s]].part, 1, length), {})[v] = 1.0
        taken.setdefault(Want(parts.fuses[supplies.fuse[s]].part, 1), {})[v] = 1.0
        taken.setdefault(Want(parts.connectors[supplies.connector[s]].part, 1), {})[v] = 1.0
    for v, mount in zip(f.mount_vars, market.mounts, strict=True):
        taken.setdefault(Want(parts.mounts[mount].part, 1), {})[v] = 1.0
    return [(buying_of(want, parts.offers.get(want.part, ())), used) for want, used in taken.items()]


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
    """Add the packs of one item; return the pieces that they give and what they cost, by variable.

    All packs have the price of one tier; a tier that has neither a least number nor others beside it needs no choice.
    """
    enough = packs_wanted(item.tiers[0], want)
    if enough is None:
        return {}, {}
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
    each = per_pack(item.tiers[0], want)
    if not paid or abs(each - round(each)) < 1e-9:
        return dict.fromkeys(paid, float(round(each))), paid
    # What is over on one roll cannot be joined to what is over on another.
    pieces = p.variable(0, want.pieces, whole=True)
    p.at_most({pieces: 1.0, **dict.fromkeys(paid, -each * (1.0 + 1e-9))}, 0.0)
    return {pieces: 1.0}, paid
