"""Waits, and says when the next look at the cargo is due."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from voice.day.rules import DayRules
from voice.day.spans import Now, Span, due
from voice.day.told import ask, told

EVERY = 30.0  # seconds between two looks at the records and the clock


def watch(
    read: Callable[[], tuple[Span, ...]],
    clock: Callable[[], datetime],
    wait: Callable[[float], None],
    say: Callable[[str], None],
    rules: DayRules,
) -> None:
    """Says each thing once: what is due when it begins, that the miles may have been driven, that a look is due.

    read: the spans as the records and the duty file have them now, so that a look that was taken ends the matter.
    wait: seconds; ends the watch by raising.
    """
    said: set[tuple[str, str]] = set()
    last: tuple[str, ...] = ()

    def once(span: Span, what: str, sentences: tuple[str, ...]) -> None:
        if (span.since.id, what) not in said:
            said.add((span.since.id, what))
            for sentence in sentences:
                say(sentence)

    while True:
        found, now = read(), Now(clock())
        if found:
            known = found[-1].known
            now = Now(now.at, None if known is None else known[1])
        next_look = due(found, now, rules)
        if next_look is None:
            sentences = told(found, now, rules)
            if sentences != last:
                for sentence in sentences:
                    say(sentence)
            last = sentences
        else:
            last = ()
            span = next_look.span
            if next_look.is_due(now):
                once(span, "due", told(found, now, rules))
            elif now.at >= next_look.ask:
                once(span, "ask", (ask(next_look, rules),))
            else:
                once(span, "soon", told(found, now, rules))
        wait(EVERY)
