"""Faults that items, defects and routes have alike: in their phrases, and in the facts they hold for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from voice.errors import DataError
from voice.measure.book import is_spoken
from voice.route.expand import fact_fault
from voice.route.facts import AXLE_FACTS, FACTS, VALUES, Fact, shown
from voice.route.library import Origin

PLACE = "{place}"
MAX_SAID = 5  # words of a phrase

# Keys and indexes that lead to a value in a file.
Path = tuple[str | int, ...]


def phrase_faults(origin: Origin, at: Path, phrases: tuple[str, ...]) -> Iterator[DataError]:
    """Phrases as a recognizer takes them, each once, not too long."""
    for index, phrase in enumerate(phrases):
        if not is_spoken(phrase):
            yield origin.error(f'"{phrase}" is not lower-case words.', "Write it as it is spoken.", *at, index)
        elif len(phrase.split()) > MAX_SAID:
            yield origin.error(f'"{phrase}" is too long to be said.', f"At most {MAX_SAID} words.", *at, index)
        elif phrase in phrases[:index]:
            yield origin.error(f'"{phrase}" is listed twice.', "Take one out.", *at, index)


def when_faults(
    origin: Origin, at: Path, when: Mapping[str, tuple[Fact, ...]], axle: bool | None = None
) -> Iterator[DataError]:
    """Facts and their values.

    axle: whether it stands at an axle; None if that is not known here.
    """
    for fact, wanted in when.items():
        if fact not in VALUES or (axle is False and fact in AXLE_FACTS):
            yield origin.error(fact_fault(fact), f"Facts: {', '.join(sorted(FACTS))}.", *at, fact)
            continue
        for value in wanted:
            if value not in VALUES[fact] or isinstance(value, bool) != isinstance(VALUES[fact][0], bool):
                values = ", ".join(map(shown, VALUES[fact]))
                yield origin.error(f'"{fact}" is never "{shown(value)}".', f"Its values: {values}.", *at, fact)
