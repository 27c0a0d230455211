"""Files of the same name are told apart; any name makes a file name of its own."""

import os
import string
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise.studies.naming import LONGEST, record_names, short_names

SAFE = set(string.ascii_letters + string.digits + "._-")


def test_a_name_is_as_short_as_it_can_be() -> None:
    paths = [Path("/jobs/may/kiln.toml"), Path("/jobs/june/kiln.toml"), Path("/jobs/may/pier.toml")]
    assert short_names(paths) == ["may/kiln", "june/kiln", "pier"]


def test_a_name_does_not_tell_where_all_of_it_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ends = [Path("a/x/job.toml"), Path("b/x/job.toml"), Path("c/job.toml"), Path("other.toml")]
    monkeypatch.chdir(tmp_path)
    assert (
        short_names(ends) == short_names([tmp_path / end for end in ends]) == ["a/x/job", "b/x/job", "c/job", "other"]
    )


def test_only_the_ending_tells_some_apart() -> None:
    assert short_names([Path("/a/job.toml"), Path("/a/job")]) == ["job.toml", "job"]


@pytest.mark.skipif(os.name != "posix", reason="names are bytes on POSIX alone")
def test_signs_that_are_no_text_are_shown_as_escapes() -> None:
    names = short_names([Path(os.fsdecode(b"/a/\xff\xe9.toml")), Path("/a/x\n\x1b[31m.toml"), Path("/a/ö.toml")])
    assert names == [r"\xff\xe9", r"x\n\x1b[31m", "ö"]
    alike = short_names([Path(os.fsdecode(b"/a/\xff")), Path(r"/a/\xff"), Path("/a/\n"), Path(r"/a/\n")])
    assert len(set(alike)) == 4


@given(
    st.lists(st.lists(st.sampled_from(["a", "b", "job", "job.toml", "c d"]), min_size=1, max_size=4), unique_by=tuple)
)
def test_short_names_are_never_alike(ends: list[list[str]]) -> None:
    names = short_names([Path("/", *end) for end in ends])
    assert len(set(names)) == len(ends)


def test_record_names_are_readable() -> None:
    assert record_names([("kiln", "catalogue", "cost"), ("pier.2", "catalogue", "mass")]) == [
        "kiln--catalogue--cost",
        "pier.2--catalogue--mass",
    ]


@pytest.mark.parametrize(
    "labels",
    [
        [("a b", "c", "cost"), ("a-b", "c", "cost"), ("a?b", "c", "cost")],
        [("a--b", "c", "cost"), ("a", "b--c", "cost")],
        [("Job", "c", "cost"), ("job", "c", "cost")],
        [("may/job", "c", "cost"), ("may-job", "c", "cost")],
        [(".job", "c", "cost"), ("job", "c", "cost")],
        [("x" * 300, "c", "cost"), ("x" * 299, "c", "cost")],
        [("äöü", "c", "cost"), ("éèê", "c", "cost")],
    ],
    ids=["signs", "hyphens", "case", "folders", "hidden", "long", "letters"],
)
def test_record_names_differ_where_labels_do(labels: list[tuple[str, ...]]) -> None:
    names = record_names(labels)
    assert len({name.casefold() for name in names}) == len(labels)
    assert all(set(name) <= SAFE and not name.startswith(".") and len(name) <= LONGEST for name in names)


@given(st.lists(st.tuples(st.text(min_size=1), st.text(min_size=1)), unique=True, max_size=20))
def test_any_label_makes_a_safe_name_of_its_own(labels: list[tuple[str, ...]]) -> None:
    names = record_names(labels)
    assert len({name.casefold() for name in names}) == len(labels)
    assert all(set(name) <= SAFE and not name.startswith(".") and len(name) <= LONGEST for name in names)


def test_the_same_label_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="same label"):
        record_names([("a", "c", "cost"), ("a", "c", "cost")])
