"""Light that is lost behind the face: in the box of a panel, and towards its board."""

from collections.abc import Iterator

from optimise.parts import Diffuser, Emitter, Panel
from optimise.physics.cavity import box_transmittance
from optimise.physics.distributions import back_share


def through(panel: Panel, sheet: Diffuser | None) -> float:
    """Return the share of a board's light that leaves the front of its box; 1 without a diffuser."""
    if sheet is None:
        return 1.0
    if panel.depth is None or panel.reflectance is None:
        return sheet.transmittance
    box = panel.width, panel.height, panel.depth, panel.reflectance
    return float(box_transmittance(*box, sheet.transmittance, sheet.reflectance))


def untold_of_losses(emitter: Emitter, panel: Panel, sheet: Diffuser | None) -> Iterator[str]:
    """Yield what is not counted of the light that is lost behind the face."""
    blank = [name for name in ("depth", "reflectance") if getattr(panel, name) is None]
    if sheet is not None and blank:
        verb = "is" if len(blank) == 1 else "are"
        told = f"{' and '.join(blank)} {verb} not stated"
        yield f"{panel.part}: {told}; not counted: what the walls of the box take from the light."
    known = back_share(emitter.back, emitter.photometric)
    if emitter.form == "tube" and emitter.back is None and not known:
        yield f"{emitter.part}: back is not stated; not counted: light that goes towards the board."
    if known and panel.reflectance is None:
        yield f"{panel.part}: reflectance is not stated; light towards the board is counted as lost."
