"""The wiring diagram, drawn by schemdraw: source at the top, then fuse, connector, lead and terminals, then drivers.

Its labels are the marks and numbers of `wiring`; what users write never reaches the library.
"""

import xml.etree.ElementTree as ET
from typing import Any

import schemdraw
from markupsafe import Markup
from schemdraw import elements

from optimise.report.drawing import LOOKS, PAPER, plain_number
from optimise.report.sheet.wiring import Circuit, Feed, gathered_feeds
from optimise.report.terminal import number

elm: Any = elements
"""The library's elements, of which only some have types."""

MOST_DRAWN = 6
"""Drivers that are drawn one by one; of more, those that are alike are drawn once."""

MOST_STRINGS = 3

_PLUS, _MINUS, _EARTH = (LOOKS[look]["stroke"] for look in ("plus", "minus", "earth"))
_COLOURS = {"black": "line", _PLUS: "plus", _MINUS: "minus", _EARTH: "earth"}
"""Which look stands for a colour of schemdraw's output."""

_SVG = "{http://www.w3.org/2000/svg}"
_LETTER = 0.62
"""Width of a letter as a share of its size: that of wide fonts without serifs."""

_RAIL = 2.6
"""Across, from the live rail to the other one, in units of the drawing."""


_HEIGHT, _OVER = 1.8, 0.4
"""Between the two wires of a driver, and from them to the edges of its box."""


def schematic(circuit: Circuit, key: str, lead_says: str, fuse_says: str) -> Markup:
    """Return the diagram; `lead_says` and `fuse_says` are sizes in words of this program."""
    schemdraw.use("svg")
    schemdraw.svgconfig.text = "text"
    drawing = schemdraw.Drawing(show=False)
    drawing.config(fontsize=11, font="sans-serif", unit=2.0, lw=1.6)
    live, back = circuit.poles
    y = _source(drawing, circuit)
    y = _chain(drawing, circuit, y, lead_says, fuse_says)
    feeds = list(circuit.feeds) if len(circuit.feeds) <= MOST_DRAWN else gathered_feeds(circuit)
    top, bottom = y, y
    for feed in feeds:
        bottom = _feed(drawing, feed, y, live, back)
        y = bottom - 0.9
    _line(drawing, (0.0, top), (0.0, bottom + _HEIGHT + _OVER), _PLUS)
    _line(drawing, (_RAIL, top), (_RAIL, bottom + _OVER), _MINUS, dashed=True)
    return _embedded(drawing.get_imagedata("svg"), key, circuit)


def _amps(value: float) -> str:
    return f"{value:.3g} A"


def _line(
    drawing: Any, start: tuple[float, float], end: tuple[float, float], colour: str, *, dashed: bool = False
) -> None:
    dashes = ":" if colour == _EARTH else "--" if dashed else "-"
    drawing += elm.Line(color=colour, ls=dashes).at(start).to(end)


def _words(
    drawing: Any, text: str, x: float, y: float, align: tuple[str, str] = ("left", "center"), size: float = 11
) -> None:
    drawing += elm.Label().at((x, y)).label(text, halign=align[0], valign=align[1], fontsize=size)


def _source(drawing: Any, circuit: Circuit) -> float:
    lead = circuit.lead
    if circuit.mains:
        drawing += elm.SourceSin().endpoints((0.0, 0.0), (_RAIL, 0.0))
        _words(drawing, f"Mains, {number(lead.nominal, 'V')}", _RAIL + 0.5, 0.0)
    else:
        # A battery's long plate is its positive one: the library begins with it.
        drawing += elm.Battery().at((0.0, 0.0)).to((_RAIL, 0.0))
        pack = f"B1  {number(lead.nominal, 'V')}"
        if circuit.series > 1 or circuit.packs > 1:
            pack += f": {circuit.series} in series × {circuit.packs} in parallel"
        _words(drawing, pack, _RAIL + 0.5, 0.15)
        _words(drawing, f"{number(lead.lowest, 'V')} empty, {number(lead.highest, 'V')} full", _RAIL + 0.5, -0.45)
    live, back = circuit.poles
    _words(drawing, live, -0.25, -0.45, ("right", "center"), 13)
    _words(drawing, back, _RAIL + 0.2, -0.45 if circuit.mains else -0.9, ("left", "center"), 13)
    return 0.0


