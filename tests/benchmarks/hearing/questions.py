"""Every distinct question the shipped routes can ask, from the project's own data."""

from __future__ import annotations

from functools import cache

from voice.route.answer import Call, Choice, Condition, Done, Hold, Measurement
from voice.route.library import load_library
from voice.understand.meaning import DoneIt, Stop
from voice.understand.phrases import Phrasebook
from voice.understand.question import Phrase, Question, join


@cache
def shipped() -> dict[str, Question]:
    """Questions by a readable name; those with the same phrases are told once."""
    library, book = load_library(), Phrasebook()
    made: dict[str, Question] = {}
    seen: set[frozenset[Phrase]] = set()

    def add(name: str, question: Question) -> None:
        key = frozenset(question.phrases)
        if key not in seen:
            seen.add(key)
            made[name] = question

    add("yes-no", Question("yes-no", book.yes_no()))
    add("quiet", Question("quiet", book.joined(book.said("stop", Stop())), patience=60))
    add("now", Question("now", book.now(), urgent=True))
    add("paused", Question("paused", book.joined(book.said("done", DoneIt())), patience=60))
    for item in library.items.values():
        said = {one.id: one.say for one in library.defects.values() if one.id in item.defects}
        answer = item.answer
        match answer:
            case Condition():
                add(f"condition {item.id}", Question("condition", book.condition(item, said)))
            case Measurement():
                phrases = book.number(answer.unit, answer.low, answer.high, answer.step, item, said)
                add(f"reading {item.id}", Question("reading", phrases, unit=answer.unit))
            case Choice():
                add(f"choice {item.id}", Question("choice", book.choice(answer.options, item, said)))
            case Done():
                add(f"done {item.id}", Question("done", book.done(item, said)))
            case Hold() | Call():
                phrases = book.number(answer.unit, answer.low, answer.high, answer.step)
                add(f"reading {item.id}", Question("reading", phrases, unit=answer.unit))
        for follow in item.follow_ups:
            if isinstance(follow.answer, Measurement):
                one = follow.answer
                phrases = book.number(one.unit, one.low, one.high, one.step)
                add(f"reading {item.id} {follow.id}", Question("reading", phrases, unit=one.unit))
            elif isinstance(follow.answer, Choice):
                add(f"choice {item.id} {follow.id}", Question("choice", book.choice(follow.answer.options)))
        if item.defects:
            add(f"which {item.id}", Question("defect", join(book.yes_no(), book.faults(item, said))))
    return made
