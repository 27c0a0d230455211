"""Colours of the sheet can be told apart: contrast by WCAG 2.2, level AA, on screen (light and dark) and on paper.

Source: WCAG 2.2, success criteria 1.4.3 (text, 4.5 to 1) and 1.4.11 (what a drawing needs, 3 to 1), with its
definitions of contrast ratio and relative luminance (the formula and both figures from memory).
"""

import re
from pathlib import Path

import pytest

from optimise.report import drawing

CSS = (Path(drawing.__file__).parent / "sheet" / "templates" / "sheet.css").read_text(encoding="utf-8")


def palettes() -> dict[str, dict[str, str]]:
    """Return the colours of the style sheet by scheme: those of the dark one over those of the light one."""
    blocks = re.findall(r":root \{(.*?)\}", CSS, flags=re.DOTALL)
    read = [dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", block)) for block in blocks]
    return {"light": read[0], "dark": read[0] | read[1], "paper": read[0] | read[2]}


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_measure_itself() -> None:
    # By the definition, black on white is 21 to 1 and a colour on itself 1 to 1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == pytest.approx(1.0)


@pytest.mark.parametrize("scheme", ["light", "dark", "paper"])
def test_text_and_drawings_stand_out(scheme: str) -> None:
    colours = palettes()[scheme]
    for ground in ("paper", "card", "piece", "part", "alert"):
        assert contrast(colours["ink"], colours[ground]) >= 4.5, ground
    for ground in ("paper", "card", "piece"):
        assert contrast(colours["soft"], colours[ground]) >= 4.5, ground
        for line in ("accent", "warm", "plus", "minus", "earth"):
            assert contrast(colours[line], colours[ground]) >= 3.0, (line, ground)
    assert contrast(colours["accent"], colours["paper"]) >= 4.5  # links
    assert contrast(colours["accent"], colours["faint"]) >= 3.0  # a bar on its track


def test_shapes_on_paper_have_the_colours_of_the_screen() -> None:
    light = palettes()["light"]
    for look, name in (("line", "ink"), ("curve", "accent"), ("plus", "plus"), ("minus", "minus"), ("earth", "earth")):
        assert drawing.LOOKS[look]["stroke"] == light[name]
    assert contrast(drawing.LOOKS["second"]["stroke"], "#ffffff") >= 3.0
    # What is told by colour is told by dashes too.
    dashes = {look: drawing.LOOKS[look].get("stroke-dasharray") for look in ("curve", "second", "third")}
    assert len(set(dashes.values())) == 3
    assert len({drawing.LOOKS[look].get("stroke-dasharray") for look in ("plus", "minus", "earth")}) == 3
