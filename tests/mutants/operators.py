"""The mutants of a source text: each a small change of its syntax tree, told as the text before and after."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import dataclass

_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}
_FUNCTIONS = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change.

    kind: what sort of change.
    where: the function (or class) it is in; empty outside of any.
    line: where, in the unchanged file.
    before, after: the changed expression or statement.
    number: which of several that read the same in one function, from 1.
    source: the whole changed file.
    """

    kind: str
    where: str
    line: int
    before: str
    after: str
    number: int
    source: str


@dataclass(frozen=True, slots=True)
class _Change:
    kind: str
    old: ast.AST
    new: ast.AST


def mutants(source: str) -> list[Mutant]:
    """Every mutant of the text, in the order of the text."""
    tree = ast.parse(source)
    lines = _Lines(source)
    seen: Counter[tuple[str, str, str]] = Counter()
    found = []
    for change in sorted(_changes(tree), key=lambda change: _start(change.old)):
        new = ast.unparse(change.new)
        name = (_where(tree, change.old), _short(lines.text(change.old)), _short(new))
        seen[name] += 1
        after = f"({new})" if isinstance(change.new, ast.expr) else new
        text = lines.replaced(change.old, after)
        found.append(Mutant(change.kind, name[0], _start(change.old)[0], name[1], name[2], seen[name], text))
    return found


def _where(tree: ast.Module, node: ast.AST) -> str:
    """The names of what is around the node, outermost first."""
    names: list[str] = []
    inner: ast.AST | None = tree
    while inner is not None:
        inner = next(
            (
                child
                for child in ast.walk(inner)
                if child is not inner
                and isinstance(child, ast.FunctionDef | ast.ClassDef)
                and _start(child) <= _start(node)
                and (node.end_lineno, node.end_col_offset) <= (child.end_lineno, child.end_col_offset)  # type: ignore[attr-defined]
            ),
            None,
        )
        if isinstance(inner, ast.FunctionDef | ast.ClassDef):
            names.append(inner.name)
    return ".".join(names)


def _short(text: str) -> str:
    return " ".join(text.split())


def _start(node: ast.AST) -> tuple[int, int]:
    return node.lineno, node.col_offset  # type: ignore[attr-defined]


class _Lines:
    """The text by the positions that the parser gives: lines from 1, columns in bytes."""

    def __init__(self, source: str) -> None:
        self._lines = [line.encode() for line in source.splitlines(keepends=True)]

    def _at(self, line: int, column: int) -> int:
        return sum(map(len, self._lines[: line - 1])) + column

    def _span(self, node: ast.AST) -> tuple[int, int]:
        end = self._at(node.end_lineno, node.end_col_offset)  # type: ignore[attr-defined]
        return self._at(*_start(node)), end

    def text(self, node: ast.AST) -> str:
        start, end = self._span(node)
        return b"".join(self._lines)[start:end].decode()

    def replaced(self, node: ast.AST, by: str) -> str:
        start, end = self._span(node)
        whole = b"".join(self._lines)
        return (whole[:start] + by.encode() + whole[end:]).decode()


def _changes(tree: ast.Module) -> Iterator[_Change]:
    for node in _live(tree):
        for make in _OPERATORS:
            yield from make(node)


def _live(node: ast.AST) -> Iterator[ast.AST]:
    """Every node that does something: no annotations, decorators, docstrings, texts of errors, internal assertions."""
    for child in ast.iter_child_nodes(node):
        if _idle(child):
            continue
        yield child
        if isinstance(child, ast.Raise):
            continue
        if isinstance(child, ast.AnnAssign):
            if child.value is not None:
                yield child.value
                yield from _live(child.value)
            continue
        if isinstance(child, ast.FunctionDef | ast.ClassDef):
            args = child.args if isinstance(child, ast.FunctionDef) else None
            defaults = [] if args is None else [d for d in (*args.defaults, *args.kw_defaults) if d is not None]
            for part in (*child.body, *defaults):
                if not _idle(part):
                    yield part
                    yield from _live(part)
            continue
        yield from _live(child)


