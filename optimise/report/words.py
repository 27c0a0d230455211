"""Cautions and notes in words."""

from collections.abc import Iterator
from typing import Protocol

from optimise.model.choice import BillLine, Evaluation
from optimise.model.market import Market
from optimise.model.stacks import sheet_of
from optimise.parts import Battery, Driver, Emitter, Mount, Panel
from optimise.parts.basket import Order
from optimise.report.calibration import calibration_notes
from optimise.report.colour import blue_light_cautions, colour_notes
from optimise.report.mixture import mixture_notes
from optimise.report.modulation import modulation_notes
from optimise.report.photometry import photometry_notes
from optimise.scenario.model import Safety
from optimise.studies.tolerances import Tolerances

BRIGHT = 10_000.0
"""cd/m² of a lit face above which the caution on looking into it is given (common practice, no source)."""

WARM = 45.0
"""°C of a board above which the caution on hot faces is given (common practice, no source)."""


class Bought(Protocol):
    """What was bought: for a light, or for a kit."""

    @property
    def bill(self) -> tuple[BillLine, ...]:
        """The lines of its bill."""

    @property
    def orders(self) -> tuple[Order, ...]:
        """What each supplier is paid."""


def cautions_for(best: Evaluation, market: Market, brightest: float | None = None) -> Iterator[str]:
    """Yield the cautions that a build calls for; the last one always.

    brightest: lm, the luminous flux at its greatest, where that is more than the build's.
    """
    choice, catalogue = best.choice, market.catalogue
    emitters = catalogue.each(Emitter, choice.kinds)
    panel = catalogue.find(Panel, choice.panel)
    if choice.battery is None:
        yield (
            "Mains: isolate and prove dead before opening; use a residual-current device; wiring is for people "
            "licensed or competent to do it, and local codes decide."
        )
        if panel.metal:
            yield "Mains with metal: bond every exposed metal part to the protective earth, and test the bond."
        else:
            yield (
                "Earth: the panel has no metal, but a driver's case, a mount or a lamp holder may; what has metal and "
                "is not double-insulated needs a lead with a protective earth."
            )
    else:
        battery = catalogue.find(Battery, choice.battery)
        yield (
            "Battery: put the fuse at the battery, before anything else on the positive lead, of a kind that can "
            "break the battery's short-circuit current; insulate terminals in transport."
        )
        if market.scenario.power.ambient < 0.0 and battery.temperature_min is None:
            yield "Cold: how cold this battery may get is not stated; a lithium one must not be charged below freezing."
        if market.scenario.travel.mode == "air":
            yield (
                "Air: batteries go in the cabin, never in the hold, with their terminals covered; lead-acid only if "
                "non-spillable. The airline decides: ask before you travel."
            )
        if battery.chemistry in {"li-ion", "lifepo4"}:
            yield (
                "Lithium: use packs as bought, with their protection; never build, open or repair one; charge only "
                "with its own charger, watched, above freezing."
            )
        if battery.chemistry == "lead-acid":
            yield "Lead-acid: charge where air moves; stop at the cut-off voltage; acid burns."
        if choice.batteries > 1:
            branches = "; a fuse for each parallel branch (not in the bill)" if choice.battery_parallel > 1 else ""
            yield f"Several batteries: equal make, age and charge{branches}."
    ballasts = any(catalogue.find(Driver, c.driver).output == "ballast" for c in choice.channels)
    if any(emitter.form == "tube" for emitter in emitters):
        yield "Tubes: glass and a little mercury; carry them in a sleeve, and dispose of them as the law says."
    if ballasts:
        yield "Ballasts: the lamp wires carry dangerous voltage even on a battery; cover every holder."
    if not panel.metal and panel.heat_density_max is None:
        yield (
            "Fire: this board does not spread heat, and how much it bears under an emitter is not stated; put each "
            "emitter on a metal heat spreader of its own, and feel for hot spots."
        )
    yield from _loosened(market)
    if best.board > WARM:
        yield f"Heat: the board runs at about {best.board:.0f} °C; keep fabrics and hands away and the back free."
    if choice.mount is not None:
        load = catalogue.find(Mount, choice.mount).load
        yield f"Height: a mount for {load:g} kg; overhead, add a safety bond of its own and keep people clear."
    if choice.diffuser is None or _luminance(best, brightest) > BRIGHT:
        yield "Bright light: do not look into the source, and do not aim it at drivers or animals."
    yield from blue_light_cautions(best, catalogue, brightest)
    yield "Figures are estimates from the catalogue's data, not a test report: measure before you rely on them."


def _loosened(market: Market) -> Iterator[str]:
    """Yield a caution for each limit of safety that the scenario sets weaker than its default."""
    safety, usual = market.scenario.safety, Safety()
    dangers = {
        "voltage_drop": "drivers may drop out and leads run warm",
        "touch_temperature": "the board can burn",
        "string_voltage": "these voltages can kill: insulate every joint",
    }
    for key, danger in dangers.items():
        if getattr(safety, key) > getattr(usual, key):
            yield f"You raised safety.{key} above its default: {danger}."
    if safety.continuous_factor < usual.continuous_factor:
        yield "You lowered safety.continuous_factor below its default: fuses may age, run hot and open."


