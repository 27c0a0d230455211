"""Columns that were looked up before, for other searches on the same parts at other prices.

What builds within some cost can have is looked up once with room to spare. Where no price has fallen by more than a
share since, and there is nothing new to buy, a build that costs so much now cost no more then than that by the share,
so its columns are among those.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from optimise.columns.expand import Ints
from optimise.model import goods
from optimise.model.kept import everything
from optimise.model.market import Market
from optimise.model.must import Must
from optimise.model.problem import hung_on
from optimise.model.state import Line, State
from optimise.parts.moved import Offers, fallen

ROOM = 1.15
"""How far beyond the cost that is asked for columns are looked up."""

REMEMBERED = 24
"""How many lists of columns are kept."""


@dataclass(frozen=True)
class _Known:
    """Channels and heads of all builds within caps at some offers, by line: as indices, for columns take much room."""

    offers: Offers
    caps: Mapping[str, float]
    lines: tuple[tuple[int, Ints, Ints], ...]

    @property
    def size(self) -> int:
        return sum(len(channels) + len(heads) for _, channels, heads in self.lines)


@dataclass
class Reserve:
    """What was looked up on the same parts, for the same figure made least."""

    known: list[_Known] = field(default_factory=list)
    fills: bool = True
    """Whether what is not there is looked up with room to spare, and kept."""

    def within(self, search: State, caps: Mapping[str, float]) -> tuple[Line, ...]:
        """Return what `lines_within` does."""
        offers = search.market.parts.offers
        covering = [known for known in self.known if _covers(known, offers, caps)]
        found = min(covering, key=lambda known: known.size, default=None)
        if found is None and not self.fills:
            return goods.lines_within(search, caps)
        if found is None:
            wide = {**caps, "cost": caps["cost"] * ROOM}
            must, search.must = search.must, None  # what is kept is to serve all builds
            looked = goods.lines_within(search, wide)
            search.must = must
            found = _Known(offers, wide, tuple((one.emitter, one.kept.channels, one.kept.heads) for one in looked))
            self.known[:] = [found, *self.known][:REMEMBERED]
        lines: list[Line] = []
        for emitter, channels, heads in found.lines:
            search.seconds_left()
            line = goods.whole_line(search, emitter)
            line.kept = line.kept.only(channels, heads)
            goods.sift(search, line, caps, search.order[0])
            if line.kept.possible:
                lines.append(line)
        return tuple(lines)


def lines_within(search: State, caps: Mapping[str, float]) -> tuple[Line, ...]:
    """Return all columns that builds within caps can have, from the reserve of a search that is still to be run."""
    if search.reserve is None or search.admits is not None:
        return goods.lines_within(search, caps)
    found: tuple[Line, ...] = search.reserve.within(search, caps)
    return found


def line_in(market: Market, line: Line, must: Must | None = None) -> Line:
    """Return a line that was screened before: as it is, or at the prices of another market."""
    if line.problem.market is market:
        mine = replace(line, cells=[])
    else:
        problem = hung_on(line.problem, market)
        mine = Line(line.emitter, problem, everything(problem).only(line.kept.channels, line.kept.heads))
    if must is not None:
        mine.kept = must.narrowed(mine.problem, mine.kept)
    return mine


def _covers(known: _Known, offers: Offers, caps: Mapping[str, float]) -> bool:
    """Whether a list holds all columns of builds within caps at some offers."""
    share = fallen(known.offers, offers)
    if not share:
        return False
    return all(known.caps[name] >= (cap / share if name == "cost" else cap) for name, cap in caps.items())
