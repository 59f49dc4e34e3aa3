"""Who drives, and what the odometers read: asked aloud where no option says it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from typing import Literal

from voice.errors import GladhandError, SetupError, tell
from voice.hear.port import Hearing
from voice.measure import Measure
from voice.measure.cardinal import cardinal, digits
from voice.measure.counter import counted, in_halves
from voice.measure.telling import spoken
from voice.record.entry import odometer_record
from voice.record.past import Past, miles_of, past_records
from voice.route.files import InspectionKind
from voice.route.units import trailer_of, units_of
from voice.route.vehicle import Vehicle
from voice.session.asking import Asker
from voice.session.resources import Resources
from voice.understand.lexicon import plain_name
from voice.understand.meaning import Chosen, Command, No, Number, Signed
from voice.understand.question import Phrase
from voice.walk.drivingtalk import DrivingTalk, OdometerTalk

MOST_TRIES = 5  # silence, numbers that were none, or not the right one; then it is left out
_ELSE = Chosen("somebody-else")

Unit = Literal["mi", "km"]
_KM_A_MILE = 1.609344  # the international mile


# --- who drives ---------------------------------------------------------------------------------------------------


def ask_driver(resources: Resources, asker: Asker, drivers: Sequence[str]) -> str | None:
    """The driver's name; None if it is said at the sign-off.

    drivers: those of drivers.yaml. A single one needs no question: the name is read back at the sign-off.
    """
    if len(drivers) < 2:
        return drivers[0] if drivers else None
    if not asker.can_ask("driver"):
        return None
    talk = resources.driving
    names = ", ".join(drivers)
    phrases = [
        *(Phrase(text, Signed(name)) for name in drivers for text in _called(name, drivers)),
        *(Phrase(text, _ELSE) for text in talk.somebody_else),
    ]
    said = asker.ask("driver", talk.driver.format(names=names), phrases, talk.driver_again.format(names=names))
    if isinstance(said, Signed) and said.name is not None:
        asker.tell(talk.driver_is.format(name=said.name))
        return said.name
    asker.tell(talk.driver_later)
    return None


def _called(name: str, drivers: Sequence[str]) -> list[str]:
    """The whole name, and each word of it that no other driver's name has."""
    others = {word for other in drivers if other != name for word in plain_name(other).split()}
    whole = plain_name(name)
    return list(dict.fromkeys((whole, *(word for word in whole.split() if word not in others and len(word) > 1))))


def driver_of(given: str, drivers: Sequence[str]) -> str:
    """The driver of drivers.yaml whose name is given, or a part of it that only one has. Raises SetupError.

    drivers: those of drivers.yaml; where there are none, the name is taken as it is given.
    """
    words = set(plain_name(given).split())
    whole = [name for name in drivers if plain_name(name) == plain_name(given)]
    part = whole or [name for name in drivers if words and words <= set(plain_name(name).split())]
    found = list(dict.fromkeys(part))
    if not drivers:
        return given
    if not found:
        raise SetupError(f'"{given}" is not in drivers.yaml.', "Add the name to it, or give one that is there.")
    if len(found) > 1:
        raise SetupError(f'"{given}" may be {" or ".join(found)}.', "Give the whole name.")
    return found[0]


# --- the odometers --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Last:
    """What an odometer read at its unit's last inspection that has it, in miles."""

    miles: float
    at: datetime


@dataclass(frozen=True, slots=True)
class _Odometer:
    """One that can be asked for.

    topic: of its questions, for a script.
    name: of its unit.
    talk, said: the sentences, and its own among them.
    usual: the unit of a number that is said without one.
    """

    topic: str
    name: str
    talk: DrivingTalk
    said: OdometerTalk
    usual: Unit
    last: _Last | None


def odometer(
    resources: Resources, asker: Asker, vehicle: Vehicle, kind: InspectionKind | None, given: str | None
) -> str | None:
    """The reading as it goes into the journal ("412345", "663000 km"); None if it is not known or not wanted.

    given: as an option has it; it is asked about only if it cannot well be.
    """
    talk, lead = resources.driving, units_of(vehicle)[0]
    of = _Odometer("odometer", lead.name, talk, talk.odometer, _usual(vehicle), _last(resources, lead.id))
    wanted = lead.unit != "trailer" and (of.last is not None or (kind is not None and kind.odometer))
    return _reading(asker, of, given, wanted)


def hubodometer(resources: Resources, asker: Asker, vehicle: Vehicle, given: str | None) -> str | None:
    """As `odometer`, of the trailer; asked for where its profile says that it has one. None without a trailer."""
    unit, talk = trailer_of(vehicle), resources.driving
    if unit is None:
        return None
    of = _Odometer("hubodometer", unit.name, talk, talk.hubodometer, _usual(vehicle), _last(resources, unit.id))
    return _reading(asker, of, given, vehicle.trailer is not None and vehicle.trailer.hubodometer)