def _chain(drawing: Any, circuit: Circuit, y: float, lead_says: str, fuse_says: str) -> float:
    """Draw fuse, connector, lead and terminals; return where the rails go on."""
    amps = _amps(circuit.lead.nominal_current)
    drawing += elm.Fuse(color="black").at((0.0, y)).to((0.0, y - 2.2))
    _words(drawing, fuse_says, 0.45, y - 1.15)
    _line(drawing, (_RAIL, y), (_RAIL, y - 2.8), _MINUS, dashed=True)
    _line(drawing, (0.0, y - 2.2), (0.0, y - 2.8), _PLUS)
    y -= 2.8
    _pair(drawing, y)
    _words(drawing, "X1  connector", _RAIL + 0.6, y)
    _line(drawing, (0.0, y), (0.0, y - 2.4), _PLUS)
    _words(drawing, f"{amps} ↓", 0.2, y - 1.2)
    _line(drawing, (_RAIL, y), (_RAIL, y - 2.4), _MINUS, dashed=True)
    _words(drawing, f"W1  {lead_says}", _RAIL + 0.6, y - 1.2)
    if circuit.earth:
        _line(drawing, (-1.1, y), (-1.1, y - 2.4), _EARTH)
        drawing += elm.Dot(open=True).at((-1.1, y))
        drawing += elm.GroundChassis(color=_EARTH).at((-1.1, y - 2.4))
        _words(drawing, "PE", -1.35, y - 0.6, ("right", "center"), 12)
        _words(drawing, "to all metal", -1.1, y - 3.3, ("center", "center"), 9)
    y -= 2.4
    _pair(drawing, y)
    _words(drawing, f"T1  terminals, {number(circuit.at_light, 'V')}", _RAIL + 0.6, y)
    return y


def _pair(drawing: Any, y: float) -> None:
    for x in (0.0, _RAIL):
        drawing += elm.Dot(open=True, radius=0.12).at((x, y))


def _feed(drawing: Any, feed: Feed, y: float, live: str, back: str) -> float:
    """Draw one driver with its strings below the rails at y; return the height of its lower wires."""
    high, low = y - 1.4, y - 1.4 - _HEIGHT
    x0, x1 = _RAIL + 2.0, _RAIL + 4.8
    _line(drawing, (0.0, high), (x0, high), _PLUS)
    _line(drawing, (_RAIL, low), (x0, low), _MINUS, dashed=True)
    drawing += elm.Dot().at((0.0, high))
    drawing += elm.Dot().at((_RAIL, low))
    drawing += elm.Rect(corner1=(0, 0), corner2=(x1 - x0, _HEIGHT + 2.0 * _OVER)).at((x0, low - _OVER))
    _words(drawing, feed.mark, (x0 + x1) / 2.0, (high + low) / 2.0 + 0.25, ("center", "center"), 12)
    kind = "ballast" if feed.lamps else "driver"
    kind = kind if feed.alike == 1 else f"{feed.alike} {kind}s alike"
    _words(drawing, kind, (x0 + x1) / 2.0, (high + low) / 2.0 - 0.35, ("center", "center"), 10)
    for sign, place in ((live, high), (back, low)):
        _words(drawing, sign, x0 + 0.15, place, ("left", "center"), 10)
    _words(drawing, _amps(feed.amps_in) + " →", x0 - 0.25, high + 0.35, ("right", "center"), 10)
    if not feed.lamps:
        for sign, place in (("+", high), ("−", low)):
            _words(drawing, sign, x1 - 0.15, place, ("right", "center"), 10)
    _strings(drawing, feed, x1, high, low)
    return low - _OVER


