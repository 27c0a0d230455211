"""What one piece of the parts costs of which a light takes one, and what covers a panel."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from optimise.columns.eligible import Eligible
from optimise.columns.expand import Floats
from optimise.model.exact import covering_wants
from optimise.model.stacks import layers_of
from optimise.parts.buying import Want, price_of
from optimise.scenario import Scenario


@dataclass(frozen=True)
class Prices:
    """What one piece of each part costs, cents; infinite where it cannot be had."""

    panels: Floats
    diffusers: Floats
    mounts: Floats


def prices_of(parts: Eligible, scenario: Scenario) -> Prices:
    """Return what one of each part costs by the offers of `parts`."""
    kerf = scenario.buying.kerf

    def of(wants: Iterable[Want]) -> Floats:
        prices = [price_of(parts.offers.get(want.part, ()), want) for want in wants]
        return np.array([np.inf if price is None else price for price in prices], dtype=np.float64)

    return Prices(
        of(Want(panel.part, 1, size=(panel.width, panel.height), kerf=kerf) for panel in parts.panels),
        _sheet_prices(parts, kerf),
        of(Want(mount.part, 1) for mount in parts.mounts),
    )


def _sheet_prices(parts: Eligible, kerf: float) -> Floats:
    """Return what the sheets before each panel cost, cents, shape (panels, diffusers); of one alone on all the same."""
    prices = np.full((len(parts.panels), len(parts.diffusers)), np.inf)
    for place, sheet in enumerate(parts.diffusers):
        layers = layers_of(sheet)
        if len(layers) == 1 or layers[0] != layers[1]:
            each = [price_of(parts.offers.get(layer.part, ()), Want(layer.part, 1)) for layer in layers]
            if None not in each:
                prices[:, place] = sum(price for price in each if price is not None)
            continue
        # Two faces may come off one sheet, as the board's size allows.
        for row, panel in enumerate(parts.panels):
            (want,) = covering_wants(panel, sheet, kerf)
            price = price_of(parts.offers.get(want.part, ()), want)
            if price is not None:
                prices[row, place] = price
    return prices
