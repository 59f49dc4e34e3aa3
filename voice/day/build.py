"""From the day's records to the record of the day. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from datetime import date, datetime

from voice.day.duty import line_of
from voice.day.facts import (
    Asked,
    Known,
    duties_of,
    ended,
    kind,
    local_day,
    miles,
    spans_of,
    unit_names,
    units,
)
from voice.day.model import AgainstKind, DayAgainst, DayCarried, DayCheck, DayDefect, DayInspection, DayRecord, DayUnit
from voice.day.rules import DayRules
from voice.day.spans import Span
from voice.measure.level import Level, level_of, worst
from voice.record.by_unit import shares
from voice.record.model import Certification, InspectionRecord
from voice.record.open_defects import certified_of
from voice.record.past import pasts_of
from voice.record.repairs import Repair
from voice.record.review import SECTION as REVIEW
from voice.record.seal import content_sha256
from voice.route.called import both_words


def build_day(known: Known, meant: Asked, day: date, made: datetime, rules: DayRules) -> DayRecord:
    """The sealed record of a day; not signed by the device.

    meant: whose day.
    known: of this day and those beside it.
    """
    records = [
        record
        for record in known.records
        if meant.lists(record, known.seconds.get(record.id, ())) and local_day(record.started) == day
    ]
    signers = [(r.driver or "", *known.seconds.get(r.id, ())) for r in records]
    drivers = tuple(dict.fromkeys(name for names in signers for name in names))
    names = {each: name for record in records for each, name in unit_names(record)}
    inspections = tuple(_inspection(record, known.seconds.get(record.id, ())) for record in records)
    driving = [meant.driver] if meant.alone and meant.driver is not None else drivers
    duties = [duty for duty in duties_of(known.duties, driving) if local_day(duty.at) == day]
    text = "\n".join([str(day), *(each.record_sha256 for each in inspections), *(repr(duty) for duty in duties)])
    lead = records[-1].vehicle.id if records else "none"
    made_of = hashlib.sha256(text.encode()).hexdigest()[:4]
    record = DayRecord(
        id=f"{day:%Y%m%d}-day-{lead[:60]}-{made_of}",
        program=records[-1].program if records else "",
        date=day,
        made=made,
        driver=meant.driver,
        of_units=(() if meant.alone and not meant.both else meant.units) or (),
        drivers=drivers,
        units=tuple(DayUnit(id=each, name=name) for each, name in names.items()),
        inspections=inspections,
        checks=tuple(_check(span, rules) for span in spans_of_day(known, meant, day, rules)),
        duties=tuple(map(line_of, duties)),
        defects=_defects(records, known.repairs),
        carried=tuple(each for record in records for each in _carried(record)),
    )
    return record.model_copy(update={"record_sha256": content_sha256(record.model_dump(mode="json"))})


def spans_of_day(known: Known, meant: Asked, day: date, rules: DayRules) -> tuple[Span, ...]:
    """The spans that reach into the day."""
    last = [(span, span.look or span.end) for span in spans_of(known, meant, rules)]
    return tuple(
        span for span, end in last if local_day(span.since.at) == day or (end is not None and local_day(end.at) == day)
    )


def _inspection(record: InspectionRecord, seconds: tuple[str, ...]) -> DayInspection:
    found = [*record.summary.against, *record.summary.watch]
    return DayInspection(
        record=record.id,
        record_sha256=record.record_sha256,
        kind=kind(record),
        title=record.kind_title or record.route_title,
        vehicle=record.vehicle.name,
        units=units(record),
        driver=record.driver or "",
        seconds=seconds,
        started=record.started,
        ended=ended(record),
        miles=miles(record),
        defects=len(record.defects),
        level=worst([each.level for each in found]) or "within",
        not_inspected=len(record.summary.not_inspected),
        against=tuple(_against(record)),
        watched=sum(level_of(defect.level) < Level.REPAIR for defect in record.defects),
    )


def _against(record: InspectionRecord) -> Iterable[DayAgainst]:
    """What stood against leaving, by the record's summary; of earlier defects with what the driver said of each."""
    review = (entry.step for entry in record.entries if entry.section == REVIEW)
    earlier = dict(zip(review, record.carried, strict=False))
    titles = {f"{defect.step}#{defect.defect}": defect.title for defect in record.defects}
    for each in record.summary.against:
        if each.step in earlier:
            said = earlier[each.step]
            answer: AgainstKind = "still-there" if said.answer == "still-there" else "not-answered"
            yield DayAgainst(kind=answer, title=both_words(said.title, record.vehicle), level=each.level)
            continue
        what = titles.get(f"{each.step}#{each.defect or f'beyond-{each.quantity}'}")
        beyond = each.defect is None and not each.told
        sort: AgainstKind = "whole" if each.step is None else "beyond" if beyond else "found"
        title = what or ": ".join(part for part in (each.name, each.told or each.limit_text) if part)
        yield DayAgainst(kind=sort, title=both_words(title, record.vehicle), level=each.level)


