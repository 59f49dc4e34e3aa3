"""Vehicle profiles: read, and checked for what a single field cannot show."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from voice.data.fields import MAX_ID
from voice.data.folders import is_file, prompts_dir
from voice.data.reader import MistakesError, line_of, parse, read_yaml
from voice.errors import DataError, SetupError
from voice.route.vehicle import UnitName, Vehicle

MAX_AXLES = 20  # as many numbers as an own places.yaml must have words for

# Bounds beyond which a figure is a slip of the pen. No source: wider than anything on the road.
MAX_PSI, YEARS = 200, (1900, 2100)
_LENGTHS = {"length_ft": (5, 100), "wheel_in": (8, 30)}

_UNITS: Mapping[str, tuple[UnitName, ...]] = {
    "tractor-semitrailer": ("tractor", "trailer"),
    "tractor": ("tractor",),
    "trailer": ("trailer",),
    "straight-truck": ("truck",),
    "bus": ("bus",),
}
_POWERED = {
    "air_system", "governor", "parking_valve_psi", "steering", "pump_drive", "abs_built", "sleeper", "fuses",
    "towed_units", "depth",
}  # fmt: skip


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
    """Profiles by the name of their file, without ".yaml": the home's own, or the shipped samples if it has none.

    The name of a file and the id in it may differ; `find_profile` takes both, and the spoken name.
    """
    own = profile_files(home / "vehicles") if home is not None else []
    return {file.stem: file for file in own or profile_files(prompts_dir() / "vehicles")}


def profile_files(folder: Path) -> list[Path]:
    """The profiles in a folder of vehicles, by name."""
    return sorted(file for file in folder.glob("*") if file.suffix in (".yaml", ".yml"))


def find_profile(home: Path | None, name: str) -> Path:
    """The profile that is named: by its file, by the id or the spoken name in it, or by a path. Raises SetupError."""
    files = vehicle_files(home)
    for stem, file in files.items():
        if name in (stem, file.name):
            return file
    known = read_profiles(files).vehicles
    for own in ("id", "name"):
        for stem, vehicle in known.items():
            if _as_said(getattr(vehicle, own)) == _as_said(name):
                return files[stem]
    if is_file(Path(name)):
        return Path(name)
    ids = ", ".join(f"{vehicle.id} ({vehicle.name})" for vehicle in known.values()) or "none"
    raise SetupError(f'There is no vehicle "{name}".', f"Known: {ids}; or give a profile file.")


def _as_said(name: str) -> str:
    """An id or a spoken name as both are compared."""
    return " ".join(name.lower().split())


def faults(vehicle: Vehicle) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """What does not fit together: (path of keys, message)."""
    if len(vehicle.id) > MAX_ID:
        yield ("id",), f"an id has at most {MAX_ID} characters."
    if vehicle.units:
        yield ("units",), "units are put together for a walk and are not written in a profile."
    powered, drawn = vehicle.kind != "trailer", vehicle.kind in ("tractor-semitrailer", "trailer")
    yield from _axles(vehicle)
    if powered and len(vehicle.axles) < 2:
        yield ("axles",), f"a {vehicle.kind} has at least 2 axles."
    elif powered and vehicle.axles[0].role != "steer":
        yield ("axles", 0, "role"), "the first axle is the steer axle."
    for role in (*(("drive",) if powered else ()), *(("trailer",) if drawn else ())):
        if all(axle.role != role for axle in vehicle.axles):
            yield ("axles",), f"there is no {role} axle."
    couples = vehicle.kind in ("tractor-semitrailer", "tractor")
    if couples != (vehicle.fifth_wheel is not None):
        yield ("fifth_wheel",), f"a {vehicle.kind} has {'a' if couples else 'no'} fifth_wheel."
    if drawn != (vehicle.trailer is not None):
        yield ("trailer",), _about_trailer(vehicle)
    if not powered:
        yield from _of_the_tractor(vehicle)
    if (vehicle.kind == "bus") != (vehicle.bus is not None):
        yield ("bus",), "a bus, and only a bus, says which kind it is: bus: school, transit or coach."
    if (vehicle.kind == "straight-truck") != (vehicle.body is not None):
        yield ("body",), "a straight truck, and only that, says which body it has."
    governor = vehicle.governor
    if governor.cut_in is not None and governor.cut_out is not None and governor.cut_in >= governor.cut_out:
        yield ("governor", "cut_in"), "the cut-in pressure is below the cut-out pressure."
    yield from _figures(vehicle)


def _axles(vehicle: Vehicle) -> Iterator[tuple[tuple[str | int, ...], str]]:
    units = _UNITS[vehicle.kind]
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


def _about_trailer(vehicle: Vehicle) -> str:
    if vehicle.kind == "trailer":
        return "a trailer says what it is: trailer: {body: van}, with its tandem, length_ft and built."
    if vehicle.kind == "tractor":
        return "a tractor has no trailer: the trailer has a profile of its own, of kind trailer."
    return f"a {vehicle.kind} has {'a' if vehicle.trailer is None else 'no'} trailer."


def _of_the_tractor(vehicle: Vehicle) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """What the profile of a trailer says and only a powered unit has; fields that others tell of are left to those."""
    for name in sorted(vehicle.model_fields_set & _POWERED):
        if name in vehicle.model_dump(exclude_defaults=True):
            yield (name,), f"a trailer has no {name}: it belongs to the tractor's profile."
    if vehicle.trailer is not None and vehicle.trailer.plate is not None:
        yield ("trailer", "plate"), "a trailer's plate is written as plate, not under trailer."


def _figures(vehicle: Vehicle) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Figures that no vehicle has."""
    pressures: list[tuple[tuple[str | int, ...], Fraction | None]] = [
        (("governor", name), getattr(vehicle.governor, name)) for name in ("cut_in", "cut_out")
    ]
    for index, axle in enumerate(vehicle.axles):
        pressures += [(("axles", index, name), getattr(axle, name)) for name in ("cold_psi", "max_psi")]
        if axle.cold_psi is not None and axle.max_psi is not None and axle.cold_psi > axle.max_psi:
            most = f"max_psi, the maximum marked on the sidewall ({_number(axle.max_psi)})"
            yield ("axles", index, "cold_psi"), f"cold_psi ({_number(axle.cold_psi)}) is above {most}."
    for at, pressure in pressures:
        if pressure is not None and not 0 < pressure <= MAX_PSI:
            yield at, f"{at[-1]} is {_number(pressure)} psi: it must be more than 0 and at most {MAX_PSI}."
    trailer = vehicle.trailer
    years: list[tuple[tuple[str, ...], int | None]] = [(("abs_built",), vehicle.abs_built)]
    years += [(("trailer", "built"), trailer.built)] if trailer is not None else []
    for loc, year in years:
        if year is not None and not YEARS[0] <= year <= YEARS[1]:
            yield loc, f"{loc[-1]} is {year}: it must be a year from {YEARS[0]} to {YEARS[1]}."
    lengths = [(("steering", "wheel_in"), vehicle.steering.wheel_in)]
    lengths += [(("trailer", "length_ft"), trailer.length_ft)] if trailer is not None else []
    for key, length in lengths:
        low, high = _LENGTHS[key[-1]]
        if not low <= length <= high:
            yield key, f"{key[-1]} is {_number(length)}: it must be from {low} to {high}."


