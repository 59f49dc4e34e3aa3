"""Checks a whole library: its entries, what its questions hear, and its routes on vehicles of many kinds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from voice.author.audit import audit
from voice.author.trial import trial_vehicles
from voice.errors import DataError
from voice.judge import LimitSet
from voice.judge.load import load_limits
from voice.route.expand import expand
from voice.route.facts import AXLE_FACTS, VALUES
from voice.route.library import Library
from voice.route.model import Plan
from voice.route.visit import visits
from voice.understand.clashes import check as check_phrases
from voice.understand.lexicon import load as load_lexicon
from voice.understand.parts import check as check_parts
from voice.understand.phrases import Phrasebook


def check_library(library: Library, limits: LimitSet | None = None) -> list[DataError]:
    """Faults of a whole library: of its entries, and of its routes on vehicles of many kinds."""
    book = Phrasebook()
    found = audit(library, limits or load_limits(), fixed_phrases(), lambda item: [p.text for p in book.good(item)])
    found += _meanings(library)
    if _can_expand(library):
        found += _expansions(library)
    return found


def fixed_phrases() -> Mapping[str, str]:
    """What can be said in answer to any condition, besides its defects: phrase -> meaning."""
    lexicon = load_lexicon()
    answers = lexicon.answers.model_dump()
    fixed = {phrase: name for name in ("ok", "clear", "not_applicable", "yes", "no") for phrase in answers[name]}
    fixed.update((phrase, "defect") for phrase in answers["defect"])
    for name, phrases in lexicon.commands.items():
        fixed.update((phrase, f"command {name}") for phrase in phrases)
    return fixed


def _meanings(library: Library) -> Iterator[DataError]:
    """Items one of whose questions would have a phrase with two meanings."""
    book = Phrasebook()
    said = {defect.id: defect.say for defect in library.defects.values()}
    for item in library.items.values():
        if all(name in said for name in item.defects):
            for fault in check_phrases(book, [item], said):
                yield library.origins["item", item.id].error(fault.message, fault.hint)


def _can_expand(library: Library) -> bool:
    """Whether every name in the routes leads somewhere; the audit has said so if not."""
    for route in library.routes.values():
        for visit in visits(library, route):
            entry = visit.entry
            item = library.items.get(entry.item or "")
            asked = {*entry.when, *(item.when if item else ())}
            known = set(VALUES) if visit.at_axle else set(VALUES) - AXLE_FACTS
            if visit.circle or (item is None and entry.group not in library.groups) or not asked <= known:
                return False
    return True


def _expansions(library: Library) -> Iterator[DataError]:
    """Faults that only show when a route is expanded: the same step twice, the same spoken name twice."""
    told: set[str] = set()
    book = Phrasebook()
    for vehicle in trial_vehicles():
        for route in library.routes.values():
            if vehicle.kind not in route.fits:
                continue
            try:
                plan = expand(library, route, vehicle)
            except DataError as fault:
                if str(fault) not in told:
                    told.add(str(fault))
                    yield fault
                continue
            yield from _names(library, plan, told)
            yield from _looks(library, plan, book, told)


def _names(library: Library, plan: Plan, told: set[str]) -> Iterator[DataError]:
    """Two items of one plan that answer to the same spoken name."""
    names: dict[str, set[str]] = {}
    for step in plan.steps:
        for call in step.item.call:
            names.setdefault(call, set()).add(step.item.id)
    for name, items in names.items():
        if len(items) > 1:
            first, second = sorted(items)[:2]
            key = f"{name}/{first}/{second}"
            if key not in told:
                told.add(key)
                yield library.origins["item", second].error(
                    f'item "{second}" is called "{name}", and so is "{first}".', "Change one.", "call"
                )


def _looks(library: Library, plan: Plan, book: Phrasebook, told: set[str]) -> Iterator[DataError]:
    """Parts of one look that cannot be told apart by what is said."""
    said = {defect.id: defect.say for defect in library.defects.values()}
    if any(name not in said for step in plan.steps for name in step.item.defects):
        return  # the audit says so
    for fault in check_parts(book, plan, said):
        if str(fault) not in told:
            told.add(str(fault))
            name = fault.message.split('"')[1].partition("@")[0]
            yield library.origins["look", name].error(fault.message, fault.hint)
