"""The cut list: what is cut from what, with the saw's kerf, and how the pieces lie on a stock sheet."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from optimise.model.stacks import layers_of
from optimise.parts.buying import grid
from optimise.report.drawing import Drawing, mm
from optimise.report.lamp import Lamp
from optimise.report.record_parts import BillRecord
from optimise.report.terminal import number

_LETTERED = 84.0
"""Width of a drawn piece in which its size has room."""


@dataclass(frozen=True)
class Cut:
    """Equal pieces of one part: to what size, and of what."""

    key: str
    part: str
    what: str
    pieces: int
    size: str
    stock: str
    """What it is cut from, in words."""
    stock_sheet: tuple[tuple[float, float], tuple[float, float], float] | None = None
    """Sides of a piece and of the stock sheet, and the kerf, m; None for what is not cut from a sheet."""
    drawing: Markup | None = None


def cuts_of(lamps: Sequence[Lamp], bill: Sequence[BillRecord]) -> list[Cut]:
    """Return all cuts of all lights: boards, sheets, strips and leads."""
    alike: dict[tuple[str, ...], list[Cut]] = {}
    for lamp in lamps:
        for cut in _cuts(lamp, bill):
            alike.setdefault((cut.part, cut.what, cut.size, cut.stock), []).append(cut)
    # Lights of a kit share sheets: equal pieces are cut together, as they were bought.
    return [_together(cuts) for cuts in alike.values()]


def _together(cuts: Sequence[Cut]) -> Cut:
    first, pieces = cuts[0], sum(cut.pieces for cut in cuts)
    if first.stock_sheet is None:
        return replace(first, pieces=pieces)
    face, sheet, kerf = first.stock_sheet
    return replace(first, pieces=pieces, drawing=_drawn(first.key, first.what, pieces, face, sheet, kerf))


def _cuts(lamp: Lamp, bill: Sequence[BillRecord]) -> Iterator[Cut]:
    panel, diffuser, kerf = lamp.build.panel, lamp.build.diffuser, lamp.scenario.buying.kerf
    face = panel.width, panel.height
    sheet = _stock_sheet(panel.part, bill)
    size = f"{mm(panel.width)} × {mm(panel.height)}"
    if sheet is None:
        yield Cut(f"cut-{lamp.key}-board", panel.part, "board", lamp.count, size, "comes in this size: check it")
    else:
        yield _sheet_cut(f"cut-{lamp.key}-board", panel.part, "board", lamp.count, face, sheet, kerf)
    layers = layers_of(diffuser)
    for layer in dict.fromkeys(layers):
        whole, mark = (layer.width, layer.height), "sheet" if layer == layers[0] else "sheet-2"
        count = lamp.count * layers.count(layer)
        yield _sheet_cut(f"cut-{lamp.key}-{mark}", layer.part, "diffuser", count, face, whole, kerf)
    for place, emitter in enumerate(lamp.build.kinds):
        if emitter.form == "strip":
            pieces = lamp.build.choice.pieces[emitter.part] * lamp.count
            stock, which = "off the roll, at its cutting marks only", "" if place == 0 else f"-{place + 1}"
            yield Cut(f"cut-{lamp.key}-strip{which}", emitter.part, "strip", pieces, mm(emitter.length), stock)
    length = number(lamp.scenario.power.lead_length, "m")
    yield Cut(f"cut-{lamp.key}-lead", lamp.choice.cable, "lead", lamp.count, length, _off(lamp.choice.cable, bill))


def _stock_sheet(part: str, bill: Sequence[BillRecord]) -> tuple[float, float] | None:
    for line in bill:
        if line.part == part and line.sheet_width is not None and line.sheet_height is not None:
            return line.sheet_width, line.sheet_height
    return None


def _off(part: str, bill: Sequence[BillRecord]) -> str:
    lines = [line for line in bill if line.part == part]
    if not lines:
        return ""
    return "one reel, without a joint" if lines[0].sold_by == "reel" else "in one length, without a joint"


def _sheet_cut(
    key: str,
    part: str,
    what: str,
    pieces: int,
    face: tuple[float, float],
    sheet: tuple[float, float],
    kerf: float,
) -> Cut:
    columns, rows = grid(sheet, face, kerf)
    stock = f"a sheet of {mm(sheet[0])} × {mm(sheet[1])}, which gives {max(columns * rows, 1)}; kerf {mm(kerf)}"
    size = f"{mm(face[0])} × {mm(face[1])}"
    return Cut(key, part, what, pieces, size, stock, (face, sheet, kerf))


def _drawn(
    key: str, what: str, pieces: int, face: tuple[float, float], sheet: tuple[float, float], kerf: float
) -> Markup:
    """Return the first stock sheet with the pieces that are cut from it, to scale."""
    most = grid(sheet, face, kerf)
    turned = not _fits(sheet, face, kerf, most)
    a, b = face[::-1] if turned else face
    columns = max(most[0], 1)
    shown = min(pieces, most[0] * most[1])
    edge = 26.0
    scale = 280.0 / max(sheet)
    drawing = Drawing(
        key,
        sheet[0] * scale + 2.0 * edge,
        sheet[1] * scale + 2.0 * edge,
        f"Cutting the {what}",
        f"{shown} of {pieces} pieces of {mm(face[0])} × {mm(face[1])} on a sheet of {mm(sheet[0])} × "
        f"{mm(sheet[1])}, from its lower left corner, {mm(kerf)} between them for the saw.",
    )
    drawing.rect("line", edge, edge, sheet[0] * scale, sheet[1] * scale)
    for index in range(shown):
        column, row = index % columns, index // columns
        x, y = column * (a + kerf), row * (b + kerf)
        drawing.rect("part", edge + x * scale, edge + (sheet[1] - y - b) * scale, a * scale, b * scale)
        if index == 0:
            middle = edge + (sheet[1] - y - b / 2.0) * scale + 4.5
            narrow = a * scale < _LETTERED
            place = (x + a) * scale + 6.0 if narrow else (x + a / 2.0) * scale
            size = f"{mm(a, '')} × {mm(b, '')}"
            drawing.words(size, edge + place, middle, "start" if narrow else "middle", "halo")
    drawing.words(mm(sheet[0]), edge + sheet[0] * scale / 2.0, edge - 8.0, "middle", "small")
    drawing.upright_words(mm(sheet[1]), edge - 8.0, edge + sheet[1] * scale / 2.0)
    return drawing.markup()


def _fits(sheet: tuple[float, float], face: tuple[float, float], kerf: float, most: tuple[int, int]) -> bool:
    """Whether so many columns and rows fit with the face as it is, rather than turned."""
    spans = [most[i] * face[i] + (most[i] - 1) * kerf for i in (0, 1)]
    return all(span <= side * (1.0 + 1e-9) for span, side in zip(spans, sheet, strict=True)) and math.prod(most) > 0
