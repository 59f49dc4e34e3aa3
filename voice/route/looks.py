"""Which steps of a plan are seen in one look and so can be asked about in one question."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from voice.route.files import LookKind
from voice.route.library import Library
from voice.route.model import MOST_PARTS, Item, Look, Step


def stands_alone(item: Item) -> bool:
    """Whether an item has a question of its own at every depth."""
    return item.alone or item.asks_more


def looks_of(library: Library, steps: Sequence[Step]) -> tuple[Look, ...]:
    """The looks of a plan. A kind of look that comes first in the file takes the steps that two of them name.

    A look stays within its section, and at an axle if its steps are at one. More parts than a question may name are
    split evenly.
    """
    taken: set[str] = set()
    found: list[Look] = []
    for kind in library.looks.values():
        places: dict[tuple[str, int | None], list[Step]] = {}
        for step in steps:
            if step.item.id in kind.parts and step.id not in taken and not stands_alone(step.item):
                places.setdefault((step.section, step.place.axle), []).append(step)
        for members in places.values():
            if len(members) > 1:
                taken.update(step.id for step in members)
                found += _split(kind, members)
    order = {step.id: index for index, step in enumerate(steps)}
    return tuple(sorted(found, key=lambda look: order[look.steps[0]]))


def _split(kind: LookKind, members: Sequence[Step]) -> Iterator[Look]:
    pieces = -(-len(members) // MOST_PARTS)
    size = -(-len(members) // pieces)
    for number in range(pieces):
        piece = members[number * size : (number + 1) * size]
        first = piece[0]
        at = first.section if first.place.axle is None else f"{first.section}-{first.place.axle}"
        yield Look(
            id=f"{kind.id}@{at}" + (f"-{number + 1}" if pieces > 1 else ""),
            ask=kind.ask,
            steps=tuple(step.id for step in piece),
            parts=tuple(kind.parts[step.item.id] for step in piece),
            place=next((where for step in piece if (where := step.name.removesuffix(step.item.call[0]).strip())), ""),
        )
