"""Where an entry is from, how that is known, and on which days it holds."""

from __future__ import annotations

from datetime import date, timedelta

from pydantic import Field, model_validator

from voice.data.strict import Strict
from voice.judge.model import Known


class Source(Strict):
    """Where a figure is from.

    section: of a published rule or book; "common practice, no source" if there is none.
    title: what it is called.
    known: read (the text of the rule, or of one that adopts it, was seen), second-hand (a reprint, a maker's manual, a
        training text or the press says so), memory, or practice.
    where: the copy that was seen.
    """

    section: str = Field(min_length=1)
    title: str = ""
    known: Known
    where: str = ""
    note: str = ""

    @model_validator(mode="after")
    def _seen_somewhere(self) -> Source:
        if self.known in ("read", "second-hand") and not self.where:
            raise ValueError(f"known is '{self.known}', so say under 'where' which copy was read")
        return self


class Change(Strict):
    """A day on which an entry began, ended, or was proposed to.

    what: what changed and why, with where that is written.
    """

    day: date
    what: str = Field(min_length=1)


class Dated(Strict):
    """An entry of the calendar of law.

    valid_from: the first day it holds; None: for as long as is known.
    valid_to: the last day it holds; None: until something else is known.
    changes: what is known of its days; each end of its time is explained there.
    """

    valid_from: date | None = None
    valid_to: date | None = None
    changes: tuple[Change, ...] = ()

    @model_validator(mode="after")
    def _ends_explained(self) -> Dated:
        if self.valid_from is not None and self.valid_to is not None and self.valid_from > self.valid_to:
            raise ValueError("valid_from is after valid_to")
        ends = [] if self.valid_from is None else [self.valid_from]
        ends += [] if self.valid_to is None else [self.valid_to + timedelta(days=1)]
        for day in ends:
            if all(change.day != day for change in self.changes):
                raise ValueError(f"say under 'changes' what changed on {day}, and where that is written")
        return self

    def holds_on(self, day: date) -> bool:
        return (self.valid_from is None or self.valid_from <= day) and (self.valid_to is None or day <= self.valid_to)
