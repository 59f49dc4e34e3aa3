"""What an author can get wrong in a look, the one question of several parts."""

from __future__ import annotations

import re
from collections.abc import Iterator

from voice.author.audit_common import PLACE
from voice.errors import DataError
from voice.route.files import LookKind
from voice.route.library import Library

PARTS = "{parts}"
MAX_NAME = 3  # words of a part's name: six of them are one question


def look_faults(library: Library, look: LookKind) -> Iterator[DataError]:
    origin = library.origins["look", look.id]
    for name in set(re.findall(r"{[^}]*}", look.ask)) - {PLACE, PARTS}:
        yield origin.error(f'look "{look.id}": nothing fills in {name}.', f"Only {PLACE} and {PARTS} are.", "ask")
    if PARTS not in look.ask:
        yield origin.error(f'look "{look.id}": the question does not name its parts.', f"Put {PARTS} in.", "ask")
    for name in look.also.keys() - look.parts.keys():
        yield origin.error(f'look "{look.id}": "{name}" is none of its parts.', "Correct it.", "also", name)
    for name, called in look.parts.items():
        item = library.items.get(name)
        if item is None:
            yield origin.error(f'look "{look.id}": there is no item "{name}".', "Correct it.", "parts", name)
        elif item.alone:
            yield origin.error(
                f'look "{look.id}": so much depends on "{name}" that it is asked alone.', "Take it out.", "parts", name
            )
        elif item.asks_more:
            yield origin.error(
                f'look "{look.id}": an okay does not answer "{name}": it asks for more.', "Take it out.", "parts", name
            )
        if len(called.split()) > MAX_NAME:
            yield origin.error(f'look "{look.id}": "{called}" is long.', f"At most {MAX_NAME} words.", "parts", name)
