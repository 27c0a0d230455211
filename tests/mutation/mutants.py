"""All mutants of a file, each with a name that outlives changes elsewhere in the file."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import accumulate
from pathlib import Path

import libcst as cst
from libcst.metadata import MetadataWrapper, PositionProvider

from tests.mutation.operators import LEFT_ALONE, OPERATORS

ROOT = Path(__file__).parents[2]
HEADS = (cst.If, cst.While, cst.CompIf)


@dataclass(frozen=True)
class Mutant:
    """One fault: what stands where, and what stands there instead."""

    file: str
    function: str
    text: str  # the line on which it begins, without its indent
    before: str
    after: str
    nth: int  # among those that are alike in all of the above
    lines: range = field(compare=False)  # the lines it is on
    statement: range = field(compare=False)
    whole: range = field(compare=False)  # the lines of its function
    where: tuple[int, int] = field(compare=False)  # what is replaced, as offsets into the source
    nodes: tuple[cst.CSTNode, cst.CSTNode] = field(compare=False, repr=False)

    @property
    def key(self) -> tuple[str, str, str, str, str, int]:
        """Return what it is known by."""
        return self.file, self.function, self.text, self.before, self.after, self.nth


class _Finder(cst.CSTVisitor):
    METADATA_DEPENDENCIES = (PositionProvider,)

    def __init__(self, file: str, source: str, module: cst.Module) -> None:
        super().__init__()
        self.file, self.rows, self.module = file, source.splitlines(), module
        self.starts = list(accumulate((len(row) for row in source.splitlines(keepends=True)), initial=0))
        self.names: list[str] = []
        self.functions: list[cst.CSTNode] = []
        self.statements: list[cst.CSTNode] = []
        self.seen: Counter[tuple[str, ...]] = Counter()
        self.found: list[Mutant] = []

    def _span(self, node: cst.CSTNode) -> range:
        at = self.get_metadata(PositionProvider, node)
        return range(at.start.line, at.end.line + 1)

    def _where(self, node: cst.CSTNode) -> tuple[int, int]:
        at = self.get_metadata(PositionProvider, node)
        return self.starts[at.start.line - 1] + at.start.column, self.starts[at.end.line - 1] + at.end.column

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, cst.FunctionDef | cst.ClassDef):
            self.names.append(node.name.value)
            self.functions.append(node)
        if isinstance(node, cst.BaseStatement | cst.BaseSmallStatement):
            self.statements.append(node)
        if isinstance(node, LEFT_ALONE):
            return False
        if isinstance(node, cst.Arg) and node.keyword is not None and node.keyword.value in ("strict", "dtype"):
            return False
        self._mutate(node)
        return True

    def on_leave(self, node: cst.CSTNode) -> None:
        if isinstance(node, cst.FunctionDef | cst.ClassDef):
            self.names.pop()
            self.functions.pop()
        if isinstance(node, cst.BaseStatement | cst.BaseSmallStatement):
            self.statements.pop()

    def _mutate(self, node: cst.CSTNode) -> None:
        for kind, operator in OPERATORS:
            if not isinstance(node, kind):
                continue
            for other in operator(node):
                lines = self._span(node)
                before, after = self._said(node), self._said(other)
                text = self.rows[lines[0] - 1].strip()
                name = ".".join(self.names)
                alike = (name, text, before, after)
                statement = self._span(self.statements[-1]) if self.statements else lines
                whole = self._span(self.functions[-1]) if self.functions else range(0)
                nth = self.seen[alike]
                self.seen[alike] += 1
                changed = (node.test, other.test) if isinstance(node, HEADS) else (node, other)
                where = self._where(changed[0])
                self.found.append(
                    Mutant(self.file, name, text, before, after, nth, lines, statement, whole, where, changed)
                )

    def _said(self, node: cst.CSTNode) -> str:
        """Return a node's source in one line; of a compound statement its head alone."""
        if isinstance(node, HEADS):
            return f"{'while' if isinstance(node, cst.While) else 'if'} {self._said(node.test)}"
        return " ".join(self.module.code_for_node(node).split())


def mutants_of(file: str) -> tuple[cst.Module, list[Mutant]]:
    """Return the parsed file (its path from the root) and its mutants, in the order of the file."""
    source = (ROOT / file).read_text(encoding="utf-8")
    wrapper = MetadataWrapper(cst.parse_module(source))
    finder = _Finder(file, source, wrapper.module)
    wrapper.visit(finder)
    return wrapper.module, finder.found


def source_with(module: cst.Module, mutant: Mutant) -> str:
    """Return the source of the file with the fault in it."""
    before, after = mutant.nodes
    if isinstance(before, cst.BaseCompoundStatement):
        changed = module.deep_replace(before, after)
        assert isinstance(changed, cst.Module)
        return changed.code
    source = module.code
    start, end = mutant.where
    # Whatever stands in brackets has them twice then.
    return source[:start] + module.code_for_node(after) + source[end:]


def files_of(package: str) -> Iterator[str]:
    """Yield the files of a package, as paths from the root."""
    for path in sorted((ROOT / "optimise" / package).glob("*.py")):
        if path.name != "__init__.py":
            yield path.relative_to(ROOT).as_posix()
