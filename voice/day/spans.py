"""From one look at the cargo to the next: what ended each span, whether that was in time, and what is due now. Pure.

The rule (49 CFR 392.9(b)) asks for a look within the first 50 miles of a trip, and then at each change of duty status,
after 3 hours of driving or after 150 miles, whichever comes first. Three readings of it are ours:
- One look at a stop answers for the changes of duty on both sides of it, as long as nobody drove in between.
- Before the first look on the road the hours and the changes of duty count too.
- What is due is told by the clock, since the hours of driving are known only as far as somebody noted them. So it comes
  early rather than late. Whether a look was late is judged by the noted hours alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

from voice.day.rules import DayRules, Status

Verdict = Literal["met", "late", "missed", "not-shown", "not-due", "sealed", "open"]
_SLACK = 1e-6  # of a mile: kilometers do not come out even


@dataclass(frozen=True, slots=True)
class Inspection:
    """What the day needs of a signed inspection.

    kind: id; None in a record of before there were kinds.
    at: when it was signed.
    units: ids.
    miles: the odometer, if it was given.
    carries: whether the vehicle can carry cargo.
    looked: whether the cargo was looked at.
    sealed: whether the load was said to be sealed.
    """

    id: str
    kind: str | None
    at: datetime
    driver: str = ""
    units: tuple[str, ...] = ()
    miles: float | None = None
    carries: bool = True
    looked: bool = True
    sealed: bool = False


@dataclass(frozen=True, slots=True)
class Duty:
    """A change of a driver's duty status.

    miles: the odometer, if it was given.
    """

    at: datetime
    driver: str
    status: Status
    miles: float | None = None


@dataclass(frozen=True, slots=True)
class Now:
    """miles: the odometer, if it was given."""

    at: datetime
    miles: float | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """From a look at the cargo to the next, or to the end of the trip.

    since: the look that it begins with.
    first: whether it begins the trip.
    sealed: whether no look is asked for.
    change: the first change of duty that asks for a look.
    driven_on: when driving went on after that change without one.
    driven: hours that were noted as driven; None if no status was noted.
    known: the last odometer reading in it, and when.
    look: what looked at the cargo next.
    end: what ended the trip without a look.
    """

    since: Inspection
    first: bool
    sealed: bool = False
    change: Duty | None = None
    driven_on: datetime | None = None
    driven: float | None = None
    known: tuple[datetime, float] | None = None
    look: Inspection | None = None
    end: Inspection | None = None

    def miles_allowed(self, rules: DayRules) -> float:
        return rules.first.miles if self.first else rules.later.miles

    def by_time(self, rules: DayRules) -> datetime:
        """The time by which a look is due, by the clock."""
        hours = self.since.at + timedelta(hours=rules.later.hours)
        return hours if self.change is None else min(hours, self.change.at)

    def by_mile(self, rules: DayRules) -> float | None:
        """The odometer reading by which a look is due; None if that at the beginning is not known."""
        return None if self.since.miles is None else self.since.miles + self.miles_allowed(rules)

    def verdict(self, rules: DayRules) -> Verdict:
        """Whether the span ended in time."""
        last = self.look or self.end
        if self.sealed:
            return "sealed"
        if last is None:
            return "open"
        beyond = self._beyond(rules, last)
        if self.look is None:
            return "missed" if beyond else "not-due"
        if beyond:
            return "late"
        return "met" if beyond is False else "not-shown"

    def _beyond(self, rules: DayRules, last: Inspection) -> bool | None:
        """Whether it went on for too long; None if that cannot be told."""
        hours = (last.at - self.since.at) / timedelta(hours=1)
        allowed = self.miles_allowed(rules) + _SLACK
        begun, read = (
            self.since.miles,
            [each for each in (last.miles, self.known and self.known[1]) if each is not None],
        )
        too_far = begun is not None and any(each - begun > allowed for each in read)
        if self.driven_on is not None or (self.driven or 0) > rules.later.hours or too_far:
            return True
        in_time = hours <= rules.later.hours or self.driven is not None
        in_miles = None not in (begun, last.miles) or hours * rules.fastest <= allowed
        return False if in_time and in_miles else None


@dataclass(frozen=True, slots=True)
class Due:
    """The next look at the cargo.

    span: the one it ends.
    at: by when, by the clock; a change of duty makes it due at once.
    mile: by which odometer reading, if known.
    ask: from when on the miles may have been driven, however fast; the odometer is asked for then.
    """

    span: Span
    at: datetime
    mile: float | None
    ask: datetime

    def is_due(self, now: Now) -> bool:
        if now.at >= self.at:
            return True
        return None not in (self.mile, now.miles) and (now.miles or 0) >= (self.mile or 0)


def spans(inspections: Iterable[Inspection], changes: Iterable[Duty], rules: DayRules) -> tuple[Span, ...]:
    """The spans of one driver or vehicle. The order of what is given does not matter."""
    happened: list[Inspection | Duty] = [*changes, *inspections]
    # At the same moment a change of duty counts first, so that a look of then answers for it.
    happened.sort(key=lambda each: (each.at, isinstance(each, Inspection), _name(each)))
    fold = _Fold(rules)
    for each in happened:
        if isinstance(each, Duty):
            fold.change(each)
        else:
            fold.inspect(each)
    return (*fold.done, *([fold.span] if fold.span is not None else []))


def _name(each: Inspection | Duty) -> str:
    return each.id if isinstance(each, Inspection) else f"{each.driver} {each.status} {each.miles}"


class _Fold:
    """done: spans that have ended.
    span: the one that goes on.
    status: the last that was noted, and since when.
    """

    def __init__(self, rules: DayRules) -> None:
        self.rules = rules
        self.done: list[Span] = []
        self.span: Span | None = None
        self.status: Duty | None = None
        self._looked = False  # since driving stopped

    def inspect(self, inspection: Inspection) -> None:
        role = self.rules.role(inspection.kind)
        if role == "nothing":
            return
        self._drive(inspection.at)
        before, self.span = self.span, None
        if role == "looks":
            if not inspection.looked or not inspection.carries:
                self.span = before
                return
            if before is not None:
                self.done.append(replace(before, look=inspection))
            sealed = inspection.sealed or (before is not None and before.sealed)
            self._begin(inspection, first=False, sealed=sealed)
            return
        if before is not None:
            looked = role == "begins" and inspection.looked
            self.done.append(replace(before, look=inspection) if looked else replace(before, end=inspection))
        if role == "begins" and inspection.carries:
            self._begin(inspection, first=True, sealed=inspection.sealed)

    def _begin(self, since: Inspection, *, first: bool, sealed: bool) -> None:
        self.span = Span(since, first, sealed, driven=None if self.status is None else 0.0)
        self._looked = True
        if self.status is not None:
            self.status = replace(self.status, at=since.at)

    def change(self, duty: Duty) -> None:
        """A change of duty; the same status again is none, but its odometer reading counts."""
        self._drive(duty.at)
        span, before = self.span, self.status
        self.status = duty
        if span is None:
            return
        if duty.miles is not None:
            span = replace(span, known=(duty.at, duty.miles))
        if before is None or before.status != duty.status:
            if duty.status != "driving" and (before is None or before.status == "driving"):
                self._looked = False
            if not self._looked and span.change is None:
                span = replace(span, change=duty)
            elif duty.status == "driving" and span.change is not None and span.driven_on is None:
                span = replace(span, driven_on=duty.at)
        self.span = replace(span, driven=span.driven or 0.0)

    def _drive(self, until: datetime) -> None:
        """Counts the hours since the last status was noted."""
        if self.status is None:
            return
        if self.span is not None and self.status.status == "driving":
            hours = (until - self.status.at) / timedelta(hours=1)
            self.span = replace(self.span, driven=(self.span.driven or 0.0) + max(hours, 0.0))
        self.status = replace(self.status, at=until)


def due(found: Sequence[Span], now: Now, rules: DayRules) -> Due | None:
    """The next look that is due; None where no trip goes on, or the load is sealed."""
    if not found or found[-1].look is not None or found[-1].end is not None or found[-1].sealed:
        return None
    span = found[-1]
    mile = span.by_mile(rules)
    read = [span.known, None if span.since.miles is None else (span.since.at, span.since.miles)]
    if now.miles is not None:
        read.insert(0, (now.at, now.miles))
    if mile is None:
        at, left = span.since.at, span.miles_allowed(rules)
    else:
        at, reading = next(each for each in read if each is not None)
        left = max(mile - reading, 0.0)
    return Due(span, span.by_time(rules), mile, at + timedelta(hours=left / rules.fastest))
