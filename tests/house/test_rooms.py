"""The rooms of the house: no import runs back up, none goes in a circle, and each uses only what it says it may."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import grimp
import pytest
from importlinter.cli import lint_imports

ROOT = Path(__file__).resolve().parents[2]
VOICE = ROOT / "voice"
ROOMS = sorted(path.parent.name for path in VOICE.glob("*/__init__.py"))
FLAT = ("errors", "soundcheck")  # rooms of a single module


@cache
def graph() -> grimp.ImportGraph:
    """Every import of the program, those inside functions too."""
    return grimp.build_graph("voice", cache_dir=None)


def room_of(module: str) -> str:
    return module.split(".")[1] if "." in module else ""


def may_use(room: str) -> set[str]:
    """The rooms named after "May use:" in the room's own __init__."""
    said = ast.get_docstring(ast.parse((VOICE / room / "__init__.py").read_text(encoding="utf-8"))) or ""
    named = said.partition("May use:")[2]
    known = {*ROOMS, *FLAT}
    return known if named.strip().startswith("everything") else known & set(re.findall(r"[a-z]+", named))


def test_no_import_runs_back_up(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(ROOT)
    code = lint_imports(config_filename=str(ROOT / "pyproject.toml"), cache_dir=None)
    assert code == 0, capfd.readouterr().out


@pytest.mark.parametrize("room", ROOMS)
def test_each_room_says_what_it_is_takes_gives_and_uses(room: str) -> None:
    said = ast.get_docstring(ast.parse((VOICE / room / "__init__.py").read_text(encoding="utf-8"))) or ""
    assert re.match(r"[^\n]+\.\n", said)
    for name in ("In", "Out", "May use"):
        assert len(re.findall(rf"(?m)^{name}: \S", said)) == 1, name


@pytest.mark.parametrize("room", ROOMS)
def test_each_room_uses_only_what_it_says_it_may(room: str) -> None:
    used: dict[str, list[str]] = {}
    for module in sorted(graph().modules):
        if room_of(module) != room:
            continue
        for other in graph().find_modules_directly_imported_by(module):
            used.setdefault(room_of(other), []).append(f"{module} -> {other}")
    allowed = may_use(room) | {room, ""}
    told = {f"{edge}" for name, edges in used.items() if name not in allowed for edge in edges}
    assert told == set()


def test_no_modules_import_each_other_in_a_circle() -> None:
    found = {tuple(sorted(name.removeprefix("voice.") for name in circle)) for circle in circles()}
    assert found == set()


def circles() -> list[set[str]]:
    """Groups of modules each of which reaches each other one by imports."""
    reach = {module: graph().find_upstream_modules(module) for module in graph().modules}
    groups: list[set[str]] = []
    for module in sorted(reach):
        group = {module} | {other for other in reach[module] if module in reach[other]}
        if len(group) > 1 and group not in groups:
            groups.append(group)
    return groups
