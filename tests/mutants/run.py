"""Tries mutants: in a copy of the checkout, each in a process of its own that ends at the first failing test."""

from __future__ import annotations

import importlib
import inspect
import os
import random
import re
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FunctionType

from tests.mutants.operators import Mutant, mutants

ROOT = Path(__file__).resolve().parents[2]
_COPIED = ("voice", "tests", "prompts", "models", "demo", "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml")
# Loaded once, before the processes part: most of a test run's start.
_LOADED = (
    "pytest", "hypothesis", "numpy", "pydantic", "ruamel.yaml", "pint", "jinja2", "sqlalchemy.orm", "typer",
    "rapidfuzz", "soundfile", "cryptography.hazmat.primitives.asymmetric.ed25519",
)  # fmt: skip
_NOT_SWAPPED = 71
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


def warmed(checkout: Path, tests: Sequence[str]) -> float:
    """Run the tests once, unbroken, in this process; from now on it holds everything loaded. Gives the seconds.

    Raises BrokenError.
    """
    _enter(checkout)
    start = time.monotonic()
    told = checkout.parent / "output.txt"
    if _pytest(tests, told) != 0:
        raise BrokenError(f"{' '.join(tests)} fails without a mutant:\n{told.read_text(encoding='utf-8')[-2000:]}")
    return time.monotonic() - start


def tried(checkout: Path, file: str, mutant: Mutant, tests: Sequence[str], patience: float) -> Tried:
    """One mutant, and what the tests say. In a copy of this process, with the function changed where it is loaded.

    What survives that way, or is no function's code, is tried again from the file: something may have been kept.
    """
    code, output = _forked(lambda: swapped(file, mutant), tests, checkout, patience)
    if code in (0, _NOT_SWAPPED):
        path = checkout / file
        whole = path.read_text(encoding="utf-8")
        try:
            _put(path, mutant.source)
            code, output = _forked(_forget, tests, checkout, patience)
        finally:
            _put(path, whole)
    found = _FAILED.search(output)
    verdict = {None: "timeout", 0: "survived"}.get(code, "killed")
    by = "" if code in (None, 0) else (found[1] if found else "it cannot be imported")
    return Tried(
        file, mutant.where, mutant.line, mutant.kind, mutant.before, mutant.after, mutant.number, verdict, by
    )  # fmt: skip


def swapped(file: str, mutant: Mutant) -> bool:
    """Give the loaded function the changed code. False if that cannot be: no function, or only its defaults differ."""
    found: object = sys.modules.get(file.removesuffix(".py").replace("/", "."))
    names: list[str] = []
    for name in mutant.where.split("."):
        if isinstance(found, FunctionType) or not hasattr(found, name):
            break
        found = inspect.getattr_static(found, name) if inspect.isclass(found) else getattr(found, name)
        found = getattr(found, "fget", None) or getattr(found, "__func__", None) or found
        names.append(name)
    if not isinstance(found, FunctionType):
        return False
    code = _code(compile(mutant.source, file, "exec"), ".".join(names))
    old = found.__code__.replace(co_filename=file)
    if code is None or code == old or code.co_freevars != old.co_freevars:
        return False
    found.__code__ = code
    return True


def _code(outer: CodeType, name: str) -> CodeType | None:
    for inner in outer.co_consts:
        if isinstance(inner, CodeType):
            if inner.co_qualname == name:
                return inner
            if (found := _code(inner, name)) is not None:
                return found
    return None


def _put(path: Path, source: str) -> None:
    """Python takes a compiled file of the same second and size for the new one: it goes, too."""
    path.write_text(source, encoding="utf-8")
    for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*.pyc"):
        compiled.unlink()


def _forked(
    change: Callable[[], bool], tests: Sequence[str], checkout: Path, patience: float
) -> tuple[int | None, str]:
    """pytest's exit status in a copy of this process (None: it was stopped), and its output."""
    told = checkout.parent / "output.txt"
    told.write_text("", encoding="utf-8")
    child = os.fork()
    if child == 0:
        code = 70
        try:
            os.setpgid(0, 0)  # what the tests start ends with it
            code = _pytest(tests, told) if change() else _NOT_SWAPPED
        finally:
            os._exit(code)
    end = time.monotonic() + patience
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status), told.read_text(encoding="utf-8", errors="replace")
        if time.monotonic() > end:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return None, ""
        time.sleep(0.02)


def _enter(checkout: Path) -> None:
    """From now on `voice` and `tests` are those of the copy."""
    os.chdir(checkout)
    os.environ["PYTHONPATH"] = str(checkout)
    sys.path[:] = [str(checkout), *(entry for entry in sys.path if Path(entry or ".").resolve() != ROOT)]
    _forget()


def _forget() -> bool:
    """Nothing of the checkout is loaded any more."""
    for name in [name for name in sys.modules if name.partition(".")[0] in ("tests", "voice")]:
        del sys.modules[name]
    return True


def _pytest(tests: Sequence[str], told: Path) -> int:
    """pytest's exit status; its output goes to the file."""
    import pytest

    sys.stdout.flush()
    kept = os.dup(1), os.dup(2)
    try:
        with told.open("w", encoding="utf-8") as out:
            os.dup2(out.fileno(), 1)
            os.dup2(out.fileno(), 2)
            return int(pytest.main(["-x", "-q", "--tb=no", "-rfE", "-p", "no:cacheprovider", *tests]))
    finally:
        sys.stdout.flush()
        for number, handle in enumerate(kept, 1):
            os.dup2(handle, number)
            os.close(handle)
