"""What is known of the light of two kinds without any spectrum: rules, whites, and blanks where nothing is known."""

import numpy as np
import pytest
from plain_parts import EMITTER, SHEETS

from optimise.model.mixture import (
    Mixture,
    light_of_kinds,
    mix_margins,
    one_beam,
    source_of,
    spectrum_of,
    white_of,
)
from optimise.parts import Diffuser, Emitter
from optimise.parts.colour import FIGURES
from optimise.physics.whites import temperature_and_duv, white
from optimise.scenario.model import Look

CLOTH, FILM = SHEETS


def kind(**figures: object) -> Emitter:
    return EMITTER.model_copy(update={"cct": 4000.0, "duv": None, **figures})


def test_what_a_chromaticity_rests_on() -> None:
    assert source_of(kind()) == "locus"
    assert source_of(kind(duv=0.0)) == "stated"
    assert source_of(kind(duv=-0.003)) == "stated"
    assert source_of(kind(cct=None)) is None
    assert white_of(kind(cct=None)) is None
    for duv in (None, 0.0, 0.004):
        assert white_of(kind(duv=duv)) == pytest.approx(white(4000.0, duv or 0.0).tolist(), rel=1e-12)
    # The two ways there and back again (a lumen has Y = 1).
    x, y, z = white_of(kind(duv=0.004)) or (0.0, 0.0, 0.0)
    assert y == pytest.approx(1.0)
    assert temperature_and_duv(np.array([x, y, z])).tolist() == pytest.approx([4000.0, 0.004], rel=1e-4)


@pytest.mark.parametrize(
    ("kinds", "sheet", "alike"),
    [
        ((kind(), kind(cct=5600.0)), None, False),
        ((kind(), kind(cct=5600.0)), CLOTH, True),
        ((kind(), kind(cct=5600.0)), FILM, True),
        ((kind(), kind(beam=60.0)), CLOTH, True),
        ((kind(), kind(beam=60.0)), FILM, False),
        ((kind(), kind(back=0.2)), CLOTH, False),
        ((kind(back=0.2), kind(back=0.2)), CLOTH, True),
        ((kind(), kind()), CLOTH.model_copy(update={"mired_shift": 1.0}), False),
        ((kind(), kind()), CLOTH.model_copy(update={"mired_shift": -1.0}), False),
        ((kind(), kind(), kind(beam=60.0)), FILM, False),
    ],
)
def test_kinds_leave_alike_where_nothing_of_their_beams_is_left(
    kinds: tuple[Emitter, ...], sheet: Diffuser | None, *, alike: bool
) -> None:
    assert one_beam(kinds, sheet) is alike
    one, beam = mix_margins(kinds, sheet, 2)
    assert (one.required, one.achieved, one.holds) == (2, len(kinds), len(kinds) <= 2)
    assert beam.holds is alike


def test_a_light_of_one_kind_has_no_such_margins_and_the_figures_of_its_kind() -> None:
    assert list(mix_margins((kind(),), CLOTH, 1)) == []
    assert not isinstance(light_of_kinds((kind(),), (100.0,), Look()), Mixture)
    assert light_of_kinds((kind(),), (100.0,), Look())["cct"] == 4000.0
    assert isinstance(light_of_kinds((kind(), kind(cct=5600.0)), (1.0, 2.0), Look()), Mixture)


def test_the_white_of_a_mixture_is_that_of_the_sum() -> None:
    pair = kind(cct=3000.0, duv=0.002), kind(cct=6000.0, duv=-0.001)
    for first, second in ((1.0, 0.0), (0.0, 3.0), (200.0, 300.0)):
        mixture = Mixture(pair, (first, second), None)
        whole = first * np.array(white_of(pair[0])) + second * np.array(white_of(pair[1]))
        cct, duv = temperature_and_duv(whole).tolist()
        assert mixture["cct"] == pytest.approx(cct)
        assert mixture["duv"] == pytest.approx(duv)
    assert Mixture(pair, (1.0, 0.0), None)["cct"] == pytest.approx(3000.0, rel=1e-4)
    assert list(mixture) == [*FIGURES, "ssi"]
    assert len(mixture) == len(list(mixture))


def test_what_is_not_known_is_blank() -> None:
    dark = Mixture((kind(), kind(cct=5600.0)), (0.0, 0.0), None)
    unknown = Mixture((kind(), kind(cct=None)), (1.0, 1.0), "daylight")
    # Far from any white: a figure that is no number is none.
    odd = Mixture((kind(cct=2000.0, duv=0.05), kind(cct=2000.0, duv=0.05)), (1.0, 1.0), None)
    for mixture in (dark, unknown):
        assert [mixture[figure] for figure in ("cct", "duv")] == [None, None]
    assert odd["cct"] is None or np.isfinite(odd["cct"])
    for mixture in (dark, unknown, Mixture((kind(), kind()), (1.0, 1.0), "daylight")):
        assert [mixture[figure] for figure in ("cri", "r9", "ssi")] == [None] * 3
    assert spectrum_of((kind(), kind()), (1.0, 2.0)) is None
    assert spectrum_of((), ()) is None
