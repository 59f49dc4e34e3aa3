"""One entry of the limits seen from outside: who uses it, what it says at, beside and within its figure, its test."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from voice.author.audit_item import quantities
from voice.judge import Subject, judge_defect, judge_reading
from voice.judge.facts import facts
from voice.judge.limit import Criterion, Limit, LimitSet, Rule
from voice.judge.load import SHIPPED
from voice.judge.reading import bounds_of
from voice.judge.wording import level_words
from voice.measure import Measure
from voice.measure.book import unit_book
from voice.measure.telling import printed
from voice.route.library import OTHER, Library
from voice.route.model import Item, Part, Place
from voice.route.vehicle import Axle, Steering, Vehicle
from voice.route.visit import visits

TEST = "tests/judge/test_sources.py"  # has a case for every shipped entry, named by its id


def users(library: Library, rule: Limit | Criterion) -> tuple[str, ...]:
    """Ids of the items that the entry is for, in order."""
    if isinstance(rule, Limit):
        return tuple(item.id for item in library.items.values() if rule.quantity in set(quantities(item)))
    return tuple(item.id for item in library.items.values() if _meant(rule, item))


def _meant(rule: Criterion, item: Item) -> bool:
    named = item.id in rule.items if rule.items else not rule.parts or item.part in rule.parts
    return named and (not rule.defects or bool(set(rule.defects) & set(item.defects)))


def where_tested(rule: Rule) -> str:
    """Where the entry is tested, from the program's source; empty for one of a file of the user's own."""
    return f'{TEST} -k "{rule.id}"' if rule.file == SHIPPED else ""


def examples(limits: LimitSet, library: Library, rule: Limit | Criterion, vehicles: Iterable[Vehicle]) -> Iterator[str]:
    """The verdict at the figure, a step to each side of it and well within it, or on the defect; on the first vehicle
    that it applies to.

    Vehicles that have the part are tried first: a bus has no fifth wheel.
    """
    known = sorted(vehicles, key=lambda vehicle: not _asked(library, users(library, rule), vehicle))
    for subject in _subjects(known):
        if not rule.holds(facts(subject)):
            continue
        where = subject.vehicle.name + (f", axle {subject.place.axle}" if subject.place.axle else "")
        if isinstance(rule, Criterion):
            yield f"{where}: {_defect(limits, library, rule, subject)}"
            return
        bounds = bounds_of(limits, rule, subject)
        if bounds is not None:
            step = _step(library, rule)
            # So many steps on the good side of the figure, it is not even watched.
            well = int((limits.near_of(rule) or Fraction(0)) / step) + 1
            for figure, good in ((bounds.low, well), (bounds.high, -well)):
                if figure is not None:
                    told = (_reading(limits, rule, subject, figure + n * step) for n in sorted({-1, 0, 1, good}))
                    yield f"{where}: {'; '.join(text for text in told if text)}"
            return


def _asked(library: Library, names: Iterable[str], vehicle: Vehicle) -> bool:
    """Whether a route that fits the vehicle names one of the items."""
    routes = [route for route in library.routes.values() if vehicle.kind in route.fits]
    return not {visit.entry.item for route in routes for visit in visits(library, route)}.isdisjoint(names)


def _subjects(vehicles: Iterable[Vehicle]) -> Iterator[Subject]:
    """Each place of each vehicle; then of vehicles made from them that are built otherwise."""
    known = tuple(vehicles)
    for vehicle in (*known, *(other for each in known for other in _otherwise(each))):
        for number in (None, *range(1, len(vehicle.axles) + 1)):
            yield Subject(vehicle, "", Place(axle=number, side=None if number is None else "left"))


def _otherwise(vehicle: Vehicle) -> Iterator[Vehicle]:
    """The vehicle with one thing changed that limits depend on."""
    whole: list[dict[str, object]] = [
        {"steering": Steering(power=False, wheel_in=vehicle.steering.wheel_in)},
        {"air_system": "single"},
        {"towed_units": 2},
        {"placarded": True},
        {"abs_built": None},
    ]
    if vehicle.trailer is not None:
        whole += [{"trailer": vehicle.trailer.model_copy(update={"built": built})} for built in (1990, 1950)]
    for kind in ("air-drum", "air-disc", "hydraulic-drum"):
        whole.append({"axles": _axles(vehicle, {"kind": kind}, {})})
    whole.append({"axles": _axles(vehicle, {"lining": "two-pad"}, {"studs": 8})})
    yield from (vehicle.model_copy(update=update) for update in whole)


def _axles(vehicle: Vehicle, brake: dict[str, object], axle: dict[str, object]) -> tuple[Axle, ...]:
    return tuple(
        each.model_copy(update={"brake": each.brake.model_copy(update=brake), **axle}) for each in vehicle.axles
    )


def _step(library: Library, limit: Limit) -> Fraction:
    """How finely the quantity is read: as the items ask for it, else as it is printed."""
    for item in library.items.values():
        for answer in (item.answer, *(follow.answer for follow in item.follow_ups)):
            if getattr(answer, "quantity", None) == limit.quantity and getattr(answer, "unit", None) == limit.unit:
                return Fraction(getattr(answer, "step", 1))
    known = unit_book().quantities[limit.quantity]
    return Fraction(1, known.denominator or 1) if known.unit == limit.unit else Fraction(1)


def _reading(limits: LimitSet, limit: Limit, subject: Subject, value: Fraction) -> str:
    """What this entry alone says of a reading; empty for a reading that cannot be."""
    if value < 0:
        return ""
    measure = Measure(value, limit.unit)
    found = judge_reading(limits, subject, limit.quantity, measure)
    level = next(finding.level for finding in found if finding.limit == limit.id)
    shown = printed(measure, quantity=limit.quantity, system=subject.vehicle.display_units)
    return f"{shown}: {level_words(level)}"


def _defect(limits: LimitSet, library: Library, rule: Criterion, subject: Subject) -> str:
    item = next(iter(users(library, rule)), next(iter(rule.items), ""))
    of_item = library.items[item].defects if item in library.items else ()
    both = [each for each in of_item if not rule.defects or each in rule.defects]
    defect = next(iter((*both, *rule.defects)), OTHER)
    part: Part = library.items[item].part if item in library.items else next(iter(rule.parts), "other")
    details = {name: options[0] for name, options in rule.details.items()}
    at = Subject(subject.vehicle, item, subject.place)
    found = judge_defect(limits, at, defect, part=part, details=details)
    decides = "" if found.limit == rule.id else f" (there {found.limit} decides)"
    return f"{item or 'an item'}, {defect}: {level_words(found.level)}{decides}"
