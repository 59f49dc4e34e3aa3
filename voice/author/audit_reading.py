"""What an author can get wrong in readings: told together, with "same", or in checks that go on from one another."""

from __future__ import annotations

from collections.abc import Iterator

from voice.errors import DataError
from voice.route.answer import Call, Climb, Hold, Measurement
from voice.route.files import Route
from voice.route.library import Library
from voice.route.model import Beside, Item
from voice.route.visit import visits
from voice.understand.phrases import Phrasebook
from voice.understand.question import join

# Phrases of pairs in one question. Some 2,500 made the ear no slower on two idle cores (0.1 to 0.2 s an answer).
MOST_PAIRS = 3_000


def reading_faults(library: Library, item: Item) -> Iterator[DataError]:
    origin = library.origins["item", item.id]
    if item.same and not isinstance(item.answer, Measurement):
        yield origin.error(f'item "{item.id}": "same" stands for a reading, and this is none.', "Take it out.", "same")
    for name in getattr(item.answer, "goes_on", ()):
        before = library.items.get(name)
        if before is None or not isinstance(before.answer, Hold | Climb | Call):
            yield origin.error(f'item "{item.id}": "{name}" is no timed check to go on from.', "Correct it.", "answer")
        elif not any(_follows(library, route, name, item.id) for route in library.routes.values()):
            yield origin.error(f'item "{item.id}": no route asks it after "{name}".', "Correct it.", "answer")
    if item.beside is not None:
        for message, hint in _beside(library, item, item.beside):
            yield origin.error(f'item "{item.id}": {message}', hint, "beside")


def _beside(library: Library, item: Item, beside: Beside) -> Iterator[tuple[str, str]]:
    other = library.items.get(beside.item)
    if other is None:
        yield f'there is no item "{beside.item}".', "Correct it."
        return
    asked, then = item.answer, other.answer
    if not isinstance(asked, Measurement) or not isinstance(then, Measurement):
        yield f'"{item.id}" and "{other.id}" are not both readings.', "Take it out."
        return
    if not any(_follows(library, route, item.id, other.id) for route in library.routes.values()):
        yield f'no route asks "{other.id}" after it at the same place.', "Name the one that comes first."
    book = Phrasebook()
    try:
        pairs = book.pairs(asked, beside, then)
        join(book.own(asked), pairs, book.commands)
    except DataError as error:
        yield error.message, error.hint
        return
    if len(pairs) > MOST_PAIRS:
        yield f"{len(pairs)} pairs of readings are too many to listen for.", f"At most {MOST_PAIRS}: narrow the ranges."


def _follows(library: Library, route: Route, first: str, then: str) -> bool:
    """Whether a route asks the one and later the other in one place: side by side in a group or section."""
    places: dict[tuple[object, ...], list[str]] = {}
    for visit in visits(library, route):
        if visit.entry.item is not None:
            place = (visit.section, visit.unit, visit.side, visit.at_axle, visit.entry.each)
            places.setdefault(place, []).append(visit.entry.item)
    return any(first in asked and then in asked[asked.index(first) :] for asked in places.values())
