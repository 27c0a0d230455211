"""How many emitters fit on a board: those of one kind, or of several on places that are roomy enough for any.

Part of the exact check.
"""

import math
from collections.abc import Sequence

from optimise.parts import Emitter, Panel


def grid(emitter: Emitter, panel: Panel) -> tuple[int, int]:
    """Return (columns, rows) of the grid that holds most emitters, all lying the same way."""
    lying, upright = _grids(emitter, panel)
    return lying if lies(emitter, panel) else upright


def lies(emitter: Emitter, panel: Panel) -> bool:
    """Whether emitters lie with their length along the width of the panel, rather than upright."""
    lying, upright = _grids(emitter, panel)
    return lying[0] * lying[1] >= upright[0] * upright[1]


def common_grid(kinds: Sequence[Emitter], panel: Panel) -> tuple[int, int]:
    """Return (columns, rows) of the grid that holds most emitters of several kinds, each place roomy enough for any."""
    lying, upright = _grids_of(*place_size(kinds), panel)
    return lying if lying[0] * lying[1] >= upright[0] * upright[1] else upright


def place_size(kinds: Sequence[Emitter]) -> tuple[float, float]:
    """Return length and width, m, of a place that is roomy enough for any of several kinds."""
    return max(kind.length for kind in kinds), max(kind.width for kind in kinds)


def common_lies(kinds: Sequence[Emitter], panel: Panel) -> bool:
    """Whether emitters of several kinds lie with their length along the width of the panel, rather than upright."""
    lying, upright = _grids_of(*place_size(kinds), panel)
    return lying[0] * lying[1] >= upright[0] * upright[1]


def _grids(emitter: Emitter, panel: Panel) -> tuple[tuple[int, int], tuple[int, int]]:
    return _grids_of(emitter.length, emitter.width, panel)


def _grids_of(piece_length: float, piece_width: float, panel: Panel) -> tuple[tuple[int, int], tuple[int, int]]:
    share = math.sqrt(panel.usable)
    width, height = panel.width * share, panel.height * share

    def fit(room: float, size: float) -> int:
        return math.floor(room / size * (1.0 + 1e-12) + 1e-12)

    lying = fit(width, piece_length), fit(height, piece_width)
    upright = fit(width, piece_width), fit(height, piece_length)
    return lying, upright
