"""What an author can get wrong in a route."""

from __future__ import annotations

from collections.abc import Iterator

from voice.author.audit_common import PLACE, phrase_faults, when_faults
from voice.errors import DataError
from voice.route.facts import AXLE_FACTS
from voice.route.files import Route
from voice.route.library import Library
from voice.route.visit import Visit, visits


def route_faults(library: Library, route: Route) -> Iterator[DataError]:
    origin = library.origins["route", route.id]
    ids: set[str] = set()
    yield from phrase_faults(origin, ("call",), route.call)
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
    yield from when_faults(origin, ("when",), entry.when, visit.at_axle)
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
            if PLACE not in getattr(item.say, name):
                where = library.origins["item", item.id]
                yield where.error(
                    f'item "{item.id}" is asked at several places, but its {name} wording has no {PLACE}.',
                    f"Put {PLACE} in.",
                    "say",
                    name,
                )
