"""Which kinds of inspection a vehicle has, and which route each takes (prompts/kinds.yaml)."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from voice.errors import DataError
from voice.route.files import InspectionKind, Route
from voice.route.library import Library, Reader
from voice.route.vehicle import Vehicle

PRE_TRIP = "pre-trip"  # what a walk is when nothing else is said
DROP, HOOK = "drop", "hook"  # what a trailer is uncoupled and coupled with


def own_kinds(overlay: Path) -> Mapping[str, InspectionKind]:
    """The kinds that the user's own folder of routes and items adds or replaces. Raises DataError."""
    reader, file = Reader(), overlay / "kinds.yaml"
    if file.is_file():
        reader.file(file, "kind")
    return reader.found["kind"]


def kinds_for(library: Library, vehicle: Vehicle) -> list[InspectionKind]:
    """The kinds that this vehicle has, as they are written."""
    return [kind for kind in library.kinds.values() if not kind.routes or vehicle.kind in kind.routes]


def find_kind(library: Library, vehicle: Vehicle, name: str) -> InspectionKind:
    """Raises DataError for one that this vehicle has not."""
    known = {kind.id: kind for kind in kinds_for(library, vehicle)}
    if name not in known:
        what = "there is no kind of inspection" if name not in library.kinds else f"{vehicle.name} has no inspection"
        raise DataError(f'{what} "{name}".', f"It has: {', '.join(known)}.")
    return known[name]


def kind_of(library: Library, vehicle: Vehicle, route: Route) -> InspectionKind | None:
    """The kind that takes this route; a route that none names is walked as a pre-trip inspection."""
    named = (kind for kind in library.kinds.values() if kind.routes.get(vehicle.kind) == route.id)
    return next(named, library.kinds.get(PRE_TRIP))
