"""What nothing beats, against a plain loop over all pairs."""

import numpy as np
import pytest

from optimise.parts.beaten import first_unbeaten, first_unbeaten_of, unbeaten


@pytest.mark.parametrize("number", range(8))
def test_what_stays_is_what_no_other_can_replace(number: int) -> None:
    rng = np.random.default_rng(number)
    figures = rng.integers(0, 3, size=(rng.integers(0, 14), 3))
    covers = (figures[:, None, :] <= figures[None, :, :]).all(axis=2)
    rows = range(len(figures))
    # Beaten: by one that is better in some figure, or by an equal one before it.
    stays = [not any(covers[i, j] and (not covers[j, i] or i < j) for i in rows if i != j) for j in rows]
    assert first_unbeaten(covers).tolist() == stays
    for block in (1, 3, 1024):
        found = first_unbeaten_of(len(figures), lambda i, j: covers[np.ix_(i, j)], block)
        assert found.tolist() == stays
    assert unbeaten(figures.astype(np.float64)).tolist() == np.flatnonzero(stays).tolist()
