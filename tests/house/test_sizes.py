"""The house's sizes: no module over 300 lines, no function with more than six parameters.

What is larger today is listed, and only what is: an entry that no longer holds fails too, so the lists can but shrink.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

VOICE = Path(__file__).resolve().parents[2] / "voice"
LINES, PARAMETERS = 300, 6

LONG: set[str] = {
    "author/audit.py",
    "cli/lesson.py",
    "cli/logbook.py",
    "cli/records.py",
    "hear/whisper.py",
    "logbook/schema.py",
    "logbook/store.py",
    "record/build.py",
    "record/canonical.py",
    "record/report.py",
    "rehearse/listen/credit.py",
    "route/model.py",
    "session/inspection.py",
    "session/scripted.py",
    "understand/phrases.py",
}
WIDE: set[str] = {
    "cli/lesson.py:read_aloud",
    "cli/lesson.py:rehearse",
    "cli/lesson.py:write_audio",
    "hear/ear.py:__init__",
    "journal/folder.py:create",
    "logbook/bounds.py:_bounds",
    "logbook/ical.py:_entry",
    "logbook/pdf.py:write_reports",
    "record/build.py:build",
    "record/files.py:write_record",
    "rehearse/progress/record.py:make_record",
    "rehearse/recite/perform.py:perform",
    "rehearse/recite/player.py:play",
    "rehearse/recite/render.py:_write",
    "rehearse/recite/render.py:render",
    "session/inspection.py:_run",
    "session/loop.py:__init__",
    "sound/cardprocess.py:_open",
}


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
    assert {name for name, text in modules() if long(text)} == LONG


def test_no_function_takes_more_than_can_be_told_apart() -> None:
    assert {f"{name}:{function}" for name, text in modules() for function in wide(text)} == WIDE


def test_a_long_module_and_a_wide_function_would_be_seen() -> None:
    assert long("x = 1\n" * 301)
    assert not long("x = 1\n" * 300)
    assert list(wide("def seven(a, b, c, d, e, f, *, g): ...")) == ["seven"]
    assert list(wide("class A:\n    def six(self, a, b, c, d, e, f): ...")) == []
    assert list(wide("@app.command()\ndef told(a, b, c, d, e, f, g): ...")) == []
    assert list(wide("app.command()(told)\ndef told(a, b, c, d, e, f, g): ...")) == []
