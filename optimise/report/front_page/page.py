"""The page of a front: the figures traded as a picture to pick from, every build with its bill and margins, a table."""

from itertools import combinations
from typing import Any

from optimise import __version__
from optimise.report.front import FrontRecord, PointRecord, cell, headline, hours, thinning
from optimise.report.front_page.chart import caption, front_chart
from optimise.report.pages import asset, environment, policy, signed
from optimise.report.record import Record
from optimise.report.record_parts import ChoiceRecord
from optimise.report.sheet import margins
from optimise.report.sheet.shopping import shops_of
from optimise.report.terminal import label, number

_HOME = "optimise.report.front_page"

HEADS = ("cost", "mass", "power", "runtime", "illuminance", "above_target", "board_temperature", "colour_temperature")
"""Figures at the head of each build, besides those traded, and compared between two."""


def front_page(front: FrontRecord) -> str:
    """Return a front as one HTML page; the same front gives the same page, byte for byte, however long it took."""
    style = asset("optimise.report.sheet", "sheet.css") + asset(_HOME, "front.css")
    script = asset(_HOME, "front.js")
    pairs = list(combinations(range(len(front.axes)), 2)) if front.points else []
    return (
        environment(_HOME)
        .get_template("front.html.jinja")
        .render(
            title=front.title,
            headline=headline(front),
            thinning=thinning(front) if len(front.points) < front.points_found else "",
            words=front.words,
            notes=front.notes,
            currency=front.currency,
            axes=[{"name": axis.name.replace("_", " "), "unit": axis.unit} for axis in front.axes],
            enough=[
                (axis.name.replace("_", " "), cell(axis, axis.enough, front.currency))
                for axis in front.axes
                if axis.enough is not None
            ],
            charts=[
                {
                    "key": f"chart-{place}",
                    "caption": caption(front, pair),
                    "drawing": front_chart(front, f"c{place}", pair),
                }
                for place, pair in enumerate(pairs, 1)
            ],
            points=[_point(front, place, point) for place, point in enumerate(front.points)],
            steps="On the better side of the steps there is no build."
            if front.complete and len(front.points) == front.points_found
            else "On the better side of the steps there may be others.",
            knee=None if front.knee is None else front.knee + 1,
            solves=front.solves,
            inputs=front.inputs,
            version=__version__,
            style=style,
            script=script,
            policy=policy(style, script),
        )
    )


def _point(front: FrontRecord, place: int, point: PointRecord) -> dict[str, Any]:
    """Return everything that the page shows of one build."""
    record, choice = point.record, point.record.choice
    assert choice is not None
    shops, total = shops_of(record.bill, record.orders)
    traded = [cell(axis, point.values[axis.name], front.currency) for axis in front.axes]
    return {
        "number": place + 1,
        "knee": place == front.knee,
        "traded": [(axis.name.replace("_", " "), value) for axis, value in zip(front.axes, traded, strict=True)],
        "figures": _figures(front, point, record),
        "choice": choice,
        "parts": _parts(choice),
        "shops": shops,
        "total": total,
        "margins": margins.rows_of(record.margins, record.currency),
        "cautions": record.cautions,
        "notes": record.notes,
    }


def _figures(front: FrontRecord, point: PointRecord, record: Record) -> list[dict[str, str]]:
    """Return name, text, value and unit of the figures at the head: those traded first."""
    found: list[dict[str, str]] = []
    for axis in front.axes:
        value = point.values[axis.name]
        shown = cell(axis, value, front.currency)
        plain = "" if value is None else f"{value:.12g}"
        found.append({"name": axis.name.replace("_", " "), "text": shown, "value": plain, "unit": axis.unit})
    names = {axis.name for axis in front.axes}
    for name in HEADS:
        figure = record.figures.get(name)
        if name not in names and figure is not None and figure.value is not None:
            shown, unit = _shown(figure.value, figure.unit, front.currency)
            found.append({"name": label(name, record), "text": shown, "value": f"{figure.value:.12g}", "unit": unit})
    return found


def _shown(value: float, unit: str, currency: str) -> tuple[str, str]:
    """Return a figure as people say it, and the unit of a difference of two."""
    if unit == "h":
        return hours(value * 3600.0), unit
    if unit == "stop":
        return f"{signed(value, 2)} stop", unit
    return number(value, unit, currency), "K" if unit == "degC" else unit


def _parts(choice: ChoiceRecord) -> list[tuple[str, str, str]]:
    """Return what each part is for, how many, and its code."""
    found = [("emitters", f"{pieces} × ", code) for code, pieces in choice.pieces.items()]
    for channel in choice.channels:
        load = f"{channel.series} in series × {channel.parallel} in parallel"
        load = f"{load} at {number(channel.current, 'A')}" if channel.current > 0 else f"{channel.parallel} lamps"
        what = f"{'driver' if channel.current > 0 else 'ballast'}, each with {load}"
        found.append((what, f"{channel.number} × ", channel.driver))
    found.append(("panel", "", choice.panel))
    found += [("diffuser", "", code) for code in choice.codes_of_sheets]
    if choice.battery is not None:
        pack = f"battery, {choice.battery_series} in series × {choice.battery_parallel} in parallel"
        found.append((pack, f"{choice.battery_series * choice.battery_parallel} × ", choice.battery))
    found += [("lead", "", choice.cable), ("fuse, at the source", "", choice.fuse), ("connector", "", choice.connector)]
    if choice.mount is not None:
        found.append(("mount", "", choice.mount))
    return found
