"""An earlier build at new prices against a search from nothing: `python -m tests.benchmark.reprice`.

All in one run, one after the other in this process, each of the first two without what processes remember. Cold is
`best_build` on the new prices: columns, screening, programs, exact checks. `anew` is what `reprice` does once its files
are read: columns are built, and the record says what other builds came to at least. `again` is what it does while it
watches a folder, on columns of the answer before. Shares are told of all of it, and of the solver part: all but the
building of columns, on both sides.
"""

import json
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import click

from optimise.model import one_light, pairs, pieces, search
from optimise.model.choice import Choice
from optimise.model.search import Result, best_build
from optimise.parts import Catalogue, buying, read_catalogue
from optimise.scenario import Scenario, read_scenario
from optimise.studies import till
from optimise.studies.repricing import best_now
from optimise.studies.till import Till
from tests.benchmark.invented import invented_scenario, write_catalogue

ROOT = Path(__file__).parents[2]


def moved(catalogue: Catalogue, part: str, factor: float) -> Catalogue:
    """Return the catalogue with every offer of a part at another price."""
    rows = tuple(
        offer.model_copy(update={"price": max(round(offer.price * factor), 0)}) for offer in catalogue.offers[part]
    )
    return replace(catalogue, offers={**catalogue.offers, part: rows})


def forget() -> None:
    """Forget what searches of this process worked out of prices by the piece: a new process knows nothing of it."""
    pieces._buying_of.cache_clear()
    buying._useful.cache_clear()
    buying._price_of.cache_clear()


def changes(catalogue: Catalogue, choice: Choice) -> Iterator[tuple[str, str, float]]:
    """Yield (what, part, factor): parts of the build and others that could well be in it, dearer and cheaper."""
    used = {c.driver for c in choice.channels}
    driver = next(part for part in catalogue.drivers if part.part in used)
    likely = [part.part for part in catalogue.drivers if (part.input, part.output) == (driver.input, driver.output)]
    others = {
        "panel": next(part.part for part in catalogue.panels if part.part != choice.panel),
        "driver": next(part for part in likely if part not in used),
    }
    for kind, part in (("panel", choice.panel), ("driver", driver.part), ("emitter", choice.emitter)):
        yield f"the build's {kind} 10 % dearer", part, 1.10
        yield f"the build's {kind} 10 % cheaper", part, 0.90
    for kind, part in others.items():
        yield f"another {kind} 10 % dearer", part, 1.10
        yield f"another {kind} 10 % cheaper", part, 0.90


class Columns:
    """A clock that runs while columns are built."""

    seconds = 0.0
    running = False

    def watch(self, module: ModuleType, name: str) -> None:
        """Have the clock run during a function of a module."""
        function = getattr(module, name)

        def watched(*arguments: object, **named: object) -> object:
            if self.running:
                return function(*arguments, **named)
            self.running, began = True, time.process_time()
            try:
                return function(*arguments, **named)
            finally:
                self.seconds += time.process_time() - began
                self.running = False

        setattr(module, name, watched)


COLUMNS = Columns()
BUILDERS = (
    (search, "build_market"),
    (till, "build_market"),
    (till, "repriced"),
    (one_light, "repriced"),
    (pairs, "problem_of"),
)
"""Where columns are built, as the searches call it."""


def timed(answer: Callable[[], Result]) -> tuple[tuple[float, float], tuple[int, int]]:
    """Return the seconds of processor time of an answer, all and without columns, and its cents and milligrams."""
    forget()
    COLUMNS.seconds, began = 0.0, time.process_time()
    found = answer().evaluation
    seconds = time.process_time() - began
    assert found is not None
    return (seconds, seconds - COLUMNS.seconds), (found.cents, found.milligrams)


def rows(catalogue: Catalogue, scenario: Scenario, number: int, named: str) -> Iterator[dict[str, object]]:
    """Yield one row a change that has this in its name: the shares of a cold search of both ways, run after run."""
    record = best_build(catalogue, scenario)
    assert record.evaluation is not None
    choice, floors = record.evaluation.choice, record.proof.floors
    watching = Till(catalogue, scenario)
    best_now(watching, choice, catalogue, 0.0, floors)
    for what, part, factor in changes(catalogue, choice):
        if named in what:
            there = moved(catalogue, part, factor)
            ways: dict[str, Callable[[], Result]] = {
                "anew": lambda there=there: best_now(Till(there, scenario), choice, catalogue, 0.0, floors)[0],  # type: ignore[misc]
                "again": lambda there=there: best_now(watching.at(there), choice, catalogue, 0.0)[0],  # type: ignore[misc]
            }
            shares: dict[str, list[float]] = {f"{name}, {side}": [] for name in ways for side in ("all", "solver")}
            for _ in range(number):
                cold, wanted = timed(lambda there=there: best_build(there, scenario))  # type: ignore[misc]
                for name, way in ways.items():
                    seconds, found = timed(way)
                    assert found == wanted
                    for side, mine, whole in zip(("all", "solver"), seconds, cold, strict=True):
                        shares[f"{name}, {side}"].append(round(mine / whole, 4))
            yield {"change": what, **shares}


@click.command()
@click.option("--pairs", "number", default=5, show_default=True)
@click.option("--parts", default=500, show_default=True, help="Of the invented catalogue; 0 leaves it out.")
@click.option("--only", is_flag=True, help="Leave out the demonstration.")
@click.option("--named", default="", help="Only changes that have this in their name.")
@click.option("--file", type=click.Path(path_type=Path), default=Path("reprice.json"), show_default=True)
def main(number: int, parts: int, only: bool, named: str, file: Path) -> None:
    """Print the share of a cold search that repricing takes, for each change of one price."""
    for module, builder in BUILDERS:
        COLUMNS.watch(module, builder)
    demonstration, orchard = (
        read_catalogue(ROOT / "catalogue"),
        read_scenario(ROOT / "scenarios" / "orchard-night.toml"),
    )
    jobs: dict[str, tuple[Catalogue, Scenario]] = {
        f"orchard-night by {objective}": (
            demonstration,
            orchard.model_copy(update={"search": orchard.search.model_copy(update={"objective": objective})}),
        )
        for objective in (() if only else ("mass", "cost"))
    }
    if parts:
        with tempfile.TemporaryDirectory() as folder:
            write_catalogue(Path(folder), parts, 1, delivery=True)
            jobs[f"{parts} invented parts"] = read_catalogue(Path(folder)), invented_scenario(1, "cost")
    told: dict[str, list[dict[str, object]]] = {}
    for name, (catalogue, scenario) in jobs.items():
        told[name] = []
        for row in rows(catalogue, scenario, number, named):
            told[name].append(row)
            for way in [way for way in row if way != "change"]:
                shares: list[float] = row[way]  # type: ignore[assignment]
                figures = " / ".join(f"{f(shares):.3f}" for f in (min, statistics.median, max))
                click.echo(f"{name}, {row['change']}, {way}: {figures} of a cold search (min / median / max)")
    file.write_text(json.dumps(told, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
