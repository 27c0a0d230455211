"""Fronts made of given records, without a search; whether one build beats another is no matter to their page."""

from functools import lru_cache
from itertools import pairwise

from sheets import record_of

from optimise.report.front import AxisRecord, FrontRecord, PointRecord
from optimise.report.record_parts import FigureRecord

MASS = AxisRecord(name="mass", unit="kg", prefers="less", enough=None)
COST = AxisRecord(name="cost", unit="EUR", prefers="less", enough=None)
RUNTIME = AxisRecord(name="runtime", unit="h", prefers="more", enough=6.0)
LUX = AxisRecord(name="illuminance", unit="lx", prefers="more", enough=None)

FIGURES = (
    ("battery", 90.0, 1.1, 1.25, 120.0),
    ("battery", 95.5, 1.2, 1.5, 131.0),
    ("battery", 96.0, 1.9, 2.5, 150.0),
    ("strips", 120.0, 2.6, 3.0, 260.0),
    ("battery", 121.0, 2.7, 4.5, 265.0),
    ("strips", 180.25, 4.4, 5.75, 520.0),
    ("mains", 260.0, 6.0, None, 800.0),
)
"""Of each point: whose record, then cost, mass, hours and lux."""


@lru_cache(maxsize=2)
def front_of(*axes: AxisRecord) -> FrontRecord:
    """Return a front over some of the axes, by mass and cost at once."""
    points = []
    for name, cost, mass, hours, lux in FIGURES:
        values = {"cost": cost, "mass": mass, "runtime": hours, "illuminance": lux}
        record = record_of(name)
        named = {key: FigureRecord(value=values[key], unit=record.figures[key].unit) for key in values}
        record = record.model_copy(update={"figures": record.figures | named, "status": "feasible"})
        points.append(PointRecord(values={axis.name: values[axis.name] for axis in axes}, record=record))
    first = points[0].record
    assert all(one.record.figures["mass"] != other.record.figures["mass"] for one, other in pairwise(points))
    return FrontRecord(
        title=first.title,
        currency=first.currency,
        axes=list(axes),
        complete=True,
        points_found=len(points),
        points=points,
        knee=2,
        words=["Knee: point 3, as if."],
        solves=12,
        seconds=1.5,
        inputs=first.inputs,
    )