def _check(span: Span, rules: DayRules) -> DayCheck:
    last = span.look or span.end
    verdict = span.verdict(rules)
    rule = rules.first.source if span.first else rules.later.source
    sources = [rules.exempt.source] if verdict == "sealed" else [rule]
    if span.change is not None and verdict != "sealed":
        sources.append(rules.change.source)
    return DayCheck(
        since=span.since.id,
        at=span.since.at,
        miles=span.since.miles,
        first=span.first,
        due=span.by_time(rules),
        due_mile=span.by_mile(rules),
        change=None if span.change is None else line_of(span.change),
        look=None if span.look is None else span.look.id,
        looked=None if last is None else last.at,
        look_miles=None if last is None else last.miles,
        verdict=verdict,
        sections=tuple(dict.fromkeys(source.section for source in sources)),
    )


def _defects(records: Sequence[InspectionRecord], repairs: Sequence[Repair]) -> tuple[DayDefect, ...]:
    """Each once, the worst first: found by the first record that has it."""
    first: dict[tuple[str, str], DayDefect] = {}
    for record in records:
        for share in shares(record):
            given = certified_of(share.part.id, repairs, [p for p in pasts_of(record) if p.vehicle == share.part.id])
            for defect, own in share.found:
                name = (share.part.id, own.key)
                new = DayDefect(
                    key=own.key,
                    unit=share.part.id,
                    title=own.title,
                    level=defect.level,
                    records=(record.id,),
                    driver=record.driver or "",
                    found=ended(record),
                    certification=_certified(given, own.key, ended(record)),
                )
                first[name] = _again(first[name], new) if name in first else new
    return tuple(sorted(first.values(), key=lambda defect: (-level_of(defect.level), defect.found, defect.key)))


def _again(seen: DayDefect, new: DayDefect) -> DayDefect:
    """A defect that another record found again: after its certification it has come back."""
    came_back = seen.certification is not None and seen.certification.at <= new.found
    return seen.model_copy(
        update={
            "records": (*seen.records, *new.records),
            "level": max(seen.level, new.level, key=level_of),
            "certification": new.certification if came_back else seen.certification,
        }
    )


def _certified(repairs: Sequence[Repair], key: str, since: datetime) -> Certification | None:
    """The first certification of a defect given since it was found."""
    certified = (repair.certification for repair in repairs)
    given = [c for c in certified if isinstance(c, Certification) and c.key == key and c.at >= since]
    return min(given, key=lambda each: each.at, default=None)


def _carried(record: InspectionRecord) -> Iterable[DayCarried]:
    for share in shares(record):
        for carried, own in share.carried:
            yield DayCarried(
                key=own.key,
                unit=share.part.id,
                title=own.title,
                found=carried.found,
                record=record.id,
                driver=record.driver or "",
                answer=carried.answer,
            )
