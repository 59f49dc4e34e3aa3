"""What an author can get wrong that a model of one entry cannot see. Every fault names file and line."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from itertools import combinations

from voice.author.sounds import confusable
from voice.errors import DataError
from voice.judge import LimitSet
from voice.judge.limit import Limit
from voice.measure import fits, is_unit
from voice.measure.book import unit_book
from voice.route.expand import fact_fault
from voice.route.facts import AXLE_FACTS, FACTS, VALUES, Fact, shown
from voice.route.files import Defect, Route
from voice.route.library import OTHER, Library, Origin
from voice.route.metric import UNITS
from voice.route.model import Call, Choice, Climb, Condition, Hold, Item, Reading
from voice.route.visit import Visit, visits

MAX_DEFECTS = 8  # besides "other": a list longer than that is not told apart by ear or kept in mind
# Words, {place} not counted. Chosen for prompts that are over before the driver has reached the next part.
MAX_TERSE, MAX_NORMAL, MAX_FULL, MAX_SAID = 5, 9, 75, 5

_SPOKEN = re.compile(r"[a-z][a-z']*( [a-z][a-z']*)*")
_PLACE = "{place}"

Path = tuple[str | int, ...]


def audit(library: Library, limits: LimitSet, fixed: Mapping[str, str]) -> list[DataError]:
    """All faults of a library.

    fixed: phrases that can be said in answer to any condition -> what they mean.
    """
    found: list[DataError] = []
    for item in library.items.values():
        found += _Item(library, limits, fixed, item).faults()
    for defect in library.defects.values():
        found += _phrases(library.origins["defect", defect.id], ("say",), defect.say)
    for route in library.routes.values():
        found += _route(library, route)
    found += _groups(library)
    found += _unused(library)
    return found


def audit_route(library: Library, route: Route) -> list[DataError]:
    """The faults of one route."""
    return list(_route(library, route))


class _Item:
    def __init__(self, library: Library, limits: LimitSet, fixed: Mapping[str, str], item: Item) -> None:
        self.library, self.limits, self.fixed, self.item = library, limits, fixed, item
        self.origin = library.origins["item", item.id]

    def faults(self) -> Iterator[DataError]:
        yield from self._wording()
        yield from _phrases(self.origin, ("call",), self.item.call)
        yield from _when(self.origin, ("when",), self.item.when)
        yield from self._defects()
        yield from self._answer(self.item.answer, ("answer",))
        yield from self._follow_ups()
        yield from self._references()
        yield from self._points()

    def _error(self, message: str, hint: str, *at: str | int) -> DataError:
        return self.origin.error(f'item "{self.item.id}": {message}', hint, *at)

    def _wording(self) -> Iterator[DataError]:
        for name, most in (("terse", MAX_TERSE), ("normal", MAX_NORMAL), ("full", MAX_FULL)):
            text: str = getattr(self.item.say, name)
            count = len(text.replace(_PLACE, "").split())
            if count > most:
                yield self._error(f"the {name} wording has {count} words, at most {most}.", "Shorten it.", "say", name)
            for unknown in re.findall(r"{[^}]*}", text):
                if unknown == UNITS and getattr(self.item.answer, "unit", None) is None:
                    yield self._error(f"{UNITS} is used, but the answer has no unit.", "Take it out.", "say", name)
                elif unknown not in (_PLACE, UNITS):
                    known = f"Only {_PLACE} and {UNITS} are filled in."
                    yield self._error(f"nothing fills in {unknown}.", known, "say", name)
            if not text.strip():
                yield self._error(f"the {name} wording is empty.", "Write it.", "say", name)

    def _defects(self) -> Iterator[DataError]:
        known: list[Defect] = []
        for index, name in enumerate(self.item.defects):
            if name in self.item.defects[:index]:
                yield self._error(f'the defect "{name}" is listed twice.', "Take one out.", "defects", index)
            elif name not in self.library.defects:
                yield self._error(
                    f'there is no defect "{name}".', "Correct it, or add it to defects.yaml.", "defects", index
                )
            else:
                known.append(self.library.defects[name])
        listed = [name for name in self.item.defects if name != OTHER]
        if isinstance(self.item.answer, Condition) and not listed:
            yield self._error("a condition needs the defects that fit it.", "List them.", "defects")
        if len(listed) > MAX_DEFECTS:
            yield self._error(
                f"{len(listed)} defects are too many to tell apart.", f"At most {MAX_DEFECTS}.", "defects"
            )
        yield from self._clashes(known)

    def _clashes(self, known: list[Defect]) -> Iterator[DataError]:
        for one, other in combinations(known, 2):
            pair = next(((a, b) for a in one.say for b in other.say if a == b or confusable(a, b)), None)
            if pair is not None:
                yield self._error(
                    f'"{pair[0]}" ({one.id}) and "{pair[1]}" ({other.id}) are too alike by ear.',
                    "Choose other words for one of them, or take one out.",
                    "defects",
                    self.item.defects.index(other.id),
                )
        for defect in known:
            for said in defect.say:
                for phrase, meaning in self.fixed.items():
                    if said == phrase or confusable(said, phrase):
                        yield self._error(
                            f'"{said}" ({defect.id}) and "{phrase}" ({meaning}) are too alike by ear.',
                            "Choose other words for the defect.",
                            "defects",
                            self.item.defects.index(defect.id),
                        )

    def _answer(self, answer: object, at: Path) -> Iterator[DataError]:
        match answer:
            case Reading() | Call():
                yield from self._range(answer, at)
                yield from self._unit(answer.quantity, answer.unit, at)
            case Hold():
                yield from self._range(answer, at)
                yield from self._unit(answer.quantity, f"{answer.unit}/min", at)
            case Climb():
                yield from self._unit(answer.quantity, "s", at)
                if not is_unit(answer.unit):
                    yield self._error(f'"{answer.unit}" is not a unit.', "Correct it.", *at, "unit")
                if answer.start >= answer.stop:
                    yield self._error("a climb goes up: start is below stop.", "Correct it.", *at, "start")
            case Choice():
                yield from self._options(answer, at)

    def _range(self, answer: Reading | Call | Hold, at: Path) -> Iterator[DataError]:
        if answer.low >= answer.high:
            yield self._error("low is below high.", "Correct them.", *at, "low")
        if answer.step <= 0:
            yield self._error("the step is above zero.", "Correct it.", *at, "step")
        elif (answer.high - answer.low) % answer.step:
            yield self._error("the range is not a whole number of steps.", "Correct it.", *at, "step")

    def _unit(self, quantity: str, unit: str, at: Path) -> Iterator[DataError]:
        """unit: of what is judged."""
        known = unit_book().quantities
        where = "unit" if "/" not in unit else "quantity"
        if quantity not in known:
            yield self._error(f'there is no quantity "{quantity}".', "Add it to units.yaml.", *at, "quantity")
        elif not is_unit(unit):
            yield self._error(f'"{unit}" is not a unit.', "Correct it.", *at, "unit")
        elif unit not in unit_book().units:
            yield self._error(f'there are no words for the unit "{unit}".', "Add it to units.yaml.", *at, where)
        elif not fits(unit, known[quantity].unit):
            yield self._error(
                f'the unit "{unit}" does not fit {quantity}, which is in {known[quantity].unit}.',
                "Correct the unit or the quantity.",
                *at,
                where,
            )

    def _options(self, choice: Choice, at: Path) -> Iterator[DataError]:
        said: dict[str, str] = {}
        ids: set[str] = set()
        for index, option in enumerate(choice.options):
            here = (*at, "options", index)
            if option.id in ids:
                yield self._error(f'the option "{option.id}" is given twice.', "Give it another id.", *here, "id")
            ids.add(option.id)
            if option.defect is not None and option.defect not in self.item.defects:
                yield self._error(
                    f'the defect "{option.defect}" is not on the item\'s list.', "List it.", *here, "defect"
                )
            yield from _phrases(self.origin, (*here, "say"), option.say)
            for phrase in option.say:
                if phrase in said and said[phrase] != option.id:
                    yield self._error(
                        f'"{phrase}" means both "{said[phrase]}" and "{option.id}".', "Change one.", *here, "say"
                    )
                said.setdefault(phrase, option.id)
        for phrase, owner in said.items():
            for other, second in said.items():
                if owner < second and phrase != other and confusable(phrase, other):
                    yield self._error(
                        f'"{phrase}" ({owner}) and "{other}" ({second}) are too alike by ear.',
                        "Choose other words for one of them.",
                        *at,
                        "options",
                    )

    def _follow_ups(self) -> Iterator[DataError]:
        ids: set[str] = set()
        for index, follow in enumerate(self.item.follow_ups):
            at = ("follow_ups", index)
            if follow.id in ids:
                yield self._error(f'the follow-up "{follow.id}" is given twice.', "Give it another id.", *at, "id")
            ids.add(follow.id)
            if follow.after not in ("ok", "defect", "any", *self.item.defects):
                yield self._error(
                    f'"{follow.after}" is not an answer to this item.',
                    "Give ok, defect, any, or a defect of its list.",
                    *at,
                    "after",
                )
            yield from self._answer(follow.answer, (*at, "answer"))

    def _references(self) -> Iterator[DataError]:
        for index, name in enumerate(self.item.cautions):
            if name not in self.library.cautions:
                yield self._error(f'there is no caution "{name}".', "Add it to cautions.yaml.", "cautions", index)
        measured = set(quantities(self.item))
        for index, name in enumerate(self.item.limits):
            limit = self.limits.rule(name)
            yield from self._limit(name, ("limits", index))
            if isinstance(limit, Limit) and limit.quantity not in measured:
                yield self._error(
                    f'the limit "{name}" is one of {limit.quantity}, which is not measured here.',
                    "Take it out.",
                    "limits",
                    index,
                )

    def _limit(self, name: str, at: Path) -> Iterator[DataError]:
        if self.limits.rule(name) is None:
            yield self._error(f'there is no limit "{name}".', "Correct it, or add it to the limits files.", *at)

    def _points(self) -> Iterator[DataError]:
        ids: set[str] = set()
        owner: dict[str, str] = {}
        for index, point in enumerate(self.item.points):
            if point.id in ids:
                yield self._error(f'the point "{point.id}" is given twice.', "Give it another id.", "points", index)
            ids.add(point.id)
            if point.limit is not None:
                yield from self._limit(point.limit, ("points", index, "limit"))
            for phrase in point.say:
                if owner.setdefault(phrase, point.id) != point.id:
                    yield self._error(
                        f'"{phrase}" counts for both "{owner[phrase]}" and "{point.id}".',
                        "Change one.",
                        "points",
                        index,
                    )


def quantities(item: Item) -> Iterator[str]:
    """What an item measures, by itself and in its follow-ups."""
    for answer in (item.answer, *(follow.answer for follow in item.follow_ups)):
        if isinstance(answer, Reading | Hold | Climb | Call):
            yield answer.quantity


def _phrases(origin: Origin, at: Path, phrases: tuple[str, ...]) -> Iterator[DataError]:
    """Phrases as a recognizer takes them, each once, not too long."""
    for index, phrase in enumerate(phrases):
        if not _SPOKEN.fullmatch(phrase):
            yield origin.error(f'"{phrase}" is not lower-case words.', "Write it as it is spoken.", *at, index)
        elif len(phrase.split()) > MAX_SAID:
            yield origin.error(f'"{phrase}" is too long to be said.', f"At most {MAX_SAID} words.", *at, index)
        elif phrase in phrases[:index]:
            yield origin.error(f'"{phrase}" is listed twice.', "Take one out.", *at, index)


def _when(
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


def _route(library: Library, route: Route) -> Iterator[DataError]:
    origin = library.origins["route", route.id]
    ids: set[str] = set()
    yield from _phrases(origin, ("call",), route.call)
    for index, section in enumerate(route.sections):
        if section.id in ids:
            yield origin.error(
                f'the section "{section.id}" is given twice.', "Give it another id.", "sections", index, "id"
            )
        ids.add(section.id)
        for number, name in enumerate(section.cautions):
            if name not in library.cautions:
                yield origin.error(
                    f'there is no caution "{name}".', "Add it to cautions.yaml.", "sections", index, "cautions", number
                )
    told: set[tuple[object, ...]] = set()
    for visit in visits(library, route):
        for fault in _visit(library, visit):
            if (key := (fault.file, fault.line, str(fault))) not in told:
                told.add(key)
                yield fault
    if route.standard:
        for kind in route.fits:
            for other in library.routes.values():
                if other.id < route.id and other.standard and kind in other.fits:
                    yield origin.error(
                        f'"{other.id}" is a standard route for a {kind} too.', "Set standard: false in one.", "id"
                    )


def _visit(library: Library, visit: Visit) -> Iterator[DataError]:
    """Faults of one line, seen with the lines around it."""
    entry, origin = visit.entry, visit.origin
    if entry.group is not None and entry.group not in library.groups:
        yield origin.error(f'there is no group "{entry.group}".', "Correct it, or add it to groups.yaml.", "group")
    if visit.circle:
        yield origin.error(f'the group "{entry.group}" contains itself.', "Take it out of its own entries.", "group")
    yield from _when(origin, ("when",), entry.when, visit.at_axle)
    if entry.each == "tire" and not visit.at_axle:
        yield origin.error("tires are at axles.", "Give the line its axles.", "each")
    if entry.item is None:
        return
    item = library.items.get(entry.item)
    if item is None:
        yield origin.error(f'there is no item "{entry.item}".', "Correct it, or add the item.", "item")
        return
    if not visit.at_axle:
        for fact in item.when:
            if fact in AXLE_FACTS:
                yield origin.error(
                    f'item "{item.id}" asks for "{fact}" of an axle.', "Give the line its axles.", "item"
                )
    if visit.at_axle or visit.side is not None:
        for name in ("terse", "normal", "full"):
            if _PLACE not in getattr(item.say, name):
                where = library.origins["item", item.id]
                yield where.error(
                    f'item "{item.id}" is asked at several places, but its {name} wording has no {_PLACE}.',
                    f"Put {_PLACE} in.",
                    "say",
                    name,
                )


def _groups(library: Library) -> Iterator[DataError]:
    used = {visit.entry.group for route in library.routes.values() for visit in visits(library, route)}
    for name in library.groups:
        if name not in used:
            yield library.origins["group", name].error(f'no route uses the group "{name}".', "Take it out.")


def _unused(library: Library) -> Iterator[DataError]:
    asked = {visit.entry.item for route in library.routes.values() for visit in visits(library, route)}
    for name in library.items:
        if name not in asked:
            yield library.origins["item", name].error(f'no route asks the item "{name}".', "Add it to a route.")
    used: dict[str, set[str]] = defaultdict(set)
    for item in library.items.values():
        used["defect"].update(item.defects)
        used["caution"].update(item.cautions)
    for route in library.routes.values():
        for section in route.sections:
            used["caution"].update(section.cautions)
    for kind, known in (("defect", library.defects), ("caution", library.cautions)):
        for name in known:
            if name not in used[kind]:
                yield library.origins[kind, name].error(f'nothing uses the {kind} "{name}".', "Take it out.")
