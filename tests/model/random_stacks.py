"""Random jobs for two sheets one behind the other, and what such a pair is: worked out a second time, by bounces."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from random import Random

from optimise.parts import Catalogue, Diffuser, Panel
from optimise.scenario import Scenario


def with_filters(catalogue: Catalogue, scenario: Scenario, rng: Random) -> tuple[Catalogue, Scenario]:
    """Return a catalogue whose sheets throw back light and are filters, and a job that may want two of them."""
    sheets = []
    for sheet in catalogue.diffusers:
        back = rng.choice([0.0, 0.4, 0.9, 1.0]) * (1.0 - sheet.transmittance)
        sheets.append(sheet.model_copy(update={"reflectance": back, "mired_shift": rng.choice([0.0, 40.0, -30.0])}))
    look = scenario.look.model_copy(update={"sheets_max": 2, "cct_min": None, "cct_max": None})
    coloured = [emitter for emitter in catalogue.emitters if emitter.cct is not None]
    if sheets and coloured and rng.random() < 0.7:
        shift = sum(rng.choice(sheets).mired_shift for _ in range(2))
        wanted = 1e6 / (1e6 / (rng.choice(coloured).cct or 1.0) + shift)
        look = look.model_copy(update={"cct_min": wanted * 0.98, "cct_max": wanted * 1.02})
    return replace(catalogue, diffusers=tuple(sheets)), scenario.model_copy(update={"look": look})


def stacked_sheets(sheets: Sequence[Diffuser]) -> Iterator[tuple[Diffuser, Diffuser, Diffuser]]:
    """Yield (inner, outer, both as one) for every pair, two of one part among them; a grid is outside, if any."""
    for i, one in enumerate(sorted(sheets, key=lambda sheet: sheet.part)):
        for other in sorted(sheets, key=lambda sheet: sheet.part)[i:]:
            if one.grid is not None and other.grid is not None:
                continue
            inner, outer = (other, one) if one.grid is not None else (one, other)
            through = thrown = 0.0
            falling, ends = inner.transmittance, 0.0
            while falling > 1e-18:
                through += falling * outer.transmittance
                back = falling * outer.reflectance
                thrown += back * inner.transmittance
                falling, ends = back * inner.reflectance, ends + 1.0
            spread = None
            if inner.spread is not None and outer.spread is not None:
                wide = min(math.sqrt(inner.spread**2 + outer.spread**2), 120.0)
                spread = max(inner.spread, wide)
            yield (
                inner,
                outer,
                inner.model_copy(
                    update={
                        "transmittance": through,
                        "reflectance": inner.reflectance + thrown,
                        "spread": spread,
                        "grid": outer.grid,
                        "grid_transmittance": outer.grid_transmittance,
                        "mired_shift": inner.mired_shift + outer.mired_shift,
                    }
                ),
            )


def sheets_for(panel: Panel, sheet: Diffuser, kerf: float) -> int:
    """Return how many sheets two faces of a panel's size take."""
    for a, b in ((panel.width, panel.height), (panel.height, panel.width)):
        for wide, high in ((2 * a + kerf, b), (a, 2 * b + kerf)):
            if wide <= sheet.width * (1 + 1e-9) and high <= sheet.height * (1 + 1e-9):
                return 1
    return 2
