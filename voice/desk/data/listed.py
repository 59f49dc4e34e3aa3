"""What the office reads of a report: all that stands against leaving, or is to be watched, the worst first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from voice.desk.wording import words
from voice.logbook.history import date
from voice.measure.level import LevelName, level_of
from voice.record.by_unit import REVIEW_STEP, carried_levels, in_print
from voice.record.model import Certification, InspectionRecord, Standing
from voice.record.page import Page
from voice.record.readings import Readings
from voice.record.wording import words as record_words


@dataclass(frozen=True, slots=True)
class Listed:
    """One finding.

    title: what and where; says so if it is from an earlier report.
    certified: by whom and when, in words; empty if it is not.
    """

    title: str
    level: LevelName
    certified: str = ""


def listed(record: InspectionRecord, given: Sequence[Certification] = ()) -> list[Listed]:
    """given: certifications since, by the record's own keys."""
    text, record = record_words("report"), in_print(record)
    page = Page(record, {each.key: each for each in given}, text, Readings(record, text))
    every = [*_defects(page), *_earlier(page), *_others(page)]
    return sorted(every, key=lambda each: -level_of(each.level))


def _defects(page: Page) -> Iterator[Listed]:
    for defect in page.record.defects:
        yield Listed(defect.title, defect.level, _certified(page, defect.key))


def _earlier(page: Page) -> Iterator[Listed]:
    text = words("office")["report"]["earlier"]
    for carried, level in zip(page.record.carried, carried_levels(page.record), strict=True):
        if level is not None:
            title = text.get(carried.answer, text["other"]).format(title=carried.title)
            yield Listed(title, level.word, _certified(page, page.key(carried)))


def _others(page: Page) -> Iterator[Listed]:
    """Findings of the summary that are neither a defect nor from an earlier report."""
    summary = page.record.summary
    defects = {defect.step for defect in page.record.defects}
    for each in (*summary.against, *summary.watch):
        near = each.level == "watch" and each.reading is not None
        if not (each.step or "").startswith(REVIEW_STEP) and (near or each.step not in defects):
            yield Listed(_what(page, each), each.level)


def _what(page: Page, found: Standing) -> str:
    where = page.where(found)
    measured = ""
    if found.reading is not None and found.unit is not None:
        measured = f": {page.readings.measure(found.reading, found.unit, found.quantity)}"
    return f"{where[:1].upper()}{where[1:]}{measured}; {found.limit_text}"


def _certified(page: Page, key: str) -> str:
    given = page.certifications.get(key)
    if given is None:
        return ""
    return str(words("office")["report"]["certified"][given.verdict].format(name=given.name, date=date(given.at)))
