"""What is known of the light of two kinds without any spectrum: rules, whites, and blanks where nothing is known."""

from random import Random

import numpy as np
import pytest
from plain_parts import EMITTER, SHEETS
from random_catalogues import random_table

from optimise.model import mixture
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
from optimise.parts.spectrum_files import Spectrum
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
        light = Mixture(pair, (first, second), None)
        whole = first * np.array(white_of(pair[0])) + second * np.array(white_of(pair[1]))
        cct, duv = temperature_and_duv(whole).tolist()
        assert light["cct"] == pytest.approx(cct)
        assert light["duv"] == pytest.approx(duv)
    assert Mixture(pair, (1.0, 0.0), None)["cct"] == pytest.approx(3000.0, rel=1e-4)
    assert list(light) == [*FIGURES, "ssi"]
    assert len(light) == len(list(light))


def test_what_is_not_known_is_blank() -> None:
    dark = Mixture((kind(), kind(cct=5600.0)), (0.0, 0.0), None)
    unknown = Mixture((kind(), kind(cct=None)), (1.0, 1.0), "daylight")
    for light in (dark, unknown):
        assert [light[figure] for figure in ("cct", "duv")] == [None, None]
    for light in (dark, unknown, Mixture((kind(), kind()), (1.0, 1.0), "daylight")):
        assert [light[figure] for figure in ("cri", "r9", "ssi")] == [None] * 3
    assert spectrum_of((kind(), kind()), (1.0, 2.0)) is None
    assert spectrum_of((), ()) is None


def test_far_from_any_white_there_is_no_hue(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mixture, "temperature_and_duv", lambda xyz: np.array([np.nan, np.nan]))
    light = Mixture((kind(), kind(cct=5600.0)), (1.0, 1.0), None)
    assert [light["cct"], light["duv"]] == [None, None]


def test_measured_beams_are_alike_where_a_sheet_leaves_nothing_of_them() -> None:
    table = random_table(Random(3))
    pair = kind().beaming(table), kind(cct=5600.0).beaming(table)
    assert one_beam(pair, CLOTH)
    assert not one_beam(pair, FILM)


def test_quality_is_that_of_the_summed_spectrum_where_both_are_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is handed to the library of colour, which need not be there."""
    spectra = [Spectrum(f"{name}.csv", name, (400.0, 700.0), (1.0, 2.0)) for name in "ab"]
    pair = tuple(kind(part=name).shining(each) for name, each in zip("ab", spectra, strict=True))
    unknown = {"c"}
    monkeypatch.setattr(mixture, "worked_out", lambda emitter: emitter.part not in unknown)
    monkeypatch.setattr(mixture, "mixed_spectrum", lambda lights: ("sum", tuple(lights)))
    monkeypatch.setattr(mixture, "figure_of_spectrum", lambda spectrum, figure: (spectrum, figure))
    monkeypatch.setattr(mixture, "spectral_similarity", lambda spectrum, reference: (spectrum, reference))
    summed = "sum", ((spectra[0], 0.1), (spectra[1], 0.2))
    assert spectrum_of(pair, (0.1, 0.2)) == summed
    assert spectrum_of(pair, (0.0, 0.0)) is None
    assert spectrum_of((pair[0], kind(part="b")), (0.1, 0.2)) is None
    assert spectrum_of((pair[0], pair[1].model_copy(update={"part": "c"})), (0.1, 0.2)) is None
    light = Mixture(pair, (0.1, 0.2), "daylight")
    assert light["cri"] == (summed, "cri")
    assert light["ssi"] == (summed, "daylight")
    assert Mixture(pair, (0.1, 0.2), None)["ssi"] is None
    assert Mixture(pair, (0.1, 0.2), None)["rf"] == (summed, "rf")
    assert Mixture(pair, (0.0, 0.0), "daylight")["ssi"] is None
    assert Mixture(pair, (0.0, 0.0), "daylight")["cri"] is None
