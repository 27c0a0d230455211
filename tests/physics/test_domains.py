"""Nothing of physics is silently infinite or no number: at the edges of its domain every public function is called.

It gives a finite answer, raises ValueError, or its docstring says where it is infinite or NaN. A new public function
must be listed in `domains.SOUND`.
"""

import inspect
import warnings
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from itertools import combinations
from random import Random
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike
from physics.domains import SOUND, public_functions

from optimise.physics.intensity import MeasuredBeam

FEW = (0.0, 1e-300, 1e300, -1.0, np.nan)
ALL = (*FEW, 1e-30, 1e30, -1e300, np.inf, 1.0, 90.0)
WHOLE = (0, -1, 1)
SLOW = {
    "distributions.share_behind",
    "dots.depth_for",
    "dots.measured_light",
    "scattering.narrowed",
    "scattering.scattered",
}
"""Looked at with the many alone."""

FUNCTIONS = public_functions()


def finite(value: Any) -> bool:
    """Whether all numbers within are finite."""
    if isinstance(value, float | np.floating | np.ndarray):
        array = np.asarray(value)
        return array.dtype.kind != "f" or bool(np.isfinite(array).all())
    if isinstance(value, MeasuredBeam):
        return finite(value.flux) and finite(value.peak)
    if isinstance(value, tuple | list):
        return all(finite(part) for part in value)
    if isinstance(value, dict):
        return finite(list(value.values()))
    return not is_dataclass(value) or all(finite(getattr(value, part.name)) for part in fields(value))


def extremes(value: Any, numbers: tuple[float, ...]) -> Iterator[Any]:
    """Yield what stands in for a sound argument: extremes in place of each of its numbers; none where it has none."""
    if isinstance(value, bool) or value is None:
        return
    if isinstance(value, int):
        yield from WHOLE
    elif isinstance(value, float):
        yield from numbers
    elif isinstance(value, np.ndarray) and value.dtype.kind == "f":
        yield value[:0]
        for number in numbers:
            one = value.copy()
            one.flat[0] = number
            yield one
            yield np.full_like(value, number)
    elif isinstance(value, tuple) and value and isinstance(value[0], float):
        for place in range(len(value)):
            yield from ((*value[:place], number, *value[place + 1 :]) for number in numbers)
    elif isinstance(value, tuple) and value and isinstance(value[0], tuple):
        yield from ((first, *value[1:]) for first in extremes(value[0], numbers))


def check(name: str, arguments: dict[str, Any]) -> str:
    """Assert that a call is sound, and return what became of it."""
    function = FUNCTIONS[name]
    said = inspect.getdoc(inspect.unwrap(function)) or ""
    told = {key: value for key, value in arguments.items() if key not in {"self", "table"}}
    try:
        # What is too small to be told from 0 is 0: that alone is no fault.
        with np.errstate(all="raise", under="ignore"), warnings.catch_warnings():
            warnings.simplefilter("error")
            found = function(**arguments)
    except ValueError:
        assert "ValueError" in said or "raises" in said, f"{name} does not say that it raises, at {told}"
        return "refused"
    except Exception as fault:
        raise AssertionError(f"{name} at {told}: {type(fault).__name__}: {fault}") from fault
    if not finite(found):
        stated = any(word in said for word in ("infinite", "NaN", "not a number"))
        assert stated, f"{name} at {told} is {found}, and its docstring does not say so"
        return "stated"
    return "finite"


def test_every_public_function_is_listed() -> None:
    assert set(SOUND) == set(FUNCTIONS)
    assert set(SOUND) > SLOW


@pytest.mark.parametrize("name", sorted(set(SOUND) - SLOW))
def test_at_the_edges_of_its_domain_a_function_is_finite_or_says_so(name: str) -> None:
    sound = dict(SOUND[name])
    assert check(name, sound) == "finite"
    for argument, value in sound.items():
        for extreme in extremes(value, FEW):
            check(name, {**sound, argument: extreme})


def test_an_array_without_an_element_has_an_answer_without_one() -> None:
    answered = 0
    for name, sound in SOUND.items():
        for argument, parameter in inspect.signature(FUNCTIONS[name]).parameters.items():
            if parameter.annotation != ArrayLike or not isinstance(sound.get(argument), float):
                continue
            empty = {**sound, argument: np.zeros(0)}
            if check(name, empty) == "finite":
                found = FUNCTIONS[name](**empty)
                parts = found if isinstance(found, tuple) else (found,)
                assert min(np.size(part) for part in parts) == 0, name
                answered += 1
    assert answered >= 100


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(SOUND))
def test_with_two_extremes_at_once_a_function_is_finite_or_says_so(name: str) -> None:
    sound, rng = dict(SOUND[name]), Random(name)
    given = {argument: list(extremes(value, ALL)) for argument, value in sound.items()}
    calls = [{argument: extreme} for argument, those in given.items() for extreme in those]
    for first, second in combinations(given, 2):
        calls += [{first: one, second: other} for one in given[first] for other in given[second]]
    ends = [check(name, {**sound, **call}) for call in rng.sample(calls, min(len(calls), 300))]
    assert ends or not any(given.values())
