"""Goes through the lines of a route as written, groups opened, without a vehicle."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from voice.route.files import Entry, Route
from voice.route.library import Library, Origin
from voice.route.vehicle import Side, UnitName


@dataclass(frozen=True, slots=True)
class Visit:
    """A line of a section or group.

    origin: where it is written.
    circle: its group is open around it already.
    """

    entry: Entry
    origin: Origin
    section: str
    unit: UnitName | None
    side: Side | None
    at_axle: bool
    circle: bool = False


def visits(library: Library, route: Route) -> Iterator[Visit]:
    """Every line, each before the lines of its group. Groups that are not known are not opened."""
    written = library.origins["route", route.id]
    for number, section in enumerate(route.sections):
        for index, entry in enumerate(section.entries):
            origin = Origin(written.file, (*written.loc, "sections", number, "entries", index))
            outer = Visit(entry, origin, section.id, section.unit, section.side, False)
            yield from _line(library, entry, origin, outer, ())


def _line(library: Library, entry: Entry, origin: Origin, outer: Visit, inside: tuple[str, ...]) -> Iterator[Visit]:
    here = Visit(
        entry,
        origin,
        outer.section,
        entry.unit or outer.unit,
        None if entry.side == "none" else entry.side or outer.side,
        outer.at_axle or entry.axles is not None,
        entry.group in inside,
    )
    yield here
    if entry.group is None or here.circle or entry.group not in library.groups:
        return
    written = library.origins["group", entry.group]
    # A group is a list under its id, or a mapping with entries.
    for index, each in enumerate(library.groups[entry.group].entries):
        yield from _line(
            library, each, Origin(written.file, (*written.loc, "entries", index)), here, (*inside, entry.group)
        )
