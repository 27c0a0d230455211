"""Drawings as SVG: shapes with a class for the page and colours of their own for a printer that knows no classes.

Only marks and numbers of this program stand in drawings: what users write stands in the tables beside them.
"""

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from markupsafe import Markup

from optimise.report.page_text import minus

INK, SOFT, FAINT, ACCENT, WARM, PAPER = "#1c2426", "#515c5e", "#d5dad6", "#0b5d6b", "#a3480f", "#ffffff"

LOOKS: dict[str, dict[str, str]] = {
    "line": {"stroke": INK, "stroke-width": "1.6", "fill": "none"},
    "thin": {"stroke": INK, "stroke-width": "0.8", "fill": "none"},
    "grid": {"stroke": FAINT, "stroke-width": "0.8", "fill": "none"},
    "curve": {"stroke": ACCENT, "stroke-width": "2.4", "fill": "none"},
    "second": {"stroke": WARM, "stroke-width": "2", "fill": "none", "stroke-dasharray": "7 4"},
    "third": {"stroke": SOFT, "stroke-width": "1.6", "fill": "none", "stroke-dasharray": "2 3"},
    "mark": {"stroke": WARM, "stroke-width": "1.6", "fill": "none"},
    "plus": {"stroke": "#9c2a1e", "stroke-width": "2", "fill": "none"},
    "minus": {"stroke": "#22436b", "stroke-width": "2", "fill": "none", "stroke-dasharray": "7 4"},
    "earth": {"stroke": "#2f6b2a", "stroke-width": "2", "fill": "none", "stroke-dasharray": "2 4"},
    "piece": {"stroke": INK, "stroke-width": "1.2", "fill": "#eef1ec"},
    "part": {"stroke": INK, "stroke-width": "1.2", "fill": "#f4ecd8"},
    "dot": {"stroke": "none", "fill": INK},
    "hot": {"stroke": PAPER, "stroke-width": "1.5", "fill": WARM},
    "spot": {"stroke": PAPER, "stroke-width": "1.5", "fill": ACCENT},
    "bar": {"stroke": "none", "fill": ACCENT},
    "track": {"stroke": "none", "fill": FAINT},
    "label": {"fill": INK, "stroke": "none"},
    "small": {"fill": SOFT, "stroke": "none"},
    "halo": {"fill": INK, "stroke": "none"},
}
"""What each class of shape looks like on paper; the page's style sheet says what it is in the dark."""

SIZE = 14.0
"""Of lettering, in units of a drawing."""


def plain_number(value: float) -> str:
    """Return a coordinate with three decimals at most, and no negative zero."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def mm(metres: float, unit: str = " mm") -> str:
    """Return a length in mm, to a tenth, with its unit."""
    return f"{plain_number(round(metres * 1000.0, 1))}{unit}"


@dataclass
class Drawing:
    """One picture of width × height units; `key` begins the identities that it uses."""

    key: str
    width: float
    height: float
    title: str
    description: str
    root: ET.Element = field(init=False)

    def __post_init__(self) -> None:
        self.root = ET.Element(
            "svg",
            {
                "viewBox": f"0 0 {plain_number(self.width)} {plain_number(self.height)}",
                "role": "img",
                "aria-labelledby": f"{self.key}-t {self.key}-d",
                "class": "drawing",
            },
        )
        ET.SubElement(self.root, "title", {"id": f"{self.key}-t"}).text = self.title
        ET.SubElement(self.root, "desc", {"id": f"{self.key}-d"}).text = self.description

    def add(self, tag: str, look: str, **given: float | str) -> ET.Element:
        """Add a shape of a look of `LOOKS`; underscores in names of attributes are dashes."""
        named = {k.rstrip("_").replace("_", "-"): _text(v) for k, v in given.items()}
        return ET.SubElement(self.root, tag, {"class": f"s-{look}", **LOOKS[look], **named})

    def line(self, look: str, x1: float, y1: float, x2: float, y2: float) -> None:
        """Add a straight line."""
        self.add("path", look, d=f"M{_text(x1)} {_text(y1)}L{_text(x2)} {_text(y2)}")

    def path(self, look: str, points: Iterable[tuple[float, float]], closed: bool = False) -> None:
        """Add a line through points."""
        steps = "L".join(f"{_text(x)} {_text(y)}" for x, y in points)
        if steps:
            self.add("path", look, d=f"M{steps}{'Z' if closed else ''}", stroke_linejoin="round")

    def rect(self, look: str, x: float, y: float, width: float, height: float, radius: float = 0.0) -> None:
        """Add a rectangle by its corner at the top left."""
        rounded: dict[str, float | str] = {"rx": radius} if radius else {}
        self.add("rect", look, x=x, y=y, width=width, height=height, **rounded)

    def circle(self, look: str, x: float, y: float, radius: float) -> None:
        """Add a circle."""
        self.add("circle", look, cx=x, cy=y, r=radius)

    def words(
        self, text: str, x: float, y: float, anchor: str = "start", look: str = "label", size: float = SIZE
    ) -> None:
        """Add lettering; y is its base line."""
        self.add("text", look, x=x, y=y, text_anchor=anchor, font_size=size).text = minus(text)

    def upright_words(self, text: str, x: float, y: float, look: str = "small") -> None:
        """Add lettering that runs upwards, its middle at (x, y)."""
        turned = f"rotate(-90 {_text(x)} {_text(y)})"
        self.add("text", look, x=x, y=y, text_anchor="middle", font_size=SIZE, transform=turned).text = text

    def markup(self) -> Markup:
        """Return it as markup to stand in a page."""
        return Markup(ET.tostring(self.root, encoding="unicode"))


def _text(value: float | str) -> str:
    return value if isinstance(value, str) else plain_number(float(value))


def bar(share: float) -> Markup:
    """Return a bar of which a share is filled; it says nothing by itself: the number stands beside it."""
    filled = 100.0 * min(max(share, 0.0), 1.0)
    root = ET.Element(
        "svg",
        {"viewBox": "0 0 100 10", "class": "bar", "aria-hidden": "true", "preserveAspectRatio": "none"},
    )
    for look, width in (("track", 100.0), ("bar", filled)):
        shape = {"class": f"s-{look}", **LOOKS[look], "x": "0", "y": "0", "height": "10"}
        ET.SubElement(root, "rect", {**shape, "width": plain_number(width)})
    ET.SubElement(root, "path", {"class": "s-line", **LOOKS["line"], "d": "M99 0L99 10"})
    return Markup(ET.tostring(root, encoding="unicode"))


def even_steps(low: float, high: float, most: int = 6) -> Sequence[float]:
    """Return round numbers from low to high, at most so many and one: steps of 1, 2 or 5 of a power of ten."""
    span = max(high - low, 1e-12)
    power = 10.0 ** _floor_log10(span / most)
    step = next(power * factor for factor in (1.0, 2.0, 5.0, 10.0) if span / (power * factor) <= most)
    first = int(-(-low // step))
    last = int((high + step * 1e-9) // step)
    return [round(number * step, 12) for number in range(first, last + 1)]


def _floor_log10(value: float) -> int:
    return int(f"{value:e}".split("e")[1])
