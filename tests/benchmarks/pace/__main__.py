"""For each shipped vehicle, depth and length: questions, words, minutes of talk. python -m tests.benchmarks.pace

Prints a Markdown table. "first finding" is from a walk with ten planted faults (tests/faults, demo/driver.yaml), all
else from one in which nothing is wrong. The other kinds of inspection come last.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import get_args

from tests.benchmarks.pace.talk import Pace, Walked, sound
from tests.walk.talkative import context
from voice.record.past import Past
from voice.route import load_library, make_plan
from voice.route.answer import Measurement
from voice.route.kinds import kinds_for
from voice.route.model import Depth, Length
from voice.route.units import in_unit
from voice.session.due import Today, with_due
from voice.session.script import load_script
from voice.walk.context import Context
from voice.walk.machine import begin

ROOT = Path(__file__).resolve().parents[3]
SCRIPTS = {
    "tractor-semitrailer": ROOT / "demo" / "driver.yaml",
    "straight-truck": ROOT / "tests" / "faults" / "straight-truck.yaml",
    "bus": ROOT / "tests" / "faults" / "school-bus.yaml",
}
COLUMNS = ("vehicle", "depth", "length", "items", "questions", "words", "minutes", "first finding, min", "closing, s")


def row(kind: str, depth: Depth, length: Length) -> str:
    """All is asked."""
    known, script = context(kind), load_script(SCRIPTS[kind])
    well = Walked(known, begin(length, depth), sound(script, known)).run()
    faulty = Walked(known, begin(length, depth), script).run()
    first = "" if faulty.first_finding is None else f"{faulty.first_finding / 60:.1f}"
    return line(kind, depth, length, known, well, (first, f"{well.closing:.0f}, with ten faults {faulty.closing:.0f}"))


def daily(kind: str, length: Length) -> str:
    """By place, on a day on which nothing that is measured now and then is due."""
    known = context(kind)
    now = datetime.now(UTC)
    measured: dict[str, list[str]] = {}
    for step in known.plan.steps:
        if isinstance(step.item.answer, Measurement):
            unit, own = in_unit(known.plan.vehicle, step.id, step.place)
            measured.setdefault(unit, []).append(own)
    yesterday = now - timedelta(days=1)
    pasts = [Past(id="yesterday", vehicle=unit, at=yesterday, measured=tuple(own)) for unit, own in measured.items()]
    plan = with_due(known.plan, load_library().due, pasts, Today(now), known.pace)
    known = replace(known, plan=plan)
    well = Walked(known, begin(length, "by-place"), sound(load_script(SCRIPTS[kind]), known)).run()
    return line(kind, "by-place, nothing due", length, known, well, ("", f"{well.closing:.0f}"))


def of_kind(vehicle: str, kind: str, length: Length) -> str:
    """Another kind of inspection, by place, with nothing wrong and all readings due."""
    known = context(vehicle)
    known = replace(known, plan=make_plan(load_library(), known.plan.vehicle, kind_id=kind))
    well = Walked(known, begin(length, "by-place"), sound(load_script(SCRIPTS[vehicle]), known)).run()
    return line(f"{vehicle}, {kind}", "by-place", length, known, well, ("", f"{well.closing:.0f}"))


def line(kind: str, depth: str, length: Length, known: Context, well: Pace, more: tuple[str, str]) -> str:
    cells = (
        kind,
        depth,
        length,
        len(known.plan.walked().steps),
        well.questions,
        well.words,
        f"{well.talk / 60:.1f}",
        *more,
    )
    return f"| {' | '.join(map(str, cells))} |"


def main() -> None:
    print(f"| {' | '.join(COLUMNS)} |\n|{'---|' * len(COLUMNS)}")
    for kind in SCRIPTS:
        for length in get_args(Length):
            for depth in get_args(Depth):
                print(row(kind, depth, length), flush=True)
            print(daily(kind, length), flush=True)
    library = load_library()
    for vehicle in SCRIPTS:
        for each in kinds_for(library, context(vehicle).plan.vehicle):
            if each.routes and each.id != "brake-measurement":
                print(of_kind(vehicle, each.id, "normal"), flush=True)


if __name__ == "__main__":
    main()
