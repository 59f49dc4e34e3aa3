"""What can be said to one question about several parts: a part by name, a defect, or both in one breath."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from voice.errors import DataError
from voice.route.library import OTHER
from voice.route.model import Item, Plan
from voice.understand.meaning import Defect, Part
from voice.understand.phrases import FIXED, Defects, Phrasebook
from voice.understand.question import Phrase, join


@dataclass(frozen=True, slots=True)
class PartOfLook:
    """One of the parts.

    step: its id.
    names: as it is called, best first.
    """

    step: str
    names: tuple[str, ...]
    item: Item

    @property
    def key(self) -> object:
        return self.step, self.names, self.item.defects


def parts_of(plan: Plan) -> Mapping[str, PartOfLook]:
    """Each step of a look with its names: the short one first, then those of its item, then those of the look."""
    items = {step.id: step.item for step in plan.steps}
    return {
        step: PartOfLook(step, tuple(dict.fromkeys((name, *items[step].call, *look.also.get(step, ())))), items[step])
        for look in plan.looks
        for step, name in zip(look.steps, look.parts, strict=True)
    }


def check(book: Phrasebook, plan: Plan, defects: Defects) -> Iterator[DataError]:
    """Every look with all that can be said to it: a text that would mean two things, as two parts of one name."""
    parts = parts_of(plan)
    fixed = [book.said(name, meaning) for name, meaning in FIXED.items()]
    for look in plan.looks:
        asked = [parts[step] for step in look.steps]
        try:
            faults = fault_phrases(book, asked, defects, look.assemblies(look.steps))
            join(*fixed, book.commands, faults, part_phrases(book, asked, defects))
        except DataError as error:
            yield DataError(f'Look "{look.id}": {error.message}', error.hint)


def part_phrases(book: Phrasebook, parts: Sequence[PartOfLook], defects: Defects) -> tuple[Phrase, ...]:
    """Each part by name, alone or with a defect ("hoses leaking")."""
    key = ("parts", *(part.key for part in parts))
    return book.kept(key, lambda: [phrase for part in parts for phrase in _said(part, defects)])


def fault_phrases(
    book: Phrasebook, parts: Sequence[PartOfLook], defects: Defects, assemblies: Sequence[str] = ()
) -> tuple[Phrase, ...]:
    """ "Defect", what the parts can have by name, and the names of assemblies: it is not said which part has it."""
    ids = list(dict.fromkeys(id_ for part in parts for id_ in part.item.defects))
    named = [Phrase(text, Defect(id_)) for id_ in ids for text in defects[id_]]
    named += [Phrase(name, Defect()) for name in assemblies]
    return book.kept(("faults of parts", *assemblies, None, *ids), lambda: [*book.said("defect", Defect()), *named])


def _said(part: PartOfLook, defects: Defects) -> Iterator[Phrase]:
    """The best name with every way to say a defect, the others with the first one: longer lists are heard worse."""
    best, *others = part.names
    for name in part.names:
        yield Phrase(name, Part(part.step))
    for id_ in part.item.defects:
        if id_ == OTHER:  # "hoses something else" is not what anybody says
            continue
        yield from (Phrase(f"{best} {text}", Part(part.step, id_)) for text in defects[id_])
        yield from (Phrase(f"{name} {defects[id_][0]}", Part(part.step, id_)) for name in others)
