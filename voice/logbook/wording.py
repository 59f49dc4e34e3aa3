"""The logbook's words: prompts/logbook.yaml. What is said when stands there."""

from __future__ import annotations

from functools import cache

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.judge.wording import level_words as named
from voice.measure.cardinal import cardinal
from voice.measure.level import Level


class Time(Strict):
    """One way to tell a length of time: below that many days, in units of `each` days."""

    below: float
    each: float
    one: str
    many: str
    printed: str


class Spoken(Strict):
    reach: str
    overdue: str
    beyond: str
    uneven: str


class Printed(Spoken):
    odd: str


class WearWords(Strict):
    spoken: Spoken
    printed: Printed
    whole: str


class States(Strict):
    open: str
    said_repaired: str
    repaired: str
    unnecessary: str
    again: str


class TableWords(Strict):
    title: str
    empty: str
    inspections: str
    date: str
    kind: str
    beside: str
    driver: str
    odometer: str
    level: str
    worst: str
    defects: str
    minutes: str
    rushed: str
    open: str
    closed: str
    defect: str
    found: str
    seen: str
    times: str
    state: str
    entries: str
    signed: str
    entry: str
    name: str
    remark: str
    verdicts: dict[str, str]
    trends: str
    place: str
    quantity: str
    last: str
    now: str
    limit: str
    against: str
    change: str
    forecast: str
    uneven: str
    source: str
    none: str
    removed: str
    per: dict[str, str]
    states: States


class Rushed(Strict):
    share: float
    seconds: float
    least: int
    said: str
    note: str


class PageWords(Strict):
    title: str
    made: str
    readings: str
    defects: str
    durations: str
    minutes: str
    usual: str
    hidden: str
    caution: str
    limit: str
    trend: str
    odometer: str
    seen: str
    certified: str


class CalendarWords(Strict):
    name: str
    repair: str
    detail: str
    wear: str


class PruneWords(Strict):
    title: str
    would: str
    did: str
    keep_open: str
    keep_unsent: str
    keep_unknown: str
    stays: str
    dry: str


class LogbookTexts(Strict):
    """The whole of prompts/logbook.yaml."""

    times: tuple[Time, ...]
    wear: WearWords
    why: dict[str, str]
    table: TableWords
    rushed: Rushed
    page: PageWords
    calendar: CalendarWords
    prune: PruneWords


@cache
def words() -> LogbookTexts:
    """The shipped wording. Raises DataError with file and line."""
    path = prompts_dir() / "logbook.yaml"
    return parse(LogbookTexts, read_yaml(path), path)


def time_words(days: float, *, aloud: bool) -> str:
    """A length of time: "about five weeks" aloud, "about 5 weeks" in print."""
    times = words().times
    time = next((time for time in times if days < time.below), times[-1])
    number = max(1, round(days / time.each))
    if not aloud:
        return time.printed.format(n=number)
    return time.one if number == 1 else time.many.format(n=cardinal(number))


def level_words(level: Level) -> str:
    """The name of the worst level of a walk or a defect; a walk on which nothing stood out has none."""
    return words().table.none if level is Level.WITHIN else named(level)
