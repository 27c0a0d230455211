"""The next best builds, and the best ones that leave out what the best build has.

A build is told apart by its main parts: emitter, drivers, panel, diffuser, battery. Each alternative leaves out at
least one main part of every build told before it. They are found as hitting sets are: every build found is taken
apart, and what can be had without each of its parts is searched in full, so that none is passed over.
"""

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from optimise.model.bench import narrowed
from optimise.model.choice import Choice, Evaluation
from optimise.model.heuristic import value_of
from optimise.model.search import Result
from optimise.parts import Catalogue
from optimise.scenario import Scenario
from optimise.studies.desk import Desk

Piece = tuple[str, str]
"""Kind and code of a main part; the code is empty for the mains, and for no diffuser."""

KINDS = ("emitter", "driver", "panel", "diffuser", "battery")


@dataclass(frozen=True)
class Alternative:
    """Another build, and what was left out to come to it."""

    without: tuple[str, ...]
    """In words."""
    result: Result


def pieces_of(choice: Choice) -> frozenset[Piece]:
    """Return the main parts of a build."""
    return frozenset(
        [
            *(("emitter", code) for code in choice.kinds),
            *(("driver", channel.driver) for channel in choice.channels),
            ("panel", choice.panel),
            *(("diffuser", code) for code in choice.sheets or ("",)),
            ("battery", choice.battery or ""),
        ]
    )


def in_words(piece: Piece) -> str:
    """Return what a main part is called."""
    kind, code = piece
    return code or {"battery": "mains", "diffuser": "an open face"}[kind]


def leave_out(catalogue: Catalogue, scenario: Scenario, pieces: Sequence[Piece]) -> tuple[Catalogue, Scenario] | None:
    """Return catalogue and scenario without these parts; None where nothing could feed the light then."""
    gone = {code for _, code in pieces if code}
    catalogue = replace(
        catalogue,
        emitters=tuple(part for part in catalogue.emitters if part.part not in gone),
        drivers=tuple(part for part in catalogue.drivers if part.part not in gone),
        panels=tuple(part for part in catalogue.panels if part.part not in gone),
        diffusers=tuple(part for part in catalogue.diffusers if part.part not in gone),
        batteries=tuple(part for part in catalogue.batteries if part.part not in gone),
    )
    if ("battery", "") in pieces:
        if not scenario.power.battery:
            return None
        scenario = scenario.model_copy(update={"power": scenario.power.model_copy(update={"source": "battery"})})
    if ("diffuser", "") in pieces:
        scenario = scenario.model_copy(update={"look": scenario.look.model_copy(update={"diffused": True})})
    return catalogue, scenario


def capped(desk: Desk, best: Evaluation, within: float | None) -> Scenario:
    """Return the scenario with the objective capped at `within` (a share) above the best build's."""
    if within is None:
        return desk.scenario
    objective = desk.scenario.search.objective
    return narrowed(desk.scenario, {objective: value_of(best, objective) * (1.0 + within)})


def next_best(desk: Desk, best: Evaluation, number: int, within: float | None = None) -> Iterator[Alternative]:
    """Yield up to `number` next best builds, the best first. Raises `TimeUpError`.

    within: share of the objective above that of the best build up to which they are looked for; None: any.
    """
    objective, scenario = desk.scenario.search.objective, capped(desk, best, within)
    told = [pieces_of(best.choice)]
    visited: set[frozenset[Piece]] = set()
    open_: list[tuple[float, tuple[Piece, ...], bool, Result | None]] = []

    def take_apart(gone: Sequence[Piece], build: Evaluation) -> None:
        for piece in sorted(pieces_of(build.choice)):
            more = frozenset([*gone, piece])
            if more not in visited:
                visited.add(more)
                # What can be had without one part more is no better than what was had with it.
                heapq.heappush(open_, (value_of(build, objective), tuple(sorted(more)), False, None))

    take_apart((), best)
    found = 0
    while open_ and found < number:
        _, gone, solved, result = heapq.heappop(open_)
        if not solved:
            desk.progress(f"without {', '.join(map(in_words, gone))}")
            rest = leave_out(desk.catalogue, scenario, gone)
            answer = None if rest is None else desk.best(rest[1], catalogue=rest[0])
            if answer is not None and answer.evaluation is not None:
                heapq.heappush(open_, (value_of(answer.evaluation, objective), gone, True, answer))
            continue
        assert result is not None
        assert result.evaluation is not None
        pieces = pieces_of(result.evaluation.choice)
        if not any(other <= pieces for other in told):
            told.append(pieces)
            found += 1
            yield Alternative(tuple(map(in_words, gone)), result)
        take_apart(gone, result.evaluation)


def different(desk: Desk, best: Evaluation, kind: str, within: float | None = None) -> Alternative | None:
    """Return the best build without any part of this kind that the best build has; None where there is none."""
    gone = sorted(piece for piece in pieces_of(best.choice) if piece[0] == kind)
    rest = leave_out(desk.catalogue, capped(desk, best, within), gone)
    return None if rest is None else _best_of(desk, *rest, tuple(map(in_words, gone)))


def without_name(desk: Desk, best: Evaluation, name: str, within: float | None = None) -> Alternative | None:
    """Return the best build without a part, or with nothing from a supplier; None where there is none."""
    offers = {
        code: tuple(offer for offer in rows if offer.supplier != name)
        for code, rows in desk.catalogue.offers.items()
        if code != name
    }
    # A part that no one offers is in no build.
    catalogue = replace(desk.catalogue, offers={code: rows for code, rows in offers.items() if rows})
    return _best_of(desk, catalogue, capped(desk, best, within), (name,))


def _best_of(desk: Desk, catalogue: Catalogue, scenario: Scenario, without: tuple[str, ...]) -> Alternative | None:
    desk.progress(f"without {', '.join(without)}")
    result = desk.best(scenario, catalogue=catalogue)
    return None if result.evaluation is None else Alternative(without, result)


@dataclass(frozen=True)
class Asked:
    """Which alternatives are asked for."""

    next_best: int
    different: tuple[str, ...]
    without: tuple[str, ...]
    within: float | None

    def __len__(self) -> int:
        """Return how many answers there can be."""
        return self.next_best + len(self.different) + len(self.without)

    def answers(self, desk: Desk, best: Evaluation) -> Iterator[tuple[str, Alternative | None]]:
        """Yield what was asked for and the answer to it, one by one. Raises `TimeUpError`."""
        told = 0
        for found in next_best(desk, best, self.next_best, self.within):
            told += 1
            yield "next best", found
        for _ in range(told, self.next_best):
            yield "next best", None
        for kind in self.different:
            yield f"other {kind}", different(desk, best, kind, self.within)
        for name in self.without:
            yield f"without {name}", without_name(desk, best, name, self.within)


def unknown_names(catalogue: Catalogue, names: Sequence[str]) -> list[str]:
    """Return a complaint for each name that is neither a supplier nor a part of a catalogue."""
    suppliers = {offer.supplier for rows in catalogue.offers.values() for offer in rows}
    known = sorted({*suppliers, *(part.part for part in catalogue.parts())})
    told: list[str] = []
    for name in names:
        if name not in known:
            near = get_close_matches(name, known, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            told.append(f'"{name}": a supplier ({", ".join(sorted(suppliers))}) or the code of a part{hint}')
    return told
