"""The data that every run starts from, and the sessions on the disk as they stand against it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from voice.data import folders
from voice.data.fields import is_person
from voice.data.reader import read_yaml
from voice.errors import DataError, GladhandError, JournalError, RecordError, tell
from voice.journal import folder as session
from voice.journal import journal
from voice.journal.folder import Session, Telling
from voice.journal.journal import JournalFile
from voice.judge import LimitSet
from voice.judge.wording import verdicts
from voice.measure.book import lay_over, unit_book
from voice.record.device import signature_fault
from voice.record.load import AlteredError, load_record
from voice.route import load_library
from voice.route.library import Library
from voice.route.model import Plan
from voice.understand.lexicon import layered
from voice.understand.phrases import Phrasebook
from voice.walk.context import Context
from voice.walk.drivingtalk import DrivingTalk, load_driving_talk
from voice.walk.pacetalk import PaceTalk, load_pace_talk
from voice.walk.state import State
from voice.walk.talk import Talk, load_talk


@dataclass(frozen=True)
class Resources:
    """The data every run starts from.

    told: what was said to be wrong already.
    """

    home: Path
    library: Library
    talk: Talk
    pace: PaceTalk
    driving: DrivingTalk
    book: Phrasebook
    told: set[str] = field(default_factory=set)

    def tell_once(self, error: GladhandError) -> None:
        """Several ask for the same records; what is wrong with one is said the first time."""
        if str(error) not in self.told:
            self.told.add(str(error))
            tell(error)

    def context(self, plan: Plan, limits: LimitSet, drivers: tuple[str, ...], driver: str | None = None) -> Context:
        separator = self.library.places.separator
        known = (plan, limits, self.talk, self.book, self.library.defects, self.library.cautions)
        return Context(*known, drivers, separator, driver, self.pace)


def open_resources(home: Path | None) -> Resources:
    folder = folders.home(home)
    own = folder / "prompts"
    lay_over(own / "units.yaml")
    # Read now, so that a mistake in a file shows at the start and not in the middle of a walk.
    unit_book()
    verdicts()
    talk, pace = load_talk(own / "dialogue.yaml"), load_pace_talk(own / "pace.yaml")
    driving = load_driving_talk(own / "driving.yaml")
    return Resources(folder, load_library(own), talk, pace, driving, Phrasebook(layered(own)))


def known_drivers(home: Path) -> tuple[str, ...]:
    """Names in home/drivers.yaml, a plain list. Raises DataError."""
    path = home / "drivers.yaml"
    if not path.exists():
        return ()
    names = read_yaml(path)
    if not isinstance(names, list) or not all(isinstance(name, str) and is_person(name) for name in names):
        raise DataError("it is not a list of names.", "Write one name a line, each after a dash.", file=path)
    return tuple(names)


@dataclass(frozen=True, slots=True)
class Replayed:
    """Where a session stands, as its files have it."""

    file: JournalFile
    context: Context
    state: State


def load(resources: Resources, found: Session) -> Replayed:
    """Reads a session, every checksum checked, and replays it. Raises JournalError."""
    plan, limits = session.load_snapshot(found)
    file = journal.read(found.journal)
    context = resources.context(plan, limits, file.heading.drivers, file.heading.driver)
    return Replayed(file, context, session.replay(context, file))


def state_of(resources: Resources, found: Session) -> str:
    """How far an inspection is, in a few words."""
    if found.signed:
        return _signed(found)
    try:
        at = load(resources, found)
    except JournalError as error:
        return f"damaged: {error.message}"
    if session.is_closed(at.state):
        return missing(found)
    by = f" by {at.file.heading.driver}" if at.file.heading.driver else ""
    return f"open{by}, {len(at.state.answers)} of {len(at.context.asked(at.state))} answered, can be resumed"


def _signed(found: Session) -> str:
    """A record is only called signed if it is what was signed; 'gladhand verify' looks at the rest."""
    try:
        fault = signature_fault(load_record(found.record), None)
    except AlteredError:
        fault = "altered"
    except RecordError as error:
        return f"damaged: {error.message}"
    return f"altered since it was signed: 'gladhand verify {found.id}' says what differs" if fault else "signed"


def missing(found: Session) -> str:
    """What is wrong with an inspection that was signed and has no record, and what to do."""
    return f"signed, but its record is missing: 'gladhand resume {found.id}' makes it again"


def open_sessions(resources: Resources, leave_out: Telling = tell) -> Iterator[tuple[Session, Replayed]]:
    """Inspections that can be gone on with, newest first.

    leave_out: is told what is wrong with others; they are left aside.
    """
    for found in session.open_sessions(resources.home, leave_out):
        try:
            yield found, load(resources, found)
        except JournalError as error:
            leave_out(error)
