"""What is changed: operators of mutmut that change a value or a branch, and some of our own for numerical code.

Used of mutmut: numbers (n to n + 1), True and False, `op=` to `=`, `not` and `~` dropped, lambda to None, `is`, `in`,
`break` and `continue`, arithmetic, comparison and boolean operators, cases of a match, each arm of a ternary.
Of our own: a bare condition is negated, a keyword argument is dropped, and a function gives way to its opposite
(`min` and `max`, `floor` and `ceil`, `any` and `all`, `sin` and `cos`).
Not used: strings (words, or keys that fail at once), arguments and assignments to None (they fail at once), positional
arguments dropped (the same), string methods. Annotations, decorators, docstrings, imports, format strings and whatever
is raised are left alone, and so is `strict=`, which changes nothing in sound code.
"""

from collections.abc import Callable, Iterable

import libcst as cst
from mutmut.mutation import mutators

Operator = tuple[type, Callable[..., Iterable[cst.CSTNode]]]

OPPOSITES = {
    "min": "max",
    "minimum": "maximum",
    "fmin": "fmax",
    "argmin": "argmax",
    "floor": "ceil",
    "any": "all",
    "sin": "cos",
}
OPPOSITES |= {after: before for before, after in OPPOSITES.items()}
LEFT_ALONE = (
    cst.Annotation,
    cst.Decorator,
    cst.Import,
    cst.ImportFrom,
    cst.FormattedString,
    cst.Raise,
    cst.Assert,
)


def opposite(node: cst.Call) -> Iterable[cst.CSTNode]:
    """Yield the call of the opposite function."""
    if isinstance(node.func, cst.Name) and node.func.value in OPPOSITES:
        yield node.with_changes(func=cst.Name(OPPOSITES[node.func.value]))
    elif isinstance(node.func, cst.Attribute) and node.func.attr.value in OPPOSITES:
        yield node.with_changes(func=node.func.with_changes(attr=cst.Name(OPPOSITES[node.func.attr.value])))


def keyword_dropped(node: cst.Call) -> Iterable[cst.CSTNode]:
    """Yield the call without each of its keyword arguments."""
    for i, arg in enumerate(node.args):
        if arg.keyword is not None and arg.keyword.value not in ("strict", "dtype"):
            yield node.with_changes(args=[*node.args[:i], *node.args[i + 1 :]])


def negated(node: cst.If | cst.While | cst.CompIf) -> Iterable[cst.CSTNode]:
    """Yield the statement with its condition negated, where no other operator changes it."""
    if isinstance(node.test, cst.Comparison | cst.BooleanOperation | cst.UnaryOperation):
        return
    inner = node.test.with_changes(lpar=[cst.LeftParen()], rpar=[cst.RightParen()])
    yield node.with_changes(test=cst.UnaryOperation(operator=cst.Not(), expression=inner))


OPERATORS: list[Operator] = [
    (cst.BaseNumber, mutators.operator_number),
    (cst.Name, mutators.operator_name),
    (cst.AugAssign, mutators.operator_augmented_assignment),
    (cst.UnaryOperation, mutators.operator_remove_unary_ops),
    (cst.Lambda, mutators.operator_lambda),
    (cst.CSTNode, mutators.operator_keywords),
    (cst.CSTNode, mutators.operator_swap_op),
    (cst.Match, mutators.operator_match),
    (cst.IfExp, mutators.operator_if_exp),
    (cst.Call, opposite),
    (cst.Call, keyword_dropped),
    (cst.If, negated),
    (cst.While, negated),
    (cst.CompIf, negated),
]