def _luminance(best: Evaluation, brightest: float | None) -> float:
    """Return the mean luminance of the lit face at the greatest flux, cd/m²."""
    luminance, flux = best.figures["luminance"][0] or 0.0, best.figures["luminous_flux"][0] or 0.0
    return luminance * brightest / flux if brightest and flux > 0.0 else luminance


def notes_for(best: Evaluation | None, market: Market) -> Iterator[str]:
    """Yield what a reader should know: checks not made, parts left out, what the total leaves out."""
    if best is not None:
        yield from best.unchecked
        yield from _build_notes(best, market)
        yield from modulation_notes(best, market)
    yield from calibration_notes(market.catalogue.calibration, best)
    for kind, reasons in market.parts.left_out.items():
        told = ", ".join(f"{count} {reason}" for reason, count in sorted(reasons.items()))
        yield f"Left out of {kind}: {told}."


def tolerance_notes(tolerances: Tolerances | None, worst_case: bool) -> Iterator[str]:
    """Yield what a reader should know of the tolerances; what is not stated only where the worst case was asked for."""
    if worst_case and tolerances is None:
        yield "Where a tolerance is not stated, the figure is taken as exact."
    if worst_case and tolerances is not None and tolerances.unstated:
        parts: dict[str, list[str]] = {}
        for code, figure in tolerances.unstated:
            parts.setdefault(code, []).append(figure)
        told = ", ".join(f"{code} ({', '.join(figures)})" for code, figures in parts.items())
        yield f"Tolerance not stated for {told}: taken as exact."
    if tolerances is not None and tolerances.share is not None:
        yield (
            "Made lights are drawn, not known: each figure of a part once a light (all pieces of a part are of one "
            "lot), evenly within its tolerance, since nothing is known of it but the ends."
        )


def _mains_notes(best: Evaluation, market: Market) -> Iterator[str]:
    """Yield a note for each driver that does not bear what mains may be: ±10 % (IEC 60038, from memory)."""
    volts = market.scenario.power.mains_voltage or 0.0
    for code in best.choice.drivers:
        driver = market.catalogue.find(Driver, code)
        if driver.input_min > 0.9 * volts or driver.input_max < 1.1 * volts:
            yield (
                f"{driver.part} takes {driver.input_min:g} to {driver.input_max:g} V; mains of {volts:g} V may be "
                f"{0.9 * volts:g} to {1.1 * volts:g} V. Checked at {volts:g} V only."
            )


def _build_notes(best: Evaluation, market: Market) -> Iterator[str]:
    choice, catalogue, scenario = best.choice, market.catalogue, market.scenario
    panel = catalogue.find(Panel, choice.panel)
    emitters = catalogue.each(Emitter, choice.kinds)
    sheet = sheet_of(choice, catalogue)
    for emitter in emitters:
        yield from photometry_notes(emitter, panel, sheet)
    side = max(panel.width, panel.height)
    if scenario.light.distance < 5 * side:
        how = "summed over the emitters at their places" if choice.diffuser is None else "integrated over the lit face"
        yield (
            f"The subject is nearer than five times the source ({5 * side:.2g} m), where the inverse-square law would "
            f"promise too much: the light is {how}."
        )
    yield from mixture_notes(best, catalogue, scenario)
    yield from colour_notes(best, catalogue, scenario)
    if choice.diffuser is None and choice.emitters > 1 and scenario.look.background is not None:
        yield "Without a diffuser each emitter throws a shadow of its own: the soft edge on the background is in steps."
    if choice.battery is None:
        yield from _mains_notes(best, market)
    if not panel.metal:
        yield "The board is taken as evenly warm; wood and foam spread heat badly: mind the spot under each emitter."
    yield "The drivers' own heat is not in the board's: mount them where air moves."
    if len({(c.emitter, round(c.current, 6)) for c in choice.channels}) > len(emitters):
        yield "Emitters on different drivers run at different currents: mix them over the board, or the face is patchy."
    strung = {e.part for e in emitters if e.drive == "constant current"}
    if any(c.parallel > 1 and (c.emitter or choice.emitter) in strung for c in choice.channels):
        yield "Parallel strings on one driver share its current unevenly: match them, or balance each with a resistor."
    yield from buying_notes(best, market)


def buying_notes(best: Bought, market: Market) -> Iterator[str]:
    """Yield what is not checked of the offers, and what of delivery is not known."""
    offers = [line.purchase.offer for line in best.bill]
    if market.scenario.buying.date is None and any(offer.until is not None for offer in offers):
        yield "Offers on the bill have a last day; buying.date is not stated: not checked that they still hold."
    known = {supplier.supplier for supplier in market.catalogue.suppliers}
    unknown = sorted({offer.supplier for offer in offers} - known - {"own"})
    if unknown:
        yield f"What delivery costs is not stated for {', '.join(unknown)}: counted as nothing."
    for order in best.orders:
        if order.top_up:
            yield (
                f"The order at {order.supplier} is topped up by {order.top_up / 100:.2f} {market.catalogue.currency} "
                "with what is not on the bill: take spares."
            )
