"""Runs a session: everything between the options and the loop, and the record at the end."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import typer

from voice.cli.screen import Screen, open_screen
from voice.errors import GladhandError, JournalError, SetupError, shown, tell
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.clips import Clips
from voice.journal.folder import Session
from voice.journal.journal import Journal, JournalFile
from voice.judge import limit_files, load_limits
from voice.logbook.for_walk import open_defects, outlook
from voice.record.entry import odometer_record
from voice.record.open_defects import OpenDefect
from voice.record.open_defects import open_defects as own_defects
from voice.record.review import with_review
from voice.route import load_vehicle, make_plan
from voice.route.answer import Call, Hold, Measurement
from voice.route.expand import fitting_routes
from voice.route.model import Length, Plan
from voice.route.vehicle import Vehicle
from voice.route.vehicles import find_profile, read_profiles, vehicle_files
from voice.session.asking import Asker, Pick
from voice.session.kit import Kit, Wanted, open_kit
from voice.session.loop import Loop, Watcher
from voice.session.resources import Shop, is_name, known_drivers, load, open_sessions, open_shop
from voice.understand.phrases import check
from voice.walk.context import Context
from voice.walk.event import Event, Resumed, Started
from voice.walk.machine import begin
from voice.walk.state import State

_LONGEST_ODOMETER = 30


@dataclass(frozen=True, slots=True)
class Chosen:
    """What the options of a new walk say."""

    vehicle: str | None
    route: str | None
    driver: str | None
    length: Length
    odometer: str | None
    new: bool
    limits: tuple[Path, ...]
    review: bool
    clips: bool
    plain: bool


# --- walk --------------------------------------------------------------------------------------------------------


def walk(home: Path | None, wanted: Wanted, chosen: Chosen) -> None:
    shop = open_shop(home)
    # Mistakes in files and options are reported before any device is opened.
    limits = load_limits([*limit_files(shop.home), *chosen.limits])
    if chosen.driver is not None and not is_name(chosen.driver):
        raise SetupError("That is no name: it is too long, or has letters that cannot be shown.", "Give another.")
    odometer = chosen.odometer
    if odometer is not None and (len(odometer) > _LONGEST_ODOMETER or odometer_record(odometer) is None):
        raise SetupError(f'"{chosen.odometer}" is no odometer reading.', 'Give a number, as "412345" or "663000 km".')
    vehicle = None if chosen.vehicle is None else find_vehicle(shop.home, chosen.vehicle)
    kit = open_kit(wanted)
    screen = open_screen(plain=chosen.plain)
    try:
        asker = Asker(kit.ear, kit.speaker, shop.book, shop.talk.setup, [*kit.watchers, screen])
        if not chosen.new and (open_ := _ask_resume(shop, asker, vehicle)) is not None:
            _resume(shop, kit, screen, open_, clips=chosen.clips)
            return
        route = chosen.route
        if vehicle is None:
            vehicle = _ask_vehicle(shop, asker)
            route = route or _ask_route(shop, asker, vehicle)
        plan = make_plan(shop.library, vehicle, route)
        if chosen.review:
            plan = with_review(plan, _open_defects(shop, asker, vehicle.id))
            _tell_outlook(shop, asker, vehicle.id)
        drivers = known_drivers(shop.home)
        if chosen.driver is not None:
            drivers = (chosen.driver, *(name for name in drivers if name != chosen.driver))
        _check_phrases(shop, plan)
        context = shop.context(plan, limits, drivers, chosen.driver)
        if kit.driver is not None:
            kit.driver.meet(context)  # refuses a script for another walk, before there is anything on the disk
        new, lock, log = session.create(
            shop.home, plan, limits, driver=chosen.driver, drivers=drivers, odometer=chosen.odometer,
            length=chosen.length,
        )  # fmt: skip
        with lock:
            _run(new, context, begin(chosen.length), kit, screen, log, chosen.clips, 0.0, Started(0.0))
    finally:
        screen.close()
        kit.close()


def _check_phrases(shop: Shop, plan: Plan) -> None:
    """No words of the plan may mean two things in one question. Raises DataError."""
    items = {step.item.id: step.item for step in plan.steps}.values()
    said = {name: defect.say for name, defect in shop.library.defects.items()}
    for mistake in check(shop.book, items, said):
        raise mistake


def _open_defects(shop: Shop, asker: Asker, vehicle: str) -> Sequence[OpenDefect]:
    """What earlier inspections left open. What cannot be read is said, and does not stop the walk.

    Where the logbook fails, this device's own records answer.
    """
    found: Sequence[OpenDefect] = ()
    for number, source in enumerate((open_defects, own_defects)):
        try:
            found = source(shop.home, vehicle)
            break
        except GladhandError as error:
            tell(error)
            if number == 0:
                asker.tell(shop.talk.setup.no_review)
    return found


def _tell_outlook(shop: Shop, asker: Asker, vehicle: str) -> None:
    try:
        sentences = outlook(shop.home, vehicle)
    except GladhandError as error:
        tell(error)
        return
    for sentence in sentences:
        asker.tell(sentence)


def find_vehicle(home: Path, name: str) -> Vehicle:
    """A known vehicle by id, or a profile file by path. Raises SetupError."""
    return load_vehicle(find_profile(home, name))


def _ask_resume(shop: Shop, asker: Asker, vehicle: Vehicle | None) -> Session | None:
    """The newest open inspection (of the vehicle, if one is named), if the driver wants to go on with it."""
    for found, at in open_sessions(shop):
        plan = at.context.plan
        if vehicle is None or plan.vehicle.id == vehicle.id:
            total = len(plan.steps)
            text = shop.talk.setup.resume.format(name=plan.vehicle.name, done=len(at.state.answers), total=total)
            return found if asker.yes("resume", text) else None
    return None


def _ask_vehicle(shop: Shop, asker: Asker) -> Vehicle:
    profiles = read_profiles(vehicle_files(shop.home))
    for fault in profiles.faults:
        tell(fault)  # the others can be walked all the same
    vehicles = list(profiles.vehicles.values())
    if not vehicles:
        raise SetupError("No vehicle's profile can be read.", "'gladhand routes check' says what is wrong with them.")
    talk = shop.talk.setup
    if len(vehicles) == 1 and asker.yes("vehicle", talk.vehicle_one.format(name=vehicles[0].name)):
        return vehicles[0]
    names = ", ".join(vehicle.name for vehicle in vehicles)
    picks = [Pick(vehicle.id, (vehicle.name.lower(),)) for vehicle in vehicles]
    found = asker.pick("vehicle", talk.vehicle.format(names=names), picks, talk.again.format(names=names))
    return next(vehicle for vehicle in vehicles if vehicle.id == found)


def _ask_route(shop: Shop, asker: Asker, vehicle: Vehicle) -> str | None:
    routes = fitting_routes(shop.library, vehicle)
    if len(routes) <= 1:
        return None
    names = ", ".join(route.call[-1] for route in routes)
    picks = [Pick(route.id, route.call) for route in routes]
    talk = shop.talk.setup
    return asker.pick("route", talk.route.format(names=names), picks, talk.again.format(names=names))


# --- resume ------------------------------------------------------------------------------------------------------


def resume(home: Path | None, wanted: Wanted, name: str | None, *, salvage: bool, clips: bool, plain: bool) -> None:
    shop = open_shop(home)
    found = session.find(shop.home, name) if name else _newest(shop, salvage)
    if found is None:
        raise SetupError("There is no open inspection to resume.", "Begin one with 'gladhand walk'.")
    if found.signed:
        raise SetupError(f"Inspection {found.id} is signed and closed.", "Begin a new one with 'gladhand walk'.")
    if (damage := _damage(found)) is not None:
        _salvage(found, damage, salvage)
    at = load(shop, found)  # what is wrong with it shows before any device is opened
    screen = open_screen(plain=plain)
    if session.is_closed(at.state):
        # Killed between the sign-off and the record, or the record was taken away: only that is missing.
        with found.lock():
            _finish(found, at.context, at.state, screen)
        return
    kit = open_kit(wanted)
    try:
        _resume(shop, kit, screen, found, clips=clips)
    finally:
        screen.close()
        kit.close()


def _newest(shop: Shop, salvage: bool) -> Session | None:
    """The newest open inspection; to salvage, the newest that is damaged, if one is."""
    if salvage:
        for found in session.sessions(shop.home):
            if not found.signed and _damage(found) is not None:
                return found
    return next((found for found, _ in open_sessions(shop)), None)


def _damage(found: Session) -> journal.DamageError | None:
    try:
        journal.read(found.journal)
    except journal.DamageError as damage:
        return damage
    except JournalError:
        return None
    return None


def _salvage(found: Session, damage: journal.DamageError, wanted: bool) -> None:
    """A damaged journal is cut to its good part only when that was asked for."""
    if not wanted:
        raise damage
    with found.lock():
        kept = journal.salvage(damage)
    tell(f"{damage.lost} or more damaged lines left out; the damaged journal is kept as {kept.name}.")


def _resume(shop: Shop, kit: Kit, screen: Screen, found: Session, *, clips: bool) -> None:
    with found.lock():
        at = load(shop, found)
        if at.file.heading.version == 1:
            tell("Begun by an earlier version, which kept no checksum of plan and limits: a change would not show.")
        if session.is_closed(at.state):
            _finish(found, at.context, at.state, screen)
            return
        log = Journal.reopen(at.file)
        start = at.file.last_at
        event: Event = Resumed(start, torn=at.file.torn) if at.file.lines else Started(start)
        _run(found, at.context, at.state, kit, screen, log, clips, start, event)


def _run(
    found: Session,
    context: Context,
    state: State,
    kit: Kit,
    screen: Screen,
    log: Journal,
    clips: bool,
    start: float,
    event: Event,
) -> None:
    if kit.driver is not None:
        kit.driver.meet(context)
    screen.begin(context, found.id)
    if kit.warm is not None:
        threading.Thread(target=_warm, args=(context, kit.warm), daemon=True).start()
    watchers: Sequence[Watcher] = (*kit.watchers, screen)
    loop = Loop(
        context, state, ear=kit.ear, speaker=kit.speaker, journal=log, clock=kit.clock,
        clips=Clips(found.clips) if clips else None, recover=kit.recover, watchers=tuple(watchers), start=start,
        headset=kit.headset,
    )  # fmt: skip
    try:
        state = loop.run(event)
    except (KeyboardInterrupt, GladhandError):
        log.check_there()  # else "nothing is lost" would be a lie
        raise
    finally:
        log.close()
    _finish(found, context, state, screen)
    if kit.driver is not None:
        for what, count in sorted(kit.driver.counts.items()):
            typer.echo(f"scripted driver, {what}: {count}")


def _warm(context: Context, warm: Callable[[Sequence[str]], None]) -> None:
    """The first reading of each kind would take a second longer to hear; its phrases are learnt while he walks."""
    done: set[tuple[str, ...]] = set()
    for step in context.plan.steps:
        if isinstance(step.item.answer, Measurement | Hold | Call):
            said = {defect.id: defect.say for defect in context.defects_of(step)}
            texts = tuple(p.text for p in context.book.answers(step.item, step.item.answer, said))
            if texts not in done:
                done.add(texts)
                warm(texts)


def _finish(found: Session, context: Context, state: State, screen: Screen) -> None:
    """The record and the report, from the journal as it is on the disk."""
    from voice.record.files import write_record

    screen.close()
    file: JournalFile = journal.read(found.journal)
    record = write_record(found, context.plan, file, state, context.limits, context.defects)
    typer.echo("")
    for sentence in record.summary.text:
        typer.echo(sentence)
    typer.echo("")
    if record.sign_off is not None:
        typer.echo(f"record: {found.record}")
    typer.echo(f"report: {found.report}")


# --- sessions ----------------------------------------------------------------------------------------------------


def list_sessions(home: Path | None) -> None:
    if home is not None and not home.is_dir():
        raise SetupError(f"{home} is not a folder.", "Give your Gladhand folder as --home.")
    shop = open_shop(home)
    found = list(session.sessions(shop.home))
    for each in found:
        typer.echo(shown(f"{each.id}  {_state_of(shop, each)}"))
    if not found:
        typer.echo(f"No inspections in {shop.home} yet. Begin one with 'gladhand walk'.")


def _state_of(shop: Shop, found: Session) -> str:
    """How far an inspection is, in a few words."""
    if found.signed:
        return "signed"
    try:
        at = load(shop, found)
    except JournalError as error:
        return f"damaged: {error.message}"
    by = f" by {at.file.heading.driver}" if at.file.heading.driver else ""
    return f"open{by}, {len(at.state.answers)} of {len(at.context.plan.steps)} answered, can be resumed"
