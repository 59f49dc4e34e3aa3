"""The facts an item's `when` can ask for.

A flat, documented list. Facts of an axle hold only where the item is placed at an axle.
"""

from __future__ import annotations

from collections.abc import Mapping

from voice.route.model import Place
from voice.route.vehicle import Axle, Vehicle

Fact = str | bool

_TRUTH: tuple[Fact, ...] = (True, False)

# name -> (its values, what it is)
_VEHICLE: Mapping[str, tuple[tuple[Fact, ...], str]] = {
    "kind": (
        ("tractor-semitrailer", "tractor", "trailer", "straight-truck", "bus"),
        "kind of vehicle; tractor is one without a trailer",
    ),
    "brakes": (("air", "hydraulic"), "brakes of the vehicle"),
    "air_system": (("single", "dual"), "air system; means nothing with hydraulic brakes"),
    "drum": (_TRUTH, "any axle has drum brakes"),
    "air_suspension": (_TRUTH, "any axle rides on air bags"),
    "fifth_wheel": (("fixed", "sliding", "none"), "fifth wheel"),
    "trailer": (_TRUTH, "a trailer is drawn"),
    "trailer_body": (("van", "reefer", "flatbed", "tank", "container", "none"), "body of the trailer"),
    "cargo_body": (
        ("van", "reefer", "flatbed", "tank", "container", "dump", "other", "none"),
        "body of the trailer, else of the truck",
    ),
    "tandem": (("fixed", "sliding", "none"), "tandem of the trailer"),
    "trailer_long": (_TRUTH, "the trailer is 30 ft or longer: intermediate side lamps, 49 CFR 393.11"),
    "body": (("van", "flatbed", "dump", "tank", "other", "none"), "body of a straight truck"),
    "bus": (("school", "transit", "coach", "none"), "kind of bus"),
    "pump_drive": (("belt", "gear"), "drive of the water pump"),
    "power_steering": (_TRUTH, "power steering"),
    "abs": (_TRUTH, "the year of the antilock system is known"),
    "abs_trailer_lamp": (
        _TRUTH,
        "the towing unit must have an in-cab lamp for the trailer's antilock system: built 2001 or later,"
        " 49 CFR 393.55(d)(2)",
    ),
    "placarded": (_TRUTH, "the load needs placards"),
    "sleeper": (_TRUTH, "there is a sleeper"),
    "fuses": (("fuses", "breakers"), "how the wiring is protected"),
}
_PLACE: Mapping[str, tuple[tuple[Fact, ...], str]] = {
    "unit": (("tractor", "trailer", "truck", "bus", "none"), "part of the vehicle the item is asked at"),
    "side": (("left", "right", "none"), "side the item is asked at"),
}
_AXLE: Mapping[str, tuple[tuple[Fact, ...], str]] = {
    "role": (("steer", "drive", "tag", "trailer"), "what the axle does"),
    "dual": (_TRUTH, "dual tires"),
    "suspension": (("leaf", "air", "coil", "torsion", "walking-beam"), "suspension of the axle"),
    "torque_arms": (_TRUTH, "torque arms"),
    "shocks": (_TRUTH, "shock absorbers"),
    "brake": (("air-drum", "air-disc", "hydraulic-drum", "hydraulic-disc"), "brake of the axle"),
    "slack": (("automatic", "manual", "none"), "slack adjusters"),
    "hub": (("oil", "grease"), "lubrication of the hub"),
    "wheel": (("disc", "spoke"), "kind of wheel"),
}
_ALL = {**_VEHICLE, **_PLACE, **_AXLE}

AXLE_FACTS = frozenset(_AXLE)
VALUES: Mapping[str, tuple[Fact, ...]] = {name: values for name, (values, _) in _ALL.items()}


def shown(value: Fact) -> str:
    """A value as it is written in YAML."""
    return str(value).lower() if isinstance(value, bool) else value


FACTS: Mapping[str, str] = {name: f"{', '.join(map(shown, values))} ({what})" for name, (values, what) in _ALL.items()}

LONG_TRAILER_FT = 30  # 49 CFR 393.11, Table 1: intermediate side markers from 30 ft
TRAILER_LAMP_YEAR = 2001  # 49 CFR 393.55(d)(2)


def facts(vehicle: Vehicle, place: Place | None = None) -> dict[str, Fact]:
    """All facts that hold at a place: name -> value. Facts of an axle only if the place has one."""
    trailer = vehicle.trailer
    found: dict[str, Fact] = {
        "kind": vehicle.kind,
        "brakes": vehicle.brakes,
        "air_system": vehicle.air_system,
        "drum": any(axle.brake.kind.endswith("drum") for axle in vehicle.axles),
        "air_suspension": any(axle.suspension == "air" for axle in vehicle.axles),
        "fifth_wheel": vehicle.fifth_wheel.slide if vehicle.fifth_wheel else "none",
        "trailer": trailer is not None,
        "trailer_body": trailer.body if trailer else "none",
        "cargo_body": trailer.body if trailer else vehicle.body or "none",
        "tandem": trailer.tandem if trailer else "none",
        "trailer_long": trailer is not None and trailer.length_ft >= LONG_TRAILER_FT,
        "body": vehicle.body or "none",
        "bus": vehicle.bus or "none",
        "pump_drive": vehicle.pump_drive,
        "power_steering": vehicle.steering.power,
        "abs": vehicle.abs_built is not None,
        "abs_trailer_lamp": trailer is not None and (vehicle.abs_built or 0) >= TRAILER_LAMP_YEAR,
        "placarded": vehicle.placarded,
        "sleeper": vehicle.sleeper,
        "fuses": vehicle.fuses,
    }
    if place is not None:
        found["unit"] = place.unit or "none"
        found["side"] = place.side or "none"
        if place.axle is not None:
            found.update(_axle_facts(vehicle.axles[place.axle - 1]))
    return found


def _axle_facts(axle: Axle) -> dict[str, Fact]:
    return {
        "role": axle.role,
        "dual": axle.dual,
        "suspension": axle.suspension,
        "torque_arms": axle.torque_arms,
        "shocks": axle.shocks,
        "brake": axle.brake.kind,
        "slack": axle.brake.slack or "none",
        "hub": axle.hub,
        "wheel": axle.wheel,
    }
