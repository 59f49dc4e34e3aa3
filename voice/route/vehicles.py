"""Vehicle profiles: read, and checked for what a single field cannot show."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from voice.data import prompts_dir
from voice.errors import DataError
from voice.route.load import line_of, parse, read_yaml
from voice.route.model import Vehicle

MAX_AXLES = 20  # as many numbers as places.yaml has words for

_UNITS = {"tractor-semitrailer": ("tractor", "trailer"), "straight-truck": ("truck",), "bus": ("bus",)}


def load_vehicle(path: Path) -> Vehicle:
    """The vehicle of a profile file. Raises DataError with file and line."""
    vehicle = read_vehicle(path)
    for loc, message in faults(vehicle):
        raise DataError(message, file=path, line=line_of(path, loc))
    return vehicle


def read_vehicle(path: Path) -> Vehicle:
    """The profile as it stands, its fields checked one by one only; see `faults` for the rest."""
    return parse(Vehicle, read_yaml(path), path)


def vehicle_files(home: Path | None = None) -> dict[str, Path]:
    """Profiles by the name of their file: those of the home folder, or the shipped samples if it has none."""
    own = sorted((home / "vehicles").glob("*.yaml")) if home is not None else []
    return {file.stem: file for file in own or sorted((prompts_dir() / "vehicles").glob("*.yaml"))}


def faults(vehicle: Vehicle) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """What does not fit together: (path of keys, message)."""
    units = _UNITS[vehicle.kind]
    combination = vehicle.kind == "tractor-semitrailer"
    last = 0
    for index, axle in enumerate(vehicle.axles):
        at = ("axles", index)
        if axle.unit not in units:
            yield (*at, "unit"), f'an axle of a {vehicle.kind} belongs to {" or ".join(units)}, not "{axle.unit}".'
            continue
        if units.index(axle.unit) < last:
            yield (*at, "unit"), "axles are listed from the front to the back: the trailer's come last."
        last = units.index(axle.unit)
        if (axle.role == "trailer") != (axle.unit == "trailer"):
            yield (*at, "role"), f'role "{axle.role}" does not fit an axle of the {axle.unit}.'
        if not axle.brake.kind.startswith(vehicle.brakes):
            yield (*at, "brake"), f'the brake "{axle.brake.kind}" does not fit a vehicle with {vehicle.brakes} brakes.'
        if axle.brake.slack and axle.brake.kind != "air-drum":
            yield (*at, "brake", "slack"), "only air drum brakes have slack adjusters."
        if axle.brake.chamber and vehicle.brakes != "air":
            yield (*at, "brake", "chamber"), "only air brakes have chambers."
    if len(vehicle.axles) > MAX_AXLES:
        yield ("axles",), f"at most {MAX_AXLES} axles can be named."
    if vehicle.axles[0].role != "steer":
        yield ("axles", 0, "role"), "the first axle is the steer axle."
    for role in ("drive", "trailer") if combination else ("drive",):
        if all(axle.role != role for axle in vehicle.axles):
            yield ("axles",), f"there is no {role} axle."
    if combination != (vehicle.fifth_wheel is not None):
        yield ("fifth_wheel",), f"a {vehicle.kind} has {'a' if combination else 'no'} fifth_wheel."
    if combination != (vehicle.trailer is not None):
        yield ("trailer",), f"a {vehicle.kind} has {'a' if combination else 'no'} trailer."
    if (vehicle.kind == "bus") != (vehicle.bus is not None):
        yield ("bus",), "a bus, and only a bus, says which kind it is: bus: school, transit or coach."
    if (vehicle.kind == "straight-truck") != (vehicle.body is not None):
        yield ("body",), "a straight truck, and only that, says which body it has."
    governor = vehicle.governor
    if governor.cut_in is not None and governor.cut_out is not None and governor.cut_in >= governor.cut_out:
        yield ("governor", "cut_in"), "the cut-in pressure is below the cut-out pressure."
