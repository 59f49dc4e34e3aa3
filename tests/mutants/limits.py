"""python -m tests.mutants.limits [--count N] [--seed S]

Breaks the shipped limits one entry at a time, as data: its comparison, its level, its scope (facts, items, defects,
parts, details, days), and sees which test of tests/judge notices. The test that the generated table is fresh is left
out: it notices any change and understands none. Writes LIMITS.md here."""

from __future__ import annotations

import argparse
import os
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

import voice.judge
from tests.judge import test_sources, yard
from tests.judge.test_sources import READ_CASES, SAID_CASES
from voice.errors import DataError
from voice.judge import load
from voice.judge.limit import Criterion, Limit, LimitSet
from voice.route import load_library
from voice.route.library import Library

LIST = Path(__file__).parent / "LIMITS.md"
LEFT_OUT = "not up_to_date"
OTHER_WAYS = {
    "at-least": ("more-than", "at-most"),
    "more-than": ("at-least", "less-than"),
    "at-most": ("less-than", "at-least"),
    "less-than": ("at-most", "more-than"),
}
LISTS = ("items", "defects", "parts")


@dataclass(frozen=True, slots=True)
class Broken:
    """kind: comparison, level or scope.
    what: what was changed.
    update: of the entry's fields.
    """

    id: str
    kind: str
    what: str
    update: dict[str, Any]


def broken(rule: Limit | Criterion) -> Iterator[Broken]:
    """Every mutant of one entry."""
    if isinstance(rule, Limit):
        for other in OTHER_WAYS.get(rule.must, ()):
            yield Broken(rule.id, "comparison", f"{rule.must} to {other}", {"must": other})
    for level in ("watch", "repair", "halt"):
        if level != rule.level:
            yield Broken(rule.id, "level", f"{rule.level} to {level}", {"level": level})
    yield from (Broken(rule.id, "scope", what, update) for what, update in _scopes(rule))


def _scopes(rule: Limit | Criterion) -> Iterator[tuple[str, dict[str, Any]]]:
    for name in ("applies", *(("details",) if isinstance(rule, Criterion) else ())):
        facts: dict[str, tuple[Any, ...]] = getattr(rule, name)
        for fact, values in facts.items():
            yield f"{name} without {fact}", {name: {key: kept for key, kept in facts.items() if key != fact}}
            for value in values if len(values) > 1 else ():
                fewer = tuple(each for each in values if each != value)
                yield f"{name}: {fact} without {value}", {name: {**facts, fact: fewer}}
    for name in LISTS if isinstance(rule, Criterion) else ():
        listed: tuple[str, ...] = getattr(rule, name)
        if listed:
            yield f"no {name}", {name: ()}
        for value in listed if len(listed) > 1 else ():
            yield f"{name} without {value}", {name: tuple(each for each in listed if each != value)}
    for name, day in (("valid_from", rule.valid_from), ("valid_to", rule.valid_to)):
        if day is not None:
            yield f"no {name}", {name: None}
            for days in (-1, 1):
                step = timedelta(days=days)
                moved = tuple(each.model_copy(update={"day": each.day + step}) for each in rule.changes)
                yield f"{name} {days:+} day", {name: day + step, "changes": moved}


def applied(whole: LimitSet, mutant: Broken) -> LimitSet:
    """The set with that entry broken; not validated again, as a mistake in a file would be."""

    def each(rules: Sequence[Any]) -> tuple[Any, ...]:
        return tuple(rule.model_copy(update=mutant.update) if rule.id == mutant.id else rule for rule in rules)

    return LimitSet.model_construct(**{**dict(whole), "limits": each(whole.limits), "criteria": each(whole.criteria)})


