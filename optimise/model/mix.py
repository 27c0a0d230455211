"""What is special of a mixture's columns, and what columns weigh by their parts."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimise.columns.channels import Channels
from optimise.columns.eligible import Eligible
from optimise.columns.expand import Floats, Ints
from optimise.columns.heads import NO_DIFFUSER, Heads
from optimise.model.stacks import layers_of


@dataclass(frozen=True)
class Mix:
    """What is special where the light of two kinds of emitter is mixed: channels of both are used on every head."""

    kind: Ints
    """Which of the two emitters each channel has. (`Channels.emitter` and `Heads.emitter` are 0.)"""
    shares: tuple[tuple[float, float], ...]
    """Within what shares of the light, those of the second kind, the mixture may keep the limits on colour."""

    @property
    def low(self) -> float:
        """The least of these shares."""
        return self.shares[0][0]

    @property
    def high(self) -> float:
        """The greatest of these shares."""
        return self.shares[-1][1]


def per_channel(channels: Channels, kinds: Ints, emitter: Sequence[float], driver: Sequence[float]) -> Floats:
    """Return what each channel's emitters and its driver come to, by what one of each does."""
    if not len(channels):
        return np.zeros(0)
    e = np.array(emitter, dtype=np.float64)[kinds]
    d = np.array(driver, dtype=np.float64)[channels.driver]
    return np.asarray(channels.count * e + d, dtype=np.float64)


def head_mass(parts: Eligible, heads: Heads) -> Floats:
    """Return what panel and diffusers of each head weigh, mg."""
    panel = np.array([float(p.milligrams) for p in parts.panels])
    area = np.array([p.width * p.height for p in parts.panels])
    sheet = np.zeros((2, len(parts.diffusers) + 1))
    for place, diffuser in enumerate(parts.diffusers):
        for row, layer in enumerate(layers_of(diffuser)):
            sheet[row, place] = layer.mass_per_area
    if not len(heads):
        return np.zeros(0)
    covering = np.where(heads.diffuser == NO_DIFFUSER, 0.0, sheet[:, heads.diffuser])
    # What is bought is rounded sheet by sheet, as `whole_milligrams` does.
    each = np.rint(np.round(covering * area[heads.panel] * 1e6, 3))
    return np.asarray(panel[heads.panel] + each.sum(axis=0))
