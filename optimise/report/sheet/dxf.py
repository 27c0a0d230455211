"""The board as a DXF drawing, by ezdxf: units of mm, origin at the lower left corner, seen from the front."""

import io
from collections.abc import Callable
from typing import Any

from optimise.report.sheet.plan import ARM, Plan

Drafter = Callable[[Plan], str]

LAYERS = {"OUTLINE": 7, "EMITTERS": 8, "CENTRES": 1, "NUMBERS": 7, "WIRING": 5, "MASS": 3}
"""The layers, each with a colour of the standard's index."""

_MM = 4
"""Millimetres, as the header's $INSUNITS counts them."""


class NoDrafterError(RuntimeError):
    """The library that writes DXF is missing."""


def drafter() -> Drafter:
    """Return what makes a DXF of a plan. Raises `NoDrafterError`."""
    try:
        import ezdxf
    except ImportError:
        raise NoDrafterError("a DXF takes ezdxf: pip install 'rushlight[drawing]'.") from None
    return lambda plan: _drafted(ezdxf, plan)


def _drafted(ezdxf: Any, plan: Plan) -> str:
    """Return a drawing as text; the same plan gives the same text.

    A centre is a point, not a circle: no record states what is drilled there. Headers ask viewers for a cross.
    """
    # Times and random identities would make each file another one; the library's option for fixed ones is global.
    options, name = ezdxf.options, "write_fixed_meta_data_for_testing"
    before = getattr(options, name)
    setattr(options, name, True)
    try:
        drawing = ezdxf.new("R2010", units=_MM)
        _fill(drawing, plan)
        # The library adds the classes in use from a set, in the order of their hashes, after those that are there.
        for name_of_class in sorted(drawing.entitydb.dxf_types_in_use()):
            drawing.classes.add_class(name_of_class)
        written = io.StringIO()
        drawing.write(written)
    finally:
        setattr(options, name, before)
    return written.getvalue()


def _fill(drawing: Any, plan: Plan) -> None:
    header = drawing.header
    header["$MEASUREMENT"] = 1
    header["$PDMODE"] = 2
    header["$PDSIZE"] = 2.0 * ARM
    header["$EXTMIN"] = (0.0, 0.0, 0.0)
    header["$EXTMAX"] = (plan.width, plan.height, 0.0)
    for name, colour in LAYERS.items():
        drawing.layers.add(name, color=colour)
    space = drawing.modelspace()
    _rectangle(space, "OUTLINE", 0.0, 0.0, plan.width, plan.height)
    wide, high = plan.piece
    for centre in plan.centres:
        left, low = centre.x - wide / 2.0, centre.y - high / 2.0
        _rectangle(space, "EMITTERS", left, low, left + wide, low + high)
    for line in plan.lines:
        if len(line.points) > 1:
            space.add_lwpolyline(line.points, dxfattribs={"layer": "WIRING"})
    for centre in plan.centres:
        space.add_point((centre.x, centre.y), dxfattribs={"layer": "CENTRES"})
        place = (centre.x + 1.2, centre.y + 1.2)
        given = {"layer": "NUMBERS", "height": plan.lettering, "insert": place}
        space.add_text(str(centre.number), dxfattribs=given)
    x, y = plan.mass
    space.add_circle((x, y), 1.5 * ARM, dxfattribs={"layer": "MASS"})


def _rectangle(space: Any, layer: str, left: float, low: float, right: float, high: float) -> None:
    corners = [(left, low), (right, low), (right, high), (left, high)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
