"""What is told of the next look at the cargo: sentences for the screen and the ear."""

from __future__ import annotations

from collections.abc import Sequence

from voice.day.model import DayRecord
from voice.day.rules import DayRules
from voice.day.spans import Due, Now, Span, due
from voice.judge.citation import spoken_source
from voice.measure.cardinal import cardinal
from voice.measure.telling import mile


def told(found: Sequence[Span], now: Now, rules: DayRules) -> tuple[str, ...]:
    """What is due, and why by which rule; or by when it will be."""
    words = rules.told
    next_look = due(found, now, rules)
    if next_look is None:
        if found and found[-1].sealed and found[-1].look is None and found[-1].end is None:
            return (words.exempt.format(source=spoken_source(rules.exempt.source.section)),)
        return (words.none,)
    if next_look.is_due(now):
        return (words.due, *reasons(next_look, now, rules))
    if next_look.mile is None and now.at >= next_look.ask:
        return (soon(next_look, rules), ask(next_look, rules))
    return (soon(next_look, rules),)


def to_report(record: DayRecord, rules: DayRules) -> tuple[str, ...]:
    """The units that were driven and of which no report was made since."""
    left: dict[str, None] = {}
    for each in record.inspections:
        if each.kind in rules.report.kinds:
            for unit in each.units:
                left.pop(unit, None)
        elif rules.role(each.kind) in ("begins", "looks"):
            left.update(dict.fromkeys(each.units))
    names = [unit.name for unit in record.units if unit.id in left]
    source = spoken_source(rules.report.source.section)
    return (rules.told.report.format(units=", ".join(names), source=source),) if names else ()


def reasons(next_look: Due, now: Now, rules: DayRules) -> tuple[str, ...]:
    """Why it is due: each bound that has been reached, with its rule."""
    words, span = rules.told, next_look.span
    miles = rules.first if span.first else rules.later
    found = []
    if span.change is not None:
        status = rules.duty[span.change.status]
        found.append(words.change.format(status=status, source=spoken_source(rules.change.source.section)))
    elapsed = (now.at - span.since.at).total_seconds() / 3600
    if elapsed >= rules.later.hours:
        source = spoken_source(rules.later.source.section)
        found.append(words.hours.format(hours=cardinal(round(rules.later.hours)), source=source))
    if next_look.mile is not None and now.miles is not None and now.miles >= next_look.mile:
        source = spoken_source(miles.source.section)
        found.append(words.miles.format(miles=cardinal(round(miles.miles)), source=source))
    return tuple(map(_sentence, found))


def soon(next_look: Due, rules: DayRules) -> str:
    words = rules.told
    time = words.by_time.format(time=f"{next_look.at:%H:%M}")
    if next_look.mile is None:
        place = words.by_miles.format(miles=cardinal(round(next_look.span.miles_allowed(rules))))
    else:
        place = words.by_mile.format(mile=mile(next_look.mile))
    return words.soon.format(when=f"{place}{words.or_}{time}")


def ask(next_look: Due, rules: DayRules) -> str:
    """That the miles may have been driven, and the odometer decides."""
    miles = rules.first if next_look.span.first else rules.later
    source = spoken_source(miles.source.section)
    return _sentence(rules.told.odometer.format(miles=cardinal(round(miles.miles)), source=source))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
