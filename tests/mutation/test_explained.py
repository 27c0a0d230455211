"""Mutants that are explained rather than noticed still are what the explanation speaks of."""

import ast
from collections import Counter
from pathlib import Path

import pytest

from tests.mutation import scores

ROOT = Path(__file__).parents[2]
ENTRIES = list(scores.explained().items())


def functions(path: Path) -> dict[str, list[str]]:
    """Return the lines of every function and class of a file, by its dotted name, and of the whole file by ''."""
    source = path.read_text(encoding="utf-8")
    rows = [row.strip() for row in source.splitlines()]
    found = {"": rows}

    def look(nodes: list[ast.stmt], within: str) -> None:
        for node in nodes:
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                name = f"{within}.{node.name}".lstrip(".")
                found.setdefault(name, []).extend(rows[node.lineno - 1 : node.end_lineno])
                look(node.body, name)
            else:
                for block in ("body", "orelse", "finalbody"):
                    look([part for part in getattr(node, block, []) if isinstance(part, ast.stmt)], within)

    look(ast.parse(source).body, "")
    return found


@pytest.mark.parametrize("file", sorted({key[0] for key, _ in ENTRIES}))
def test_what_is_explained_still_stands_in_the_source(file: str) -> None:
    lines = functions(ROOT / file)
    for (where, function, text, before, after, _), reason in ENTRIES:
        if where != file:
            continue
        assert function in lines, f"{file} has no {function}"
        assert text in lines[function], f"{file}, {function}: no longer there: {text}"
        # What goes on over several lines is told in one; a branch by its head alone.
        part = before.removeprefix("if ").removeprefix("while ")
        assert "".join(part.split()) in "".join("".join(lines[function]).split()), (function, before)
        assert before != after
        assert len(reason.split()) >= 4, reason


def test_nothing_is_explained_twice() -> None:
    entries = scores.entries()
    assert max(Counter(entries).values(), default=1) == 1


@pytest.mark.long
def test_every_explained_mutant_is_one_that_is_made() -> None:
    pytest.importorskip("mutmut")
    from tests.mutation.mutants import mutants_of

    for file in sorted({key[0] for key, _ in ENTRIES}):
        made = {mutant.key for mutant in mutants_of(file)[1]}
        assert [key for key, _ in ENTRIES if key[0] == file and key not in made] == []
