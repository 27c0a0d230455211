"""The page itself: what the parts of the sheet found, put into the templates."""

from typing import Any

from optimise import __version__
from optimise.parts import Catalogue
from optimise.report.dimmed import dimmed_lines
from optimise.report.drawing import mm
from optimise.report.front import hours
from optimise.report.kit import KitRecord, as_record, kit_answer
from optimise.report.lamp import Lamp, lamps_of
from optimise.report.pages import asset, environment, policy, signed
from optimise.report.record import Record
from optimise.report.record_parts import FigureRecord
from optimise.report.sheet import board, energy, field, first_use, light, margins, wiring
from optimise.report.sheet.cuts import cuts_of
from optimise.report.sheet.schematic import schematic
from optimise.report.sheet.shopping import shops_of
from optimise.report.sheet.travel import RULE, packed
from optimise.report.spread import AT_BAD_END, tolerance_line
from optimise.report.terminal import answer, label, number, proof_line

_HOME = "optimise.report.sheet"

GLANCE = ("illuminance", "above_target", "runtime", "power", "mass", "board_temperature", "colour_temperature", "cost")


def sheet_page(record: Record | KitRecord, fingerprint: str, file: str, catalogue: Catalogue | None = None) -> str:
    """Return the build sheet of a record as one HTML page; the same record gives the same page, byte for byte.

    fingerprint: of the record, under which ticks are remembered; file: what faults call the record; catalogue: the one
    that it was made from, as it is now, or None where it is not looked at. Raises `InputError`.
    """
    lamps = lamps_of(record, file, catalogue)
    kit = isinstance(record, KitRecord)
    shops, total = shops_of(record.bill, record.orders)
    style, script = asset(_HOME, "sheet.css"), asset(_HOME, "sheet.js")
    common = record if isinstance(record, Record) else as_record(record, None)
    return (
        environment(_HOME)
        .get_template("sheet.html.jinja")
        .render(
            title=record.title,
            answer=kit_answer(record) if isinstance(record, KitRecord) else answer(record),
            kit=kit,
            currency=record.currency,
            lights=[_light(lamp, record.currency, common) for lamp in lamps],
            shops=shops,
            total=total,
            cuts=cuts_of(lamps, record.bill),
            figures=_figures(record.figures, common) if kit else [],
            margins=margins.rows_of(record.margins, record.currency) if kit else [],
            cautions=record.cautions,
            notes=record.notes,
            proof=proof_line(common),
            tolerances=tolerance_line(record) if isinstance(record, Record) else None,
            worst=AT_BAD_END if record.worst_case else "",
            inputs=record.inputs,
            changed=None if catalogue is None else changed_since(record, catalogue),
            version=__version__,
            fingerprint=fingerprint,
            rule=RULE,
            style=style,
            script=script,
            policy=policy(style, script),
        )
    )


def changed_since(record: Record | KitRecord, catalogue: Catalogue) -> list[str]:
    """Return the files of a catalogue that are not those that a record was made from."""
    then, now = record.inputs.catalogue, catalogue.fingerprints
    return sorted(name for name in {*then, *now} if then.get(name) != now.get(name))


def _at_a_glance(figure: FigureRecord, currency: str) -> str:
    """Return a figure as people say it: hours and minutes, stops to a tenth."""
    value = figure.value or 0.0
    if figure.unit == "h":
        return hours(value * 3600.0)
    return f"{signed(value, 1)} stop" if figure.unit == "stop" else number(value, figure.unit, currency)


def _figures(figures: dict[str, FigureRecord], record: Record) -> list[tuple[str, str]]:
    return [
        (label(name, record), number(figure.value, figure.unit, record.currency))
        for name, figure in figures.items()
        if figure.value is not None
    ]


