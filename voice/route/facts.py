"""The facts an item's `when` can ask for.

A flat, documented list. Facts of an axle hold only where the item is placed at an axle.
"""

from __future__ import annotations

from collections.abc import Mapping

from voice.route.model import Axle, Place, Vehicle

Fact = str | bool

VEHICLE_FACTS: Mapping[str, str] = {
    "kind": "tractor-semitrailer, straight-truck, bus",
    "brakes": "air, hydraulic",
    "air_system": "single, dual",
    "drum": "true if any axle has drum brakes",
    "air_suspension": "true if any axle rides on air bags",
    "fifth_wheel": "fixed, sliding, none",
    "trailer": "true if a trailer is drawn",
    "trailer_body": "van, reefer, flatbed, tank, container, none",
    "tandem": "fixed, sliding, none (of the trailer)",
    "trailer_long": "true if the trailer is 30 ft or longer (intermediate side lamps, 49 CFR 393.11)",
    "body": "van, flatbed, dump, tank, other, none (of a straight truck)",
    "bus": "school, transit, coach, none",
    "pump_drive": "belt, gear (water pump)",
    "power_steering": "true, false",
    "abs": "true if the year of the antilock system is known",
    "abs_trailer_lamp": "true if the towing unit must have an in-cab lamp for the trailer's antilock system"
    " (built 2001 or later, 49 CFR 393.55(d)(2))",
    "placarded": "true, false",
    "sleeper": "true, false",
    "fuses": "fuses, breakers",
}
PLACE_FACTS: Mapping[str, str] = {
    "unit": "tractor, trailer, truck, bus, none",
    "side": "left, right, none",
}
AXLE_FACTS: Mapping[str, str] = {
    "role": "steer, drive, tag, trailer",
    "dual": "true, false",
    "suspension": "leaf, air, coil, torsion, walking-beam",
    "torque_arms": "true, false",
    "shocks": "true, false",
    "brake": "air-drum, air-disc, hydraulic-drum, hydraulic-disc",
    "slack": "automatic, manual, none",
    "hub": "oil, grease",
    "wheel": "disc, spoke",
}
FACTS: Mapping[str, str] = {**VEHICLE_FACTS, **PLACE_FACTS, **AXLE_FACTS}

LONG_TRAILER_FT = 30  # 49 CFR 393.11, Table 1: intermediate side markers from 30 ft
TRAILER_LAMP_YEAR = 2001  # 49 CFR 393.55(d)(2)


def facts(vehicle: Vehicle, place: Place | None = None) -> dict[str, Fact]:
    """All facts that hold at a place: name -> value. Facts of an axle only if the place has one."""
    found: dict[str, Fact] = {
        "kind": vehicle.kind,
        "brakes": vehicle.brakes,
        "air_system": vehicle.air_system,
        "drum": any(axle.brake.kind.endswith("drum") for axle in vehicle.axles),
        "air_suspension": any(axle.suspension == "air" for axle in vehicle.axles),
        "fifth_wheel": vehicle.fifth_wheel.slide if vehicle.fifth_wheel else "none",
        "trailer": vehicle.trailer is not None,
        "trailer_body": vehicle.trailer.body if vehicle.trailer else "none",
        "tandem": vehicle.trailer.tandem if vehicle.trailer else "none",
        "trailer_long": vehicle.trailer is not None and vehicle.trailer.length_ft >= LONG_TRAILER_FT,
        "body": vehicle.body or "none",
        "bus": vehicle.bus or "none",
        "pump_drive": vehicle.pump_drive,
        "power_steering": vehicle.steering.power,
        "abs": vehicle.abs_built is not None,
        "abs_trailer_lamp": vehicle.trailer is not None and (vehicle.abs_built or 0) >= TRAILER_LAMP_YEAR,
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
