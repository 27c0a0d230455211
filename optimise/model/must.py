"""Builds that use some of a few parts: all that need to be looked at where only these have become easier to buy."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimise.columns.expand import Ints
from optimise.model.kept import Kept
from optimise.model.problem import Problem
from optimise.model.stacks import layers_of
from optimise.parts import Battery, Cable, Connector, Diffuser, Driver, Emitter, Fuse, Panel
from optimise.parts.part import Part

KINDS = (Emitter, Driver, Panel, Diffuser, Battery, Cable, Fuse, Connector)
"""Kinds of part that a search can be held to."""


@dataclass(frozen=True)
class Must:
    """Parts of one of `KINDS` of which a build is to use at least so many: drivers, emitters, batteries; or one.

    A column that another can replace may be dropped even if it holds one of these parts, and the other does not: the
    best of all builds is found if it uses so many, not the best of those that do.
    """

    kind: type[Part]
    codes: frozenset[str]
    least: int = 1

    def leaves_out(self, emitters: Sequence[str]) -> bool:
        """Whether no build with these kinds of emitter uses one, whatever else it is made of."""
        return self.kind is Emitter and self.codes.isdisjoint(emitters)

    def narrowed(self, problem: Problem, kept: Kept) -> Kept:
        """Return the columns that such builds can have; those of a driver that must be there are `Kept.forced`."""
        parts, heads, supplies = problem.parts, problem.heads, problem.supplies
        if self.kind is Driver:
            forced = np.flatnonzero(self._among(parts.drivers, problem.channels.driver))
            return replace(kept, forced=forced, forced_least=self.least)
        index, rows = {
            Emitter: (heads.emitter, parts.emitters),
            Panel: (heads.panel, parts.panels),
            Diffuser: (heads.diffuser, parts.diffusers),
            Battery: (supplies.battery, parts.batteries),
            Cable: (supplies.cable, parts.cables),
            Fuse: (supplies.fuse, parts.fuses),
            Connector: (supplies.connector, parts.connectors),
        }[self.kind]
        theirs = self._among(rows, index)
        if self.kind is Battery:
            theirs &= supplies.series * supplies.parallel >= self.least
        if self.kind is Emitter and problem.mix is not None:
            # A mixture has both of its kinds.
            theirs = np.full(len(heads), any(part.part in self.codes for part in parts.emitters))
        if self.kind is Emitter:
            kept = replace(kept, fewest=np.maximum(kept.fewest, self.least))
        if self.kind in (Emitter, Panel, Diffuser):
            return kept.take(heads=theirs[kept.heads])
        return kept.take(supplies=theirs[kept.supplies])

    def _among(self, parts: Sequence[Part], index: Ints) -> np.ndarray:
        """Return the mask of the places of an index (of parts; −1 for none) that hold one of these parts."""
        held = [any(each in self.codes for each in _codes(part)) for part in parts]
        return np.array([*held, False])[index]


def _codes(part: Part) -> list[str]:
    """Return what is bought of a part: of two sheets together, each."""
    return [sheet.part for sheet in layers_of(part)] if isinstance(part, Diffuser) else [part.part]
