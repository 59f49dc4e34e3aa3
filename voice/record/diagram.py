"""The vehicle from above, drawn from its profile, with the numbers of the defects where they are.

Plain shapes with coordinates for the page to draw as SVG. The front is to the left, so the vehicle's left side is at
the bottom. Lengths are of no real scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from voice.measure.level import LevelName, level_of, worst
from voice.record.model import InspectionRecord
from voice.record.table import entry_level
from voice.record.wording import words
from voice.route.model import Place
from voice.route.vehicle import Axle, UnitName, Vehicle

WIDTH, HEIGHT = 720, 150
_MIDDLE = HEIGHT / 2
_RADIUS = 10.0  # of a mark
_HALF = {"left": 1, "right": -1}  # towards the bottom, towards the top


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle.

    kind: "body", "cab" or "wheel".
    level: the worst of what was found on a wheel.
    """

    kind: str
    x: float
    y: float
    w: float
    h: float
    level: LevelName | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """A defect's number, its center."""

    x: float
    y: float
    number: int
    level: LevelName


@dataclass(frozen=True, slots=True)
class Diagram:
    boxes: tuple[Box, ...]
    marks: tuple[Mark, ...]
    elsewhere: tuple[int, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Found:
    """What is to be drawn as a mark: the number of a defect, what it is of, where, and how serious."""

    number: int
    item: str
    place: Place
    level: LevelName


def _axle_x(vehicle: Vehicle) -> tuple[dict[int, float], dict[UnitName, tuple[float, float]]]:
    """The middle of each axle, and where each unit's body begins and ends."""
    axles: dict[int, float] = {}
    units: dict[UnitName, tuple[float, float]] = {}
    names = list(dict.fromkeys(axle.unit for axle in vehicle.axles))
    if vehicle.trailer is not None and "trailer" not in names:
        names.append("trailer")
    shares = {"tractor": 0.36, "trailer": 0.64} if len(names) > 1 else {names[0]: 1.0}
    x = 8.0
    for name in names:
        length = (WIDTH - 16) * shares.get(name, 1 / len(names))
        units[name] = (x, x + length - (6 if len(names) > 1 else 0))
        numbers = [index for index, axle in enumerate(vehicle.axles, start=1) if axle.unit == name]
        front = [n for n in numbers if vehicle.axles[n - 1].role == "steer"]
        rear = [n for n in numbers if n not in front]
        for place, number in enumerate(front):
            axles[number] = x + length * 0.16 + 40 * place
        for place, number in enumerate(reversed(rear)):
            axles[number] = units[name][1] - length * 0.1 - 44 * place
        x += length
    return axles, units


def _wheels(axle: Axle, x: float, found: Mapping[Place, LevelName], number: int) -> Iterable[Box]:
    for side, way in _HALF.items():
        for tire, offset in (("outer", 50), ("inner", 37)) if axle.dual else ((None, 48),):
            levels = [found[p] for p in found if p.axle == number and p.side == side and p.tire in (None, tire)]
            level = worst(levels)
            height = 11 if axle.dual else 14
            yield Box("wheel", x - 17, _MIDDLE + way * offset - height / 2, 34, height, level)


def _spot(
    found: Found, axles: Mapping[int, float], units: Mapping[UnitName, tuple[float, float]]
) -> tuple[float, float] | None:
    place = found.place
    way = _HALF[place.side] if place.side else 0
    if place.axle is not None and place.axle in axles:
        return axles[place.axle], _MIDDLE + way * (18 if place.tire == "inner" else 20)
    drawn = words("drawing").get(found.item)
    if place.unit is not None and place.unit in units:
        start, end = units[place.unit]
    elif drawn is not None:
        start, end = list(units.values())[0 if drawn["unit"] == "lead" else -1]
    else:
        return None
    x = start + (end - start) * (0.45 if drawn is None else drawn["along"])
    return min(max(x, start + _RADIUS), end - _RADIUS), _MIDDLE + way * 20


def draw(vehicle: Vehicle, found: Iterable[Found], wheels: Mapping[Place, LevelName]) -> Diagram:
    """The drawing of a vehicle.

    wheels: the worst of what was found at a place; colors the wheels.
    """
    axles, units = _axle_x(vehicle)
    boxes = [Box("body", start, _MIDDLE - 30, end - start, 60) for start, end in units.values()]
    first = next(iter(units))
    if first != "trailer":
        boxes.append(Box("cab", units[first][0], _MIDDLE - 30, 58, 60))
    for number, x in axles.items():
        boxes.extend(_wheels(vehicle.axles[number - 1], x, wheels, number))
    marks: list[Mark] = []
    elsewhere: list[int] = []
    taken: dict[tuple[float, float], int] = {}
    for each in found:
        spot = _spot(each, axles, units)
        if spot is None:
            elsewhere.append(each.number)
            continue
        again = taken[spot] = taken.get(spot, -1) + 1
        # Side by side towards the middle of the drawing, so that none sticks out at the rear.
        x = spot[0] + 21 * again * (1 if spot[0] < WIDTH / 2 else -1)
        marks.append(Mark(x, spot[1], each.number, each.level))
    return Diagram(tuple(boxes), tuple(marks), tuple(sorted(elsewhere)))


def diagram(record: InspectionRecord, numbers: Mapping[str, int]) -> Diagram:
    """The drawing of a record's vehicle.

    numbers: defect key -> its number on the page.
    """
    wheels: dict[Place, LevelName] = {}
    for entry in record.entries:
        level = entry_level(entry)
        if level is not None:
            known = wheels.get(entry.place, level)
            wheels[entry.place] = max(known, level, key=level_of)
    found = [
        Found(numbers[defect.key], entry.item, entry.place, defect.level)
        for entry in record.entries
        for defect in entry.defects
    ]
    return draw(record.vehicle, found, wheels)
