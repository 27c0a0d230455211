"""Colour, luminance and blue light of a build: figures, what is to be told of them, and the caution."""

from collections.abc import Iterator

import numpy as np

from optimise.model.choice import Evaluation
from optimise.model.mixture import light_of_kinds, spectrum_of
from optimise.model.stacks import sheet_of
from optimise.parts import Catalogue, Diffuser, Emitter
from optimise.parts.colour import INSTALL, colour_of, differences, efficiency, library_version, worked_out
from optimise.physics.blue_light import EDITION, EXEMPT, LOW_RISK, MODERATE_RISK, blue_light_per_lumen
from optimise.physics.colour import filtered_light
from optimise.scenario import Scenario

Figures = dict[str, tuple[float | None, str]]

OFF_WHITE = 0.0054
"""|Duv| beyond which a light and its reference differ too much for Ra (CIE 13.3-1995, 5.3; value from memory)."""

NAMES = {
    "cct": ("colour_temperature", "K"),
    "duv": ("duv", ""),
    "cri": ("colour_rendering_ra", ""),
    "r9": ("r9", ""),
    "rf": ("fidelity_rf", ""),
    "rg": ("gamut_rg", ""),
    "ssi": ("ssi", ""),
}
"""What each figure of colour is called in a record, and its unit."""

LABELS = {
    "duv": "Duv",
    "colour_rendering_ra": "colour rendering Ra",
    "r9": "colour rendering R9",
    "fidelity_rf": "colour fidelity Rf",
    "gamut_rg": "gamut Rg",
    "ssi": "SSI",
    "luminance": "luminance of the lit face",
    "blue_light_radiance": "blue light, weighted radiance",
}
"""What a person reads for a figure where its plain name would not do."""

SAID = {"cct": "the colour temperature", "duv": "Duv", "cri": "Ra", "r9": "R9", "rf": "Rf", "rg": "Rg"}


def _parts(best: Evaluation, catalogue: Catalogue) -> tuple[tuple[Emitter, ...], Diffuser | None]:
    return catalogue.each(Emitter, best.choice.kinds), sheet_of(best.choice, catalogue)


def colour_figures(best: Evaluation, catalogue: Catalogue, scenario: Scenario) -> Figures:
    """Return the figures of colour and of blue light of a build; None is not known."""
    emitters, diffuser = _parts(best, catalogue)
    shift = 0.0 if diffuser is None else diffuser.mired_shift
    light = filtered_light(light_of_kinds(emitters, best.fluxes, scenario.look), shift)
    figures: Figures = {name: (light[figure], unit) for figure, (name, unit) in NAMES.items()}
    figures["blue_light_radiance"] = (blue_light(best, catalogue), "W/(m² sr)")
    return figures


def blue_light(best: Evaluation, catalogue: Catalogue) -> float | None:
    """Return the blue-light weighted radiance of the lit face, W/(m² sr), None where it is not known.

    The spectrum is that of the emitters: a filter that warms takes blue away and is left out; one that cools is not
    known.
    """
    emitters, diffuser = _parts(best, catalogue)
    luminance = best.figures["luminance"][0]
    if luminance is None or (diffuser is not None and diffuser.mired_shift < 0.0):
        return None
    spectrum = emitters[0].measured if len(emitters) == 1 else spectrum_of(emitters, best.fluxes)
    if spectrum is None or not all(worked_out(emitter) for emitter in emitters):
        return None
    waves = np.array(spectrum.wavelengths)
    return luminance * blue_light_per_lumen(waves, spectrum.values, efficiency(waves))


