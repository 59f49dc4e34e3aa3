"""The limit a series of readings runs towards, from the limits in force (voice.judge)."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from voice.errors import DataError
from voice.judge.facts import facts
from voice.judge.limit import Limit, LimitSet
from voice.judge.model import Subject
from voice.judge.reading import bounds_of
from voice.measure import Measure, fits
from voice.measure.level import Level, level_of
from voice.measure.telling import printed, spoken
from voice.route.model import Place
from voice.route.vehicle import Vehicle


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit as one number in the series' unit.

    falling: it is a least value, reached from above.
    limit: its id.
    """

    value: float
    falling: bool
    printed: str
    spoken: str
    source: str
    limit: str = ""


def limits_for(
    limits: LimitSet, quantity: str, place: Place, vehicle: Vehicle, unit: str, item: str = ""
) -> tuple[Bound, ...]:
    """The least and the greatest value that stand against leaving, whichever exist: at most one of each.

    Where several limits apply the first to be reached counts. Advisory figures count only where there is nothing
    stricter; conditions are left out.
    """
    if place.axle is not None and place.axle > len(vehicle.axles):
        return ()
    subject = Subject(vehicle, item, place)
    return _bounds(limits, quantity, subject, unit, Level.REPAIR) or _bounds(
        limits, quantity, subject, unit, Level.WATCH
    )


def _bounds(limits: LimitSet, quantity: str, subject: Subject, unit: str, least: Level) -> tuple[Bound, ...]:
    low: tuple[Fraction, Limit] | None = None
    high: tuple[Fraction, Limit] | None = None
    known = facts(subject)
    for limit in limits.of_quantity(quantity):
        if level_of(limit.level) < least or not fits(unit, limit.unit):
            continue
        try:
            bounds = bounds_of(limits, limit, subject, known)
        except DataError:
            continue
        if bounds is None:
            continue
        factor = Measure(Fraction(1), bounds.unit).to(unit).value
        if bounds.low is not None and (low is None or bounds.low * factor > low[0]):
            low = (bounds.low * factor, limit)
        if bounds.high is not None and (high is None or bounds.high * factor < high[0]):
            high = (bounds.high * factor, limit)
    found = []
    for value, falling in ((low, True), (high, False)):
        if value is not None:
            measure, system = Measure(value[0], unit), subject.vehicle.display_units
            texts = tuple(tell(measure, quantity=quantity, system=system) for tell in (printed, spoken))
            limit = value[1]
            found.append(Bound(float(value[0]), falling, texts[0], texts[1], limit.source.section, limit.id))
    return tuple(found)


def limit_for(
    limits: LimitSet, quantity: str, place: Place, vehicle: Vehicle, unit: str, slope: float = -1.0
) -> Bound | None:
    """The limit a value that changes with this slope runs towards; if it has none on that side, the other one."""
    found = limits_for(limits, quantity, place, vehicle, unit)
    return next((bound for bound in found if bound.falling == (slope < 0)), found[0] if found else None)
