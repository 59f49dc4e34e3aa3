"""python -m tests.attack NAME --count N [--seed S] [--tally FILE]

Goes on where FILE stands. Without NAME it lists the attacks."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.attack.run import Tally, attack, load, names, restored, save


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.attack", description=__doc__)
    parser.add_argument("name", nargs="?", choices=names())
    parser.add_argument("--count", type=int, default=1000, help="how many cases in all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tally", type=Path, help="where to note how far it came (default: attack-NAME.json)")
    given = parser.parse_args()
    if given.name is None:
        for name in names():
            print(f"{name:16} {load(name).ABOUT}")
        return 0
    path: Path = given.tally or Path(f"attack-{given.name}.json")
    tally = attack(restored(path, given.name, given.seed), given.count, lambda now: _note(path, now))
    print(f"{tally.attack}: {tally.cases} cases, {len(tally.failures)} failures, seed {tally.seed}")
    for number, text in tally.failures[:20]:
        print(f"  case {number}: {text}")
    return 1 if tally.failures else 0


def _note(path: Path, tally: Tally) -> None:
    save(path, tally)
    print(f"{tally.cases} cases, {len(tally.failures)} failures", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
