"""Runs an inspection: what the driver asked for is opened and asked, the walk is performed, the record is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

from filelock import FileLock

from voice.data.fields import person
from voice.data.own import unread
from voice.errors import GladhandError, SetupError, tell
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.clips import Clips
from voice.journal.folder import Beginning, Session
from voice.journal.journal import Journal
from voice.judge.limit import LimitSet
from voice.record.entry import odometer_record
from voice.record.model import InspectionRecord
from voice.route.model import Depth, Length, Plan
from voice.route.units import trailer_of
from voice.session.asking import Asker
from voice.session.chosen import limits_for, now_at, tell_due
from voice.session.cosigning import ask_co_driver
from voice.session.driving import ask_driver, driver_of, hubodometer, odometer
from voice.session.equipment import Equipment, EquipmentWanted, open_equipment
from voice.session.loop import Loop, Watcher
from voice.session.planning import Wanted, chosen, depth_of, prepared
from voice.session.preparing import ask_resume, find_vehicle
from voice.session.recorded import damage_of, find, newest
from voice.session.resources import Resources, known_drivers, load, open_resources
from voice.walk.context import Context
from voice.walk.event import Event, Resumed, Started
from voice.walk.machine import begin
from voice.walk.state import State

_LONGEST_ODOMETER = 30


class Display(Watcher, Protocol):
    """Shows a run while it goes on; opened by who asked for it."""

    def begin(self, context: Context, session: str) -> None:
        """The walk of this session begins."""
        ...

    def close(self) -> None:
        """Nothing more is shown; may be called again."""
        ...


@dataclass(frozen=True, slots=True)
class WalkOptions:
    """What is asked of a new walk.

    vehicle: id or profile file; None is asked aloud.
    route: id; None is the one that the kind takes.
    kind: id of the kind of inspection; None is asked aloud with the vehicle, else pre-trip, or what the route is.
    driver: the name to sign with; None is asked aloud where drivers.yaml has several.
    co_driver: a second driver, who is asked to sign after the first.
    length: how much is said with each item.
    depth: how much one question covers; None is as the vehicle's profile has it, else each part.
    odometer: as "412345" or "663000 km"; None is asked aloud where the kind or the last inspection wants it.
    hubodometer: the trailer's, as above; None is asked aloud where the trailer's profile says that it has one.
    new: begin a new one though one is open.
    limits: more files, over the shipped ones and the home's own.
    review: ask about open defects first.
    clips: keep recordings of the answers.
    layers: names of shipped examples of limits, over those of the vehicle's profile.
    metric: gauges and rulers are metric, whatever the profile says.
    """

    vehicle: str | None = None
    route: str | None = None
    kind: str | None = None
    driver: str | None = None
    co_driver: str | None = None
    length: Length = "normal"
    depth: Depth | None = None
    odometer: str | None = None
    hubodometer: str | None = None
    new: bool = False
    limits: tuple[Path, ...] = ()
    review: bool = True
    clips: bool = True
    layers: tuple[str, ...] = ()
    metric: bool = False


@dataclass(frozen=True, slots=True)
class Finished:
    """What a walk left.

    found: its folder.
    record: as it was written; without a sign-off it is the report's only.
    counts: how often a scripted driver was asked again and the like.
    """

    found: Session
    record: InspectionRecord
    counts: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Run:
    """A session that goes on.

    found: its folder, locked.
    state: where it stands.
    log: its journal, open.
    """

    found: Session
    context: Context
    state: State
    log: Journal


# --- walk --------------------------------------------------------------------------------------------------------


def walk(home: Path | None, wanted: EquipmentWanted, options: WalkOptions, display: Display) -> Finished:
    """A new inspection, or the open one that the driver wants to go on with. Raises GladhandError.

    Mistakes in files and options are reported before any device is opened.
    """
    resources = open_resources(home)
    for fault in unread(resources.home):
        tell(fault)
    _check(options)
    vehicle = None if options.vehicle is None else find_vehicle(resources.home, options.vehicle)
    limits_for(resources.home, vehicle, options.layers, options.limits)  # a mistake shows before anything is asked
    equipment = open_equipment(wanted)
    try:
        devices = equipment.devices
        asker = Asker(
            devices.ear,
            devices.speaker,
            resources.book,
            resources.talk.setup,
            [*equipment.watchers, display],
            None if equipment.driver is None else equipment.driver.script.setup,
        )
        if not options.new and (open_ := ask_resume(resources, asker, vehicle)) is not None:
            finished = _resume(resources, equipment, display, open_, clips=options.clips)
        else:
            plan = chosen(resources, asker, vehicle, options.route, options.kind, options.metric)
            options = _asked(resources, options, asker, plan)
            tell_due(resources, asker, plan, now_at(options.odometer))
            wishes = Wanted(options.depth, options.odometer, options.hubodometer, options.review)
            plan = prepared(resources, asker, plan, wishes)
            limits = limits_for(resources.home, plan.vehicle, options.layers, options.limits)
            run, lock = _begin(resources, options, plan, limits, equipment)
            with lock:
                finished = _perform(run, equipment, display, Started(0.0), clips=options.clips)
        if options.co_driver is not None:
            ask_co_driver(resources, asker, finished.found, finished.record, options.co_driver)
        return finished
    finally:
        display.close()
        equipment.close()


def _check(options: WalkOptions) -> None:
    """Raises SetupError for a name or a reading of an odometer that is none."""
    for name in (options.driver, options.co_driver):
        if name is not None:
            person(name)
    for what, given in (("odometer", options.odometer), ("hubodometer", options.hubodometer)):
        if given is not None and (len(given) > _LONGEST_ODOMETER or odometer_record(given) is None):
            raise SetupError(f'"{given}" is no {what} reading.', 'Give a number, as "412345" or "663000 km".')


def _asked(resources: Resources, options: WalkOptions, asker: Asker, plan: Plan) -> WalkOptions:
    """The options with who drives and what the odometers read. Raises SetupError for a hubodometer of no
    trailer, and for a second driver who is not in drivers.yaml."""
    if options.hubodometer is not None and trailer_of(plan.vehicle) is None:
        raise SetupError(f'"{plan.vehicle.name}" has no trailer.', "Leave out --hubodometer: it is that of a trailer.")
    drivers = known_drivers(resources.home)
    co_driver = None if options.co_driver is None else driver_of(options.co_driver, drivers)
    driver = options.driver or ask_driver(resources, asker, drivers)
    kind = resources.library.kinds.get(plan.kind)
    read = odometer(resources, asker, plan.vehicle, kind, options.odometer)
    hub = hubodometer(resources, asker, plan.vehicle, options.hubodometer)
    return replace(options, driver=driver, co_driver=co_driver, odometer=read, hubodometer=hub)


def _begin(
    resources: Resources, options: WalkOptions, plan: Plan, limits: LimitSet, equipment: Equipment
) -> tuple[_Run, FileLock]:
    """The session's folder, locked."""
    drivers = known_drivers(resources.home)
    if options.driver is not None:
        drivers = (options.driver, *(name for name in drivers if name != options.driver))
    context = resources.context(plan, limits, drivers, options.driver)
    if equipment.driver is not None:
        equipment.driver.meet(context)  # refuses a script for another walk, before there is anything on the disk
    depth = depth_of(resources, plan, options.depth)
    beginning = Beginning(options.driver, drivers, options.odometer, options.hubodometer, options.length, depth)
    found, lock, log = session.create(resources.home, plan, limits, beginning)
    return _Run(found, context, begin(options.length, depth), log), lock


