"""What an author can get wrong in an item."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from itertools import combinations

from voice.author.audit_common import PLACE, Path, phrase_faults, when_faults
from voice.author.sounds import confusable
from voice.errors import DataError
from voice.judge import LimitSet
from voice.judge.limit import Limit
from voice.measure import fits, is_unit
from voice.measure.book import unit_book
from voice.route.answer import Call, Choice, Climb, Condition, Hold, Measurement
from voice.route.files import DefectKind
from voice.route.library import OTHER, Library
from voice.route.metric import UNITS
from voice.route.model import Item

MAX_DEFECTS = 8  # besides "other": a list longer than that is not told apart by ear or kept in mind
# Words, {place} not counted. Chosen for prompts that are over before the driver has reached the next part.
MAX_TERSE, MAX_NORMAL, MAX_FULL = 5, 9, 75


# A question with a word that turns it round. Statements may have one: nobody answers them with a bare no.
_NEGATIVE = re.compile(r"\b(no|not|nothing|nobody|none|never|without|free of|\w+n't)\b[^.?!]*\?", re.IGNORECASE)


class ItemAudit:
    def __init__(self, library: Library, limits: LimitSet, fixed: Mapping[str, str], item: Item) -> None:
        self.library, self.limits, self.fixed, self.item = library, limits, fixed, item
        self.origin = library.origins["item", item.id]

    def faults(self) -> Iterator[DataError]:
        yield from self._wording()
        yield from phrase_faults(self.origin, ("call",), self.item.call)
        yield from when_faults(self.origin, ("when",), self.item.when)
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
            count = len(text.replace(PLACE, "").split())
            if count > most:
                yield self._error(f"the {name} wording has {count} words, at most {most}.", "Shorten it.", "say", name)
            for unknown in re.findall(r"{[^}]*}", text):
                if unknown == UNITS and getattr(self.item.answer, "unit", None) is None:
                    yield self._error(f"{UNITS} is used, but the answer has no unit.", "Take it out.", "say", name)
                elif unknown not in (PLACE, UNITS):
                    known = f"Only {PLACE} and {UNITS} are filled in."
                    yield self._error(f"nothing fills in {unknown}.", known, "say", name)
            if (asked := _NEGATIVE.search(text)) is not None:
                yield self._error(
                    f'the {name} wording asks in the negative ("{asked[1]}"): a bare "no" could mean either.',
                    "Ask so that yes means good.",
                    "say",
                    name,
                )
            if not text.strip():
                yield self._error(f"the {name} wording is empty.", "Write it.", "say", name)

    def _defects(self) -> Iterator[DataError]:
        known: list[DefectKind] = []
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

    def _clashes(self, known: list[DefectKind]) -> Iterator[DataError]:
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
                    # "Not rising" beside "rising" is as it has to be: each keeps the other from being taken for it.
                    if said == phrase or (said != f"not {phrase}" and confusable(said, phrase)):
                        yield self._error(
                            f'"{said}" ({defect.id}) and "{phrase}" ({meaning}) are too alike by ear.',
                            "Choose other words for the defect.",
                            "defects",
                            self.item.defects.index(defect.id),
                        )

    def _answer(self, answer: object, at: Path) -> Iterator[DataError]:
        match answer:
            case Measurement() | Call():
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

    def _range(self, answer: Measurement | Call | Hold, at: Path) -> Iterator[DataError]:
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
            yield from phrase_faults(self.origin, (*here, "say"), option.say)
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
        if isinstance(answer, Measurement | Hold | Climb | Call):
            yield answer.quantity
