"""What is recited and rehearsed: the syllabus of a vehicle and route; and what all lessons share."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path

from voice.data import durable, folders
from voice.errors import DataError, SetupError, tell
from voice.judge import limits_of
from voice.rehearse.listen.part import RecitedPart, Syllabus
from voice.rehearse.listen.syllabus import make_syllabus
from voice.rehearse.wording import Language
from voice.route import load_library, make_plan
from voice.route.vehicles import profile_files, read_profiles
from voice.session.preparing import find_vehicle

SAMPLE = "tractor-trailer-five-axle"
VOICES: dict[Language, str] = {"en": "espeak:en-us", "es": "espeak:es-419"}


@dataclass(frozen=True, slots=True)
class Course:
    """What a lesson is about.

    syllabus: what can be recited.
    vehicle: how the vehicle is called.
    """

    syllabus: Syllabus
    vehicle: str

    def parts(self, section: str | None) -> tuple[RecitedPart, ...]:
        """All parts, or those of one section. Raises DataError for a section that there is not."""
        known = [each.id for each in self.syllabus.sections]
        if section is not None and section not in known:
            raise DataError(f'There is no section "{section}" in this route.', f"It has: {', '.join(known)}.")
        return self.syllabus.of(section)


def open_course(home: Path | None, vehicle: str | None, route: str | None) -> Course:
    """vehicle: None takes the first of the home's own, or the sample if it has none."""
    folder = folders.home(home)
    found = find_vehicle(folder, vehicle or _usual(folder))
    plan = make_plan(load_library(folder / "prompts"), found, route)
    return Course(make_syllabus(plan, limits_of(folder, datetime.now().astimezone().date())), found.name)


def _usual(home: Path) -> str:
    own = profile_files(home / "vehicles")
    profiles = read_profiles({file.stem: file for file in own})
    for fault in profiles.faults:
        tell(fault)  # the others can be rehearsed all the same
    return next((name for name, each in profiles.vehicles.items() if each.kind != "trailer"), SAMPLE)


def need(*packages: str) -> None:
    """Raises SetupError if an optional package is not installed."""
    missing = [name for name in packages if find_spec(name) is None]
    if missing:
        raise SetupError(
            f"This command needs the package {missing[0]}.", 'Install the learning extra: pip install "gladhand[learn]"'
        )


def save(path: Path, text: str) -> None:
    """A text file where the user wants it. Raises SetupError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        raise SetupError(*durable.trouble(f"{path} cannot be written", error)) from error
