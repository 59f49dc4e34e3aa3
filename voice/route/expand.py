"""A route and a vehicle make a plan: every item at every place it has, in the order it is met on foot.

On the left side axles come front to back, on the right side back to front; the outer tire of duals before the inner.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from voice.errors import DataError
from voice.measure.cardinal import cardinal
from voice.route.facts import FACTS, Fact, facts
from voice.route.files import Entry, Places, Role, Route
from voice.route.library import Library
from voice.route.looks import looks_of
from voice.route.metric import in_units
from voice.route.model import Item, Place, Plan, Section, Step, Wording
from voice.route.vehicle import Side, UnitName, Vehicle

_MAX_DEPTH = 8  # groups within groups; more is a circle


@dataclass(frozen=True, slots=True)
class _Scope:
    """What the lines around an entry have settled."""

    unit: UnitName | None = None
    side: Side | None = None
    axles: tuple[Role, ...] | None = None
    axle: int | None = None
    each: Literal["tire"] | None = None


def make_plan(library: Library, vehicle: Vehicle, route_id: str | None = None) -> Plan:
    """The plan of the named route, or of the standard route that fits the vehicle."""
    return expand(library, pick_route(library, vehicle, route_id), vehicle)


def fitting_routes(library: Library, vehicle: Vehicle) -> list[Route]:
    """Routes for this kind of vehicle, the standard ones first."""
    fitting = [route for route in library.routes.values() if vehicle.kind in route.fits]
    return sorted(fitting, key=lambda route: (not route.standard, route.id))


def pick_route(library: Library, vehicle: Vehicle, route_id: str | None = None) -> Route:
    if route_id is not None:
        if route_id not in library.routes:
            known = ", ".join(sorted(library.routes))
            raise DataError(f'there is no route "{route_id}".', f"Known routes: {known}.")
        return library.routes[route_id]
    fitting = fitting_routes(library, vehicle)
    if not fitting:
        raise DataError(
            f'no route fits a vehicle of kind "{vehicle.kind}".',
            "A trailer is walked with its tractor: --vehicle TRACTOR+TRAILER."
            if vehicle.kind == "trailer"
            else "Add one to the routes folder.",
        )
    return fitting[0]


def expand(library: Library, route: Route, vehicle: Vehicle) -> Plan:
    """All steps of the route for this vehicle. Raises DataError for a name in the data that is not known."""
    if vehicle.kind not in route.fits:
        raise DataError(
            f'the route "{route.id}" does not fit a vehicle of kind "{vehicle.kind}".',
            f"It fits: {', '.join(route.fits)}.",
        )
    units = units_of_items(library, route)
    steps: list[Step] = []
    sections: list[Section] = []
    for section in route.sections:
        before = len(steps)
        scope = _Scope(section.unit, section.side)
        for entry in section.entries:
            for item, place in _places(library, vehicle, entry, scope, 0):
                if applies(library, item, vehicle, place):
                    item = in_units(item, vehicle.display_units)
                    steps.append(_step(library.places, vehicle, item, place, section.id, len(units[item.id]) > 1))
        if len(steps) > before:
            sections.append(Section(id=section.id, title=section.title, cautions=section.cautions))
    _refuse_twice(library, route, steps)
    return Plan(
        route=route.id,
        title=route.title,
        vehicle=vehicle,
        sections=tuple(sections),
        steps=tuple(steps),
        data_sha256=library.sha256,
        looks=looks_of(library, steps),
    )


def applies(library: Library, item: Item, vehicle: Vehicle, place: Place) -> bool:
    """Whether all facts in the item's `when` hold there. Raises DataError for a fact that is not known there."""
    held = facts(vehicle, place)
    for fact in item.when:
        if fact not in held:
            raise library.origins["item", item.id].error(
                f'item "{item.id}": {fact_fault(fact)}', f"Facts: {', '.join(sorted(FACTS))}.", "when", fact
            )
    return _holds(item.when, held)


def fact_fault(fact: str) -> str:
    """What is wrong with asking for a fact that is not known at a place."""
    if fact in FACTS:
        return f'the fact "{fact}" belongs to an axle, but it is asked where there is no axle.'
    return f'there is no fact "{fact}".'


def _holds(when: Mapping[str, tuple[Fact, ...]], held: Mapping[str, Fact]) -> bool:
    return all(held[fact] in wanted for fact, wanted in when.items())


def _places(
    library: Library, vehicle: Vehicle, entry: Entry, scope: _Scope, depth: int
) -> Iterator[tuple[Item, Place]]:
    """The items of an entry with their places, in order; items' own `when` is not looked at here."""
    if depth > _MAX_DEPTH:
        raise DataError("a group contains itself.", "'gladhand routes check' says which.")
    here = _Scope(
        entry.unit or scope.unit,
        None if entry.side == "none" else entry.side or scope.side,
        entry.axles or scope.axles,
        scope.axle,
        entry.each or scope.each,
    )
    if here.axles is not None and here.axle is None:
        for number in axle_order(vehicle, here.axles, here.unit, here.side):
            at = _Scope(vehicle.axles[number - 1].unit, here.side, None, number, here.each)
            yield from _inside(library, vehicle, entry, at, depth)
    else:
        yield from _inside(library, vehicle, entry, here, depth)


