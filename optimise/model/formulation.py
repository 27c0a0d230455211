"""The mixed-integer model: which cell, which channels how often, which supply, which mount, bought how.

Everything that is not linear sits inside the columns. A *cell* is a head within a range of heat and of
emitters; its coefficients are never worse than the truth anywhere in the range, so the model's optimum bounds
every true build, and cutting a cell in two (`refinement`) makes it as exact as need be.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from optimise.model.cells import Cell, Formulation, Tangent
from optimise.model.kept import Kept, least_load
from optimise.model.light import (
    base_of,
    ceiling_of,
    crowded,
    dimmest_of,
    flux_of,
    hardest,
    least_share,
    need_of,
    slope_of,
)
from optimise.model.problem import Problem
from optimise.model.purse import cost_terms
from optimise.model.share_rows import parts_of_share
from optimise.physics.leads import load_current

FEW_CELLS = 30
"""Cells of an emitter up to which each has a row for what its own heat takes away."""


def formulate(
    problem: Problem,
    kept: Kept,
    cells: Sequence[Cell],
    tangents: Sequence[Tangent],
    caps: Mapping[str, float],
    objective: str | Mapping[int, float],
) -> Formulation:
    """Return the program for the columns kept, within `caps` (cents, mg, W), that makes `objective` least."""
    f = Formulation(problem, kept, cells)
    add_block(f)
    f.scales = {"cost": cost_terms(f), "mass": mass_terms(f)}
    if "power" in (objective, *(name for name, cap in caps.items() if np.isfinite(cap))):
        f.scales["power"] = power_terms(f, tangents)
    for name, cap in caps.items():
        if np.isfinite(cap):
            f.program.at_most(f.scales[name], cap, scale=max(cap, 1.0))
    f.program.minimise(f.scales[objective] if isinstance(objective, str) else objective)
    return f


def add_block(f: Formulation, used: int | None = None) -> None:
    """Add the variables and rows of a light without its money and its caps.

    used: a variable that is 1 where the light has this kind of emitter, and 0 where it has another one, so that it
    takes nothing of this block; left out: the light is of this block.
    """
    _variables(f)
    _one_of_each(f, used)
    _light_heat_and_room(f)
    _spot_rows(f)
    _supply_rows(f)
    _mount_rows(f)
    if f.kept.forced is not None:
        some = [v for v, must in zip(f.channel_vars, f.kept.must, strict=True) if must]
        f.program.at_least(dict.fromkeys(some, 1.0), float(f.kept.forced_least))


def _variables(f: Formulation) -> None:
    problem, kept = f.problem, f.kept
    channels, p = problem.channels, f.program
    f.cell_vars = [p.variable(0, 1, whole=True) for _ in f.cells]
    most_count: dict[int, int] = {}
    for cell in f.cells:
        emitter = int(problem.heads.emitter[cell.head])
        most_count[emitter] = max(most_count.get(emitter, 0), cell.count_high)
    load = float(problem.supplies.deliverable[kept.supplies].max()) * (1 + 1e-9)
    enough = _enough_alone(f)
    for place, c in enumerate(kept.channels):
        bound = min(
            most_count.get(int(channels.emitter[c]), 0) // int(channels.count[c]),
            int(load / channels.apparent[c]),
            problem.driver_buying[channels.driver[c]].most,
            int(enough[place]),
        )
        f.channel_vars.append(p.variable(0, max(bound, 0), whole=True))
    f.supply_vars = [p.variable(0, 1, whole=True) for _ in kept.supplies]
    f.mount_vars = [p.variable(0, 1, whole=True) for _ in problem.market.mounts]


def _enough_alone(f: Formulation) -> np.ndarray:
    """Return how many of each channel meet the target alone on every cell, at the hottest that board may be.

    More of it are never part of a best build: without the surplus, the build costs, weighs and draws less. Where a
    head is `crowded`, that is no bound.
    """
    problem, kept = f.problem, f.kept
    emitters = len(problem.parts.emitters)
    hottest = np.full(emitters, -np.inf)
    most = np.zeros(emitters)
    for cell in f.cells:
        e = int(problem.heads.emitter[cell.head])
        hottest[e] = max(hottest[e], float(problem.heads.limit[cell.head]))
    for cell in f.cells:
        e = int(problem.heads.emitter[cell.head])
        head = np.array([cell.head])
        with np.errstate(divide="ignore"):
            need = need_of(problem, head, np.array([hottest[e]])) / least_share(problem, head)
        most[e] = max(most[e], np.inf if crowded(problem, head)[0] else float(need[0]))
    hottest = np.where(np.isfinite(hottest), hottest, problem.scenario.power.ambient)
    flux = np.maximum(flux_of(problem, kept.channels, hottest), 1e-9)
    enough = np.ceil(np.minimum(most[problem.channels.emitter[kept.channels]] / flux, 1e6) * (1 + 1e-6))
    if not problem.market.light_is_limited:
        return np.asarray(enough)
    ceiling = np.zeros(emitters)
    for cell in f.cells:
        e = int(problem.heads.emitter[cell.head])
        ceiling[e] = max(ceiling[e], _ceiling(problem, cell))
    dimmest = np.maximum(dimmest_of(problem, kept.channels, hottest), 1e-9)
    bound = np.minimum(ceiling[problem.channels.emitter[kept.channels]] / dimmest, 1e6)
    return np.asarray(np.minimum(enough, np.floor(bound * (1 + 1e-6))))


def _one_of_each(f: Formulation, used: int | None) -> None:
    for variables in filter(None, (f.cell_vars, f.supply_vars, f.mount_vars)):
        if used is None:
            f.program.exactly(dict.fromkeys(variables, 1.0), 1.0)
        else:
            f.program.exactly({**dict.fromkeys(variables, 1.0), used: -1.0}, 0.0)


def _light_heat_and_room(f: Formulation) -> None:
    problem, kept, p = f.problem, f.kept, f.program
    channels = problem.channels
    emitter_of = channels.emitter[kept.channels]
    for emitter in np.unique(emitter_of):
        mine = np.flatnonzero(emitter_of == emitter)
        cells = [
            (variable, cell)
            for variable, cell in zip(f.cell_vars, f.cells, strict=True)
            if problem.heads.emitter[cell.head] == emitter
        ]
        variables = [f.channel_vars[i] for i in mine]

        def row(figures: np.ndarray, mine: np.ndarray = mine, variables: list[int] = variables) -> dict[int, float]:
            return dict(zip(variables, (float(v) for v in figures[mine]), strict=True))

        count = row(channels.count[kept.channels].astype(np.float64))
        heat = row(channels.heat[kept.channels])
        slopes = {v: float(slope_of(problem, *_range(cell))[0]) for v, cell in cells}
        # One row for all cells of an emitter keeps the relaxation tight; own rows make single cells exact.
        for slope in sorted({0.0, min(slopes.values())}) if cells else ():
            _lit(f, mine, cells, kept.flux, slope)
        if len(cells) < len(f.cells):
            # Where there are other emitters, this one's channels are used on its own heads only.
            lit = p.variable(0, 1, whole=True)
            p.exactly({lit: 1.0, **{v: -1.0 for v, _ in cells}}, 0.0)
            for variable in variables:
                p.at_most({variable: 1.0, lit: -p.highs[variable]}, 0.0)
        p.at_most({**count, **{v: -float(c.count_high) for v, c in cells}}, 0.0)
        p.at_most({**heat, **{v: -c.heat_high for v, c in cells}}, 0.0)
        if any(c.count_low > 1 for _, c in cells):
            p.at_least({**count, **{v: -float(c.count_low) for v, c in cells}}, 0.0)
        if any(c.heat_low > 0.0 for _, c in cells):
            p.at_least({**heat, **{v: -c.heat_low for v, c in cells}}, 0.0)
        for variable, cell in cells:
            at_cell = np.full(len(problem.parts.emitters), cell.board)
            flux = flux_of(problem, kept.channels, at_cell)
            if len(cells) <= FEW_CELLS:
                _lit(f, mine, [(variable, cell)], flux, slopes[variable])
            if cell.own:
                _lit(f, mine, [(variable, cell)], flux, 0.0)
        if problem.market.light_is_limited and cells:
            _not_too_bright(f, mine, cells)
    if problem.mix is not None:
        _mixed(f)


def _lit(f: Formulation, mine: np.ndarray, cells: list[tuple[int, Cell]], flux: np.ndarray, slope: float) -> None:
    """Add the row Σ (flux − slope · heat) ≥ base over these cells and the channels at `mine` of those kept."""
    problem = f.problem
    needs = {v: _need(problem, cell, slope) * (1.0 + cell.tighten) for v, cell in cells}
    given = flux[mine] - slope * problem.channels.heat[f.kept.channels[mine]]
    # Where heat takes more than there is, a straight line says nothing useful.
    if slope == 0.0 or (min(needs.values()) > 0.0 and given.min() > 0.0):
        # What gives more than any of the cells needs counts for that need: no whole build is lost by it.
        given = np.minimum(given, max(needs.values()))
        lumens = {f.channel_vars[i]: value for i, value in zip(mine.tolist(), given.tolist(), strict=True)}
        f.program.at_least({**lumens, **{v: -need for v, need in needs.items()}}, 0.0)


def _not_too_bright(f: Formulation, mine: np.ndarray, cells: list[tuple[int, Cell]]) -> None:
    """Add the rows Σ flux ≤ ceiling: one for all cells on the hottest of their boards, and one for each of a few."""
    problem = f.problem
    channels = f.kept.channels[mine]
    rows = [(cells, max(cell.top for _, cell in cells))]
    rows += [([one], one[1].top) for one in cells if one[1].own or len(cells) <= FEW_CELLS]
    for its, top in rows:
        ceilings = {v: _ceiling(problem, cell) for v, cell in its}
        given = dimmest_of(problem, channels, np.full(len(problem.parts.emitters), top))
        lumens = {f.channel_vars[i]: float(value) for i, value in zip(mine.tolist(), given, strict=True)}
        # A cell that has no ceiling, or is not of this row, lets through all that there can be.
        endless = sum(value * f.program.highs[v] for v, value in lumens.items())
        given_by = {v: -min(ceilings.get(v, endless), endless) for v, _ in cells}
        f.program.at_most({**lumens, **given_by}, 0.0)


def _ceiling(problem: Problem, cell: Cell) -> float:
    """Return the lumens that a cell may give, by `dimmest_of` on a board at its highest temperature."""
    head = np.array([cell.head])
    known = ceiling_of(problem, head, np.array([cell.most]), np.array([cell.top]))
    return float(known[0]) * (1.0 - cell.tighten)


def _mixed(f: Formulation) -> None:
    """Add the rows of a mixture: both kinds are there, and each gives its share of the light.

    X, Y and Z add, so that a limit on colour temperature is a row Σ (a · XYZ) ≥ 0 over the channels: of two lights it
    is one on the share of the second (`shares`).
    """
    problem, kept, p = f.problem, f.kept, f.program
    assert problem.mix is not None
    kinds = problem.mix.kind[kept.channels]
    for kind in (0, 1):
        p.at_least({v: 1.0 for v, k in zip(f.channel_vars, kinds.tolist(), strict=True) if k == kind}, 1.0)
    cells = list(zip(f.cell_vars, f.cells, strict=True))
    ends = min(c.share_low for _, c in cells), max(c.share_high for _, c in cells)
    for share, least in zip(ends, (True, False), strict=True):
        row = parts_of_share(problem, kept, share, least=least)
        p.at_least(dict(zip(f.channel_vars, row.tolist(), strict=True)), 0.0)
    for variable, cell in cells:
        for share, least, end in zip((cell.share_low, cell.share_high), (True, False), ends, strict=True):
            if cell.own or share != end:
                at_cell = replace(
                    kept,
                    flux=flux_of(problem, kept.channels, np.full(len(problem.parts.emitters), cell.board)),
                    top=np.array([cell.top]),
                )
                row = parts_of_share(problem, at_cell, share, least=least)
                # With another cell the row must say nothing: it is lifted by all that any channels can miss.
                each = float((-row / problem.channels.count[kept.channels]).max()) * int(problem.capacity.max())
                lift = max(each, 0.0)
                p.at_least({**dict(zip(f.channel_vars, row.tolist(), strict=True)), variable: -lift}, -lift)


def _range(cell: Cell) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return np.array([cell.head]), np.array([cell.board]), np.array([cell.top])


def _need(problem: Problem, cell: Cell, slope: float) -> float:
    """Return the lumens that a cell needs, without those that heat takes away at `slope` lm/W."""
    light = hardest(problem, np.array([cell.head]))[0] / cell.lux_per_lumen
    # A slope for the light of the whole head is a smaller one for the light of its cell.
    known = base_of(problem, *_range(cell), np.array([slope / light]))
    return float(known[0] * light)


def _supply_rows(f: Formulation) -> None:
    problem, kept, p = f.problem, f.kept, f.program
    load = {v: float(problem.channels.apparent[c]) for v, c in zip(f.channel_vars, kept.channels, strict=True)}
    give = {v: float(problem.supplies.deliverable[s]) for v, s in zip(f.supply_vars, kept.supplies, strict=True)}
    p.at_most({**load, **{v: -most for v, most in give.items()}}, 0.0)
    # Drivers that the same supplies can feed share a row, in which only those supplies count.
    compatible = problem.market.feeds(problem.channels.driver[kept.channels], kept.supplies)
    groups: dict[bytes, list[int]] = {}
    for v, fits in zip(f.channel_vars, compatible, strict=True):
        if not fits.all():
            groups.setdefault(fits.tobytes(), []).append(v)
    for key, variables in groups.items():
        fits = np.frombuffer(key, dtype=bool)
        fed = {v: -give[v] for v, fit in zip(f.supply_vars, fits, strict=True) if fit}
        p.at_most({**{v: load[v] for v in variables}, **fed}, 0.0)
        able = p.variable(0, 1, whole=True)
        p.exactly({able: 1.0, **dict.fromkeys(fed, -1.0)}, 0.0)
        for variable in variables:
            p.at_most({variable: 1.0, able: -p.highs[variable]}, 0.0)
    earthed = problem.market.earthed[kept.supplies]
    metal = [v for v, cell in zip(f.cell_vars, f.cells, strict=True) if problem.head_metal[cell.head]]
    if metal and not earthed.all():
        safe = [v for v, fit in zip(f.supply_vars, earthed, strict=True) if fit]
        p.at_most({**dict.fromkeys(metal, 1.0), **dict.fromkeys(safe, -1.0)}, 0.0)


def _spot_rows(f: Formulation) -> None:
    """Keep channels that run their emitters above the rated current off boards that do not bear the heat under one."""
    problem, p = f.problem, f.program
    heads = np.array([cell.head for cell in f.cells], dtype=np.int64)
    borne = problem.borne(f.kept.channels[:, None], heads[None, :])
    for place in np.flatnonzero(~borne.all(axis=1)).tolist():
        variable = f.channel_vars[place]
        able = {f.cell_vars[cell]: -p.highs[variable] for cell in np.flatnonzero(borne[place]).tolist()}
        p.at_most({variable: 1.0, **able}, 0.0)


def _mount_rows(f: Formulation) -> None:
    problem = f.problem
    if not f.mount_vars:
        return
    hanging = {v: float(problem.head_mass[c.head]) for v, c in zip(f.cell_vars, f.cells, strict=True)}
    hanging |= {v: float(problem.channel_mass[c]) for v, c in zip(f.channel_vars, f.kept.channels, strict=True)}
    carried = {
        v: float(problem.market.mount_mass[m] - problem.market.mount_load[m]) for m, v in enumerate(f.mount_vars)
    }
    f.program.at_most({**hanging, **carried}, 0.0)


def mass_terms(f: Formulation) -> dict[int, float]:
    """Return what the build of a program weighs, mg, by variable."""
    problem, kept = f.problem, f.kept
    terms = {v: float(problem.head_mass[c.head]) for v, c in zip(f.cell_vars, f.cells, strict=True)}
    terms |= {v: float(problem.channel_mass[c]) for v, c in zip(f.channel_vars, kept.channels, strict=True)}
    terms |= {v: float(problem.supplies.mass[s]) for v, s in zip(f.supply_vars, kept.supplies, strict=True)}
    terms |= {v: float(problem.market.mount_mass[m]) for m, v in enumerate(f.mount_vars)}
    return terms


def power_terms(f: Formulation, tangents: Sequence[Tangent]) -> dict[int, float]:
    """Return what the build of a program draws, W, by variable; the loss in its lead is added to the program."""
    problem, kept = f.problem, f.kept
    terms = {v: float(problem.channels.power[c]) for v, c in zip(f.channel_vars, kept.channels, strict=True)}
    terms[lead_loss(f, tangents)] = 1.0
    return terms


def lead_loss(f: Formulation, tangents: Sequence[Tangent]) -> int:
    """Add a variable that is never more than the loss in the lead, W, and exact where a tangent touches; return it."""
    problem, kept, p = f.problem, f.kept, f.program
    supplies = problem.supplies
    most = float(np.nanmax(supplies.loss(supplies.deliverable)[kept.supplies]))
    loss = p.variable(0.0, max(most, 1e-9) * 1.01, whole=False)
    base = np.nan_to_num(supplies.loss(least_load(problem, kept))[kept.supplies], nan=most)
    p.at_least({loss: 1.0, **{v: -float(b) for v, b in zip(f.supply_vars, base, strict=True)}}, 0.0)
    place = {int(s): v for v, s in zip(f.supply_vars, kept.supplies, strict=True)}
    load = {v: float(problem.channels.apparent[c]) for v, c in zip(f.channel_vars, kept.channels, strict=True)}
    greatest = float(supplies.deliverable[kept.supplies].max())
    for tangent in tangents:
        if tangent.supply in place:
            level, slope = tangent_of(problem, tangent)
            # With another supply the row must say nothing: it is lifted by all that the line can reach.
            lift = max(level + slope * greatest, 0.0)
            row = {loss: 1.0, place[tangent.supply]: -lift, **{v: -slope * w for v, w in load.items()}}
            p.at_least(row, level - lift)
    return loss


def tangent_of(problem: Problem, tangent: Tangent) -> tuple[float, float]:
    """Return (level, slope) of the tangent to loss(load) = R I(load)²: loss is convex, so it lies below."""
    volts = float(problem.supplies.nominal[tangent.supply])
    ohms = float(problem.supplies.resistance[tangent.supply])
    current = float(load_current(volts, ohms, tangent.load))
    # dI/dP = 1 / (V − 2RI), from differentiating V I − R I² = P.
    slope = 2.0 * ohms * current / (volts - 2.0 * ohms * current)
    return ohms * current**2 - slope * tangent.load, slope


def rank_terms(f: Formulation, what: str) -> dict[int, float]:
    """Return an objective that prefers earlier part codes: of `cells`, `supplies`, `mounts` or `channels`."""
    if what == "channels":
        # Whole ranks decide; a small share made from the codes tells apart what ranks alone could not.
        terms: dict[int, float] = {}
        for rank, (v, c) in enumerate(zip(f.channel_vars, f.kept.channels, strict=True)):
            ch = f.problem.channels
            name = f"{f.problem.kinds[c]}/{ch.driver[c]}/{ch.series[c]}/{ch.parallel[c]}/{ch.current[c]:.9f}"
            share = int.from_bytes(hashlib.sha256(name.encode()).digest()[:3], "big") / 2**24
            terms[v] = rank + 1.0 + 0.01 * share
        return terms
    if what == "cells":
        ranks = {head: float(rank) for rank, head in enumerate(sorted({cell.head for cell in f.cells}))}
        return {v: ranks[cell.head] for v, cell in zip(f.cell_vars, f.cells, strict=True)}
    variables = {"supplies": f.supply_vars, "mounts": f.mount_vars}[what]
    return {v: float(rank) for rank, v in enumerate(variables)}
