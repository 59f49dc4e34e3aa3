"""What is walked: vehicle, kind and route as asked for, and what earlier inspections settle of it."""

from __future__ import annotations

from dataclasses import dataclass

from voice.record.by_unit import own_odometers
from voice.record.entry import odometer_record
from voice.record.past import miles_of
from voice.record.review import with_review
from voice.route import make_plan
from voice.route.kinds import PRE_TRIP
from voice.route.model import Depth, Plan
from voice.route.vehicle import Vehicle
from voice.session.asking import Asker
from voice.session.chosen import measured
from voice.session.kinds import ask_kind, only_repaired, with_remarks
from voice.session.preparing import (
    ask_route,
    ask_vehicle,
    check_phrases,
    defects_to_review,
    tell_dropped,
    tell_outlook,
    with_earlier,
)
from voice.session.resources import Resources


@dataclass(frozen=True, slots=True)
class Wanted:
    """How it is to be walked.

    depth: as asked for; None is as the kind or the vehicle's profile has it.
    odometer, hubodometer: as they go into the journal.
    review: ask about open defects first, if the kind of inspection does.
    """

    depth: Depth | None = None
    odometer: str | None = None
    hubodometer: str | None = None
    review: bool = True


def chosen(
    resources: Resources,
    asker: Asker,
    vehicle: Vehicle | None,
    route: str | None = None,
    kind: str | None = None,
    metric: bool = False,
) -> Plan:
    """The plan of vehicle, kind and route; what is not given is asked aloud, if the vehicle is.

    metric: the gauges are metric, whatever the profile says.
    """
    if vehicle is None:
        vehicle = ask_vehicle(resources, asker)
        if kind is None and route is None:
            kind = ask_kind(resources, asker, vehicle)
            route = ask_route(resources, asker, vehicle) if kind == PRE_TRIP else None
    return make_plan(resources.library, measured(vehicle, metric), route, kind)


def depth_of(resources: Resources, plan: Plan, wanted: Depth | None) -> Depth:
    kind = resources.library.kinds.get(plan.kind)
    return wanted or (kind.depth if kind else None) or plan.vehicle.depth or "each-part"


def prepared(resources: Resources, asker: Asker, plan: Plan, wanted: Wanted) -> Plan:
    """The plan with what was repaired, what is not due, what is still open, and what is odd about it."""
    kind = resources.library.kinds.get(plan.kind)
    tell_dropped(resources, asker, plan.vehicle, plan.route)
    if kind is not None and kind.only == "certified":
        plan = only_repaired(resources, asker, plan)
    given = own_odometers(plan.vehicle, odometer_record(wanted.odometer), odometer_record(wanted.hubodometer))
    miles = {unit: miles_of(reading) for unit, reading in given.items()}
    plan = with_earlier(resources, plan, depth_of(resources, plan, wanted.depth), miles)
    if wanted.review and (kind is None or kind.review):
        plan = with_review(plan, defects_to_review(resources, asker, plan.vehicle))
        tell_outlook(resources, asker, plan.vehicle)
    check_phrases(resources, plan)
    return with_remarks(resources, asker, plan)
