"""What a route, an item and a vehicle are. All of it is data that a fleet can edit without Python.

Unknown keys are refused everywhere, so that a typing mistake is reported and never silently ignored.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from voice.data.fields import Id, Name, VehicleId
from voice.data.strict import Strict
from voice.measure import exact

Length = Literal["terse", "normal", "full"]


# Exact: 45, 0.5, "4/32", "1 3/4".
Number = Annotated[Fraction, BeforeValidator(exact)]

# --- the vehicle -----------------------------------------------------------------------------------------------

Side = Literal["left", "right"]
UnitName = Literal["tractor", "trailer", "truck", "bus"]


class Chamber(Strict):
    """A brake chamber. kind and size as in the tables of 49 CFR 393.47(e), e.g. clamp "30", bolt "B"."""

    kind: Literal["clamp", "bolt", "rotochamber", "dd3"] = "clamp"
    size: str
    long_stroke: bool = False
    rated_stroke_in: Number | None = None


class Brake(Strict):
    """The brake at each end of an axle; both ends are taken to be equal unless right_chamber says otherwise."""

    kind: Literal["air-drum", "air-disc", "hydraulic-drum", "hydraulic-disc"]
    chamber: Chamber | None = None
    right_chamber: Chamber | None = None
    slack: Literal["automatic", "manual"] | None = None
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
    plate: Name | None = None


class Governor(Strict):
    """The maker's cut-in and cut-out pressures in psi, where known."""

    cut_in: Number | None = None
    cut_out: Number | None = None


class Steering(Strict):
    power: bool = True
    wheel_in: Number = Field(Fraction(20), description="Steering-wheel diameter, inches.")


class Vehicle(Strict):
    """A vehicle or combination as it stands in the yard."""

    id: VehicleId
    name: Name = Field(description='How it is called aloud, e.g. "tractor twelve with trailer forty".')
    kind: Literal["tractor-semitrailer", "straight-truck", "bus"]
    plate: Name | None = None
    axles: tuple[Axle, ...] = Field(min_length=2)
    fifth_wheel: FifthWheel | None = None
    trailer: Trailer | None = None
    body: Literal["van", "flatbed", "dump", "tank", "other"] | None = None
    bus: Literal["school", "transit", "coach"] | None = None
    towed_units: int = Field(0, ge=0, le=3)
    brakes: Literal["air", "hydraulic"] = "air"
    air_system: Literal["single", "dual"] = "dual"
    governor: Governor = Governor()
    steering: Steering = Steering()
    pump_drive: Literal["belt", "gear"] = "gear"
    abs_built: int | None = Field(
        None, ge=0, le=10**6, description="Year built, for the antilock lamp rules of 49 CFR 393.55."
    )
    placarded: bool = False
    sleeper: bool = False
    fuses: Literal["fuses", "breakers"] = "breakers"
    display_units: Literal["us", "si"] = "us"


# --- answers an item takes -------------------------------------------------------------------------------------


class Condition(Strict):
    """Answered "ok", or with a defect from the item's closed list."""

    kind: Literal["condition"] = "condition"


class Reading(Strict):
    """A number with a unit. plausible: what a working gauge can show; outside it the driver is asked again.

    quantity names what is measured (the limits are found by it); step is the finest division of the gauge.
    """

    kind: Literal["reading"] = "reading"
    quantity: str
    unit: str
    low: Number
    high: Number
    step: Number = Fraction(1)


class Option(Strict):
    """One answer of a choice.

    say: phrases that mean it.
    defect: the defect it reports, if any.
    """

    id: Name
    title: Name
    say: tuple[str, ...] = Field(min_length=1)
    defect: str | None = None


class Choice(Strict):
    kind: Literal["choice"] = "choice"
    options: tuple[Option, ...] = Field(min_length=2)


class Done(Strict):
    """Something the driver does and confirms: "done"."""

    kind: Literal["done"] = "done"


class Hold(Strict):
    """A timed hold: start reading, spoken start, quiet time, end reading. Judged: the drop per minute.

    ready: told first, line by line, each acknowledged by the driver (engine and key state, chocks).
    begin: what to do at the spoken start. gauges: names of the gauges read, one after the other.
    quantity: the rate judged, in unit/min; low, high, step: of the gauge readings.
    """

    kind: Literal["hold"] = "hold"
    quantity: str
    unit: str
    low: Number
    high: Number
    step: Number = Fraction(1)
    seconds: int = Field(60, ge=5, le=600)
    gauges: tuple[str, ...] = ("air pressure",)
    ready: tuple[str, ...] = ()
    begin: str


