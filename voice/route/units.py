"""A tractor and a trailer are vehicles of their own; what is walked is the combination they make today.

A walk names things in today's combination: axle four. What is kept of a unit names them in the unit: axle one of the
trailer. `in_unit` and `on_vehicle` lead from the one to the other, so that what is known of a trailer goes with it from
tractor to tractor. A straight truck, a bus, and a tractor or trailer alone are one unit, and nothing changes for them.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from voice.data.fields import MAX_ID
from voice.data.folders import is_file, prompts_dir
from voice.data.reader import read_yaml
from voice.errors import DataError, SetupError
from voice.route.expand import units_of_items
from voice.route.library import load_library
from voice.route.model import Place
from voice.route.vehicle import UnitName, UnitRef, Vehicle
from voice.route.vehicles import MAX_AXLES, find_profile, load_vehicle

JOIN = "--"  # between the ids of a combination's units
# Parts of the trailer that are looked at from the tractor, and stood with the tractor before there were units.
TRAILERS_OWN = frozenset({"kingpin-apron"})
AND = "+"  # between them where a combination is named on the command line

_KINDS: dict[str, UnitName] = {"tractor": "tractor", "trailer": "trailer", "straight-truck": "truck", "bus": "bus"}
_KEY = re.compile(r"(?P<item>[^@#]*)(@(?P<place>[^#]*))?(?P<defect>#.*)?", re.DOTALL)


def combine(tractor: Vehicle, trailer: Vehicle, together: str | None = None) -> Vehicle:
    """The combination of a tractor and a trailer, in this order.

    together: how it is called, with {tractor} and {trailer}; None is as shipped.

    Raises DataError for two that cannot be coupled: the kinds of unit or of brakes do not fit.
    """
    if tractor.kind != "tractor" or trailer.kind != "trailer":
        raise DataError(
            f'"{tractor.name}" ({tractor.kind}) and "{trailer.name}" ({trailer.kind}) are not a tractor and a trailer.',
            "Name a vehicle of kind tractor first, then one of kind trailer.",
        )
    if tractor.brakes != trailer.brakes:
        raise DataError(
            f'"{tractor.name}" has {tractor.brakes} brakes, "{trailer.name}" {trailer.brakes} ones.',
            "Correct the profile that is wrong.",
        )
    if len(tractor.axles) + len(trailer.axles) > MAX_AXLES:
        raise DataError(f'"{tractor.name}" and "{trailer.name}" have more than {MAX_AXLES} axles together.')
    assert trailer.trailer is not None  # noqa: S101 - no trailer's profile is without it
    first = len(tractor.axles) + 1
    name = (together or _wording()["together"]).format(tractor=tractor.name, trailer=trailer.name)
    return tractor.model_copy(
        update={
            "id": _joined(tractor.id, trailer.id),
            "name": name,
            "kind": "tractor-semitrailer",
            "axles": (*tractor.axles, *trailer.axles),
            "trailer": trailer.trailer.model_copy(update={"plate": trailer.plate}),
            "layers": tuple(dict.fromkeys((*tractor.layers, *trailer.layers))),
            "placarded": tractor.placarded or trailer.placarded,
            "units": (
                UnitRef(id=tractor.id, unit="tractor", name=tractor.name, first_axle=1, axles=len(tractor.axles)),
                UnitRef(id=trailer.id, unit="trailer", name=trailer.name, first_axle=first, axles=len(trailer.axles)),
            ),
        }
    )


def _joined(tractor: str, trailer: str) -> str:
    """The combination's id. It is part of a file's name: where both are long, the end of it is a hash of both."""
    whole = f"{tractor}{JOIN}{trailer}"
    if len(whole) <= MAX_ID:
        return whole
    return f"{whole[: MAX_ID - 9]}-{hashlib.sha256(whole.encode()).hexdigest()[:8]}"


@cache
def _wording() -> dict[str, str]:
    """The shipped words for combinations."""
    data = read_yaml(prompts_dir() / "places.yaml")
    return {name: str(data[name]) for name in ("together", "of_one")} | {
        f"unit {unit}": str(said) for unit, said in data["unit"].items()
    }


def units_of(vehicle: Vehicle) -> tuple[UnitRef, ...]:
    """The units of a vehicle, from the front; itself, if it is not a combination.

    An older profile that describes a combination in one has two: ID-tractor and ID-trailer.
    """
    if vehicle.units:
        return vehicle.units
    behind = sum(axle.unit == "trailer" for axle in vehicle.axles)
    ahead = len(vehicle.axles) - behind
    if vehicle.kind != "tractor-semitrailer" or vehicle.trailer is None or not ahead or not behind:
        unit = _KINDS.get(vehicle.kind, "tractor")  # a combination that lacks one of its parts is not one
        return (UnitRef(id=vehicle.id, unit=unit, name=vehicle.name, first_axle=1, axles=len(vehicle.axles)),)
    return (_of_one(vehicle, "tractor", 1, ahead), _of_one(vehicle, "trailer", ahead + 1, behind))


def trailer_of(vehicle: Vehicle) -> UnitRef | None:
    """The unit that is a trailer; None if there is none."""
    return next((unit for unit in units_of(vehicle) if unit.unit == "trailer"), None)


def _of_one(vehicle: Vehicle, unit: UnitName, first: int, axles: int) -> UnitRef:
    """Called as in the combination's name, if that has both names in it ("tractor twelve with trailer forty")."""
    both = re.escape(_wording()["together"]).replace(r"\{tractor\}", "(?P<tractor>.+)")
    found = re.fullmatch(both.replace(r"\{trailer\}", "(?P<trailer>.+)"), vehicle.name)
    name = found[unit] if found else _wording()["of_one"].format(unit=_wording()[f"unit {unit}"], name=vehicle.name)
    return UnitRef(id=f"{vehicle.id}-{unit}", unit=unit, name=name[:300], first_axle=first, axles=axles)


