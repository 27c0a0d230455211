"""What is told of a measured table of intensity."""

from collections.abc import Iterator

from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.distributions import axis_intensity, back_share, bare_beam, peak_intensity
from optimise.physics.intensity import table_flux

BRIGHTER = 1.05
"""Greatest intensity over that straight ahead from which a note says so."""


def photometry_notes(emitter: Emitter, panel: Panel, sheet: Diffuser | None) -> Iterator[str]:
    """Yield how a measured table of intensity was used, and what of it is not."""
    table, name = emitter.photometric, emitter.photometry
    if table is None:
        return
    if sheet is not None and sheet.spread is None:
        yield f"{emitter.part}: behind {sheet.part} the light is spread evenly, whatever {name} says of its directions."
    else:
        given = table_flux(table)
        through = "" if sheet is None else f", smeared by the {sheet.spread:g}° of {sheet.part} in both angles"
        if sheet is not None and sheet.grid is not None:
            through += f", cut by its grid of {sheet.grid:g}°"
        yield (
            f"{emitter.part}: the intensity is that of {name} (type {table.kind}), scaled from the {given:.4g} lm that "
            f"it sums to, to {emitter.flux:.4g} lm a piece{through}; angle 0 lies along the piece."
        )
        beam = bare_beam(emitter.beam, table)
        if sheet is None and peak_intensity(beam) > BRIGHTER * axis_intensity(beam):
            yield f"{emitter.part}: brighter aside than straight ahead, where its luminance and blue light are taken."
        if table.tilt:
            yield f"{emitter.part}: the table of output over tilt in {name} is not used."
    behind = back_share(None, table)
    if behind > 0.0005:
        again = f"{panel.reflectance:.0%} of it goes forward again" if panel.reflectance else "it is counted as lost"
        yield f"{emitter.part}: {behind:.1%} of the light of {name} goes towards the board; {again}."
