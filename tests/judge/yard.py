"""Invented vehicles and short ways to judge them, for the tests of this folder."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from fractions import Fraction
from functools import cache
from typing import Any

from voice.judge import Finding, LimitSet, Subject, judge_reading, load_limits
from voice.judge.model import Result
from voice.measure import Measure, exact
from voice.measure.level import Level
from voice.route.model import Place
from voice.route.vehicle import Axle, Brake, Chamber, Steering, Trailer, Vehicle

DAY = date(2026, 6, 1)  # the day these vehicles are inspected on


@cache
def shipped() -> LimitSet:
    """The shipped limits as they hold on that day."""
    return load_limits().on(DAY)


def axle(unit: str = "tractor", role: str = "drive", **fields: Any) -> Axle:
    brake = fields.pop("brake", None) or Brake(kind="air-drum", chamber=Chamber(size="30"))
    return Axle(unit=unit, role=role, suspension="leaf", brake=brake, **fields)


def steer(unit: str = "tractor", **fields: Any) -> Axle:
    fields.setdefault("brake", Brake(kind="air-drum", chamber=Chamber(size="24")))
    return axle(unit, "steer", **fields)


def truck(axles: Iterable[Axle] | None = None, **fields: Any) -> Vehicle:
    """A two-axle straight truck: four brakes."""
    fields.setdefault("kind", "straight-truck")
    unit = "bus" if fields["kind"] == "bus" else "truck"
    chosen = tuple(axles) if axles is not None else (steer(unit), axle(unit))
    return Vehicle(id="yard-truck", name="yard truck", axles=chosen, **fields)


def rig(axles: Iterable[Axle] | None = None, **fields: Any) -> Vehicle:
    """A three-axle tractor with a two-axle trailer: ten brakes."""
    chosen = axles if axles is not None else (steer(), axle(), axle(), *(axle("trailer", "trailer") for _ in "12"))
    fields.setdefault("trailer", Trailer(body="van"))
    fields.setdefault("steering", Steering())
    return Vehicle(
        id="yard-rig", name="yard rig", kind="tractor-semitrailer", axles=tuple(chosen), **fields
    )  # fmt: skip


def with_chamber(kind: str, size: str, *, long: bool = False, rated: str | None = None) -> Vehicle:
    """A rig whose second axle has this chamber."""
    stroke = None if rated is None else exact(rated)
    chamber = Chamber(kind=kind, size=size, long_stroke=long, rated_stroke_in=stroke)
    return rig((steer(), axle(brake=Brake(kind="air-drum", chamber=chamber))))


def at(vehicle: Vehicle, number: int | None = None, side: str | None = None, item: str = "item") -> Subject:
    return Subject(vehicle, item, Place(axle=number, side=side))


def measure(text: str | int | Fraction, unit: str) -> Measure:
    return Measure(exact(text), unit)


def found(
    subject: Subject, quantity: str, value: str | int | Fraction, unit: str, limits: LimitSet | None = None
) -> dict[str, Finding]:
    """limit id -> its finding."""
    findings = judge_reading(limits or shipped(), subject, quantity, measure(value, unit))
    return {finding.limit: finding for finding in findings}


def worst(
    subject: Subject, quantity: str, value: str | int | Fraction, unit: str, limits: LimitSet | None = None
) -> Level:
    return max(f.level for f in found(subject, quantity, value, unit, limits).values())


def stepped(vehicle: Vehicle, number: int | None, side: str | None, found: Iterable[Finding], **fields: Any) -> Result:
    """A step's result, for the assessment."""
    fields.setdefault("part", "service-brakes")
    fields.setdefault("outcome", "reading")
    name = fields.pop("name", f"{side} axle {number}")
    step = fields.pop("step", f"item@{side}-{number}")
    return Result(step, name, at(vehicle, number, side), findings=tuple(found), **fields)
