"""Vehicles for the tests of routes: the shipped samples, small builders, and a hypothesis strategy. All invented."""

from __future__ import annotations

from functools import cache
from typing import Any

from hypothesis import strategies as st

from voice.route import Library, load_library, load_vehicle, vehicle_files
from voice.route.vehicle import Vehicle

FIVE_AXLE = "tractor-trailer-five-axle"
TRUCK = "straight-truck-two-axle"
SCHOOL_BUS = "school-bus"
TRACTOR = "tractor-twelve"
TRAILERS = ("trailer-forty", "trailer-fifty-one")


@cache
def library() -> Library:
    return load_library()


@cache
def sample(name: str) -> Vehicle:
    return load_vehicle(vehicle_files()[name])


def altered(name: str, **changes: Any) -> Vehicle:
    """A sample with some fields changed, checked anew."""
    return Vehicle.model_validate({**sample(name).model_dump(), **changes})


def with_axle(name: str, number: int, **changes: Any) -> Vehicle:
    """A sample with one axle (from 1) changed."""
    axles = [axle.model_dump() for axle in sample(name).axles]
    axles[number - 1].update(changes)
    return altered(name, axles=axles)


SUSPENSIONS = st.sampled_from(["leaf", "air", "coil", "torsion", "walking-beam"])


@st.composite
def _axle(draw: st.DrawFn, unit: str, role: str, brakes: str) -> dict[str, Any]:
    kind = f"{brakes}-{draw(st.sampled_from(['drum', 'disc']))}"
    return {
        "unit": unit,
        "role": role,
        "dual": role != "steer" and draw(st.booleans()),
        "suspension": draw(SUSPENSIONS),
        "torque_arms": draw(st.booleans()),
        "shocks": draw(st.booleans()),
        "brake": {
            "kind": kind,
            "slack": draw(st.sampled_from(["automatic", "manual"])) if kind == "air-drum" else None,
        },
        "hub": draw(st.sampled_from(["oil", "grease"])),
    }


@st.composite
def vehicles(draw: st.DrawFn) -> Vehicle:
    """Any vehicle a profile can describe, up to twelve axles."""
    kind = draw(st.sampled_from(["tractor-semitrailer", "straight-truck", "bus"]))
    combination = kind == "tractor-semitrailer"
    unit = {"tractor-semitrailer": "tractor", "straight-truck": "truck", "bus": "bus"}[kind]
    brakes = draw(st.sampled_from(["air", "hydraulic"]))
    roles = (
        ["steer"] * draw(st.integers(1, 2)) + ["drive"] * draw(st.integers(1, 3)) + ["tag"] * draw(st.integers(0, 2))
    )
    axles = [draw(_axle(unit, role, brakes)) for role in roles]
    if combination:
        axles += [draw(_axle("trailer", "trailer", brakes)) for _ in range(draw(st.integers(1, 5)))]
    return Vehicle.model_validate(
        {
            "id": "drawn",
            "name": "drawn",
            "kind": kind,
            "axles": axles,
            "brakes": brakes,
            "air_system": draw(st.sampled_from(["single", "dual"])),
            "fifth_wheel": {"slide": draw(st.sampled_from(["fixed", "sliding"]))} if combination else None,
            "trailer": {
                "body": draw(st.sampled_from(["van", "reefer", "flatbed", "tank", "container"])),
                "tandem": draw(st.sampled_from(["fixed", "sliding"])),
                "length_ft": draw(st.integers(20, 57)),
            }
            if combination
            else None,
            "body": draw(st.sampled_from(["van", "flatbed", "dump", "tank", "other"]))
            if kind == "straight-truck"
            else None,
            "bus": draw(st.sampled_from(["school", "transit", "coach"])) if kind == "bus" else None,
            "pump_drive": draw(st.sampled_from(["belt", "gear"])),
            "steering": {"power": draw(st.booleans())},
            "abs_built": draw(st.one_of(st.none(), st.integers(1990, 2026))),
            "placarded": draw(st.booleans()),
            "sleeper": draw(st.booleans()),
            "fuses": draw(st.sampled_from(["fuses", "breakers"])),
        }
    )
