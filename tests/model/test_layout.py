"""Layouts of boards: every emitter once, inside, apart, symmetric, and where the exact check counts it to be.

All parts are invented.
"""

import json
import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_parts import EMITTER, PANEL, SCENARIO, catalogue, choice

from optimise.model import fitting
from optimise.model.build import Build
from optimise.model.choice import ChannelChoice
from optimise.model.exact import build_of, evaluate
from optimise.model.layout import Layout, layout_of
from optimise.parts import Emitter, Panel
from optimise.report.layout import LayoutRecord, layout_lines, layout_record

quick = settings(max_examples=40, deadline=None)


def built(emitter: Emitter, panel: Panel, *channels: ChannelChoice) -> Build:
    parts = replace(catalogue(emitter), panels=(panel,))
    return build_of(replace(choice("p", None), channels=channels), parts)


@st.composite
def builds(draw: st.DrawFn) -> Build:
    """Return a build of a few kinds of channel that fits its board, whatever its drivers bear."""
    form = draw(st.sampled_from(["module", "strip", "tube"]))
    size = {"length": draw(st.floats(0.02, 0.6)), "width": draw(st.floats(0.01, 0.1))}
    emitter = EMITTER.model_copy(update={"form": form, **size})
    share = draw(st.floats(0.3, 1.0))
    sides = {"width": draw(st.floats(0.7, 1.5)) / math.sqrt(share), "height": draw(st.floats(0.2, 1.5))}
    panel = PANEL.model_copy(update={"usable": share, **sides})
    room = 40
    channels: list[ChannelChoice] = []
    for _ in range(draw(st.integers(1, 3))):
        series, parallel, number = (draw(st.integers(1, 4)) for _ in range(3))
        room -= series * parallel * number
        if room >= 0:
            channels.append(ChannelChoice("d", series, parallel, 0.1 * len(channels) + 0.1, number))
    return built(emitter, panel, *(channels or [ChannelChoice("d", 1, 1, 0.5, 1)]))


def outlines(build: Build, layout: Layout) -> tuple[np.ndarray, np.ndarray]:
    size = build.emitter.length, build.emitter.width
    return np.array(size if layout.lying else size[::-1]), np.column_stack([layout.x, layout.y])


@quick
@given(builds())
def test_pieces_lie_on_the_usable_part_of_the_board_and_none_on_another(build: Build) -> None:
    layout = layout_of(build)
    if layout is None:
        columns, rows = fitting.grid(build.emitter, build.panel)
        assert build.choice.emitters > columns * rows
        return
    piece, middle = outlines(build, layout)
    board = np.array([build.panel.width, build.panel.height])
    edge = board * (1.0 - math.sqrt(build.panel.usable)) / 2.0
    assert (middle - piece / 2 >= edge - 1e-9).all()
    assert (middle + piece / 2 <= board - edge + 1e-9).all()
    near = (np.abs(middle[:, None] - middle[None, :]) < piece - 1e-9).all(axis=2)
    assert near.sum() == len(middle)
    clear = np.array([layout.clearance_x, layout.clearance_y])
    assert (middle - piece / 2).min(axis=0) == pytest.approx(clear, abs=1e-12)
    assert (board - middle - piece / 2).min(axis=0)[0] == pytest.approx(clear[0], abs=1e-9)
    if layout.grid.symmetric:
        assert (board - middle - piece / 2).min(axis=0)[1] == pytest.approx(clear[1], abs=1e-9)
        turned = {tuple(np.round(place, 8) + 0.0) for place in board - middle}
        assert turned == {tuple(np.round(place, 8) + 0.0) for place in middle}


@quick
@given(builds())
def test_runs_are_those_of_the_choice_and_share_out_the_emitters(build: Build) -> None:
    layout = layout_of(build)
    if layout is None:
        return
    wanted = Counter[tuple[int, ...]]()
    for channel in build.choice.channels:
        wanted[(channel.series,) * channel.parallel] += channel.number
    assert Counter(tuple(len(s) for s in run.strings) for run in layout.runs) == wanted
    assert [run.number for run in layout.runs] == list(range(1, len(layout.runs) + 1))
    taken = [i for run in layout.runs for string in run.strings for i in string]
    assert sorted(taken) == list(range(build.choice.emitters))
    assert layout_of(build) is not layout
    again = layout_of(build)
    assert again is not None
    assert again.runs == layout.runs


