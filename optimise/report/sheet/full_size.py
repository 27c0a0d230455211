"""The board at 1:1 as SVG, one unit to the mm: a template to drill by, with a ruler to check the print."""

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimise.report.drawing import plain_number
from optimise.report.sheet.plan import ARM, Plan

RULER = 100.0
"""Length of the ruler, mm."""

SVG = "http://www.w3.org/2000/svg"

_EDGE = 12.0
_FOOT = 14.0
_INK, _SOFT = "#000000", "#6b6b6b"
_DASHES = ("4 1.5", "1 1.2", "6 1.2 1 1.2")
"""Of the wires, by driver in turn."""


@dataclass(frozen=True)
class Window:
    """What of the board is drawn, mm from its upper left corner, y downwards."""

    x: float
    y: float
    width: float
    height: float

    def meets(self, left: float, top: float, right: float, bottom: float) -> bool:
        """Whether anything of a rectangle is within."""
        return (
            left <= self.x + self.width and right >= self.x and top <= self.y + self.height and bottom >= self.y
        )  # fmt: skip

    def holds(self, x: float, y: float, arm: float) -> bool:
        """Whether all of a cross with such arms is within."""
        across = self.x <= x - arm and x + arm <= self.x + self.width
        return across and self.y <= y - arm and y + arm <= self.y + self.height


def full_size(plan: Plan) -> str:
    """Return the whole board as an SVG file; its width and height are stated in mm."""
    width = max(plan.width, RULER) + 2.0 * _EDGE
    height = plan.height + 2.0 * _EDGE + _FOOT
    window = Window(-_EDGE, -_EDGE, width, height)
    title = f"Drilling template, {plain_number(plan.width)} × {plain_number(plan.height)} mm, at 1:1"
    root = picture(
        "template",
        window,
        title,
        f"A board with {len(plan.centres)} emitters, seen from the front; a cross is at the middle of each. Print "
        "without scaling, and measure the ruler before you drill.",
    )
    root.set("xmlns", SVG)
    root.extend(board(plan, window))
    root.extend(ruler(0.0, plan.height + 10.0))
    root.append(_words("Seen from the front. Print at 100 %, without scaling.", 0.0, plan.height + 21.0, 3.5))
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def picture(key: str, window: Window, title: str, description: str) -> ET.Element:
    """Return an empty picture of a window at 1:1."""
    root = ET.Element(
        "svg",
        {
            "width": f"{_n(window.width)}mm",
            "height": f"{_n(window.height)}mm",
            "viewBox": " ".join(map(_n, (window.x, window.y, window.width, window.height))),
            "role": "img",
            "aria-labelledby": f"{key}-t {key}-d",
            "font-family": "Helvetica, Arial, sans-serif",
        },
    )
    ET.SubElement(root, "title", {"id": f"{key}-t"}).text = title
    ET.SubElement(root, "desc", {"id": f"{key}-d"}).text = description
    return root


def board(plan: Plan, window: Window) -> Iterator[ET.Element]:
    """Yield the board as groups, y downwards from its upper edge; what lies outside of a window is left out."""
    wide, high = plan.piece
    tall = plan.height
    outline = _group("outline", _INK, 0.35)
    _rect(outline, 0.0, 0.0, plan.width, tall)
    pieces, crosses, numbers = (
        _group("emitters", _SOFT, 0.2),
        _group("centres", _INK, 0.25),
        _group("numbers", "none", 0.0),
    )
    numbers.set("fill", _INK)
    for centre in plan.centres:
        x, y = centre.x, tall - centre.y
        left, top = x - wide / 2.0, y - high / 2.0
        if window.meets(left, top, left + wide, top + high):
            _rect(pieces, left, top, wide, high)
        if window.meets(x - ARM, y - ARM, x + ARM, y + ARM):
            cross = f"M{_n(x - ARM)} {_n(y)}H{_n(x + ARM)}M{_n(x)} {_n(y - ARM)}V{_n(y + ARM)}"
            ET.SubElement(crosses, "path", {"class": "centre", "d": cross})
            numbers.append(_words(str(centre.number), x + 1.2, y - 1.2, plan.lettering))
    wires = _group("wiring", _SOFT, 0.25)
    for line in plan.lines:
        xs, ys = [x for x, _ in line.points], [tall - y for _, y in line.points]
        if len(xs) > 1 and window.meets(min(xs), min(ys), max(xs), max(ys)):
            way = "L".join(f"{_n(x)} {_n(y)}" for x, y in zip(xs, ys, strict=True))
            ET.SubElement(wires, "path", {"d": f"M{way}", "stroke-dasharray": _DASHES[line.driver % len(_DASHES)]})
    yield from (outline, pieces, wires, crosses, numbers)
    x, y = plan.mass[0], tall - plan.mass[1]
    if window.meets(x - 2.0 * ARM, y - 2.0 * ARM, x + 2.0 * ARM, y + 2.0 * ARM):
        yield _mass(x, y)


def _mass(x: float, y: float) -> ET.Element:
    """Return the mark of the centre of mass: a ring with four spokes outside, so that a cross within stays clear."""
    group = _group("mass", _SOFT, 0.25)
    ET.SubElement(group, "circle", {"cx": _n(x), "cy": _n(y), "r": _n(1.5 * ARM)})
    near, far = 1.1 * ARM, 1.6 * ARM
    spokes = (
        f"M{_n(x + across * near)} {_n(y + down * near)}L{_n(x + across * far)} {_n(y + down * far)}"
        for across in (-1.0, 1.0)
        for down in (-1.0, 1.0)
    )
    ET.SubElement(group, "path", {"d": "".join(spokes)})
    return group


def ruler(x: float, y: float, upright: bool = False) -> Sequence[ET.Element]:
    """Return a ruler of 100 mm that begins at (x, y), to the right or downwards."""
    steps = []
    for at in range(0, int(RULER) + 1, 10):
        tick = 4.0 if at in {0, 50, int(RULER)} else 2.0
        steps.append(f"M{_n(x)} {_n(y + at)}h{_n(tick)}" if upright else f"M{_n(x + at)} {_n(y)}v{_n(-tick)}")
    end = f"M{_n(x)} {_n(y)}" + (f"v{_n(RULER)}" if upright else f"h{_n(RULER)}")
    group = _group("ruler-down" if upright else "ruler", _INK, 0.25)
    ET.SubElement(group, "path", {"class": "ruler", "d": end})
    ET.SubElement(group, "path", {"d": "".join(steps)})
    words = _words("100 mm", *((x + 5.5, y + 51.2) if upright else (x + 44.0, y + 4.6)), 3.5)
    return [group, words]


def _group(name: str, stroke: str, width: float) -> ET.Element:
    return ET.Element("g", {"class": name, "stroke": stroke, "stroke-width": _n(width), "fill": "none"})


def _rect(group: ET.Element, x: float, y: float, width: float, height: float) -> None:
    ET.SubElement(group, "rect", {"x": _n(x), "y": _n(y), "width": _n(width), "height": _n(height)})


def _words(text: str, x: float, y: float, size: float) -> ET.Element:
    words = ET.Element("text", {"x": _n(x), "y": _n(y), "font-size": _n(size), "fill": _INK, "stroke": "none"})
    words.text = text
    return words


def _n(value: float) -> str:
    return plain_number(value)
