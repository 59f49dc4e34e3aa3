"""Which units are walked together, asked aloud: "tractor twelve with trailer forty", or one after the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from voice.errors import DataError
from voice.route.units import combine
from voice.route.vehicle import Vehicle
from voice.session.asking import Asker, Pick
from voice.session.resources import Resources

# Combinations that can be said in one breath. No source: with more, so many phrases make each harder to hear, and the
# trailer is asked for by itself.
MOST_PAIRS = 200


def pairs(resources: Resources, vehicles: Sequence[Vehicle]) -> Mapping[str, Vehicle]:
    """The combinations that can be said in one breath, by how they are called; what a vehicle is called is not one."""
    tractors = [vehicle for vehicle in vehicles if vehicle.kind == "tractor"]
    trailers = [vehicle for vehicle in vehicles if vehicle.kind == "trailer"]
    if len(tractors) * len(trailers) > MOST_PAIRS:
        return {}
    taken = {vehicle.name.lower() for vehicle in vehicles}
    made = {}
    for tractor in tractors:
        for trailer in trailers:
            found = _coupled(resources, tractor, trailer)
            if found is not None and found.name.lower() not in taken:
                made[found.name.lower()] = found
    return made


def ask_trailer(resources: Resources, asker: Asker, tractor: Vehicle, vehicles: Sequence[Vehicle]) -> Vehicle:
    """The tractor with the trailer that is said, or alone."""
    made = {each.id: found for each in vehicles if (found := _coupled(resources, tractor, each)) is not None}
    if not made:
        return tractor
    talk = resources.talk.setup
    trailers = [vehicle for vehicle in vehicles if vehicle.id in made]
    names = ", ".join(trailer.name for trailer in trailers)
    alone = Pick(tractor.id, tuple(talk.no_trailer))
    picks = [*(Pick(trailer.id, called(trailer, vehicles)) for trailer in trailers), alone]
    picked = asker.pick("trailer", talk.trailer.format(names=names), picks, talk.again.format(names=names))
    return made.get(picked, tractor)


def _coupled(resources: Resources, tractor: Vehicle, trailer: Vehicle) -> Vehicle | None:
    """None for two that cannot be coupled."""
    if trailer.kind != "trailer":
        return None
    try:
        return combine(tractor, trailer, resources.library.places.together)
    except DataError:
        return None


def called(vehicle: Vehicle, vehicles: Sequence[Vehicle]) -> tuple[str, ...]:
    """What the driver may call it: its name, or a word of it that no other has."""
    name = vehicle.name.lower()
    others = {word for other in vehicles if other.id != vehicle.id for word in other.name.lower().split()}
    own = [word for word in name.split() if word not in others] if len(name.split()) > 1 else []
    return (name, *own)