def _strings(drawing: Any, feed: Feed, x1: float, high: float, low: float) -> None:
    number_of = feed.parallel
    shown = min(number_of, MOST_STRINGS)
    x, step = x1 + 1.5, 1.5
    for place in range(shown):
        here = x + place * step
        _line(drawing, (x1 if place == 0 else here - step, high), (here, high), _PLUS)
        _line(drawing, (x1 if place == 0 else here - step, low), (here, low), _MINUS, dashed=True)
        element = elm.Lamp() if feed.lamps else elm.LED()
        drawing += element.at((here, high)).to((here, low))
        if shown > 1:
            drawing += elm.Dot(radius=0.06).at((here, high))
            drawing += elm.Dot(radius=0.06).at((here, low))
    end = x + (shown - 1) * step
    if feed.lamps:
        _words(drawing, f"{number_of} lamps", x1 + 0.2, low - 0.55, ("left", "center"), 10)
        return
    strings = "1 string" if number_of == 1 else f"{number_of} strings" + ("" if number_of == shown else ", 3 drawn")
    total = _amps(feed.amps * number_of)
    _words(drawing, f"{total} →", x1 + 0.15, high + 0.35, ("left", "center"), 10)
    _words(drawing, f"{strings} of {feed.series} in series", x1 + 0.2, low - 0.4, ("left", "center"), 10)
    each = f"{number(feed.volts_out, 'V')}, {_amps(feed.amps)} each"
    _words(drawing, each, x1 + 0.2, low - 0.9, ("left", "center"), 10)
    if number_of > 1:
        block = f"T{int(feed.mark.split()[0][1:]) + 1}"
        _words(drawing, block, end + 0.15, high + 0.35, ("left", "center"), 10)


def _widen(root: ET.Element) -> None:
    """Make the picture as wide as its lettering, of which the library knows only what its own font takes."""
    left, top, width, height = (float(side) for side in root.attrib["viewBox"].split())
    right = left + width
    for text in root.iter("text"):
        size, x = float(text.attrib["font-size"]), float(text.attrib["x"])
        lines = [span.text or "" for span in text.iter("tspan")] or [text.text or ""]
        wide = _LETTER * size * max(map(len, lines))
        begins = x - {"middle": wide / 2.0, "end": wide}.get(text.get("text-anchor", "start"), 0.0)
        left, right = min(left, begins), max(right, begins + wide)
    root.set("viewBox", " ".join(plain_number(side) for side in (left, top, right - left, height)))


def _embedded(image: bytes, key: str, circuit: Circuit) -> Markup:
    """Return the library's picture with classes and attributes in place of styles, which a page's policy refuses."""
    root = ET.fromstring(image)
    for node in root.iter():
        node.tag = node.tag.removeprefix(_SVG)
        style = dict(part.split(":", 1) for part in node.attrib.pop("style", "").split(";") if ":" in part)
        if node.tag in {"path", "polygon", "circle", "ellipse", "rect", "line"}:
            look = _COLOURS.get(style.get("stroke", "black"), "line")
            filled = style.get("fill", "none") not in {"none", ""}
            blank = style.get("fill") in {"white", "bg"}
            node.set("class", f"s-{look}{' s-open' if blank else ' s-filled' if filled else ''}")
            node.attrib |= {**LOOKS[look], "stroke-dasharray": "none"}
            if style.get("stroke-dasharray", "-") not in {"-", "none", "0"}:
                node.set("stroke-dasharray", style["stroke-dasharray"].replace(" ", ","))
            if filled:
                node.set("fill", PAPER if blank else LOOKS[look]["stroke"])
        elif node.tag == "text":
            node.set("class", "s-label")
            node.set("fill", LOOKS["label"]["fill"])
            node.attrib.pop("font-family", None)
    _widen(root)
    for name in ("height", "width", "{http://www.w3.org/XML/1998/namespace}lang"):
        root.attrib.pop(name, None)
    root.attrib |= {"role": "img", "aria-labelledby": f"{key}-t {key}-d", "class": "drawing schematic"}
    title, description = ET.Element("title", {"id": f"{key}-t"}), ET.Element("desc", {"id": f"{key}-d"})
    title.text = "Wiring diagram"
    drivers = len(circuit.feeds)
    description.text = (
        f"From the source through fuse F1, connector X1 and lead W1 to terminals T1, and on to "
        f"{'one driver' if drivers == 1 else f'{drivers} drivers'} with their strings. The tables below say the same."
    )
    root.insert(0, title)
    root.insert(1, description)
    return Markup(ET.tostring(root, encoding="unicode"))
