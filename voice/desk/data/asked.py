"""What a vehicle will be asked, in order, with the wording, and the limits with their sources. Nothing is changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path

from voice.desk.page import RefusedError
from voice.errors import DataError
from voice.judge import limits_of
from voice.judge.defect import judge_defect
from voice.judge.limit import LimitSet
from voice.judge.model import Known, Subject
from voice.judge.reading import bounds_of, limit_text
from voice.judge.result import MEASURED
from voice.measure.level import LevelName
from voice.measure.telling import quantity_name
from voice.record.wording import words
from voice.route import load_library, make_plan, vehicle_files
from voice.route.expand import fitting_routes
from voice.route.library import Library
from voice.route.model import Length, Plan, Step
from voice.route.units import combine
from voice.route.vehicle import Vehicle
from voice.route.vehicles import read_profiles


@dataclass(frozen=True, slots=True)
class Choice:
    """A vehicle with the routes that fit it: id and title of each, the usual one first."""

    vehicle: Vehicle
    routes: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Held:
    """What an answer is held against.

    text: the limit in words and figures, or the defect's name.
    level: if it is not met, or if it is found.
    known: how the figure is known, in words.
    """

    text: str
    level: LevelName
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class Asked:
    """One question. number: in walking order. measured: what is read off, if anything is."""

    number: int
    title: str
    place: str
    say: str
    measured: str
    limits: tuple[Held, ...]
    defects: tuple[Held, ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A section of the walk with its cautions, in print."""

    title: str
    cautions: tuple[str, ...]
    asked: tuple[Asked, ...]


@dataclass(frozen=True, slots=True)
class Walk:
    """What is asked of a vehicle.

    unit: what was asked for.
    vehicle: the same, or with a trailer behind it.
    trailers: id and name of those that are known, for a tractor.
    """

    unit: Vehicle
    vehicle: Vehicle
    trailers: tuple[tuple[str, str], ...]
    route: str
    title: str
    steps: int
    stretches: tuple[Stretch, ...]


def choices(home: Path) -> tuple[list[Choice], list[str]]:
    """Every vehicle that is known here, and what is wrong with the profiles of others."""
    library = library_of(home)
    profiles = read_profiles(vehicle_files(home))
    found = [Choice(vehicle, tuple(_routes(library, vehicle).items())) for vehicle in profiles.vehicles.values()]
    return found, [str(fault) for fault in profiles.faults]


def walk(home: Path, vehicle: str, route: str | None, length: Length, trailer: str | None = None) -> Walk:
    """trailer: behind a tractor.

    Raises RefusedError for a vehicle or route that is not known, DataError for a mistake in the data, and for a tractor
    and a trailer that cannot be coupled.
    """
    return _walk(home, (vehicle, trailer), route, length, (datetime.now().astimezone().date(), _stamp(home)))


def library_of(home: Path) -> Library:
    """What can be asked, read anew when one of the user's own files was changed. Raises DataError."""
    return _library(home, _stamp(home))


Stamp = tuple[tuple[str, int, int], ...]


def _stamp(home: Path) -> Stamp:
    """Changes with the user's own files; the shipped ones stay as they are while the desk is served."""
    files = (file for name in ("prompts", "limits", "vehicles") for file in sorted((home / name).rglob("*")))
    return tuple((str(file), (kept := file.stat()).st_mtime_ns, kept.st_size) for file in files if file.is_file())


@lru_cache(4)
def _library(home: Path, _: Stamp) -> Library:
    return load_library(home / "prompts")


@lru_cache(64)  # each takes a quarter of a second to work out
def _walk(
    home: Path, wanted: tuple[str, str | None], route: str | None, length: Length, today: tuple[date, Stamp]
) -> Walk:
    library = _library(home, today[1])
    known = {each.id: each for each in read_profiles(vehicle_files(home)).vehicles.values()}
    unit, trailer = (None if id is None else known.get(id) for id in wanted)
    if unit is None or (trailer is None and wanted[1] is not None):
        raise RefusedError(404, "nothing-here")
    vehicle = unit if trailer is None else combine(unit, trailer)
    if (route or not fitting_routes(library, vehicle)) and route not in _routes(library, vehicle):
        raise RefusedError(404, "nothing-here")
    plan = make_plan(library, vehicle, route)
    stretches = tuple(_stretches(library, limits_of(home, today[0]), plan, length))
    trailers = tuple((each.id, each.name) for each in known.values() if each.kind == "trailer")
    behind = trailers if unit.kind == "tractor" else ()
    return Walk(unit, vehicle, behind, plan.route, plan.title, len(plan.steps), stretches)


def _routes(library: Library, vehicle: Vehicle) -> dict[str, str]:
    return {route.id: route.title for route in fitting_routes(library, vehicle)}


def _stretches(library: Library, limits: LimitSet, plan: Plan, length: Length) -> Iterator[Stretch]:
    numbered = list(enumerate(plan.steps, 1))
    for section in plan.sections:
        mine = [(number, step) for number, step in numbered if step.section == section.id]
        asked = tuple(
            Asked(
                number, step.item.title, step.spoken_place, getattr(step.say, length), _measured(step),
                tuple(_limits(limits, plan.vehicle, step)), tuple(_defects(library, limits, plan.vehicle, step)),
            )
            for number, step in mine
        )  # fmt: skip
        if asked:
            yield Stretch(section.title, tuple(library.cautions[id].print for id in section.cautions), asked)


def _quantity(step: Step) -> str:
    answer = step.item.answer
    return str(answer.quantity) if answer.kind in MEASURED else ""  # type: ignore[union-attr]


def _measured(step: Step) -> str:
    quantity = _quantity(step)
    return quantity_name(quantity) if quantity else ""


def _limits(limits: LimitSet, vehicle: Vehicle, step: Step) -> Iterator[Held]:
    """The limits that hold for a reading there, the worst first."""
    subject = Subject(vehicle, step.item.id, step.place)
    found = []
    for limit in limits.of_quantity(_quantity(step)):
        bounds = bounds_of(limits, limit, subject)
        if bounds is not None:
            text = limit_text(limit, bounds, vehicle.display_units)
            found.append(Held(text, limit.level, bounds.source or limit.source.section,
                              _known(bounds.known or limit.source.known)))  # fmt: skip
    yield from dict.fromkeys(found)


def _defects(library: Library, limits: LimitSet, vehicle: Vehicle, step: Step) -> Iterator[Held]:
    """What can be reported of it, and what each means."""
    subject = Subject(vehicle, step.item.id, step.place)
    for id in step.item.defects:
        try:
            found = judge_defect(limits, subject, id, part=step.item.part)
        except DataError:
            continue
        title = library.defects[id].title if id in library.defects else id
        yield Held(title, found.level.word, found.source, _known(found.known))


def _known(known: Known) -> str:
    return str(words("report")["sources"]["levels"][known])
