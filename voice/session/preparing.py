"""Before the first item: which inspection, vehicle and route it is, and what earlier inspections left open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from voice.errors import GladhandError, SetupError, tell
from voice.journal.folder import Session
from voice.logbook.for_walk import open_defects, outlook
from voice.record.open_defects import OpenDefect
from voice.record.open_defects import open_defects as own_defects
from voice.record.past import past_records
from voice.route.dropped import dropped
from voice.route.expand import fitting_routes
from voice.route.model import Depth, Plan
from voice.route.units import named_vehicle, units_of
from voice.route.vehicle import Vehicle
from voice.route.vehicles import read_profiles, vehicle_files
from voice.session.asking import Asker, Pick
from voice.session.coupling import ask_trailer, called, pairs
from voice.session.due import Today, with_due, with_last
from voice.session.resources import Resources, open_sessions
from voice.understand.clashes import check
from voice.understand.parts import check as check_parts


def check_phrases(resources: Resources, plan: Plan) -> None:
    """No words of the plan may mean two things in one question. Raises DataError."""
    items = {step.item.id: step.item for step in plan.steps}.values()
    said = {name: defect.say for name, defect in resources.library.defects.items()}
    for mistake in (*check(resources.book, items, said), *check_parts(resources.book, plan, said)):
        raise mistake


def defects_to_review(resources: Resources, asker: Asker, vehicle: Vehicle) -> Sequence[OpenDefect]:
    """What earlier inspections left open on each of its units. What cannot be read is said, and does not stop the walk.

    Where the logbook fails, this device's own records answer.
    """
    found: Sequence[OpenDefect] = ()
    for number, source in enumerate((open_defects, own_defects)):
        try:
            found = source(resources.home, vehicle)
            break
        except GladhandError as error:
            resources.tell_once(error)
            if number == 0:
                asker.tell(resources.talk.setup.no_review)
    return found


def with_earlier(resources: Resources, plan: Plan, depth: Depth, miles: Mapping[str, float]) -> Plan:
    """The plan with what was read last and what is not due. If the records cannot be read, everything is asked.

    miles: by unit, its own odometer, if it was given.
    """
    try:
        units = {unit.id for unit in units_of(plan.vehicle)}
        pasts = [past for past in past_records(resources.home) if past.vehicle in units]
    except GladhandError as error:
        resources.tell_once(error)
        return plan
    plan = with_last(plan, pasts)
    if depth == "each-part":
        return plan
    return with_due(plan, resources.library.due, pasts, Today(datetime.now(UTC), miles), resources.pace)


def tell_outlook(resources: Resources, asker: Asker, vehicle: Vehicle) -> None:
    try:
        sentences = outlook(resources.home, vehicle)
    except GladhandError as error:
        resources.tell_once(error)
        return
    for sentence in sentences:
        asker.tell(sentence)


def find_vehicle(home: Path, name: str) -> Vehicle:
    """A known vehicle by id or spoken name, a profile file by path, or "TRACTOR+TRAILER". Raises SetupError."""
    return named_vehicle(home, name)


def tell_dropped(resources: Resources, asker: Asker, vehicle: Vehicle, route: str | None) -> None:
    """Names what the user's own files leave out of the shipped route, aloud and, with the file, on the screen."""
    gone = dropped(resources.library, [vehicle], route)
    for each in gone:
        tell(each.origin.error(f"leaves out {each}."))
    if gone:
        names = [each.item.call[0] for each in gone]
        asker.tell(resources.talk.setup.dropped.format(names=", ".join(dict.fromkeys(names))))


def ask_resume(resources: Resources, asker: Asker, vehicle: Vehicle | None) -> Session | None:
    """The newest open inspection (of the vehicle, if one is named), if the driver wants to go on with it."""
    for found, at in open_sessions(resources):
        plan = at.context.plan
        if vehicle is None or plan.vehicle.id == vehicle.id:
            total = len(at.context.asked(at.state))
            text = resources.talk.setup.resume.format(name=plan.vehicle.name, done=len(at.state.answers), total=total)
            return found if asker.yes("resume", text) else None
    return None


def ask_vehicle(resources: Resources, asker: Asker) -> Vehicle:
    profiles = read_profiles(vehicle_files(resources.home))
    for fault in profiles.faults:
        tell(fault)  # the others can be walked all the same
    known = list(profiles.vehicles.values())
    vehicles = [each for each in known if each.kind != "trailer"]
    if not vehicles:
        raise SetupError("No vehicle's profile can be read.", "'gladhand routes check' says what is wrong with them.")
    talk = resources.talk.setup
    if len(vehicles) == 1 and asker.yes("vehicle", talk.vehicle_one.format(name=vehicles[0].name)):
        return _whole(resources, asker, vehicles[0], known)
    names = ", ".join(vehicle.name for vehicle in vehicles)
    both = pairs(resources, known)
    picks = [Pick(vehicle.id, called(vehicle, known)) for vehicle in vehicles]
    picks += [Pick(vehicle.id, (name,)) for name, vehicle in both.items()]
    found = asker.pick("vehicle", talk.vehicle.format(names=names), picks, talk.again.format(names=names))
    whole = next((vehicle for vehicle in both.values() if vehicle.id == found), None)
    return whole or _whole(resources, asker, next(each for each in vehicles if each.id == found), known)


def _whole(resources: Resources, asker: Asker, vehicle: Vehicle, known: Sequence[Vehicle]) -> Vehicle:
    """The vehicle with what it draws: a tractor's trailer is asked for."""
    return ask_trailer(resources, asker, vehicle, known) if vehicle.kind == "tractor" else vehicle


def ask_route(resources: Resources, asker: Asker, vehicle: Vehicle) -> str | None:
    """Which of the routes that no kind of inspection takes, where there is more than one."""
    taken = {kind.routes.get(vehicle.kind) for kind in resources.library.kinds.values()}
    routes = [route for route in fitting_routes(resources.library, vehicle) if route.id not in taken]
    if len(routes) <= 1:
        return None
    names = ", ".join(route.call[-1] for route in routes)
    picks = [Pick(route.id, route.call) for route in routes]
    talk = resources.talk.setup
    return asker.pick("route", talk.route.format(names=names), picks, talk.again.format(names=names))