def unit_of(vehicle: Vehicle, place: Place) -> UnitRef:
    """The unit that a place is at: by its axle, else by its unit, else the first."""
    return _which(units_of(vehicle), place.axle, place.unit)


def unit_at(units: Sequence[UnitRef], key: str, place: Place | None = None) -> UnitRef:
    """The unit that a step or defect is of: by its key where that tells, else by its place, else the first."""
    axle, unit = _told(key)
    if axle is None and unit is None and place is not None:
        axle, unit = place.axle, place.unit
    return _which(units, axle, unit)


def _which(units: Sequence[UnitRef], axle: int | None, unit: str | None) -> UnitRef:
    if axle is not None:
        for each in units:
            if _has(each, axle):
                return each
    for each in units:
        if each.unit == unit:
            return each
    return units[0]


def _has(unit: UnitRef, axle: int) -> bool:
    return unit.first_axle <= axle < unit.first_axle + unit.axles


def in_unit(vehicle: Vehicle, key: str, place: Place | None = None) -> tuple[str, str]:
    """The unit's id, and the key of a step or defect as the unit has it: with the numbers of the unit's own axles.

    key: item@place, with #defect or without, as today's combination has it.
    place: where the step is, if it is known: most keys without an axle do not say of which unit they are.
    """
    unit = unit_at(units_of(vehicle), key, place)
    return unit.id, _renumbered(key, 1 - unit.first_axle)


def on_vehicle(vehicle: Vehicle, unit: str, key: str) -> str:
    """The key of a unit as today's combination has it; the inverse of `in_unit`. Raises KeyError for another's."""
    found = next((each for each in units_of(vehicle) if each.id == unit), None)
    if found is None:
        raise KeyError(unit)
    return _renumbered(key, found.first_axle - 1)


def own_key(unit: UnitRef, key: str) -> str | None:
    """A combination's key as this unit of it has it; None if it is another unit's.

    A key that says neither axle nor unit may be any unit's: it is this one's too, as far as the key tells.
    """
    axle, named = _told(key)
    if axle is not None:
        return _renumbered(key, 1 - unit.first_axle) if _has(unit, axle) else None
    return key if named in (None, unit.unit) else None


