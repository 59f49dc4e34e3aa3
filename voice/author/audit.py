"""What an author can get wrong that a model of one entry cannot see. Every fault names file and line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping

from voice.author.audit_common import phrase_faults
from voice.author.audit_due import due_faults
from voice.author.audit_item import ItemAudit
from voice.author.audit_kind import kind_faults
from voice.author.audit_look import look_faults
from voice.author.audit_reading import reading_faults
from voice.author.audit_route import route_faults
from voice.errors import DataError
from voice.judge import LimitSet
from voice.route.files import Route
from voice.route.library import Library
from voice.route.model import Item
from voice.route.visit import visits


def audit(
    library: Library, limits: LimitSet, fixed: Mapping[str, str], good: Callable[[Item], Iterable[str]] = lambda _: ()
) -> list[DataError]:
    """All faults of a library.

    fixed: phrases that can be said in answer to any condition -> what they mean.
    good: the words of an item's prompt that mean okay there.
    """
    found: list[DataError] = []
    for item in library.items.values():
        own = dict.fromkeys(good(item), "ok")
        found += ItemAudit(library, limits, {**fixed, **own}, item).faults()
        found += reading_faults(library, item)
    for defect in library.defects.values():
        found += phrase_faults(library.origins["defect", defect.id], ("say",), defect.say)
    for route in library.routes.values():
        found += route_faults(library, route)
    for look in library.looks.values():
        found += look_faults(library, look)
    for due in library.due.values():
        found += due_faults(library, due)
    for kind in library.kinds.values():
        found += kind_faults(library, kind)
    found += _groups(library)
    found += _unused(library)
    return found


def audit_route(library: Library, route: Route) -> list[DataError]:
    """The faults of one route."""
    return list(route_faults(library, route))


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
