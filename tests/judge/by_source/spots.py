"""Places on invented vehicles, said in the words of the sources."""

from __future__ import annotations

from typing import Any

from tests.judge.yard import at, axle, rig, steer, truck
from voice.judge import Subject
from voice.measure import exact
from voice.route.vehicle import Brake, Chamber, Governor, Steering, Trailer, Vehicle

UNIT = {"rig": "tractor", "truck": "truck", "bus": "bus"}


def spot(role: str = "", kind: str = "", **fields: Any) -> Subject:
    """An axle of that role, its left end; without a role, the vehicle as a whole.

    kind: rig, truck or bus; by default a rig, and a truck for a tag axle.
    fields: of the vehicle; of its axle: studs, wheel, cold_psi, max_psi; of its brake: brake (its kind), lining,
        chamber (kind, size, long, rated stroke).
    """
    kind = kind or ("truck" if role == "tag" else "rig")
    brake = {"kind": fields.pop("brake", "air-drum"), "lining": fields.pop("lining", "continuous")}
    kept: dict[str, Any] = {
        name: fields.pop(name) for name in ("studs", "wheel", "cold_psi", "max_psi") if name in fields
    }
    made = Brake(**brake, chamber=_chamber(fields.pop("chamber", ("clamp", "30"))))
    unit = "trailer" if role == "trailer" else UNIT[kind]
    own: dict[str, Any] = {"brake": made, **kept} if role == "steer" else {}
    front = steer(UNIT[kind], **own)
    second = axle(unit, role if role not in ("", "steer") else "drive", brake=made, **kept)
    vehicle = _vehicle(kind, (front, second), fields)
    number = {"": None, "steer": 1}.get(role, 2)
    return at(vehicle, number, None if number is None else "left")


def _vehicle(kind: str, axles: tuple[Any, ...], fields: dict[str, Any]) -> Vehicle:
    if kind == "rig":
        return rig(axles, **fields)
    return truck(axles, **fields, kind="bus" if kind == "bus" else "straight-truck")


def _chamber(said: tuple[Any, ...]) -> Chamber:
    kind, size, long, rated = (*said, False, None) if len(said) == 2 else said
    return Chamber(kind=kind, size=size, long_stroke=long, rated_stroke_in=None if rated is None else exact(rated))


def trailer(**fields: Any) -> Subject:
    """A rig whose trailer is so built."""
    return spot(trailer=Trailer(body="van", **fields))


def governor(**fields: Any) -> Subject:
    return spot(governor=Governor(**fields))


def wheel(power: bool, diameter: str) -> Subject:
    """A steering wheel of that diameter, inches."""
    return spot(kind="truck", steering=Steering(power=power, wheel_in=exact(diameter)))


RIG, TRUCK, BUS = spot(), spot(kind="truck"), spot(kind="bus")
TWO_TOWED, THREE_TOWED = spot(towed_units=2), spot(towed_units=3)
HYDRAULIC, HYDRAULIC_RIG = spot(kind="truck", brakes="hydraulic"), spot(brakes="hydraulic")
STEER, DRIVE, TAG, TOWED = (spot(role) for role in ("steer", "drive", "tag", "trailer"))
OTHERS = (DRIVE, TAG, TOWED)