def _number(value: Fraction) -> str:
    return str(value) if value.denominator <= 16 else f"{float(value):g}"


@dataclass(frozen=True, slots=True)
class Profiles:
    """The profiles of a folder: those that can be read, by the name of their file, and what is wrong with the rest."""

    vehicles: Mapping[str, Vehicle]
    faults: tuple[DataError, ...]


def read_profiles(files: Mapping[str, Path]) -> Profiles:
    """All that can be read of `files`; the first mistake of each of the others; and names that two vehicles share."""
    vehicles: dict[str, Vehicle] = {}
    wrong: list[DataError] = []
    for name, file in files.items():
        try:
            vehicles[name] = load_vehicle(file)
        except DataError as fault:
            wrong.append(fault.each[0] if isinstance(fault, MistakesError) else fault)
    return Profiles(vehicles, (*wrong, *shared_names([(files[name], each) for name, each in vehicles.items()])))


def shared_names(vehicles: Sequence[tuple[Path, Vehicle]]) -> list[DataError]:
    """Two vehicles with one id, or that are called the same aloud: neither could be told from the other."""
    found = []
    for key in ("id", "name"):
        first: dict[str, Path] = {}
        for file, vehicle in vehicles:
            value = _as_said(getattr(vehicle, key))
            other = first.setdefault(value, file)
            if other != file:
                what = f'the {"id" if key == "id" else "spoken name"} "{value}" is that of {other.name} too.'
                found.append(DataError(what, "Change one of them.", file=file, line=line_of(file, (key,))))
    return found