@cache
def usual_unit(item: str) -> UnitName | None:
    """The unit at which the shipped routes ask an item of a combination; None if at several, or not at all."""
    library = load_library()
    asked = {
        unit
        for route in library.routes.values()
        if "tractor-semitrailer" in route.fits
        for unit in units_of_items(library, route).get(item, ())
        if unit is not None
    }
    return next(iter(asked)) if len(asked) == 1 else None


def axle_of(key: str) -> int | None:
    """The number of the axle in a step's or defect's key."""
    return _told(key)[0]


def _parts(key: str) -> tuple[str, list[str], str]:
    """Item, the parts of the place, and "#defect" if there is one."""
    match = _KEY.fullmatch(key)
    assert match is not None  # noqa: S101 - the pattern takes any text
    return match["item"], (match["place"] or "").split("-") if match["place"] else [], match["defect"] or ""


def _told(key: str) -> tuple[int | None, str | None]:
    """The axle and the unit that a key names."""
    at = key.find("@")
    if at < 0:
        return None, None
    end = key.find("#", at)
    parts = key[at + 1 : end if end >= 0 else None].split("-")
    axle = next((int(part) for part in parts if part.isascii() and part.isdigit() and len(part) < 4), None)
    return axle, parts[0] if parts[0] in _KINDS.values() else None


def _renumbered(key: str, by: int) -> str:
    if by == 0:
        return key
    item, parts, defect = _parts(key)
    if not parts:
        return key
    moved = [str(int(part) + by) if part.isascii() and part.isdigit() else part for part in parts]
    return f"{item}@{'-'.join(moved)}{defect}"


def split(vehicle: Vehicle) -> tuple[Vehicle, ...]:
    """The units of a vehicle with a profile each, from the front; itself, if it is not a combination.

    The inverse of `combine` but for what a combination does not keep: whether it is the tractor's load or the trailer's
    that needs placards (then both say so), and the trailer's own units and depth.
    """
    units = units_of(vehicle)
    if len(units) == 1:
        return (vehicle,)
    tractor, trailer = units
    spec = vehicle.trailer
    assert spec is not None  # noqa: S101 - no combination is without a trailer
    ahead: dict[str, Any] = {"id": tractor.id, "name": tractor.name, "kind": "tractor", "trailer": None, "units": ()}
    behind: dict[str, Any] = {
        "id": trailer.id,
        "name": trailer.name,
        "kind": "trailer",
        "plate": spec.plate,
        "axles": vehicle.axles[trailer.first_axle - 1 :],
        "trailer": spec.model_copy(update={"plate": None}),
        "brakes": vehicle.brakes,
        "placarded": vehicle.placarded,
        "display_units": vehicle.display_units,
        "layers": vehicle.layers,
    }
    return (
        vehicle.model_copy(update={**ahead, "axles": vehicle.axles[: tractor.axles]}),
        Vehicle(**behind),
    )


def named_vehicle(home: Path | None, name: str, together: str | None = None) -> Vehicle:
    """A known vehicle by its file, id, spoken name or path; or two of them with "+" between, put together.

    Raises SetupError, and DataError for a profile with a mistake and for two that cannot be coupled.
    """
    if AND not in name or is_file(Path(name)):
        return load_vehicle(find_profile(home, name))
    try:
        return load_vehicle(find_profile(home, name))
    except SetupError:
        parts = [part.strip() for part in name.split(AND)]
        if len(parts) != 2 or not all(parts):
            raise SetupError(
                f'"{name}" names no combination.', "Give a tractor and a trailer, as --vehicle tractor-12+trailer-40."
            ) from None
    one, other = (load_vehicle(find_profile(home, part)) for part in parts)
    if (one.kind, other.kind) == ("trailer", "tractor"):
        one, other = other, one
    return combine(one, other, together)
