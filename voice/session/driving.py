"""Who drives, and what the odometer reads: asked aloud where no option says it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from typing import Literal

from voice.errors import GladhandError, tell
from voice.hear.port import Hearing
from voice.measure import Measure
from voice.measure.cardinal import cardinal, digits
from voice.measure.counter import counted, in_halves
from voice.measure.telling import spoken
from voice.record.entry import odometer_record
from voice.record.past import Past, miles_of, past_records
from voice.route.files import InspectionKind
from voice.route.units import units_of
from voice.route.vehicle import Vehicle
from voice.session.asking import Asker
from voice.session.resources import Resources
from voice.understand.lexicon import plain_name
from voice.understand.meaning import Chosen, Command, No, Number, Signed
from voice.understand.question import Phrase
from voice.walk.drivingtalk import DrivingTalk

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


# --- the odometer -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Last:
    """What the odometer read at the vehicle's last inspection that has it, in miles."""

    miles: float
    at: datetime


def odometer(
    resources: Resources, asker: Asker, vehicle: Vehicle, kind: InspectionKind | None, given: str | None
) -> str | None:
    """The reading as it goes into the journal ("412345", "663000 km"); None if it is not known or not wanted.

    given: as an option has it; it is asked about only if it cannot well be.
    """
    last = _last(resources, vehicle)
    if given is not None:
        return _given(resources, asker, vehicle, last, given)
    wanted = last is not None or (kind is not None and kind.odometer)
    return _ask(resources, asker, vehicle, last) if wanted and asker.can_ask("odometer") else None


def _last(resources: Resources, vehicle: Vehicle) -> _Last | None:
    try:
        pasts: list[Past] = list(past_records(resources.home, units_of(vehicle)[0].id))
    except GladhandError as error:
        resources.tell_once(error)
        return None
    return next((_Last(past.miles, past.at) for past in reversed(pasts) if past.miles is not None), None)


def _given(resources: Resources, asker: Asker, vehicle: Vehicle, last: _Last | None, given: str) -> str | None:
    read = odometer_record(given)
    if read is None:
        return given  # refused before
    unit: Unit = "km" if read.unit == "km" else "mi"
    doubt = _doubt(resources.driving, last, miles_of(read), unit)
    if doubt is not None:
        if not asker.can_ask("odometer:sure"):
            tell(doubt)
        elif not asker.yes("odometer:sure", doubt):
            return _ask(resources, asker, vehicle, last)
    return given


def _ask(resources: Resources, asker: Asker, vehicle: Vehicle, last: _Last | None) -> str | None:
    talk = resources.driving
    usual: Unit = "km" if vehicle.display_units == "si" else "mi"
    phrases = [*(Phrase(text, No()) for text in talk.unknown), *_expected(talk, last, usual)]
    denied: set[tuple[int, Unit]] = set()
    prompt = talk.odometer
    for _ in range(MOST_TRIES):
        hearing = asker.once("odometer", prompt, phrases)
        if hearing.outcome == "heard" and isinstance(hearing.meaning, No | Command):
            break
        prompt = talk.odometer_again
        read = next((each for each in _candidates(hearing, talk, usual) if each not in denied), None)
        if read is None:
            continue
        number, unit = read
        if not asker.yes("odometer:right", talk.odometer_right.format(value=_told(number, unit))):
            denied.add(read)
            continue
        text = f"{number} km" if unit == "km" else str(number)
        record = odometer_record(text)
        doubt = None if record is None else _doubt(talk, last, miles_of(record), unit)
        if doubt is None or asker.yes("odometer:sure", doubt):
            return text
    asker.tell(talk.odometer_left_out)
    return None


def _expected(talk: DrivingTalk, last: _Last | None, unit: Unit) -> list[Phrase]:
    """The numbers that an odometer can well read now, each in the ways it is said."""
    if last is None:
        return []
    scale = _KM_A_MILE if unit == "km" else 1.0
    first = math.floor(last.miles * scale)
    numbers = range(first, first + round(talk.listened_for * scale) + 1) if talk.listened_for else ()
    said = {text: number for number in numbers for text in (in_halves(number), digits(number), cardinal(number))}
    return [Phrase(text, Number(Measure(Fraction(number), unit))) for text, number in said.items()]


def _candidates(hearing: Hearing, talk: DrivingTalk, usual: Unit) -> Iterator[tuple[int, Unit]]:
    """What it may have been, likeliest first: a number that was listened for, then what was written down, then what
    sounded most like it. Each is read back."""
    if isinstance(hearing.meaning, Number):
        yield int(hearing.meaning.value.value), usual
    if (read := read_odometer(hearing.words, talk, usual)) is not None:
        yield read
    for phrase in hearing.alternatives:
        if isinstance(phrase.meaning, Number):
            yield int(phrase.meaning.value.value), usual


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


def _doubt(talk: DrivingTalk, last: _Last | None, miles: float, unit: Unit) -> str | None:
    """What is odd about a reading: less than the last time, or more than can be driven since. In the driver's unit."""
    if last is None:
        return None
    scale = _KM_A_MILE if unit == "km" else 1.0
    if miles < last.miles:
        told = {"value": _told(miles * scale, unit), "last": _told(last.miles * scale, unit)}
        return talk.odometer_back.format(**told)
    days = max(1, math.ceil((datetime.now(UTC) - last.at).total_seconds() / 86_400))
    more = miles - last.miles
    if more <= talk.most_miles_a_day * days:
        return None
    return talk.odometer_jump.format(value=_told(miles * scale, unit), more=_told(more * scale, unit))
