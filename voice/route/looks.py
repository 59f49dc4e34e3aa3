"""Which steps of a plan are seen in one look and so can be asked about in one question."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate

from voice.route.answer import Done
from voice.route.files import LookKind
from voice.route.library import Library
from voice.route.model import MOST_PARTS, Item, Look, Step


def stands_alone(item: Item) -> bool:
    """Whether an item has a question of its own at every depth."""
    return item.alone or item.asks_more


BESIDE = 2  # steps: what has no axle and comes so near to a wheel end belongs to it (the mud flap)


def looks_of(library: Library, steps: Sequence[Step]) -> tuple[Look, ...]:
    """The looks of a plan. A kind of look that comes first in the file takes the steps that two of them name.

    A look stays within its section, at an axle if its steps are at one, and between two things that are to be done:
    what is seen after the engine was started cannot be asked before. More names than a question may have are split
    evenly.
    """
    done = dict(
        zip((step.id for step in steps), accumulate(isinstance(s.item.answer, Done) for s in steps), strict=True)
    )
    taken: set[str] = set()
    found: list[Look] = []
    for kind in library.looks.values():
        named = [
            (index, step)
            for index, step in enumerate(steps)
            if step.item.id in kind.parts and step.id not in taken and not stands_alone(step.item)
        ]
        places: dict[tuple[str, int | None, int], list[Step]] = {}
        for index, step in named:
            places.setdefault((step.section, _axle(named, index, step), done[step.id]), []).append(step)
        for (section, axle, after), members in places.items():
            if len(members) > 1:
                taken.update(step.id for step in members)
                again = any(other[:2] == (section, axle) and other[2] < after for other in places)
                found += _split(kind, members, f"-after-{after}" if again else "")
    order = {step.id: index for index, step in enumerate(steps)}
    return tuple(sorted(found, key=lambda look: order[look.steps[0]]))


def _axle(named: Sequence[tuple[int, Step]], index: int, step: Step) -> int | None:
    """Its axle, or that of the parts right beside it."""
    near = (
        other.place.axle
        for at, other in named
        if other.section == step.section and other.place.axle is not None and abs(at - index) <= BESIDE
    )
    return step.place.axle if step.place.axle is not None else next(near, None)


def _split(kind: LookKind, members: Sequence[Step], suffix: str) -> Iterator[Look]:
    units = _units(kind, members)
    pieces = -(-len(units) // MOST_PARTS)
    size = -(-len(units) // pieces)
    for number in range(pieces):
        wanted = {step.id for unit in units[number * size : (number + 1) * size] for step in unit}
        piece = [step for step in members if step.id in wanted]
        at = next((step for step in piece if step.place.axle is not None), piece[0])
        where = at.section if at.place.axle is None else f"{at.section}-{at.place.axle}"
        own = [at, *piece]
        yield Look(
            id=f"{kind.id}@{where}{suffix}" + (f"-{number + 1}" if pieces > 1 else ""),
            ask=kind.ask,
            steps=tuple(step.id for step in piece),
            parts=tuple(kind.parts[step.item.id] for step in piece),
            also={step.id: kind.also[step.item.id] for step in piece if step.item.id in kind.also},
            as_one={
                name: ids
                for name, items in kind.as_one.items()
                if len(ids := tuple(step.id for step in piece if step.item.id in items)) > 1
            },
            place=next((place for step in own if (place := step.name.removesuffix(step.item.call[0]).strip())), ""),
        )


def _units(kind: LookKind, members: Sequence[Step]) -> list[list[Step]]:
    """The steps by what they are called in the question: those of an assembly together, where its first one stands."""
    assembly = {item: name for name, items in kind.as_one.items() for item in items}
    units: dict[str, list[Step]] = {}
    for step in members:
        units.setdefault(assembly.get(step.item.id, step.id), []).append(step)
    return list(units.values())
