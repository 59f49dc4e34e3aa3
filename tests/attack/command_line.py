"""Generated argument lists over all commands, with hostile words, run in this process: no devices, its own home."""

from __future__ import annotations

import contextlib
import io
import os
import random
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

import typer.main

from tests.attack.run import Case
from tests.attack.spoil import ODD_TEXTS
from tests.record.walks import signed, walk
from voice.cli import app, main

ABOUT = "generated argument lists over all commands: exit 0, 1 or 2, one or two sentences, nothing written elsewhere"
SHARE = 30

# What opens a sound card, loads engines for seconds or waits for ever is tried up to its options only.
_NEVER_RUN = {
    ("walk",), ("resume",), ("soundcheck",), ("recite",), ("rehearse",), ("logbook", "absorb"),
    ("models", "add"), ("models", "check"), ("attune", "read"), ("attune", "learn"),
}  # fmt: skip
WORDS = (
    *(text for text in ODD_TEXTS if "\x00" not in text), "last", "home", "out", "out/a/b", "file", "readonly",
    "readonly/x.html", "file/x", "x" * 300, "school-bus", "straight-truck-two-axle", "brake-lights#lamp-out", "json",
    "csv", "html", "3 months", "2026-03-01", "99999999999 days", "tread", "1", "0", "1e9", "example",
    "/dev/null", "/dev/full",
)  # fmt: skip


def _commands(group: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    for name, command in group.commands.items():
        if hasattr(command, "commands"):
            yield from _commands(command, (*path, name))
        yield (*path, name), command


class Scene:
    """A folder to work in: home with a signed and an open inspection, out, a file, and a folder only to be read."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.home = folder, folder / "home"
        signed(self.home, {"brake-lights": ("defect", "lamp out")}, only=("chocks", "brake-lights"))
        walk(self.home, only=("chocks", "brake-lights"), stop_at="brake-lights")
        self.kept = folder / "kept"
        shutil.copytree(self.home, self.kept)
        # Typer makes its commands anew from the functions each time, which takes five times as long as to run one.
        self.made = typer.main.get_command(app)
        self.commands = list(_commands(self.made))
        for name in ("victim", "etc"):
            (folder / name).write_text("precious", encoding="utf-8")
        self.where = folder / "work"

    def case(self, number: int, rng: random.Random) -> str | None:
        path, command = rng.choice(self.commands)
        arguments = [*path, *self._generated(path, command, rng)]
        if number % 200 == 0:  # what the commands left there is part of the attack, but not for ever
            shutil.rmtree(self.home)
            shutil.copytree(self.kept, self.home)
        shutil.rmtree(self.where, ignore_errors=True)
        self.where.mkdir()
        (self.where / "file").write_text("x", encoding="utf-8")
        (self.where / "readonly").symlink_to("/proc/self")  # nobody can write there, root neither
        before = self._outside()
        code, said = self._run(arguments)
        fault = _judged(code, said)
        if fault is None and self._outside() != before:
            fault = "something was written outside its folder"
        return None if fault is None else f"{arguments!r:.300}: {fault}"

    def _generated(self, path: tuple[str, ...], command: Any, rng: random.Random) -> list[str]:
        words: list[str] = []
        for parameter in command.params:
            options = [each for each in parameter.opts if each.startswith("-")]
            if parameter.name in ("help", "home") or rng.random() < (0.5 if options else 0.2):
                continue
            if options:
                words.append(rng.choice(options))
            if not getattr(parameter, "is_flag", False) and rng.random() < 0.95:
                words.append(rng.choice(WORDS))
        if rng.random() < 0.1:
            words.insert(rng.randrange(len(words) + 1), rng.choice(("--nonsense", "-é", "--", "-", *WORDS)))
        if path in _NEVER_RUN:
            words.append("--no-such-option")
        return words

    def _run(self, arguments: list[str]) -> tuple[int, str]:
        out, err = io.StringIO(), io.StringIO()
        there, argv, environment = Path.cwd(), sys.argv, dict(os.environ)
        os.chdir(self.where)
        os.environ["GLADHAND_HOME"] = str(self.home)
        os.environ.pop("GLADHAND_LOGBOOK_URL", None)
        sys.argv = ["gladhand", *arguments]
        try:
            with (
                contextlib.redirect_stdout(out),
                contextlib.redirect_stderr(err),
                patch("voice.cli.app", self.made),
            ):
                try:
                    main()
                    code = 0
                except SystemExit as stop:
                    code = stop.code if isinstance(stop.code, int) else 0
        finally:
            os.chdir(there)
            sys.argv = argv
            os.environ.clear()
            os.environ.update(environment)
        return code, err.getvalue()

    def _outside(self) -> list[tuple[str, int]]:
        inside = (self.where, self.home, self.kept)
        return [
            (str(each.relative_to(self.folder)), each.stat().st_size if each.is_file() else 0)
            for each in sorted(self.folder.iterdir())
            if each not in inside
        ]


def _judged(code: int, said: str) -> str | None:
    if code not in (0, 1, 2):
        return f"exit {code}"
    if "Traceback" in said or "Value error" in said:
        return f"it said {said!r:.300}"
    if code == 2 and not said.strip():
        return "exit 2 without a word"
    if any(not line.isprintable() for line in said.splitlines()):
        return f"it printed what a terminal obeys: {said!r:.300}"
    lines = [line for line in said.splitlines() if line.startswith("gladhand: ")]
    return f"a long message: {said!r:.300}" if any(len(line) > 1200 for line in lines) else None


@contextmanager
def prepared(folder: Path) -> Iterator[Case]:
    yield Scene(folder).case
