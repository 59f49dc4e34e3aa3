"""What an item is, and a route expanded for one vehicle. All of it is data that a fleet can edit without Python.

Unknown keys are refused everywhere, so that a typing mistake is reported and never silently ignored.
"""

from __future__ import annotations

from collections.abc import Container, Iterable
from typing import Annotated, Literal

from pydantic import Field

from voice.data.fields import Id, Name
from voice.data.strict import Strict
from voice.measure import Measure
from voice.route.answer import Answer, Choice, Condition, Measurement
from voice.route.vehicle import Number, Side, UnitName, Vehicle

Length = Literal["terse", "normal", "full"]
# How much one question covers: an item, or all that is seen in one look.
Depth = Literal["each-part", "by-place"]
MOST_PARTS = 6  # named in one question: more are not kept in mind. Common practice, no source.
MOST_STEPS = 2 * MOST_PARTS  # answered by it: an assembly is named as one

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

    terse: a word or three, for the driver who knows.
    normal: a short question.
    full: what a student should say and check.
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
    answer: Annotated[Condition | Measurement | Choice, Field(discriminator="kind")]


class Beside(Strict):
    """Another item that is measured at the same place, and may be said in the same breath: "nine and one ten".

    item: the other; it comes later on the walk.
    low, high: of this item's readings that are listened for so.
    then_low, then_high: of the other's. Each pair within is a phrase of its own, so the ranges are those of working
        vehicles. Any other pair is said one by one.
    """

    item: Id
    low: Number
    high: Number
    then_low: Number
    then_high: Number


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
    beside: Beside | None = Field(None, description="What may be read out in the same breath.")
    same: tuple[Literal["outer", "last"], ...] = Field(
        (), description='What "same" may stand for: the outer tire\'s reading, or the one of the last walk.'
    )
    alone: bool = Field(False, description="So much depends on it that it has a question of its own at every depth.")

    @property
    def asks_more(self) -> bool:
        """Whether one "okay" is not all there is to say when nothing is wrong: a reading, a choice, a timed check."""
        return not isinstance(self.answer, Condition) or any(f.after in ("ok", "any") for f in self.follow_ups)


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


class Look(Strict):
    """Parts that lie together and are asked about in one question, in walking order.

    ask: the question; "{place}" and "{parts}" are filled in when it is asked.
    parts: the short spoken name of each step.
    also: what a step can be called here besides.
    as_one: the name of an assembly, and its steps.
    place: short, empty where there is only one.
    """

    id: Name
    ask: str
    steps: tuple[str, ...] = Field(min_length=2, max_length=MOST_STEPS)
    parts: tuple[str, ...] = Field(min_length=2, max_length=MOST_STEPS)
    also: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    as_one: dict[Name, tuple[str, ...]] = Field(default_factory=dict)
    place: str = ""

    def assemblies(self, steps: Container[str]) -> tuple[str, ...]:
        """The names under which several of these steps are asked: those of which no step is missing."""
        return tuple(name for name, members in self.as_one.items() if all(each in steps for each in members))

    def names(self, steps: Container[str]) -> tuple[str, ...]:
        """What is named to ask about these of its steps."""
        called = {each: name for name in self.assemblies(steps) for each in self.as_one[name]}
        pairs = zip(self.steps, self.parts, strict=True)
        return tuple(dict.fromkeys(called.get(step, part) for step, part in pairs if step in steps))

    def only(self, steps: Container[str]) -> Look:
        """The look with those of its parts."""
        left = [(step, part) for step, part in zip(self.steps, self.parts, strict=True) if step in steps]
        members = {name: tuple(s for s in each if s in steps) for name, each in self.as_one.items()}
        return self.model_copy(
            update={
                "steps": tuple(s for s, _ in left),
                "parts": tuple(p for _, p in left),
                "also": {step: names for step, names in self.also.items() if step in steps},
                "as_one": {name: each for name, each in members.items() if len(each) > 1},
            }
        )


class Section(Strict):
    """A stretch of the walk.

    cautions: ids, spoken on entering it.
    """

    id: Name
    title: Name
    cautions: tuple[str, ...] = ()


class Carried(Strict):
    """An open defect of an earlier report that the walk asks about first (49 CFR 396.13).

    key: as the steps of this walk have it.
    unit, own: whose it is, and the key as that unit has it; both empty where the vehicle is one unit.
    found: ISO 8601 time.
    """

    step: str
    key: str
    unit: str = ""
    own: str = ""
    title: str
    found: str
    record: str


class NotDue(Strict):
    """A step that is not asked, because it was measured lately and was well within its limits.

    last: when, ISO 8601.
    days, miles: after which it is due again.
    """

    step: Name
    title: Name
    last: str
    days: int | None = None
    miles: int | None = None


class LastReading(Strict):
    """What a step read on the last walk that measured it.

    at: when, ISO 8601.
    """

    at: str
    value: Number
    unit: Name

    @property
    def measure(self) -> Measure:
        return Measure(self.value, self.unit)


class Plan(Strict):
    """A route expanded for one vehicle, in walking order: all that a session asks. Kept beside its journal.

    carried: what the steps of the review section ask about; see voice.record.review.
    looks: what is asked together at the depth by-place.
    steps: those that are not due today among them.
    not_due: what is not asked today unless the driver wants each part.
    reasons: why a step that is not asked every day is due, said before it.
    last: what the steps read on the walk before, where "same" may stand for that.
    kind, kind_title: which kind of inspection it is; empty in sessions of before there were kinds.
    remarks: what is odd about it in view of earlier ones, as it was said at the beginning.
    """

    route: str
    title: str
    vehicle: Vehicle
    sections: tuple[Section, ...]
    steps: tuple[Step, ...]
    data_sha256: str = Field(description="Hash of the data it was made from.")
    carried: tuple[Carried, ...] = ()
    looks: tuple[Look, ...] = ()
    not_due: tuple[NotDue, ...] = ()
    reasons: dict[str, str] = Field(default_factory=dict)
    last: dict[str, LastReading] = Field(default_factory=dict)
    kind: str = ""
    kind_title: str = ""
    remarks: tuple[str, ...] = ()

    def walked(self, answered: Container[str] = ()) -> Plan:
        """What there was to ask: without what was not due, but for what was answered all the same."""
        left = {each.step for each in self.not_due if each.step not in answered}
        steps = tuple(step for step in self.steps if step.id not in left)
        kept = {step.section for step in steps}
        return self.model_copy(
            update={
                "steps": steps,
                "sections": tuple(section for section in self.sections if section.id in kept),
                "not_due": tuple(each for each in self.not_due if each.step in left),
            }
        )

    def only(self, steps: Iterable[Step]) -> Plan:
        """The plan with these of its steps, and what is left of its looks."""
        kept = tuple(steps)
        ids = {step.id for step in kept}
        looks = (look.only(ids) for look in self.looks)
        return self.model_copy(update={"steps": kept, "looks": tuple(look for look in looks if len(look.steps) > 1)})
