"""What the branching on suppliers goes through: shops, and what is bought at them, a light or a kit.

A *shop* says whom nothing is bought from, and who surely gets an order, on which terms; its goods are counted with a
constant for those orders, never more than the truth.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from optimise.parts import Catalogue, Offer, Supplier
from optimise.scenario import Scenario

EXACT = 2
"""The stage of a shop in which goods and top-ups are both counted."""

NEVER = 10**12
"""Cents that no build costs."""


@dataclass(frozen=True)
class Terms:
    """Which builds are in a shop: from nobody who is `out`, surely from those `paid` or `free` for their delivery."""

    out: frozenset[str] = frozenset()
    paid: frozenset[str] = frozenset()
    free: frozenset[str] = frozenset()
    orders: int = 0
    """How many of those who charge for an order surely get one, at least."""


@dataclass(frozen=True)
class Shop(Terms):
    """Builds on the same terms, on their way through the search."""

    lines: Any = field(default=None, compare=False)
    """The columns that its builds can have, as far as known from the shop that it was split from."""
    hint: Any = field(default=None, compare=False)
    """The choice at which the shop was split off: likely one of its builds as well."""
    stage: int = 0
    """0: goods of whom delivery is free from count as worth that value in all; 1: at their prices; 2: exactly both."""

    @property
    def terms(self) -> Terms:
        """Which builds are in it, whatever is known of them."""
        return Terms(self.out, self.paid, self.free, self.orders)

    @property
    def used(self) -> frozenset[str]:
        """Who surely gets an order."""
        return self.paid | self.free


class Goods(Protocol):
    """One search in which goods alone are counted, at the prices of a shop."""

    @property
    def best(self) -> Any:
        """The best build found, or None."""

    @property
    def low(self) -> float:
        """What the first figure comes to at least, by the parts alone."""

    @property
    def effort(self) -> tuple[int, int, int]:
        """How many solves, columns, and columns after screening."""

    def promise(self, caps: Mapping[str, float]) -> float:
        """Return a figure below which the first one cannot come within caps, found at once."""

    def run(self, caps: Mapping[str, float]) -> None:
        """Leave the best build within caps in `best`; None where there is none. Raises `TimeUpError`."""

    def likely(self, caps: Mapping[str, float]) -> Any:
        """Return a good build within caps, or None where it is proven that there is none."""

    def within(self, caps: Mapping[str, float]) -> Any:
        """Return all columns that builds within caps can have."""


class House(Protocol):
    """What is bought at the shops: a light, or a kit."""

    catalogue: Catalogue
    scenario: Scenario
    first_stage: int
    """The stage in which a shop is looked at first."""
    few: int
    """Columns up to which a program with all orders is quicker than shops one by one; 0: never."""
    floors: dict[tuple[str, Any], float]
    """What builds come to at least, by scale and shop."""
    whole: bool
    """Whether all builds are looked for, so that such figures are found out."""

    @property
    def offers(self) -> Mapping[str, Sequence[Offer]]:
        """What the scenario lets in, by part."""

    def open(
        self, catalogue: Catalogue, scenario: Scenario, orders: tuple[Supplier, ...], order: tuple[str, ...], lines: Any
    ) -> Callable[[], Goods]:
        """Return what makes new searches at the prices of a shop, which are worked out once, at the first of them."""

    def evaluate(self, choice: Any, catalogue: Catalogue, scenario: Scenario) -> Any:
        """Return all figures of a choice."""

    def guesses(self, order: tuple[str, ...]) -> Iterable[Any]:
        """Return choices that may be good ones, to be bought for true before anything is searched."""
