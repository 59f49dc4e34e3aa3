"""Vehicles to try routes on: every kind, body, suspension and brake at least once. Invented, none is a real one."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle, product
from typing import Any, get_args

from voice.route.vehicle import Axle, Trailer, Vehicle

_SUSPENSIONS = ("leaf", "air", "coil", "torsion", "walking-beam")
_BODIES = get_args(Trailer.model_fields["body"].annotation)
_TRUCK_BODIES = ("van", "flatbed", "dump", "tank", "other")
_BUSES = ("school", "transit", "coach")


def trial_vehicles() -> Iterator[Vehicle]:
    """A few dozen vehicles that between them have everything a profile can say."""
    for (body, slide), suspension in zip(product(_BODIES, ("fixed", "sliding")), cycle(_SUSPENSIONS), strict=False):
        yield _vehicle(
            kind="tractor-semitrailer",
            fifth_wheel={"slide": slide},
            trailer={"body": body, "tandem": slide, "length_ft": 28 if slide == "fixed" else 53},
            axles=_axles(("tractor", 1, 2), ("trailer", 0, 2), suspension, "air"),
            abs_built=2019,
            placarded=body == "tank",
            sleeper=slide == "sliding",
        )
    yield _vehicle(
        kind="tractor", fifth_wheel={"slide": "sliding"}, axles=_axles(("tractor", 1, 2), None, "air", "air")
    )
    for body, brakes in zip((*_TRUCK_BODIES, *_TRUCK_BODIES), cycle(("air", "hydraulic", "air")), strict=False):
        yield _vehicle(
            kind="straight-truck",
            body=body,
            brakes=brakes,
            axles=_axles(("truck", 2 if body == "dump" else 1, 2), None, "leaf", brakes),
            air_system="single",
            fuses="fuses",
            pump_drive="belt",
            steering={"power": False},
            placarded=True,
        )
    for bus in _BUSES:
        for brakes in ("air", "hydraulic"):
            yield _vehicle(
                kind="bus", bus=bus, brakes=brakes, axles=_axles(("bus", 1, 1), None, "air", brakes), abs_built=2015
            )


def _vehicle(**given: Any) -> Vehicle:
    return Vehicle.model_validate({"id": "trial", "name": "trial", **given})


def _axles(
    front: tuple[str, int, int], back: tuple[str, int, int] | None, suspension: str, brakes: str
) -> tuple[Axle, ...]:
    """front, back: unit, number of steer axles, number of others."""
    kinds = cycle(("drum", "disc"))
    slacks = cycle(("automatic", "manual"))
    made: list[Axle] = []
    for unit, steers, others in (front, *([back] if back else [])):
        for number in range(steers + others):
            role = "steer" if number < steers else "trailer" if unit == "trailer" else "drive"
            kind = f"{brakes}-{next(kinds)}"
            brake = {"kind": kind, "slack": next(slacks) if kind == "air-drum" else None}
            made.append(
                Axle.model_validate(
                    {
                        "unit": unit,
                        "role": role,
                        "dual": role != "steer",
                        "suspension": suspension,
                        "torque_arms": role != "steer",
                        "brake": brake,
                    }
                )
            )
    return tuple(made)