class Climb(Strict):
    """A timed climb between two marks that the driver calls ("now", or the number). Judged: the seconds."""

    kind: Literal["climb"] = "climb"
    quantity: str
    unit: str
    start: Number
    stop: Number
    ready: tuple[str, ...] = ()
    begin: str


class Call(Strict):
    """The driver watches for an event and calls it out as it happens, by the number or "now" and then the number."""

    kind: Literal["call"] = "call"
    quantity: str
    unit: str
    low: Number
    high: Number
    step: Number = Fraction(1)
    ready: tuple[str, ...] = ()
    begin: str


Answer = Annotated[Condition | Reading | Choice | Done | Hold | Climb | Call, Field(discriminator="kind")]


# --- the item --------------------------------------------------------------------------------------------------

Part = Literal[
    "service-brakes",  # 49 CFR 396.11(a)(1)(i), including trailer brake connections
    "parking-brake",
    "steering",
    "lighting",
    "tires",
    "horn",
    "wipers",
    "mirrors",
    "coupling",
    "wheels",
    "emergency-equipment",
    "other",  # asked on the walk, but not one of the eleven parts of the rule
]


class Wording(Strict):
    """What is said. "{place}" may be used; it is filled with the position ("left side, axle three, outer tire"),
    and "{units}" with the name of the answer's unit ("inches", or "millimeters" on a metric vehicle).

    terse: a word or three, for the driver who knows. normal: a short question. full: what a student should
    say and check.
    """

    terse: str
    normal: str
    full: str


class FollowUp(Strict):
    """A further question.

    after: asked when the item was answered so ("ok", "defect", "any", or a defect's id).
    """

    id: str
    after: str
    ask: str
    answer: Annotated[Condition | Reading | Choice, Field(discriminator="kind")]


class KeyPoint(Strict):
    """One thing a student must say of this item.

    say: phrases that count as having said it.
    """

    id: str
    say: tuple[str, ...] = Field(min_length=1)
    limit: str | None = Field(None, description="A limit's id when the point is a number that must be right.")


class Item(Strict):
    """One thing that is inspected."""

    id: Id
    title: Name = Field(description="Printed name.")
    call: tuple[str, ...] = Field(min_length=1, description="Spoken names, best first; for 'change ...'.")
    part: Part
    say: Wording
    answer: Answer
    defects: tuple[str, ...] = Field((), description="Ids from defects.yaml: the closed list that fits this item.")
    follow_ups: tuple[FollowUp, ...] = ()
    cautions: tuple[str, ...] = Field((), description="Ids from cautions.yaml.")
    limits: tuple[str, ...] = Field((), description="Ids of limits in the limits files.")
    when: dict[str, tuple[str | bool, ...]] = Field(
        default_factory=dict,
        description="Facts of vehicle, unit or axle that must all hold; else it is not asked.",
    )
    points: tuple[KeyPoint, ...] = Field((), description="What a student must say, for recite and rehearse.")


# --- one step of an expanded route ------------------------------------------------------------------------------


class Place(Strict):
    """Where on the vehicle.

    axle: number from the front, from 1.
    tire: which of a pair of duals.
    """

    unit: UnitName | None = None
    side: Side | None = None
    axle: int | None = Field(None, ge=1, le=100)
    tire: Literal["outer", "inner"] | None = None


class Step(Strict):
    """An item at a place, ready to be asked. All wording is filled in."""

    id: str = Field(description='Unique, stable: "tire-tread@left-3-outer".')
    item: Item
    section: str
    place: Place
    spoken_place: str = Field(description='"left side, axle three, outer tire"; empty where there is only one.')
    name: str = Field(description='Short spoken name, unique in the plan: "left axle three outer tread".')
    say: Wording = Field(description="The item's wording with the place filled in.")


class Section(Strict):
    """A stretch of the walk.

    cautions: ids, spoken on entering it.
    """

    id: Name
    title: Name
    cautions: tuple[str, ...] = ()


class Carried(Strict):
    """An open defect of an earlier report that the walk asks about first (49 CFR 396.13).

    found: ISO 8601 time.
    """

    step: str
    key: str
    title: str
    found: str
    record: str


class Plan(Strict):
    """A route expanded for one vehicle, in walking order: all that a session asks. Kept beside its journal.

    carried: what the steps of the review section ask about; see voice.record.review.
    """

    route: str
    title: str
    vehicle: Vehicle
    sections: tuple[Section, ...]
    steps: tuple[Step, ...]
    data_sha256: str = Field(description="Hash of the data it was made from.")
    carried: tuple[Carried, ...] = ()