def noticed_by(whole: LimitSet, library: Library, mutant: Broken) -> str:
    """What noticed it: the cases of the entry, or of another. Empty if none did.

    The cases are called here, without pytest, since they are many and quick; what survives them all goes through the
    other tests of the folder in the end.
    """
    changed = applied(whole, mutant)
    held = changed.on(yard.DAY)
    kept = test_sources.WHOLE, yard.shipped
    test_sources.WHOLE, yard.shipped = changed, lambda: held  # type: ignore[assignment]
    try:
        if not all(check() for check in _checks(library, mutant.id)):
            return "its own cases"
        if not all(check() for check in _checks(library, None)):
            return "another entry's cases"
    finally:
        test_sources.WHOLE, yard.shipped = kept
    return ""


def _checks(library: Library, name: str | None) -> Iterator[Callable[[], bool]]:
    """Each case of an entry, of all of them if None, as a call that tells whether it holds."""
    for reading in READ_CASES:
        if name in (None, reading.id):
            yield partial(_holds, test_sources.test_a_reading_at_the_figure_and_beside_it, reading)
            yield partial(_holds, test_sources.test_a_limit_does_not_hold_elsewhere, reading)
    for said in SAID_CASES:
        if name in (None, said.id):
            yield partial(_holds, test_sources.test_a_defect_that_the_criterion_names, library, said)
            yield partial(_holds, test_sources.test_a_criterion_does_not_decide_elsewhere, library, said)


def _holds(check: Callable[..., None], *given: object) -> bool:
    try:
        check(*given)
    except (AssertionError, LookupError, DataError):
        return False
    return True


def _tests_fail(changed: LimitSet) -> bool:
    """Whether a test of the folder fails with these limits, in a copy of this process."""
    child = os.fork()
    if child == 0:
        code = 70
        try:
            original = load.load_limits
            for module in (voice.judge, load):
                module.load_limits = lambda files=(): original(files) if files else changed  # type: ignore[attr-defined]
            for name in [each for each in sys.modules if each.startswith("tests.judge")]:
                del sys.modules[name]
            out = os.open(os.devnull, os.O_WRONLY)
            os.dup2(out, 1)
            os.dup2(out, 2)
            options = ["-x", "-q", "--tb=no", "-n0", "-p", "no:cacheprovider", "-k", LEFT_OUT]
            code = int(pytest.main([*options, "tests/judge"]))
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) != 0


def report(found: Sequence[tuple[Broken, str]], known: int) -> str:
    lines = ["# Mutants of the limits", "", "Written by `python -m tests.mutants.limits` (see its docstring).", ""]
    alive = [mutant for mutant, by in found if not by]
    lines += [f"{len(found)} of {known} mutants tried, {len(alive)} survived.", ""]
    lines += ["| kind | tried | noticed by its own cases | by another entry's | by another test | survived |"]
    lines += ["|---|---|---|---|---|---|"]
    for kind in ("comparison", "level", "scope"):
        by = Counter(noticed for mutant, noticed in found if mutant.kind == kind)
        names = ("its own cases", "another entry's cases", "another test", "")
        lines.append(f"| {kind} | {by.total()} | " + " | ".join(str(by[name]) for name in names) + " |")
    lines += ["", "## Survivors", "", *(f"- {each.id}: {each.what}" for each in alive), ""]
    return "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants.limits", description=__doc__)
    parser.add_argument("--count", type=int, default=10_000, help="how many")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    whole, library = load.load_limits(), load_library()
    rules: list[Limit | Criterion] = [*whole.limits, *whole.criteria]
    every = [mutant for rule in rules for mutant in broken(rule)]
    chosen = random.Random(given.seed).sample(every, min(given.count, len(every)))
    if not all(check() for check in _checks(library, None)):
        print("A case fails without any mutant.", file=sys.stderr)
        return 1
    found = [(mutant, noticed_by(whole, library, mutant)) for mutant in chosen]
    for index, (mutant, by) in enumerate(found):
        if not by and _tests_fail(applied(whole, mutant)):
            found[index] = (mutant, "another test")
        print(f"{found[index][1] or 'SURVIVED':22} {mutant.id}: {mutant.what}", flush=True)
    LIST.write_text(report(found, len(every)), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
