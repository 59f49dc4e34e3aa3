"""A short walk in words: the state machine alone, without clock, file or sound.

    python demo/examples/walk_without_sound.py

Every event goes in, the new state and what is to be said come out: `step(context, state, event)`.
"""

from __future__ import annotations

from voice.data.folders import prompts_dir
from voice.judge import load_limits
from voice.route import load_library, load_vehicle, make_plan
from voice.understand.interpret import interpret
from voice.understand.phrases import Phrasebook
from voice.walk.context import Context
from voice.walk.event import Close, Heard, Listen, Say, Started
from voice.walk.machine import begin, step
from voice.walk.talk import load_talk

ITEMS = ("hoses", "tire-tread", "horn-electric")
SAID = (
    "leaking", "no", "okay", "three thirty seconds", "yes", "nine thirty seconds", "signed Rosa Quill", "yes",
)  # fmt: skip


def main() -> None:
    library = load_library()
    plan = make_plan(library, load_vehicle(prompts_dir() / "vehicles" / "straight-truck-two-axle.yaml"))
    first = [each for each in plan.steps if each.item.id in ITEMS and each.place.axle in (None, 1)]
    plan = plan.only(first)
    limits, talk, book = load_limits(), load_talk(), Phrasebook()
    context = Context(plan, limits, talk, book, library.defects, library.cautions, drivers=("Rosa Quill",))
    state, effects = step(context, begin("terse"), Started(0.0))
    for at, text in enumerate(("", *SAID)):
        if text:
            question = next(each.question for each in effects if isinstance(each, Listen))
            meaning = interpret(text, question)
            if meaning is None:
                raise SystemExit(f'"{text}" cannot be said here.')
            print(f"   you: {text}")
            state, effects = step(context, state, Heard(10.0 * at, meaning, text, onset=10.0 * at))
        print("  it:  " + " ".join(each.text for each in effects if isinstance(each, Say)))
        if any(isinstance(each, Close) for each in effects):
            break


if __name__ == "__main__":
    main()
