"""What an author can get wrong in what is due when."""

from __future__ import annotations

from collections.abc import Iterator

from voice.errors import DataError
from voice.route.answer import Measurement
from voice.route.files import Due
from voice.route.library import Library


def due_faults(library: Library, due: Due) -> Iterator[DataError]:
    origin, item = library.origins["due", due.id], library.items.get(due.id)
    if item is None:
        yield origin.error(f'due: there is no item "{due.id}".', "Correct it.")
    elif not isinstance(item.answer, Measurement):
        yield origin.error(f'due: "{due.id}" is no reading. What is looked at is asked on every walk.', "Take it out.")
