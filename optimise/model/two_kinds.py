"""The least weight of channels of two kinds of emitter, each of which gives its share of the light.

As in `covering`, lumens are counted in whole steps. Each kind by itself is whole channels: that says more than one
knapsack over both.
"""

import math
from dataclasses import dataclass

import numpy as np

from optimise.columns.expand import Floats, Ints
from optimise.model.light import HAIR


@dataclass(frozen=True)
class TwoKinds:
    """Least weights of each kind for 0, 1, 2 … steps of light, shape (prices of load, steps + 1), and the shares."""

    first: Floats
    second: Floats
    low: float
    high: float
    """Within which the share of the second kind lies."""

    def _splits(self, needed: int) -> tuple[Ints, Ints]:
        """Return the steps that the first kind may give, and the rest, for a head that needs so many steps."""
        # What needs `needed` whole steps needs more than `needed` − 1; each kind is there with one at least.
        sure = (needed - 1) * (1.0 - HAIR)
        mine, its = (min(max(math.ceil(share * sure - HAIR), 1), needed) for share in (1.0 - self.high, self.low))
        if mine + its >= needed:
            return np.array([mine]), np.array([its])
        given = np.arange(mine, needed - its + 1)
        return given, needed - given

    def least(self, needed: Ints) -> Floats:
        """Return the least weight for each number of steps, shape (prices, len(needed))."""
        distinct, place = np.unique(needed, return_inverse=True)
        columns = []
        for steps in distinct.tolist():
            mine, its = self._splits(steps)
            columns.append((self.first[:, mine] + self.second[:, its]).min(axis=1))
        return np.stack(columns, axis=1)[:, np.ravel(place)]

    def rest(self, needed: Ints, given: Ints, *, second: bool) -> Floats:
        """Return the least weight beside one channel of a kind, shape (prices, len(given), len(needed)).

        given: steps of light that the channel gives.
        """
        result = np.empty((self.first.shape[0], len(given), len(needed)))
        for column, steps in enumerate(needed.tolist()):
            mine, its = self._splits(steps)
            own, other = (its, mine) if second else (mine, its)
            left, beside = (self.second, self.first) if second else (self.first, self.second)
            lacking = np.maximum(own[None, :] - given[:, None], 0)
            result[:, :, column] = (left[:, lacking] + beside[:, other][:, None, :]).min(axis=2)
        return result
