"""What the route files hold besides items and vehicles: routes, groups, defects, cautions, places."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from voice.data.fields import Id, Name
from voice.data.strict import Strict
from voice.measure.book import Said
from voice.route.model import Depth, Item
from voice.route.vehicle import Side, UnitName, VehicleKind

Role = Literal["steer", "drive", "tag", "trailer"]


class DefectKind(Strict):
    """A kind of defect.

    say: phrases that name it, best first.
    beside: ids of others: an item that has one of them on its list can have this one, too.
    """

    id: Id
    title: str
    say: tuple[str, ...] = Field(min_length=1)
    beside: tuple[Id, ...] = ()


class Caution(Strict):
    """A warning.

    say: spoken.
    again: spoken where it comes up in a further section of the same walk; empty: all of it each time.
    print: on paper.
    """

    id: Id
    say: str
    again: str = ""
    print: str


class Entry(Strict):
    """One line of a section or group: an item or a group, and where it is asked.

    side: "none" takes off the section's side, for what the vehicle has once.
    axles: repeat for every axle of these roles (of `unit`, if given), in the order they are met on that side.
    each: "tire" repeats for the outer and the inner tire of duals.
    when: only where these facts hold, as in an item; facts of an axle can be asked for only where the line stands at an
        axle. What is not given comes from the line, group or section around it.
    """

    item: str | None = None
    group: str | None = None
    unit: UnitName | None = None
    side: Side | Literal["none"] | None = None
    axles: tuple[Role, ...] | None = None
    each: Literal["tire"] | None = None
    when: dict[str, tuple[str | bool, ...]] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _one_of(self) -> Entry:
        if (self.item is None) == (self.group is None):
            raise ValueError("give either item or group")
        return self


class Group(Strict):
    """Entries shared by several sections or routes."""

    id: Id
    entries: tuple[Entry, ...] = Field(min_length=1)


class LookKind(Strict):
    """Parts that can be seen in one look.

    ask: the question, with "{place}" and "{parts}".
    parts: id of an item -> its short spoken name.
    also: id of an item -> what it can be called in this question besides, where no other part is meant by that.
    as_one: a name -> items of an assembly: it is asked by that name where at least two of them are.
    """

    id: Id
    ask: str = "{place}: {parts}?"
    parts: dict[Id, Said] = Field(min_length=2)
    also: dict[Id, tuple[Said, ...]] = Field(default_factory=dict)
    as_one: dict[Said, tuple[Id, ...]] = Field(default_factory=dict)


class Due(Strict):
    """How often an item is measured on walks by place.

    id: the item.
    days, miles: it is due again after so many, whichever come first.
    """

    id: Id
    days: int | None = Field(None, ge=1, le=366)
    miles: int | None = Field(None, ge=1, le=10**6)

    @model_validator(mode="after")
    def _one_at_least(self) -> Due:
        if self.days is None and self.miles is None:
            raise ValueError("give days, miles or both")
        return self


class RouteSection(Strict):
    """A stretch of the walk.

    unit, side: taken by its entries unless they say otherwise.
    """

    id: Id
    title: str
    cautions: tuple[str, ...] = ()
    unit: UnitName | None = None
    side: Side | None = None
    entries: tuple[Entry, ...] = Field(min_length=1)


class Route(Strict):
    """A walk.

    fits: the kinds of vehicle it is for;
    standard: it is the one taken when nothing else is asked for.
    """

    id: Id
    title: str
    call: tuple[str, ...] = Field(min_length=1, description="Spoken names, best first.")
    fits: tuple[VehicleKind, ...] = Field(min_length=1)
    standard: bool = True
    sections: tuple[RouteSection, ...] = Field(min_length=1)


class InspectionKind(Strict):
    """A kind of inspection: pre-trip, en-route check, post-trip ...

    call: how the driver names it, best first.
    purpose: what it is for.
    rests_on: the rule or the manual behind it.
    known: how its text is known.
    routes: kind of vehicle -> the route it takes. Empty: every vehicle's standard route. Else a vehicle that is not
        named has no inspection of this kind.
    only: "certified": of the route, what was certified as repaired since the vehicle's last inspection.
    review: it first asks about each open defect.
    odometer: it is asked for where it was not given.
    cargo: what is on the load is due in it.
    depth: how much one question covers, unless the driver says otherwise.
    """

    id: Id
    title: Name
    call: tuple[str, ...] = Field(min_length=1)
    purpose: str
    rests_on: str
    known: Literal["read", "second-hand", "memory", "practice"]
    routes: dict[VehicleKind, Id] = Field(default_factory=dict)
    only: Literal["certified"] | None = None
    review: bool = False
    odometer: bool = False
    cargo: bool = False
    depth: Depth | None = None


class Places(Strict):
    """How a position is said. Each template may use {side}, {axle}, {tire}, {unit}; empty parts are left out.

    spoken: parts of the full form, in order.
    short: the same for the terse form and for names.
    numbers: other names for the numbers of axles ("first", "second" ...) than those of units.yaml.
    together: how a combination is called, by the names of its {tractor} and {trailer}.
    of_one: how a unit of an older combination profile is called, by its kind ({unit}) and that profile's {name}.
    trailer_axle, both_axles: how a trailer's axle is called by itself, and beside its number in the combination.
        The shipped ones hold, so that records of several devices are told alike.
    """

    side: dict[Side, str]
    side_short: dict[Side, str]
    unit: dict[UnitName, str]
    steer: str
    steer_short: str
    axle: str
    axle_short: str
    tire: dict[Literal["outer", "inner"], str]
    tire_short: dict[Literal["outer", "inner"], str]
    numbers: tuple[str, ...] | None = Field(None, min_length=20)
    separator: str
    together: str | None = None
    of_one: str | None = None
    trailer_axle: str | None = None
    both_axles: str | None = None


__all__ = [
    "Caution", "DefectKind", "Due", "Entry", "Group", "InspectionKind", "Item", "LookKind", "Places", "Role", "Route",
    "RouteSection",
]  # fmt: skip