def blue_light_cautions(best: Evaluation, catalogue: Catalogue, brightest: float | None) -> Iterator[str]:
    """Yield a caution where the blue-light weighted radiance is above what is exempt.

    brightest: lm, the luminous flux at its greatest, where that is more than the build's.
    """
    radiance, flux = blue_light(best, catalogue), best.figures["luminous_flux"][0] or 0.0
    if radiance is None:
        return
    if brightest is not None and flux > 0.0:
        radiance *= max(brightest / flux, 1.0)
    if radiance <= EXEMPT:
        return
    limit, act = EXEMPT, "do not look into it for long"
    if radiance > LOW_RISK:
        limit, act = LOW_RISK, "do not look into it at all"
    if radiance > MODERATE_RISK:
        limit, act = MODERATE_RISK, "a blink is too long: do not use it bare"
    yield (
        f"Blue light: about {radiance:.3g} W/(m² sr) as {EDITION} weights it, above the {limit:g} that it lets pass "
        f"{_passes(limit)}; {act}. This is a screening value by calculation, not a classification or a certificate."
    )


def _passes(limit: float) -> str:
    return {EXEMPT: "as exempt", LOW_RISK: "as risk group 1", MODERATE_RISK: "as risk group 2"}[limit]


def colour_notes(best: Evaluation, catalogue: Catalogue, scenario: Scenario) -> Iterator[str]:
    """Yield where the figures of colour come from, and what is rough or not known about them."""
    emitters, diffuser = _parts(best, catalogue)
    for emitter in emitters:
        yield from _spectrum_notes(emitter)
    known = all(worked_out(emitter) for emitter in emitters)
    if known and best.figures["luminance"][0] is not None:
        yield (
            f"Blue light: a screening value by the weighting of {EDITION} for the mean luminance of the lit face; "
            f"up to {EXEMPT:g} W/(m² sr) is exempt there. Spots behind a diffuser are brighter than the mean."
        )
    if diffuser is not None and diffuser.mired_shift != 0.0:
        yield (
            f"{diffuser.part} shifts the colour temperature by {diffuser.mired_shift:+g} mired; what else it does to "
            "the colour is not known without its transmittance over the spectrum."
        )
    named = emitters[0].part if len(emitters) == 1 else "The mixture"
    duv = light_of_kinds(emitters, best.fluxes, scenario.look)["duv"]
    if duv is not None and abs(duv) > OFF_WHITE:
        yield (
            f"{named}: Duv is {duv:+.4f}, {'greenish' if duv > 0.0 else 'pinkish'}, which a colour temperature "
            f"does not tell; beyond {OFF_WHITE:g} Ra means little (CIE 13.3-1995). [look] duv_min and duv_max limit it."
        )
    if scenario.look.ssi_reference is not None and known:
        yield f"SSI is taken to {scenario.look.ssi_reference} (SMPTE ST 2122)."
    elif scenario.look.ssi_reference is not None:
        yield f"{named}: not worked out: SSI, which needs a spectrum and colour-science."


def _spectrum_notes(emitter: Emitter) -> Iterator[str]:
    spectrum = emitter.measured
    if spectrum is None:
        return
    if not worked_out(emitter):
        yield (
            f"{emitter.part}: colour figures as stated, though there is a spectrum ({spectrum.name}): working them out "
            f"needs colour-science ({INSTALL})."
        )
        return
    yield (
        f"{emitter.part}: colour figures are worked out from its spectrum ({spectrum.name}, colour-science "
        f"{library_version()}), and decide."
    )
    for figure, stated, seen in differences(emitter):
        found = "cannot be worked out" if seen is None else f"is {_text(figure, seen)} by the spectrum"
        yield f"{emitter.part}: {SAID[figure]} is stated as {_text(figure, stated)}; it {found}."
    if colour_of(emitter).cct is None:
        yield f"{emitter.part}: its light is too far from white for a colour temperature or rendering."
    if spectrum.largest_step > 10.0:
        step = f"{spectrum.largest_step:.3g} nm"
        yield f"{emitter.part}: its spectrum has steps of up to {step}; figures from more than 5 nm are rough."
    if spectrum.cut:
        yield f"{emitter.part}: its spectrum ends where there is still light; what is beyond counts as nothing."


def _text(figure: str, value: float) -> str:
    return {"cct": f"{value:.0f} K", "duv": f"{value:+.4f}"}.get(figure, f"{value:.0f}")