@quick
@given(builds())
def test_a_wire_is_at_least_the_way_round_its_emitters(build: Build) -> None:
    layout = layout_of(build)
    if layout is None or build.emitter.form != "module":
        return
    for run in layout.runs:
        total = 0.0
        for string in run.strings:
            steps = np.hypot(np.diff(layout.x[list(string)]), np.diff(layout.y[list(string)]))
            total += float(steps.sum())
        for pole in (0, -1):
            ends = [string[pole] for string in run.strings]
            total += float(np.hypot(np.diff(layout.x[ends]), np.diff(layout.y[ends])).sum())
        back = min(math.hypot(layout.x[s[0]] - layout.x[s[-1]], layout.y[s[0]] - layout.y[s[-1]]) for s in run.strings)
        assert run.wire == pytest.approx(total + back, abs=1e-7)


def test_a_run_keeps_to_its_part_of_the_board() -> None:
    # Six drivers on 6 × 4. Of four each: along a row and back, or a square at its end; columns alone take more.
    small = EMITTER.model_copy(update={"length": 0.05, "width": 0.05})
    panel = PANEL.model_copy(update={"width": 0.6, "height": 0.4})
    layout = layout_of(built(small, panel, ChannelChoice("d", 4, 1, 0.5, 6)))
    assert layout is not None
    assert (layout.grid.columns, layout.grid.rows) == (6, 4)
    assert [run.wire for run in layout.runs] == pytest.approx([0.6, 0.4, 0.6, 0.6, 0.4, 0.6], rel=1e-9)
    # Of six each: up one column, down half the next, and straight back, less than along a row and back.
    layout = layout_of(built(small, panel, ChannelChoice("d", 6, 1, 0.5, 4)))
    assert layout is not None
    assert [run.wire for run in layout.runs] == pytest.approx([0.5 + math.hypot(0.1, 0.2)] * 4, rel=1e-9)


def test_tubes_lie_end_to_end() -> None:
    tube = EMITTER.model_copy(update={"form": "tube", "length": 0.6, "width": 0.04})
    panel = PANEL.model_copy(update={"width": 1.25, "height": 0.5})
    build = built(tube, panel, ChannelChoice("d", 1, 2, 0.5, 3))
    layout, record = layout_of(build), layout_record(build)
    assert layout is not None
    assert record is not None
    assert (layout.in_line, layout.grid.rows, layout.lying) == (2, 3, True)
    assert layout.grid.pitch_x == pytest.approx(0.625)
    assert layout.clearance_x == pytest.approx(0.0125)
    told = dict(layout_lines(record))
    assert told["Layout"].startswith("3 rows × 2 columns, 2 end to end; pitch 625 × 167 mm")
    # Two tubes side by side: a wire of 0.5 m / 3 at either end, and one back along a tube. The ballast in the middle
    # has two in line: 0.625 m from tube to tube for each pole, and back along one of them.
    assert told["Wiring"] == "d no. 1 0.93 m; d no. 2 1.85 m; d no. 3 0.93 m on the board"


@pytest.mark.parametrize("lying", [True, False])
@pytest.mark.parametrize(("number", "beam"), [(5, 60.0), (7, 120.0), (1, 20.0)])
def test_an_open_board_lights_as_the_places_in_its_record_say(number: int, beam: float, lying: bool) -> None:
    # Each piece as 400 points along its length, by the inverse-square and cosine law, in a plain loop.
    size = (0.12, 0.05) if lying else (0.05, 0.12)
    emitter = EMITTER.model_copy(update={"beam": beam, "length": max(size), "width": min(size)})
    sides = {"width": 0.5, "height": 0.36} if lying else {"width": 0.36, "height": 0.5}
    panel = PANEL.model_copy(update={"usable": 0.8, **sides})
    build = built(emitter, panel, ChannelChoice("d", 1, 1, 0.5, number))
    record = layout_record(build)
    assert record is not None
    record = LayoutRecord.model_validate(json.loads(record.model_dump_json()))
    evaluation = evaluate(build.choice, replace(catalogue(emitter), panels=(panel,)), SCENARIO)
    flux = evaluation.figures["luminous_flux"][0]
    assert flux is not None
    exponent = math.log(0.5) / math.log(math.cos(math.radians(beam / 2)))
    distance, lux, count = SCENARIO.light.distance, 0.0, 0
    for run in record.runs:
        for string in run.strings:
            for x, y in zip(string.x, string.y, strict=True):
                count += 1
                for k in range(400):
                    along = record.length * ((k + 0.5) / 400 - 0.5)
                    u = x - record.width / 2 + (along if record.along == "width" else 0.0)
                    v = y - record.height / 2 + (0.0 if record.along == "width" else along)
                    square = u * u + v * v + distance * distance
                    cosine = distance / math.sqrt(square)
                    lux += (exponent + 1) / (2 * math.pi) * cosine ** (exponent + 1) / square / 400
    assert count == number
    assert evaluation.lux == pytest.approx(flux * lux / number, rel=1e-6)
