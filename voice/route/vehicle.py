"""What a vehicle is: its axles, brakes, trailer and what else the questions and the limits depend on."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator

from voice.data.fields import Id, Name, VehicleId
from voice.data.strict import Strict
from voice.measure import exact

# Exact: 45, 0.5, "4/32", "1 3/4".
Number = Annotated[Fraction, BeforeValidator(exact)]

Side = Literal["left", "right"]
UnitName = Literal["tractor", "trailer", "truck", "bus"]
VehicleKind = Literal["tractor-semitrailer", "tractor", "trailer", "straight-truck", "bus"]


class Chamber(Strict):
    """A brake chamber. kind and size as in the tables of 49 CFR 393.47(e), e.g. clamp "30", bolt "B"."""

    kind: Literal["clamp", "bolt", "rotochamber", "dd3"] = "clamp"
    size: str
    long_stroke: bool = False
    rated_stroke_in: Number | None = None


class Brake(Strict):
    """The brake at each end of an axle; both ends are taken to be equal unless a field of the right one says otherwise.

    arm_in, right_arm_in: effective length of the slack adjuster, inches, where known.
    """

    kind: Literal["air-drum", "air-disc", "hydraulic-drum", "hydraulic-disc"]
    chamber: Chamber | None = None
    right_chamber: Chamber | None = None
    slack: Literal["automatic", "manual"] | None = None
    arm_in: Number | None = None
    right_arm_in: Number | None = None
    lining: Literal["continuous", "two-pad"] = "continuous"


class Axle(Strict):
    """One axle; its number is its position from the front of the whole vehicle, counted from 1."""

    unit: UnitName
    role: Literal["steer", "drive", "tag", "trailer"]
    dual: bool = False
    suspension: Literal["leaf", "air", "coil", "torsion", "walking-beam"]
    torque_arms: bool = False
    shocks: bool = True
    brake: Brake
    hub: Literal["oil", "grease"] = "oil"
    wheel: Literal["disc", "spoke"] = "disc"
    studs: int = Field(10, ge=4, le=12)
    cold_psi: Number | None = Field(None, description="The maker's cold inflation pressure for the load carried.")
    max_psi: Number | None = Field(None, description="The maximum pressure marked on the sidewall.")


class FifthWheel(Strict):
    slide: Literal["fixed", "sliding"] = "fixed"


class Trailer(Strict):
    body: Literal["van", "reefer", "flatbed", "tank", "container"]
    tandem: Literal["fixed", "sliding"] = "sliding"
    length_ft: Number = Fraction(53)
    built: int = Field(
        2015, ge=0, le=10**6, description="Year of manufacture; decides which rear guard and sheeting rules hold."
    )
    width_in: Number | None = Field(None, gt=0, description="Overall width; under 80 in needs no reflective sheeting.")
    gvwr_lb: Number | None = Field(
        None,
        gt=0,
        description="Gross weight rating; a light trailer needs no sheeting and, built since 1998, no rear guard.",
    )
    guard_exempt: bool = Field(
        False, description="Needs no rear guard: pole, pulpwood, low chassis, wheels back, special purpose."
    )
    plate: Name | None = None
    hubodometer: bool = Field(
        False, exclude_if=lambda there: not there, description="Whether it has one; its reading is asked for, then."
    )


class Governor(Strict):
    """The maker's cut-in and cut-out pressures in psi, where known."""

    cut_in: Number | None = None
    cut_out: Number | None = None


class Steering(Strict):
    power: bool = True
    wheel_in: Number = Field(Fraction(20), description="Steering-wheel diameter, inches.")


class UnitRef(Strict):
    """One vehicle of a combination: a tractor or a trailer has its own history, wherever it is coupled.

    id: the unit's own; of the two in an older combination profile, that profile's id with an ending.
    name: how it is called aloud.
    first_axle: the number in the combination of its first axle, from 1.
    axles: how many it has.
    """

    id: VehicleId
    unit: UnitName
    name: Name
    first_axle: int = Field(ge=1, le=100)
    axles: int = Field(ge=1, le=100)


class Vehicle(Strict):
    """A vehicle or combination as it stands in the yard.

    A tractor and a trailer have a profile each (kinds tractor and trailer) and are put together for a walk
    (voice.route.units); a profile of kind tractor-semitrailer describes both in one, as all did before.
    """

    id: VehicleId
    name: Name = Field(description='How it is called aloud, e.g. "tractor twelve with trailer forty".')
    kind: VehicleKind
    plate: Name | None = None
    axles: tuple[Axle, ...] = Field(min_length=1)
    fifth_wheel: FifthWheel | None = None
    trailer: Trailer | None = None
    body: Literal["van", "flatbed", "dump", "tank", "other"] | None = None
    bus: Literal["school", "transit", "coach"] | None = None
    towed_units: int = Field(0, ge=0, le=3)
    brakes: Literal["air", "hydraulic"] = "air"
    air_system: Literal["single", "dual"] = "dual"
    governor: Governor = Governor()
    parking_valve_psi: Number | None = Field(
        None, description="The maker's pressure at which the parking valve pops out."
    )
    steering: Steering = Steering()
    pump_drive: Literal["belt", "gear"] = "gear"
    abs_built: int | None = Field(
        None, ge=0, le=10**6, description="Year built, for the antilock lamp rules of 49 CFR 393.55."
    )
    placarded: bool = False
    sleeper: bool = False
    fuses: Literal["fuses", "breakers"] = "breakers"
    display_units: Literal["us", "si"] = "us"
    layers: tuple[Id, ...] = Field(
        (),
        max_length=10,
        exclude_if=lambda layers: not layers,
        description="Shipped examples of limits that hold for it besides the federal ones: california, quebec.",
    )
    units: tuple[UnitRef, ...] = Field(
        (),
        exclude_if=lambda units: not units,
        description="The units that were put together, from the front; never written in a profile.",
    )
    depth: Literal["each-part", "by-place"] | None = Field(
        None, exclude_if=lambda depth: depth is None, description="How its walks ask, unless they are told otherwise."
    )

    @field_validator("units")
    @classmethod
    def _fit(cls, units: tuple[UnitRef, ...], others: ValidationInfo) -> tuple[UnitRef, ...]:
        known = others.data
        if units and known.keys() >= {"kind", "axles", "trailer"}:
            tractor, trailer = units[0], units[-1]
            spans = [(each.unit, each.first_axle, each.axles) for each in units]
            fitting = [("tractor", 1, tractor.axles), ("trailer", tractor.axles + 1, trailer.axles)]
            whole = tractor.axles + trailer.axles == len(known["axles"]) and tractor.id != trailer.id
            if spans != fitting or not whole or known["trailer"] is None or known["kind"] != "tractor-semitrailer":
                raise ValueError("units are not written in a profile; and these do not fit the axles")
        return units
