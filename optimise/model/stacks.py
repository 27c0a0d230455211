"""Two diffusers one behind the other: one part to all that knows light, two to all that buys, weighs and cuts."""

from collections.abc import Iterator, Sequence

from pydantic import PrivateAttr

from optimise.model.choice import Choice
from optimise.parts import Catalogue, Diffuser, Panel
from optimise.physics.beams import widened_beam
from optimise.physics.sheets import stacked


class Stack(Diffuser):
    """Two sheets as one: what light makes of them, with the size that both cover."""

    _layers: tuple[Diffuser, ...] = PrivateAttr(default=())

    @property
    def layers(self) -> tuple[Diffuser, ...]:
        """The two sheets, the inner one first."""
        return self._layers


def stack_of(inner: Diffuser, outer: Diffuser) -> Stack:
    """Return two sheets as one; the inner one has no grid.

    Spreads add as those of a sheet and a beam (`widened_beam`); a sheet without one spreads all light evenly, and so do
    both. Shifts of the colour temperature add (in mired), masses too.
    """
    t, r = stacked(inner.transmittance, inner.reflectance, outer.transmittance, outer.reflectance)
    spread = None
    if inner.spread is not None and outer.spread is not None:
        spread = float(widened_beam(inner.spread, outer.spread))
    short, long = (
        min(sides) for sides in zip(*(sorted((sheet.width, sheet.height)) for sheet in (inner, outer)), strict=True)
    )
    stack = Stack.model_construct(
        part=f"{inner.part} + {outer.part}",
        transmittance=float(t),
        reflectance=float(r),
        spread=spread,
        grid=outer.grid,
        grid_transmittance=outer.grid_transmittance,
        width=short,
        height=long,
        mass_per_area=inner.mass_per_area + outer.mass_per_area,
        mired_shift=inner.mired_shift + outer.mired_shift,
        mass_tolerance=None,
    )
    stack._layers = inner, outer
    return stack


def stacks_of(sheets: Sequence[Diffuser]) -> tuple[Stack, ...]:
    """Return every pair of sheets, two of one part among them.

    Inside is the one whose code comes first, but never one with a grid: what a grid narrows, the next sheet would
    scatter again.
    """
    found = []
    ordered = sorted(sheets, key=lambda sheet: sheet.part)
    for place, one in enumerate(ordered):
        for other in ordered[place:]:
            inner, outer = (one, other) if one.grid is None else (other, one)
            if inner.grid is None:
                found.append(stack_of(inner, outer))
    return tuple(found)


def layers_of(sheet: Diffuser | None) -> tuple[Diffuser, ...]:
    """Return the sheets to buy for what stands before the emitters, the inner one first."""
    if sheet is None:
        return ()
    return sheet.layers if isinstance(sheet, Stack) else (sheet,)


def coverings(panel: Panel, sheet: Diffuser | None) -> Iterator[tuple[str, float, float]]:
    """Yield for each side of each sheet what it is called, the side of the panel, and that of the sheet, m."""
    board = sorted((panel.width, panel.height))
    for which, layer in zip(("diffuser", "second diffuser"), layers_of(sheet), strict=False):
        sides = sorted((layer.width, layer.height))
        for name, want, have in zip(("short side", "long side"), board, sides, strict=True):
            yield f"{which} covers, {name}", want, have


def sheet_of(choice: Choice, catalogue: Catalogue) -> Diffuser | None:
    """Return what stands before the emitters, as one. Raises KeyError where a code is not in the catalogue."""
    sheets = [catalogue.find(Diffuser, code) for code in choice.sheets]
    if len(sheets) < 2:
        return sheets[0] if sheets else None
    return stack_of(*sheets)