def _idle(node: ast.AST) -> bool:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True
    if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
        return True
    if isinstance(node, ast.If) and all(map(_is_assertion, node.body)):
        return True
    return isinstance(node, ast.Import | ast.ImportFrom | ast.JoinedStr | ast.arguments) or _is_assertion(node)


def _is_assertion(node: ast.AST) -> bool:
    return isinstance(node, ast.Raise) and node.exc is not None and "AssertionError" in ast.unparse(node.exc)


def _comparison(node: ast.AST) -> Iterator[_Change]:
    if not isinstance(node, ast.Compare):
        return
    for index, operator in enumerate(node.ops):
        for other in _COMPARISONS[type(operator)]:
            new = deepcopy(node)
            new.ops[index] = other()
            yield _Change("comparison", node, new)


def _joined(node: ast.AST) -> Iterator[_Change]:
    """ "and" for "or"; and each part of a condition left out."""
    if not isinstance(node, ast.BoolOp):
        return
    swapped = deepcopy(node)
    swapped.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    yield _Change("and/or", node, swapped)
    for index in range(len(node.values)):
        fewer = deepcopy(node)
        del fewer.values[index]
        yield _Change("condition left out", node, fewer if len(fewer.values) > 1 else fewer.values[0])


def _negated(node: ast.AST) -> Iterator[_Change]:
    tests: list[ast.expr] = []
    if isinstance(node, ast.If | ast.While | ast.IfExp):
        tests.append(node.test)
    if isinstance(node, ast.comprehension):
        tests += node.ifs
    for test in tests:
        if not isinstance(test, ast.Compare):  # those have their own
            yield _Change("negated", test, ast.UnaryOp(ast.Not(), deepcopy(test)))
    if isinstance(node, ast.comprehension):
        for test in node.ifs:
            yield _Change("filter left out", test, ast.Constant(True))


def _constant(node: ast.AST) -> Iterator[_Change]:
    if not isinstance(node, ast.Constant):
        return
    value = node.value
    if isinstance(value, bool):
        yield _Change("constant", node, ast.Constant(not value))
    elif isinstance(value, int):
        yield _Change("constant", node, ast.Constant(value + 1))
        if value > 1:
            yield _Change("constant", node, ast.Constant(value - 1))
    elif isinstance(value, float):
        for changed in (value + 0.1, value - 0.1) if abs(value) <= 2 else (value * 1.2, value * 0.8):
            yield _Change("constant", node, ast.Constant(round(changed, 6)))


def _removed(node: ast.AST) -> Iterator[_Change]:
    kinds = {ast.Raise: "raise removed", ast.AugAssign: "statement removed", ast.Continue: "statement removed"}
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield _Change("call removed", node, ast.Pass())
    elif type(node) in kinds:
        yield _Change(kinds[type(node)], node, ast.Pass())
    elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Attribute | ast.Subscript):
        yield _Change("statement removed", node, ast.Pass())
    elif isinstance(node, ast.If):
        for inner in node.body:
            if isinstance(inner, ast.Return):
                yield _Change("early return removed", inner, ast.Pass())


def _arithmetic(node: ast.AST) -> Iterator[_Change]:
    if isinstance(node, ast.BinOp) and type(node.op) in _ARITHMETIC:
        new = deepcopy(node)
        new.op = _ARITHMETIC[type(node.op)]()
        yield _Change("arithmetic", node, new)


def _function(node: ast.AST) -> Iterator[_Change]:
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _FUNCTIONS:
        new = deepcopy(node)
        new.func = ast.Name(_FUNCTIONS[node.func.id])
        yield _Change("min/max/any/all", node, new)


def _entry(node: ast.AST) -> Iterator[_Change]:
    """Each entry of a table left out."""
    if not isinstance(node, ast.Dict) or len(node.keys) < 2:
        return
    for index in range(len(node.keys)):
        new = deepcopy(node)
        del new.keys[index], new.values[index]
        yield _Change(f"entry {ast.unparse(node.keys[index] or node.values[index])} left out", node, new)


_OPERATORS: tuple[Callable[[ast.AST], Iterator[_Change]], ...] = (
    _comparison,
    _joined,
    _negated,
    _constant,
    _removed,
    _arithmetic,
    _function,
    _entry,
)
