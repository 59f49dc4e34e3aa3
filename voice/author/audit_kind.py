"""What an author can get wrong in a kind of inspection."""

from __future__ import annotations

from collections.abc import Iterator

from voice.author.audit_common import phrase_faults
from voice.errors import DataError
from voice.route.files import InspectionKind
from voice.route.library import Library


def kind_faults(library: Library, kind: InspectionKind) -> Iterator[DataError]:
    origin = library.origins["kind", kind.id]
    yield from phrase_faults(origin, ("call",), kind.call)
    for other in library.kinds.values():
        if other.id < kind.id and (both := set(other.call) & set(kind.call)):
            yield origin.error(f'the kind "{other.id}" is called "{min(both)}" too.', "Change one.", "call")
        for vehicle, name in kind.routes.items():
            # A record says which kind it was by its route, where only the route was named.
            if other.id < kind.id and other.routes.get(vehicle) == name:
                what = f'the kind "{other.id}" takes the route "{name}" too.'
                yield origin.error(what, "Give one a route of its own.", "routes", vehicle)
    for vehicle, name in kind.routes.items():
        route = library.routes.get(name)
        if route is None:
            yield origin.error(f'there is no route "{name}".', "Correct it, or add the route.", "routes", vehicle)
        elif vehicle not in route.fits:
            yield origin.error(
                f'the route "{name}" does not fit a {vehicle}.', f"It fits: {', '.join(route.fits)}.", "routes", vehicle
            )
        elif route.standard:
            yield origin.error(
                f'"{name}" is a standard route: that is walked before driving.',
                "Leave `routes` out, or name another.", "routes", vehicle,
            )  # fmt: skip
