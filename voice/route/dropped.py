"""What the shipped routes ask and the user's own files no longer do.

A route, group or item of one's own stands whole in place of the shipped one: what is left out of it is not asked. That
is for its author to decide, but never goes unsaid.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from voice.data.folders import prompts_dir
from voice.route.answer import Measurement
from voice.route.expand import expand, fitting_routes
from voice.route.files import Route
from voice.route.library import Library, Origin, load_folders
from voice.route.model import Item, Step
from voice.route.vehicle import Vehicle
from voice.route.visit import visits


@dataclass(frozen=True, slots=True)
class Dropped:
    """An item that is no longer asked, or a part of one.

    item: as it is shipped.
    places: spoken names of the steps that are gone; empty if the item is asked and only a part of it is gone.
    everywhere: it is asked nowhere any more.
    part: which part of it is gone, as 'the defect "flat"'; empty for the whole.
    origin: the entry of the user's own that left it out.
    """

    item: Item
    places: tuple[str, ...]
    everywhere: bool
    part: str
    origin: Origin

    @property
    def by_law(self) -> bool:
        """Whether it belongs to one of the eleven parts that 49 CFR 396.11(a)(1) lists."""
        return self.item.part != "other"

    def __str__(self) -> str:
        place = "" if self.everywhere or self.part else f" ({', '.join(self.places)})"
        of = f"{self.part} of " if self.part else ""
        law = f', which belongs to "{self.item.part}" in 49 CFR 396.11(a)(1)' if self.by_law else ""
        return f'{of}"{self.item.id}", {self.item.title}{place}{law}'


def dropped(library: Library, vehicles: Iterable[Vehicle], route: str | None = None) -> list[Dropped]:
    """Of the routes that are taken when nothing is named (or of `route`), all that is gone; the law's items first.

    A route of one's own under a new name is compared only if it takes the place of a shipped standard route.
    """
    if all(prompts_dir() in origin.file.parents for origin in library.origins.values()):
        return []
    shipped = load_folders([prompts_dir()])
    found: dict[tuple[str, str], Dropped] = {}
    for vehicle in vehicles:
        for before, after in _pairs(shipped, library, vehicle, route):
            for each in _between(shipped, library, before, after, vehicle):
                known = found.setdefault((each.item.id, each.part), each)
                if known is not each:
                    places = tuple(dict.fromkeys((*known.places, *each.places)))
                    whole = known.everywhere and each.everywhere
                    found[each.item.id, each.part] = Dropped(each.item, places, whole, each.part, known.origin)
    return sorted(found.values(), key=lambda each: not each.by_law)


def _pairs(shipped: Library, library: Library, vehicle: Vehicle, name: str | None) -> Iterator[tuple[Route, Route]]:
    """(shipped route, the user's in its place)."""
    standard = [route for route in fitting_routes(library, vehicle) if route.standard][:1]
    wanted = standard if name is None else [library.routes[name]]
    for after in wanted:
        before = shipped.routes.get(after.id)
        if before is None and after in standard:
            before = next((route for route in fitting_routes(shipped, vehicle) if route.standard), None)
        if before is not None and vehicle.kind in before.fits:
            yield before, after


def _between(shipped: Library, library: Library, before: Route, after: Route, vehicle: Vehicle) -> Iterator[Dropped]:
    old, new = ({step.id: step for step in expand(data, route, vehicle).steps}
                for data, route in ((shipped, before), (library, after)))  # fmt: skip
    gone: dict[str, list[Step]] = {}
    for name, step in old.items():
        if name not in new:
            gone.setdefault(step.item.id, []).append(step)
    asked = {step.item.id for step in new.values()}
    for item, steps in gone.items():
        origin = _origin(shipped, library, before, after, item)
        yield Dropped(shipped.items[item], tuple(step.name for step in steps), item not in asked, "", origin)
    for item in sorted(asked & shipped.items.keys()):
        for part in _parts(shipped.items[item], library.items[item]):
            yield Dropped(shipped.items[item], (), False, part, library.origins["item", item])


def _parts(before: Item, after: Item) -> Iterator[str]:
    """What an item of one's own leaves out of the shipped one."""
    for kind, old, new in (("defect", before.defects, after.defects), ("limit", before.limits, after.limits)):
        yield from (f'the {kind} "{name}"' for name in old if name not in new)
    if isinstance(before.answer, Measurement) and before.answer.kind != after.answer.kind:
        yield "the reading"


def _origin(shipped: Library, library: Library, before: Route, after: Route, item: str) -> Origin:
    """The entry of the user's own that is nearest to the item: the item, the groups it is in, else the route."""
    around = _groups_around(shipped, before, item)
    for key in (("item", item), *(("group", name) for name in around)):
        origin = library.origins.get(key)
        if origin is not None and prompts_dir() not in origin.file.parents:
            return origin
    return library.origins["route", after.id]


def _groups_around(library: Library, route: Route, item: str) -> list[str]:
    """The groups through which the route asks the item, the innermost first."""
    inside: Mapping[str, set[str]] = {
        name: {each.item or each.group or "" for each in group.entries} for name, group in library.groups.items()
    }
    used = {visit.entry.group for visit in visits(library, route)}
    found: list[str] = []
    wanted = [item]
    while wanted:
        here = wanted.pop(0)
        holders = [name for name, entries in inside.items() if here in entries and name in used and name not in found]
        found += holders
        wanted += holders
    return found
