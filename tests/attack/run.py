"""Runs the cases of one attack: seeded, resumable, and counted."""

from __future__ import annotations

import importlib
import json
import pkgutil
import random
import tempfile
import time
import traceback
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Protocol, cast

Case = Callable[[int, random.Random], str | None]


class Attack(Protocol):
    """What a module of this folder offers (see the package)."""

    ABOUT: str
    SHARE: int

    @staticmethod
    def prepared(folder: Path) -> AbstractContextManager[Case]: ...


@dataclass
class Tally:
    """How far an attack has come.

    attack, seed: what was run.
    cases: how many were tried, numbers 0 to cases - 1.
    failures: the number and the sentence of each case that gave way.
    """

    attack: str
    seed: int
    cases: int = 0
    failures: list[tuple[int, str]] = field(default_factory=list)


def names() -> tuple[str, ...]:
    """Every attack there is."""
    package = Path(__file__).parent
    found = (module.name for module in pkgutil.iter_modules([str(package)]))
    return tuple(sorted(n for n in found if hasattr(_module(n), "prepared"))) if package.is_dir() else ()


def _module(name: str) -> object:
    if name in ("__main__", "run") or name.startswith("test_"):
        return None
    return importlib.import_module(f"tests.attack.{name}")


def load(name: str) -> Attack:
    return cast(Attack, importlib.import_module(f"tests.attack.{name}"))


def attack(tally: Tally, count: int, note: Callable[[Tally], None] | None = None, every: float = 5) -> Tally:
    """Goes on from where the tally stands until `count` cases were tried.

    note: called every so many seconds, and at the end.
    """
    noted = time.monotonic()
    with (
        tempfile.TemporaryDirectory(prefix="gladhand-attack-") as folder,
        load(tally.attack).prepared(Path(folder)) as case,
    ):
        while tally.cases < count:
            number = tally.cases
            try:
                gave_way = case(number, random.Random(f"{tally.attack}/{tally.seed}/{number}"))
            except Exception:
                gave_way = traceback.format_exc(limit=-3)
            if gave_way is not None:
                tally.failures.append((number, gave_way))
            tally.cases += 1
            if note is not None and time.monotonic() - noted > every:
                note(tally)
                noted = time.monotonic()
    if note is not None:
        note(tally)
    return tally


def restored(path: Path, name: str, seed: int) -> Tally:
    """The tally that an earlier run left, if it is of the same attack and seed; else a new one."""
    if path.exists():
        kept = json.loads(path.read_text(encoding="utf-8"))
        if (kept["attack"], kept["seed"]) == (name, seed):
            kept["failures"] = [(number, text) for number, text in kept["failures"]]
            return Tally(**kept)
    return Tally(name, seed)


def save(path: Path, tally: Tally) -> None:
    """Whole or not at all: a run may be ended at any moment."""
    new = path.with_name(f"{path.name}.new")
    new.write_text(json.dumps(asdict(tally), indent=1), encoding="utf-8")
    new.replace(path)
