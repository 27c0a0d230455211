"""The process in which atheris drives one reader: branches, and how often, are what an input is kept for."""

import random
import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["optimise.parts", "optimise.scenario", "optimise.report", "optimise.studies"]):
    from .finder import Finder, hasten
from .mutation import mutated


def drive(name: str, work: Path, seeds: Path, options: list[str]) -> None:
    """Fuzz one reader until the engine ends the process."""
    finder = Finder(name, work, [path.read_bytes() for path in sorted(seeds.glob("*"))])
    hasten()
    rng = random.Random(0)
    others = [b""] * 64

    def once(data: bytes) -> None:
        finder.once(data)

    def mutate(data: bytes, most: int, seed: int) -> bytes:
        rng.seed(seed)
        if rng.random() < 0.15:
            return bytes(atheris.Mutate(data, most))
        made = mutated(data, rng, finder.reader.words, others[rng.randrange(64)])
        if len(data) < 6000:
            others[rng.randrange(64)] = data
        return made[:most]

    atheris.Setup([sys.argv[0], *options, str(work / "corpus"), str(seeds)], once, custom_mutator=mutate)
    atheris.Fuzz()


if __name__ == "__main__":
    drive(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]), sys.argv[4:])