def _light(lamp: Lamp, currency: str, record: Record) -> dict[str, Any]:
    """Return everything that the templates show of one light."""
    circuit = wiring.circuit_of(lamp)
    spots = field.spots(lamp)
    over = field.field_of(lamp, spots)
    runs = energy.runs_of(lamp)
    exposure = light.exposure_of(lamp)
    told = record.model_copy(update={"choice": lamp.choice})
    figures = dict(lamp.figures)
    area = number(lamp.build.cable.area * 1e6, "mm²")
    length = lamp.scenario.power.lead_length
    lead = f"{lamp.build.cable.cores} × {area}, {number(length, 'm')}"
    fuse = f"F1  fuse {number(lamp.build.fuse.rating, 'A')}"
    return {
        "key": lamp.key,
        "name": lamp.name,
        "count": lamp.count,
        "glance": [
            (label(name, told), _at_a_glance(figures[name], currency))
            for name in GLANCE
            if name in figures and figures[name].value is not None
        ],
        "figures": _figures(figures, told),
        "made_of": _made_of(lamp, circuit),
        "margins": margins.rows_of(lamp.margins, currency),
        "schematic": schematic(circuit, f"wire-{lamp.key}", lead, fuse),
        "wires": _wires(circuit),
        "points": wiring.points_of(circuit),
        "packs": circuit.packs,
        "mains": circuit.mains,
        "earth": circuit.earth,
        "tests": first_use.plan_of(lamp, circuit, spots),
        "falloff": light.falloff(lamp),
        "falloff_chart": light.falloff_chart(lamp),
        "field_map": field.field_map(lamp, over, spots),
        "field_rows": field.field_rows(over),
        "subject": over.subject,
        "spots": spots,
        "distance": lamp.scenario.light.distance,
        "exposure": exposure,
        "exposure_head": ["ISO", *(f"#f/{n:g}" for n in exposure.apertures), "#right"],
        "shutter": _shutter(exposure.time),
        "softness": light.softness_of(lamp),
        "runs": runs,
        "run_chart": energy.runtime_chart(lamp, runs) if runs else None,
        "warmth": energy.warmth_of(lamp),
        "dimmed": [] if lamp.dimmed is None else dimmed_lines(lamp.dimmed),
        "above": lamp.figure("above_target"),
        "packed": packed(lamp),
        **_board(lamp),
    }


def _board(lamp: Lamp) -> dict[str, Any]:
    layout = lamp.layout
    if layout is None:
        return {"board": None, "drill": [], "ways": [], "piece": None, "middle": None}
    wide, high = board.piece_of(layout)
    return {
        "board": board.board_drawing(lamp, layout),
        "drill": board.drill_points(layout),
        "ways": board.ways_of(layout),
        "piece": f"{mm(wide, '')} × {mm(high)}",
        "middle": tuple(f"{1e3 * side:.0f}" for side in board.centre_of_mass(lamp, board.places_of(layout))),
    }


def _made_of(lamp: Lamp, circuit: wiring.Circuit) -> list[tuple[str, str, str]]:
    """Return mark, what it is, and the part's code."""
    choice = lamp.choice
    found: list[tuple[str, str, str]] = []
    if choice.battery is None:
        found.append(("B1", "mains socket", ""))
    else:
        number_of = choice.battery_series * choice.battery_parallel
        found.append(("B1", "battery" if number_of == 1 else f"{number_of} batteries", choice.battery))
    found.append(("F1", "fuse, at the source", choice.fuse))
    found.append(("X1", "connector", choice.connector))
    found.append(("W1", "lead", choice.cable))
    feeds = wiring.gathered_feeds(circuit)
    found += [(feed.mark, "ballast" if feed.lamps else "driver", feed.driver) for feed in feeds]
    found += [("S…", f"{pieces} emitters", code) for code, pieces in lamp.build.choice.pieces.items()]
    found.append(("", "board", choice.panel))
    sheets = list(choice.codes_of_sheets)
    names = ["diffuser"] if len(sheets) < 2 else ["inner diffuser", "outer diffuser"]
    found += [("", name, code) for name, code in zip(names, sheets, strict=False)]
    if choice.mount is not None:
        found.append(("", "mount", choice.mount))
    return found


def _wires(circuit: wiring.Circuit) -> list[tuple[str, str, str, str, str, str]]:
    """Return pole, start, end, size, length and current of the wires; what lies inside a part is left out."""
    return [
        (
            wire.pole,
            wire.start,
            wire.end,
            _size(wire),
            number(wire.length, "m") if wire.length is not None else "",
            number(wire.amps, "A") if wire.pole != "PE" else "none",
        )
        for wire in wiring.listed(circuit)
    ]


def _size(wire: wiring.Wire) -> str:
    if wire.area is not None:
        return number(wire.area * 1e6, "mm²")
    return "> 4 mm²" if wire.least is None else f"≥ {wire.least:g} mm²"


def _shutter(seconds: float) -> str:
    return f"1/{1.0 / seconds:.4g} s" if seconds < 0.4 else f"{seconds:.3g} s"