# --- resume ------------------------------------------------------------------------------------------------------


def resume(
    home: Path | None, wanted: EquipmentWanted, name: str | None, display: Display, *, salvage: bool, clips: bool
) -> Finished:
    """Goes on with an open inspection. Raises GladhandError.

    name: its id, the beginning of it, or its folder; None or "last" is the newest that is open.
    salvage: go on from the last good event of a damaged journal.
    """
    resources = open_resources(home)
    found = find(resources.home, name) if name not in (None, "", "last") else newest(resources, salvage)
    if found.signed:
        raise SetupError(f"Inspection {found.id} is signed and closed.", "Begin a new one with 'gladhand walk'.")
    if (damage := damage_of(found)) is not None:
        _salvage(found, damage, salvage)
    at = load(resources, found)  # what is wrong with it shows before any device is opened
    if session.is_closed(at.state):
        # Killed between the sign-off and the record, or the record was taken away: only that is missing.
        with found.lock():
            return _finish(found, at.context, at.state)
    equipment = open_equipment(wanted)
    try:
        return _resume(resources, equipment, display, found, clips=clips)
    finally:
        display.close()
        equipment.close()


def _salvage(found: Session, damage: journal.DamageError, wanted: bool) -> None:
    """A damaged journal is cut to its good part only when that was asked for."""
    if not wanted:
        raise damage
    with found.lock():
        kept = journal.salvage(damage)
    tell(f"{damage.lost} or more damaged lines left out; the damaged journal is kept as {kept.name}.")


def _resume(resources: Resources, equipment: Equipment, display: Display, found: Session, *, clips: bool) -> Finished:
    with found.lock():
        at = load(resources, found)
        if at.file.heading.version == 1:
            tell("Begun by an earlier version, which kept no checksum of plan and limits: a change would not show.")
        if session.is_closed(at.state):
            return _finish(found, at.context, at.state)
        start = at.file.last_at
        event: Event = Resumed(start, torn=at.file.torn) if at.file.lines else Started(start)
        run = _Run(found, at.context, at.state, Journal.reopen(at.file))
        return _perform(run, equipment, display, event, clips=clips)


def _perform(run: _Run, equipment: Equipment, display: Display, event: Event, *, clips: bool) -> Finished:
    """From the event to the record."""
    context, log, driver = run.context, run.log, equipment.driver
    if driver is not None:
        driver.meet(context)
    equipment.attune(context.driver)
    display.begin(context, run.found.id)
    kept = Clips(run.found.clips) if clips else None
    watchers = (*equipment.watchers, display)
    loop = Loop(context, run.state, equipment.devices, journal=log, clips=kept, watchers=watchers)
    try:
        state = loop.run(event)
    except (KeyboardInterrupt, GladhandError):
        log.check_there()  # else "nothing is lost" would be a lie
        raise
    finally:
        log.close()
    return _finish(run.found, context, state, {} if driver is None else driver.counts)


def _finish(found: Session, context: Context, state: State, counts: Mapping[str, int] | None = None) -> Finished:
    """The record and the report, from the journal as it is on the disk."""
    from voice.record.files import write_record

    file = journal.read(found.journal)
    record = write_record(found, context.plan, file, state, context.limits, context.defects)
    return Finished(found, record, dict(counts or {}))
