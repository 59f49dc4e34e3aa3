"""python -m tests.mutants [--room R] [--file F] [--count N] [--seed S] [--survivors]

Breaks N things in each file of the room (all rooms without --room), one at a time, and adds what came of it to the
list. Mutants that are in the list already are not tried again, so it can be stopped and goes on. --survivors: try those
that survived once more, after a test was written for them."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.mutants import report
from tests.mutants.operators import Mutant, mutants
from tests.mutants.run import ROOT, BrokenError, Tried, chosen, copy, tried, warmed
from tests.mutants.targets import TARGETS


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--room", choices=sorted(TARGETS))
    parser.add_argument("--file", help="only this file of the room")
    parser.add_argument("--count", type=int, default=6, help="how many in each file")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--survivors", action="store_true")
    parser.add_argument("--report", action="store_true", help="only write RESULTS.md anew, from results.json")
    given = parser.parse_args()
    if given.report:
        report.save(report.load())
        return 0
    rooms = [given.room] if given.room else list(TARGETS)
    files = {file: tests for room in rooms for file, tests in TARGETS[room].items() if given.file in (None, file)}
    with tempfile.TemporaryDirectory(prefix="gladhand-mutants-") as folder, copy(Path(folder)) as checkout:
        for file, tests in files.items():
            known = report.load()
            wanted = _survivors(file, known) if given.survivors else _fresh(file, known, given.count, given.seed)
            if wanted and not _file(checkout, file, tests, wanted):
                return 1
    return 0


def _fresh(file: str, known: Sequence[Tried], count: int, seed: int) -> list[Mutant]:
    had = {report.key(each.file, each) for each in known}
    return [each for each in chosen(file, count, seed) if report.key(file, each) not in had]


def _survivors(file: str, known: Sequence[Tried]) -> list[Mutant]:
    alive = {report.key(each.file, each) for each in known if each.verdict == "survived"}
    return [each for each in mutants((ROOT / file).read_text(encoding="utf-8")) if report.key(file, each) in alive]


def _file(checkout: Path, file: str, tests: Sequence[str], wanted: Sequence[Mutant]) -> bool:
    """Whether it could be done. In a process of its own: it loads the copy's modules, and no two files' mix."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    code = 1
    try:
        patience = 30 + 5 * warmed(checkout, tests)
        for mutant in wanted:
            result = tried(checkout, file, mutant, tests, patience)
            print(f"{result.verdict:9} {file}:{result.line} {result.before} -> {result.after}  {result.by}", flush=True)
            others = [each for each in report.load() if report.key(each.file, each) != report.key(file, result)]
            report.save([*others, result])
        code = 0
    except BrokenError as error:
        print(error, file=sys.stderr, flush=True)
    finally:
        os._exit(code)


if __name__ == "__main__":
    sys.exit(main())
