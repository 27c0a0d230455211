"""What is told of a light of two kinds of emitter: the share and the chromaticity of each, and what they rest on."""

from collections.abc import Iterator
from typing import Literal

from optimise.model.choice import Evaluation
from optimise.model.mixture import source_of, white_of
from optimise.model.stacks import sheet_of
from optimise.parts import Catalogue, Emitter
from optimise.parts.colour import worked_out
from optimise.physics.colour import chromaticity
from optimise.report.record_parts import RecordModel, short
from optimise.scenario import Scenario
from optimise.scenario.colour import asked


class KindRecord(RecordModel):
    """One kind of emitter in a mixture: pieces, flux at full output in lm, share of the light, CIE 1931 x and y.

    `rests_on` says what the chromaticity is taken from: its spectrum, the stated colour temperature and Duv, or the
    stated colour temperature alone, taken to be on the Planckian locus.
    """

    emitter: str
    pieces: int
    flux: float
    share: float
    x: float | None
    y: float | None
    rests_on: Literal["spectrum", "stated", "locus"] | None


def mixture_record(best: Evaluation | None, catalogue: Catalogue) -> list[KindRecord] | None:
    """Return the kinds of a mixture; None for a light of one kind."""
    if best is None or len(best.choice.kinds) < 2:
        return None
    whole, told = sum(best.fluxes), list[KindRecord]()
    for emitter, flux in zip(catalogue.each(Emitter, best.choice.kinds), best.fluxes, strict=True):
        xyz = white_of(emitter)
        x, y = (None, None) if xyz is None else (short(float(v)) for v in chromaticity(xyz))
        told.append(
            KindRecord(
                emitter=emitter.part,
                pieces=best.choice.pieces[emitter.part],
                flux=short(flux),
                share=short(flux / whole) if whole > 0.0 else 0.0,
                x=x,
                y=y,
                rests_on=source_of(emitter),
            )
        )
    return told


QUALITY = {
    "cri": "Ra",
    "r9": "R9",
    "rf": "Rf",
    "rg": "Rg",
    "ssi": "SSI",
}


def mixture_notes(best: Evaluation, catalogue: Catalogue, scenario: Scenario) -> Iterator[str]:
    """Yield what a reader should know of a mixture; nothing for a light of one kind."""
    kinds = catalogue.each(Emitter, best.choice.kinds)
    if len(kinds) < 2:
        return
    whole = sum(best.fluxes)
    shares = ", ".join(f"{k.part} {flux / whole:.1%}" for k, flux in zip(kinds, best.fluxes, strict=True))
    yield (
        f"Two whites are mixed: of the light at full output {shares}. Place them by turns over the board and leave "
        "depth before the diffuser, or the face is patchy in colour; bare they would cast coloured shadows."
    )
    rests = {"spectrum": "its spectrum", "stated": "the stated colour temperature and Duv"}
    for kind in kinds:
        source = source_of(kind)
        if source == "locus":
            yield (
                f"{kind.part}: Duv is not stated; its light is taken to be on the Planckian locus, so that the mixture "
                "may be greener or pinker than is told: measure it."
            )
        elif source is not None:
            yield f"{kind.part}: in the mixture its chromaticity is that of {rests[source]}."
    if not all(worked_out(kind) for kind in kinds):
        limited = {limit.figure for limit, _ in asked(scenario.look)}
        free = ", ".join(name for figure, name in QUALITY.items() if figure not in limited)
        yield f"Not checked of the mixture: {free}; they need the spectra of both kinds and colour-science."
    if len({(k.flux_per_kelvin, k.droop, k.resistance_junction_case) for k in kinds}) > 1:
        yield "The two kinds lose light with heat and current differently: cold, or dimmed, the colour is another one."
    else:
        yield "The colour is that of the warm light at full output; dimming one of the two alone moves it."
    tolerances = [k.flux_tolerance for k in kinds]
    if any(tolerance is None or tolerance > 0.0 for tolerance in tolerances):
        yield "The colour of a mixture moves with the tolerances of both fluxes, which were not looked at: trim by eye."
    sheet = sheet_of(best.choice, catalogue)
    if sheet is not None and sheet.spread is not None:
        yield f"{sheet.part} spreads both kinds alike since their beams are equal."