def _usual(vehicle: Vehicle) -> Unit:
    return "km" if vehicle.display_units == "si" else "mi"


def _last(resources: Resources, unit: str) -> _Last | None:
    try:
        pasts: list[Past] = list(past_records(resources.home, unit))
    except GladhandError as error:
        resources.tell_once(error)
        return None
    own = (_Last(past.miles, past.at) for past in reversed(pasts) if past.miles is not None and not past.lead)
    return next(own, None)


def _reading(asker: Asker, of: _Odometer, given: str | None, wanted: bool) -> str | None:
    if given is None:
        return _ask(asker, of) if wanted and asker.can_ask(of.topic) else None
    read = odometer_record(given)
    if read is None:
        return given  # refused before
    doubt = _doubt(of, miles_of(read), "km" if read.unit == "km" else "mi")
    if doubt is not None:
        if not asker.can_ask(f"{of.topic}:sure"):
            tell(doubt)
        elif not asker.yes(f"{of.topic}:sure", doubt):
            return _ask(asker, of)
    return given


def _ask(asker: Asker, of: _Odometer) -> str | None:
    phrases = [*(Phrase(text, No()) for text in of.talk.unknown), *_expected(of)]
    denied: set[tuple[int, Unit]] = set()
    prompt = of.said.ask.format(name=of.name)
    for _ in range(MOST_TRIES):
        hearing = asker.once(of.topic, prompt, phrases)
        if hearing.outcome == "heard" and isinstance(hearing.meaning, No | Command):
            break
        prompt = of.said.again.format(name=of.name)
        read = next((each for each in _candidates(hearing, of) if each not in denied), None)
        if read is None:
            continue
        number, unit = read
        if not asker.yes(f"{of.topic}:right", of.said.right.format(value=_told(number, unit), name=of.name)):
            denied.add(read)
            continue
        text = f"{number} km" if unit == "km" else str(number)
        record = odometer_record(text)
        doubt = None if record is None else _doubt(of, miles_of(record), unit)
        if doubt is None or asker.yes(f"{of.topic}:sure", doubt):
            return text
    asker.tell(of.said.left_out.format(name=of.name))
    return None


def _expected(of: _Odometer) -> list[Phrase]:
    """The numbers that it can well read now, each in the ways it is said."""
    if of.last is None:
        return []
    scale = _KM_A_MILE if of.usual == "km" else 1.0
    first = math.floor(of.last.miles * scale)
    numbers = range(first, first + round(of.talk.listened_for * scale) + 1) if of.talk.listened_for else ()
    said = {text: number for number in numbers for text in (in_halves(number), digits(number), cardinal(number))}
    return [Phrase(text, Number(Measure(Fraction(number), of.usual))) for text, number in said.items()]


def _candidates(hearing: Hearing, of: _Odometer) -> Iterator[tuple[int, Unit]]:
    """What it may have been, likeliest first: a number that was listened for, then what was written down, then what
    sounded most like it. Each is read back."""
    if isinstance(hearing.meaning, Number):
        yield int(hearing.meaning.value.value), of.usual
    if (read := read_odometer(hearing.words, of.talk, of.usual)) is not None:
        yield read
    for phrase in hearing.alternatives:
        if isinstance(phrase.meaning, Number):
            yield int(phrase.meaning.value.value), of.usual


def read_odometer(text: str, talk: DrivingTalk, unit: Unit) -> tuple[int, Unit] | None:
    """The number and its unit in what was said; None if it is no number."""
    words = " ".join("".join(c if c.isalnum() or c in "',-" else " " for c in text.lower()).replace(", ", " ").split())
    for lead in sorted(talk.before, key=len, reverse=True):
        while words.startswith(f"{lead} "):
            words = words.removeprefix(f"{lead} ")
    for name, endings in talk.units.items():
        for ending in endings:
            if words.endswith(f" {ending}"):
                words, unit = words.removesuffix(f" {ending}"), name
    number = counted(" ".join(talk.sounds.get(word, word) for word in words.replace("-", " ").split()))
    return None if not number else (number, unit)


def _told(number: float, unit: Unit) -> str:
    return spoken(Measure(Fraction(round(number)), unit))


def _doubt(of: _Odometer, miles: float, unit: Unit) -> str | None:
    """What is odd about a reading: less than the last time, or more than can be driven since. In the driver's unit."""
    last = of.last
    if last is None:
        return None
    scale = _KM_A_MILE if unit == "km" else 1.0
    if miles < last.miles:
        told = {"value": _told(miles * scale, unit), "last": _told(last.miles * scale, unit)}
        return of.said.back.format(**told, name=of.name)
    days = max(1, math.ceil((datetime.now(UTC) - last.at).total_seconds() / 86_400))
    more = miles - last.miles
    if more <= of.talk.most_miles_a_day * days:
        return None
    return of.said.jump.format(value=_told(miles * scale, unit), more=_told(more * scale, unit), name=of.name)
