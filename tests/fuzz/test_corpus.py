"""Every reader over its corpus, and over a few mutations of it; what is found by fuzzing is added there."""

import os
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from .finder import Finder
from .held import BrokenError, Judge, within
from .memory import in_memory
from .mutation import mutated
from .readers import NAMES, reader

CORPUS = Path(__file__).parent / "corpus"
MOST_BYTES = 1_000_000


def seeds_of(name: str) -> list[bytes]:
    return [path.read_bytes() for path in sorted((CORPUS / name).iterdir())]


@pytest.fixture(params=NAMES)
def judged(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[str, Judge, list[bytes]]]:
    """A reader's name, what judges it, and the words it knows."""
    with in_memory():
        one = reader(request.param, tmp_path)
        judge = within(one.read, tmp_path)
        for seed in seeds_of(request.param)[:3]:  # what is imported on the way is no part of a reading
            judge(seed, watch=False)
        yield request.param, judge, one.words


def changed(name: str, judge: Judge, words: list[bytes], rounds: int, seed: int) -> int:
    """Read so many mutations; return how many were taken."""
    rng, seeds, taken = random.Random(seed), seeds_of(name), 0
    for _ in range(rounds):
        taken += not judge(mutated(rng.choice(seeds), rng, words, rng.choice(seeds)))
    return taken


def test_every_input_is_taken_or_refused_in_words(judged: tuple[str, Judge, list[bytes]]) -> None:
    name, judge, _ = judged
    told = [judge(data) for data in seeds_of(name)]
    assert () in told, "a corpus begins with sound files"
    assert any(told), "and holds some that are not"


SOUND = [
    *(("record", name) for name in ("kit.json", "light.json", "small.json")),
    *((name, path.name) for name in NAMES for path in sorted((CORPUS / name).glob("sound.*"))),
    *(("scenario", name) for name in ("ferry-landing.toml", "points.toml")),
    *(("prices", name) for name in ("first.csv", "second.csv", "third.csv")),
]


@pytest.mark.parametrize(("name", "file"), SOUND, ids=lambda part: part)
def test_a_sound_input_is_taken(name: str, file: str, tmp_path: Path) -> None:
    # One that a later format refuses at its first line leaves all that lies behind unread.
    with in_memory():
        assert within(reader(name, tmp_path).read, tmp_path)((CORPUS / name / file).read_bytes(), watch=False) == ()


def test_mutations_are_taken_or_refused_in_words(judged: tuple[str, Judge, list[bytes]]) -> None:
    name, judge, words = judged
    changed(name, judge, words, 25, 1)


@pytest.mark.long
def test_many_mutations_are_taken_or_refused_in_words(judged: tuple[str, Judge, list[bytes]]) -> None:
    name, judge, words = judged
    assert changed(name, judge, words, 5_000, int(os.environ.get("SEED", "2"))) > 0


def test_the_corpus_is_small_and_of_every_reader() -> None:
    assert {path.name for path in CORPUS.iterdir()} == set(NAMES)
    assert sum(path.stat().st_size for path in CORPUS.rglob("*") if path.is_file()) < MOST_BYTES


def test_a_break_is_noticed_and_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def reading(data: bytes) -> object:
        if data == b"raises":
            return 1 / 0
        return Path("/etc/hostname").read_bytes() if data == b"opens" else data

    (tmp_path / "found").mkdir()
    with in_memory():
        finder = Finder("readings", tmp_path, [])
        monkeypatch.setattr(finder, "_judge", within(reading, tmp_path))
        assert finder.once(b"sound") == ()
        assert finder.once(b"raises")[0].startswith("ZeroDivisionError")
        assert finder.once(b"opens")[0].startswith("BrokenError outside")
    kept = [path for path in (tmp_path / "found").iterdir() if path.suffix != ".txt"]
    assert {path.read_bytes() for path in kept} == {b"raises", b"opens"}
    with pytest.raises(BrokenError):
        within(reading, tmp_path)(b"opens")