def _inside(library: Library, vehicle: Vehicle, entry: Entry, here: _Scope, depth: int) -> Iterator[tuple[Item, Place]]:
    if here.unit == "trailer" and vehicle.kind == "tractor":
        return  # it has none behind it
    place = Place(unit=here.unit, side=here.side, axle=here.axle)
    if entry.when:
        held = facts(vehicle, place)
        for fact in entry.when:
            if fact not in held:
                raise DataError(f'entry "{entry.item or entry.group}": {fact_fault(fact)}')
        if not _holds(entry.when, held):
            return
    if entry.group is not None:
        if entry.group not in library.groups:
            raise DataError(f'there is no group "{entry.group}".', f"Groups: {', '.join(sorted(library.groups))}.")
        for each in library.groups[entry.group].entries:
            yield from _places(library, vehicle, each, here, depth + 1)
        return
    assert entry.item is not None  # noqa: S101 - the model refuses an entry with neither
    if entry.item not in library.items:
        raise DataError(f'there is no item "{entry.item}".', "Correct the name, or add the item.")
    item = library.items[entry.item]
    if here.each == "tire" and here.axle is not None and vehicle.axles[here.axle - 1].dual:
        yield item, place.model_copy(update={"tire": "outer"})
        yield item, place.model_copy(update={"tire": "inner"})
    else:
        yield item, place


def axle_order(vehicle: Vehicle, roles: tuple[Role, ...], unit: UnitName | None, side: Side | None) -> list[int]:
    """Numbers of the axles of these roles (and this unit), in the order they are met on that side."""
    numbers = [
        number
        for number, axle in enumerate(vehicle.axles, 1)
        if axle.role in roles and (unit is None or axle.unit == unit)
    ]
    return numbers[::-1] if side == "right" else numbers


def units_of_items(library: Library, route: Route) -> Mapping[str, set[UnitName | None]]:
    """The units under which a route asks each item away from axles: with more than one, the unit is part of the id.

    This looks at the route alone, so that an id does not depend on the vehicle.
    """
    units: dict[str, set[UnitName | None]] = defaultdict(set)

    def visit(entry: Entry, unit: UnitName | None, axles: bool, depth: int) -> None:
        unit, axles = entry.unit or unit, axles or entry.axles is not None
        if entry.item is not None:
            if not axles:
                units[entry.item].add(unit)
        elif entry.group is not None and entry.group in library.groups and depth <= _MAX_DEPTH:
            for each in library.groups[entry.group].entries:
                visit(each, unit, axles, depth + 1)

    for section in route.sections:
        for entry in section.entries:
            visit(entry, section.unit, False, 0)
    return units


def _step(places: Places, vehicle: Vehicle, item: Item, place: Place, section: str, with_unit: bool) -> Step:
    with_unit = with_unit and place.axle is None
    key = "-".join(
        part
        for part in (
            place.unit if with_unit else None,
            place.side,
            None if place.axle is None else str(place.axle),
            place.tire,
        )
        if part
    )
    spoken, short = spoken_place(places, vehicle, place, with_unit)
    return Step(
        id=f"{item.id}@{key}" if key else item.id,
        item=item,
        section=section,
        place=place,
        spoken_place=spoken,
        name=f"{short} {item.call[0]}".strip(),
        say=Wording(
            terse=fill(item.say.terse, short),
            normal=fill(item.say.normal, spoken),
            full=fill(item.say.full, spoken),
        ),
    )


def spoken_place(places: Places, vehicle: Vehicle, place: Place, with_unit: bool) -> tuple[str, str]:
    """The position as said, in full ("left side, axle three, outer tire") and short ("left axle three outer")."""
    full: list[str] = []
    short: list[str] = []
    if place.side is not None:
        full.append(places.side[place.side])
        short.append(places.side_short[place.side])
    if place.axle is not None:
        axle = vehicle.axles[place.axle - 1]
        if axle.role == "steer" and sum(each.role == "steer" for each in vehicle.axles) == 1:
            full.append(places.steer)
            short.append(places.steer_short)
        else:
            number = places.numbers[place.axle - 1] if places.numbers else cardinal(place.axle)
            full.append(places.axle.format(number=number))
            short.append(places.axle_short.format(number=number))
    elif with_unit and place.unit is not None:
        full.append(places.unit[place.unit])
        short.append(places.unit[place.unit])
    if place.tire is not None:
        full.append(places.tire[place.tire])
        short.append(places.tire_short[place.tire])
    return places.separator.join(full), " ".join(short)


def fill(text: str, place: str) -> str:
    """The wording with the place in it, or smoothly without one if it is empty."""
    filled = text.replace("{place}", place).strip(" ,:") if place else _without_place(text)
    return filled[:1].upper() + filled[1:]


def _without_place(text: str) -> str:
    return (
        text.replace("{place}, ", "").replace("{place}: ", "").replace(", {place}", "").replace("{place}", "").strip()
    )


def _refuse_twice(library: Library, route: Route, steps: list[Step]) -> None:
    ids: set[str] = set()
    names: dict[str, str] = {}
    for step in steps:
        origin = library.origins["route", route.id]
        if step.id in ids:
            raise origin.error(f'"{step.id}" is asked twice.', "Take one of the two entries out.")
        if step.name in names:
            raise origin.error(
                f'"{step.id}" and "{names[step.name]}" have the same spoken name "{step.name}".',
                "Change the first `call` of one of the items.",
            )
        ids.add(step.id)
        names[step.name] = step.id
