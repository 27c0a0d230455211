"""An earlier build at new prices against a search from nothing: `python -m tests.benchmark.reprice`.

Both sides in one run, in pairs, one after the other in this process. Cold is `best_build` on the new prices: columns,
screening, programs, exact checks. The other side is what `reprice` does once its files are read, on columns that were
built before the price moved (as it does for every price of a span, and while it watches a folder), or by the earlier
proof alone.
"""

import json
import statistics
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import click

from optimise.model import pieces
from optimise.model.choice import Choice
from optimise.model.search import best_build
from optimise.parts import Catalogue, buying, read_catalogue
from optimise.scenario import Scenario, read_scenario
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


def pairs(catalogue: Catalogue, scenario: Scenario, number: int) -> Iterator[dict[str, object]]:
    """Yield one row a change: the share of a cold search that the other side takes, run after run."""
    till = Till(catalogue, scenario)
    best = till.best().best
    assert best is not None
    for what, part, factor in changes(catalogue, best.choice):
        there = moved(catalogue, part, factor)
        ratios, proof = [], False
        for _ in range(number):
            began = time.perf_counter()
            warm, proof = best_now(till.at(there), best.choice, catalogue, 0.0)
            middle = time.perf_counter()
            forget()
            between = time.perf_counter()
            cold = best_build(there, scenario)
            ratios.append((middle - began) / (time.perf_counter() - between))
            assert cold.evaluation is not None
            assert warm.evaluation is not None
            assert (cold.evaluation.cents, cold.evaluation.milligrams) == (
                warm.evaluation.cents,
                warm.evaluation.milligrams,
            )
        yield {"change": what, "by_proof": proof, "ratios": [round(ratio, 4) for ratio in ratios]}


@click.command()
@click.option("--pairs", "number", default=5, show_default=True)
@click.option("--parts", default=500, show_default=True, help="Of the invented catalogue; 0 leaves it out.")
@click.option("--only", is_flag=True, help="Leave out the demonstration.")
@click.option("--file", type=click.Path(path_type=Path), default=Path("reprice.json"), show_default=True)
def main(number: int, parts: int, only: bool, file: Path) -> None:
    """Print the share of a cold search that repricing takes, for each change of one price."""
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
        for row in pairs(catalogue, scenario, number):
            told[name].append(row)
            ratios = [float(ratio) for ratio in row["ratios"]]  # type: ignore[attr-defined]
            figures = " / ".join(f"{f(ratios):.3f}" for f in (min, statistics.median, max))
            how = "by the earlier proof" if row["by_proof"] else "by a search"
            click.echo(f"{name}, {row['change']}: {figures} of a cold search (min / median / max), {how}")
    file.write_text(json.dumps(told, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
