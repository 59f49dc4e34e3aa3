"""For each shipped vehicle, depth and length: questions, words, minutes of talk. python -m tests.benchmarks.pace

Prints a Markdown table. "first finding" is from a walk with ten planted faults (tests/faults, demo/driver.yaml), all
else from one in which nothing is wrong.
"""

from __future__ import annotations

from pathlib import Path
from typing import get_args

from tests.benchmarks.pace.talk import Pace, Walked, sound
from tests.walk.talkative import context
from voice.route.model import Depth, Length
from voice.session.script import load_script
from voice.walk.machine import begin

ROOT = Path(__file__).resolve().parents[3]
SCRIPTS = {
    "tractor-semitrailer": ROOT / "demo" / "driver.yaml",
    "straight-truck": ROOT / "tests" / "faults" / "straight-truck.yaml",
    "bus": ROOT / "tests" / "faults" / "school-bus.yaml",
}
COLUMNS = ("vehicle", "depth", "length", "items", "questions", "words", "minutes", "first finding, min", "closing, s")


def row(kind: str, depth: Depth, length: Length) -> str:
    known = context(kind)
    script = load_script(SCRIPTS[kind])
    well: Pace = Walked(known, begin(length, depth), sound(script, known)).run()
    faulty: Pace = Walked(known, begin(length, depth), script).run()
    first = "" if faulty.first_finding is None else f"{faulty.first_finding / 60:.1f}"
    cells = (kind, depth, length, len(known.plan.steps), well.questions, well.words, f"{well.talk / 60:.1f}", first)
    closing = f"{well.closing:.0f}, with ten faults {faulty.closing:.0f}"
    return f"| {' | '.join(map(str, (*cells, closing)))} |"


def main() -> None:
    print(f"| {' | '.join(COLUMNS)} |\n|{'---|' * len(COLUMNS)}")
    for kind in SCRIPTS:
        for depth in get_args(Depth):
            for length in get_args(Length):
                print(row(kind, depth, length), flush=True)


if __name__ == "__main__":
    main()
