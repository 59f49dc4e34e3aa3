"""Runs a session: everything between the options and the loop, and the record at the end."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import typer

from voice import data, journal, session
from voice.cli.kit import Kit, Wanted, open_kit
from voice.cli.screen import Screen, open_screen
from voice.errors import DataError, JournalError, SetupError
from voice.journal import Journal, JournalFile
from voice.judge import LimitSet, limit_files, load_limits
from voice.judge.wording import verdicts
from voice.logbook.carry import open_defects, outlook
from voice.loop import Clips, Loop, Watcher
from voice.measure.book import unit_book
from voice.record.build import odometer_record
from voice.record.review import with_review
from voice.route import load_library, load_vehicle, make_plan
from voice.route.expand import fitting_routes
from voice.route.library import Library
from voice.route.load import read_yaml
from voice.route.model import Call, Hold, Length, Plan, Reading, Vehicle
from voice.route.vehicles import find_profile, read_profiles, vehicle_files
from voice.session import Session
from voice.setup import Asker, Pick
from voice.understand.lexicon import layered
from voice.understand.phrases import Phrasebook, check
from voice.walk.context import Context
from voice.walk.event import Event, Resumed, Started
from voice.walk.machine import begin
from voice.walk.state import State
from voice.walk.talk import Talk, load_talk


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


@dataclass(frozen=True)
class Shop:
    """The data every run starts from."""

    home: Path
    library: Library
    talk: Talk
    book: Phrasebook

    def context(self, plan: Plan, limits: LimitSet, drivers: tuple[str, ...]) -> Context:
        cautions = {name: caution.say for name, caution in self.library.cautions.items()}
        separator = self.library.places.separator
        return Context(plan, limits, self.talk, self.book, self.library.defects, cautions, drivers, separator)


def open_shop(home: Path | None) -> Shop:
    folder = data.home(home)
    own = folder / "prompts"
    # Read now, so that a mistake in a file shows at the start and not in the middle of a walk.
    unit_book()
    verdicts()
    return Shop(folder, load_library(own), load_talk(own / "dialogue.yaml"), Phrasebook(layered(own)))


def known_drivers(home: Path) -> tuple[str, ...]:
    """Names in home/drivers.yaml, a plain list. Raises DataError."""
    path = home / "drivers.yaml"
    if not path.exists():
        return ()
    names = read_yaml(path)
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise DataError("it is not a list of names.", "Write one name a line, each after a dash.", file=path)
    return tuple(names)


# --- walk --------------------------------------------------------------------------------------------------------


def walk(home: Path | None, wanted: Wanted, chosen: Chosen) -> None:
    shop = open_shop(home)
    # Mistakes in files and options are reported before any device is opened.
    limits = load_limits([*limit_files(shop.home), *chosen.limits])
    if chosen.odometer is not None and odometer_record(chosen.odometer) is None:
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
            plan = with_review(plan, open_defects(shop.home, vehicle.id))
            for sentence in outlook(shop.home, vehicle.id):
                asker.tell(sentence)
        drivers = known_drivers(shop.home)
        if chosen.driver is not None:
            drivers = (chosen.driver, *(name for name in drivers if name != chosen.driver))
        _check_phrases(shop, plan)
        context = shop.context(plan, limits, drivers)
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


def find_vehicle(home: Path, name: str) -> Vehicle:
    """A known vehicle by id, or a profile file by path. Raises SetupError."""
    return load_vehicle(find_profile(home, name))


def _ask_resume(shop: Shop, asker: Asker, vehicle: Vehicle | None) -> Session | None:
    """The newest open inspection (of the vehicle, if one is named), if the driver wants to go on with it."""
    for found in session.open_sessions(shop.home):
        try:
            plan, limits = session.load_snapshot(found)
            state = session.replay(shop.context(plan, limits, ()), journal.read(found.journal))
        except JournalError:
            continue
        if vehicle is None or plan.vehicle.id == vehicle.id:
            total = len(plan.steps)
            text = shop.talk.setup.resume.format(name=plan.vehicle.name, done=len(state.answers), total=total)
            return found if asker.yes("resume", text) else None
    return None


def _ask_vehicle(shop: Shop, asker: Asker) -> Vehicle:
    profiles = read_profiles(vehicle_files(shop.home))
    for fault in profiles.faults:
        typer.echo(f"gladhand: {fault}", err=True)  # the others can be walked all the same
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
    found = session.find(shop.home, name) if name else next(session.open_sessions(shop.home), None)
    if found is None:
        raise SetupError("There is no open inspection to resume.", "Begin one with 'gladhand walk'.")
    if found.signed:
        raise SetupError(f"Inspection {found.id} is signed and closed.", "Begin a new one with 'gladhand walk'.")
    _check(found, salvage)
    kit = open_kit(wanted)
    screen = open_screen(plain=plain)
    try:
        _resume(shop, kit, screen, found, clips=clips)
    finally:
        screen.close()
        kit.close()


def _check(found: Session, salvage: bool) -> None:
    """The journal must be good; a damaged one is cut to its good part only when that was asked for."""
    try:
        journal.read(found.journal)
    except journal.DamageError as damage:
        if not salvage:
            raise
        kept = journal.salvage(damage)
        typer.echo(f"{damage.lost} damaged lines left out; the damaged journal is kept as {kept.name}.", err=True)


def _resume(shop: Shop, kit: Kit, screen: Screen, found: Session, *, clips: bool) -> None:
    with found.lock():
        plan, limits = session.load_snapshot(found)
        file = journal.read(found.journal)
        context = shop.context(plan, limits, file.heading.drivers)
        state = session.replay(context, file)
        log = Journal.reopen(file)
        if session.is_closed(state):
            # Killed between the sign-off and the record: only the record is missing.
            log.close()
            _finish(found, context, state, screen)
            return
        start = file.last_at
        event: Event = Resumed(start, torn=file.torn) if file.lines else Started(start)
        _run(found, context, state, kit, screen, log, clips, start, event)


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
        if isinstance(step.item.answer, Reading | Hold | Call):
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
        typer.echo(f"{each.id}  {_state_of(shop, each)}")
    if not found:
        typer.echo(f"No inspections in {shop.home} yet. Begin one with 'gladhand walk'.")


def _state_of(shop: Shop, found: Session) -> str:
    """How far an inspection is, in a few words."""
    if found.signed:
        return "signed"
    try:
        plan, limits = session.load_snapshot(found)
        file = journal.read(found.journal)
        state = session.replay(shop.context(plan, limits, ()), file)
    except JournalError as error:
        return f"damaged: {error.message}"
    by = f" by {file.heading.driver}" if file.heading.driver else ""
    return f"open{by}, {len(state.answers)} of {len(plan.steps)} answered, can be resumed"
