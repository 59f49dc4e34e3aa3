"""The house's sizes: no module over 300 lines, no function with more than six parameters."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

VOICE = Path(__file__).resolve().parents[2] / "voice"
LINES, PARAMETERS = 300, 6


def modules() -> Iterator[tuple[str, str]]:
    """Each module as a path in voice/, with its text."""
    for path in sorted(VOICE.rglob("*.py")):
        yield path.relative_to(VOICE).as_posix(), path.read_text(encoding="utf-8")


def long(text: str) -> bool:
    return len(text.splitlines()) > LINES


def wide(text: str) -> Iterator[str]:
    """Names of functions with too many parameters; self and cls are none, and a command's are its options."""
    tree = ast.parse(text)
    commands = set(_commands(tree))
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) or node.name in commands:
            continue
        given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        count = len([each for each in given if each.arg not in ("self", "cls")])
        if count + bool(node.args.vararg) + bool(node.args.kwarg) > PARAMETERS:
            yield node.name


def _commands(tree: ast.Module) -> Iterator[str]:
    """Names of typer's commands: under `@app.command()`, or given to it as in `app.command()(walk)`."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and any(map(_makes_command, node.decorator_list)):
            yield node.name
        elif isinstance(node, ast.Call) and _makes_command(node.func):
            yield from (each.id for each in node.args if isinstance(each, ast.Name))


def _makes_command(node: ast.expr) -> bool:
    called = node.func if isinstance(node, ast.Call) else None
    return isinstance(called, ast.Attribute) and called.attr in ("command", "callback")


def test_no_module_is_longer_than_can_be_read_at_once() -> None:
    assert {name for name, text in modules() if long(text)} == set()


def test_no_function_takes_more_than_can_be_told_apart() -> None:
    assert {f"{name}:{function}" for name, text in modules() for function in wide(text)} == set()


def test_a_long_module_and_a_wide_function_would_be_seen() -> None:
    assert long("x = 1\n" * 301)
    assert not long("x = 1\n" * 300)
    assert list(wide("def seven(a, b, c, d, e, f, *, g): ...")) == ["seven"]
    assert list(wide("class A:\n    def six(self, a, b, c, d, e, f): ...")) == []
    assert list(wide("@app.command()\ndef told(a, b, c, d, e, f, g): ...")) == []
    assert list(wide("app.command()(told)\ndef told(a, b, c, d, e, f, g): ...")) == []
