"""Tries mutants: each in a copy of the checkout, in a process of its own that ends at the first failing test."""

from __future__ import annotations

import importlib
import os
import random
import re
import shutil
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.mutants.operators import Mutant, mutants

ROOT = Path(__file__).resolve().parents[2]
_COPIED = ("voice", "tests", "prompts", "models", "demo", "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml")
# Loaded once, before the processes part: most of a test run's start.
_LOADED = (
    "pytest", "hypothesis", "numpy", "pydantic", "ruamel.yaml", "pint", "jinja2", "sqlalchemy.orm", "typer",
    "rapidfuzz", "soundfile", "cryptography.hazmat.primitives.asymmetric.ed25519",
)  # fmt: skip
_FAILED = re.compile(r"^(?:FAILED|ERROR) (\S+?)(?: - |$)", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of one mutant (see Mutant). verdict: killed, survived or timeout. by: the test that failed first."""

    file: str
    where: str
    line: int
    kind: str
    before: str
    after: str
    number: int
    verdict: str
    by: str = ""


class BrokenError(Exception):
    """The tests fail, or take for ever, without any mutant."""


@contextmanager
def copy(folder: Path) -> Iterator[Path]:
    """The checkout's files in a folder of their own."""
    target = folder / "checkout"
    target.mkdir()
    ignore = shutil.ignore_patterns("__pycache__", ".hypothesis")
    for name in _COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, target / name, ignore=ignore)
        elif source.exists():
            shutil.copy(source, target / name)
    for name in _LOADED:
        importlib.import_module(name)
    yield target


def chosen(file: str, count: int, seed: int) -> list[Mutant]:
    """A sample of the file's mutants, in the order of the text. The same seed gives the same ones."""
    every = mutants((ROOT / file).read_text(encoding="utf-8"))
    rng = random.Random(f"{seed}/{file}")
    return sorted(rng.sample(every, min(count, len(every))), key=every.index)


def baseline(checkout: Path, tests: Sequence[str]) -> float:
    """Seconds that the tests take unbroken. Raises BrokenError."""
    start = time.monotonic()
    code, output = _tested(checkout, tests, 600.0)
    if code != 0:
        raise BrokenError(f"{' '.join(tests)} fails without a mutant:\n{output[-2000:]}")
    return time.monotonic() - start


def tried(checkout: Path, file: str, mutant: Mutant, tests: Sequence[str], patience: float) -> Tried:
    """One mutant, and what the tests say."""
    path = checkout / file
    whole = path.read_text(encoding="utf-8")
    try:
        _put(path, mutant.source)
        code, output = _tested(checkout, tests, patience)
    finally:
        _put(path, whole)
    found = _FAILED.search(output)
    verdict = {None: "timeout", 0: "survived"}.get(code, "killed")
    by = "" if code in (None, 0) else (found[1] if found else "it cannot be imported")
    return Tried(
        file, mutant.where, mutant.line, mutant.kind, mutant.before, mutant.after, mutant.number, verdict, by
    )  # fmt: skip


def _put(path: Path, source: str) -> None:
    """Python takes a compiled file of the same second and size for the new one: it goes, too."""
    path.write_text(source, encoding="utf-8")
    for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*.pyc"):
        compiled.unlink()


def _tested(checkout: Path, tests: Sequence[str], patience: float) -> tuple[int | None, str]:
    """pytest's exit status (None: it was stopped) and its output."""
    told = checkout.parent / "output.txt"
    child = os.fork()
    if child == 0:
        _be_pytest(checkout, tests, told)
    end = time.monotonic() + patience
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status), told.read_text(encoding="utf-8", errors="replace")
        if time.monotonic() > end:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return None, ""
        time.sleep(0.05)


def _be_pytest(checkout: Path, tests: Sequence[str], told: Path) -> None:
    """The child's whole life. A group of its own, so that what the tests start ends with it."""
    code = 70
    try:
        os.setpgid(0, 0)
        with told.open("w", encoding="utf-8") as out:
            os.dup2(out.fileno(), 1)
            os.dup2(out.fileno(), 2)
        os.chdir(checkout)
        os.environ["PYTHONPATH"] = str(checkout)
        sys.path[:] = [str(checkout), *(entry for entry in sys.path if Path(entry or ".").resolve() != ROOT)]
        for name in [name for name in sys.modules if name.partition(".")[0] in ("tests", "voice")]:
            del sys.modules[name]
        import pytest

        code = int(pytest.main(["-x", "-q", "--tb=no", "-rfE", "-p", "no:cacheprovider", *tests]))
    finally:
        sys.stdout.flush()
        os._exit(code)
