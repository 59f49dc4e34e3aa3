"""The life of each defect: found, seen again, said to be repaired, certified, and come back. Pure.

A defect is followed by its key (item, place, defect) over the records of one vehicle. It is open from the record that
found it until a certification (49 CFR 396.11(a)(3)); a driver's "repaired" is kept and shown but closes nothing. Seen
again after a certification it is open again, as its next life. A certification that was withdrawn closes nothing, as if
it had never been given. The lives follow from the set of facts alone: in which
order the facts came in makes no difference.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from voice.measure.level import Level

FactKind = Literal[
    "found", "still-there", "said-repaired", "said-not-here", "certified-repaired", "certified-unnecessary", "withdrawn"
]


# Of things said at the same moment the finding comes first, so that a certification of that moment closes it.
_RANK: dict[str, int] = {
    "found": 0,
    "still-there": 1,
    "said-repaired": 2,
    "said-not-here": 2,
    "certified-repaired": 3,
    "certified-unnecessary": 4,
    "withdrawn": 5,
}


@dataclass(frozen=True, slots=True)
class Fact:
    """Something said of a defect.

    source: "record:ID" or "certification:SHA256"; of a withdrawal: the certification that it takes back.
    level: None if not known.
    """

    defect: str
    kind: FactKind
    source: str
    at: datetime
    title: str
    level: Level | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True)
class Life:
    """One life of a defect; number counts from 1.

    opened, seen: when it was found, and last seen.
    times: how many records saw it.
    first, last: the records that found it and that saw it last.
    said_repaired: when a driver said so, if nobody has seen it since.
    closed, verdict, by: its certification; None while it is open.
    said: what the driver answered at the last review that asked about it, as CarriedRecord.answer.
    """

    defect: str
    number: int
    title: str
    level: Level
    opened: datetime
    seen: datetime
    times: int
    first: str
    last: str
    said_repaired: datetime | None = None
    closed: datetime | None = None
    verdict: str | None = None
    by: str | None = None
    said: str | None = None


def lives(facts: Iterable[Fact]) -> list[Life]:
    """All lives of one defect of one vehicle, oldest first."""
    done: list[Life] = []
    now: Life | None = None
    level: Level | None = None
    facts = list(facts)
    withdrawn = {fact.source for fact in facts if fact.kind == "withdrawn"}
    for fact in sorted(facts, key=lambda fact: (fact.at, _RANK[fact.kind], fact.source)):
        source = fact.source.partition(":")[2]
        match fact.kind:
            case "found" | "still-there":
                if now is None:
                    now = Life(
                        fact.defect, len(done) + 1, fact.title, Level.REPAIR, fact.at, fact.at, 1, source, source
                    )
                    level = None
                else:
                    now = replace(
                        now, seen=fact.at, times=now.times + (source != now.last), last=source, said_repaired=None,
                        said=None,
                    )  # fmt: skip
                if fact.kind == "still-there":
                    now = replace(now, said="still-there")
                if fact.level is not None:
                    level = fact.level if level is None else max(level, fact.level)
                    # A carried defect comes without its level; a reported one is at least for repair until known.
                    now = replace(now, level=level)
            case "said-repaired":
                if now is not None:
                    now = replace(now, said_repaired=fact.at, said="repaired")
            case "said-not-here":
                if now is not None:
                    now = replace(now, said="not-on-this-vehicle")
            case "certified-repaired" | "certified-unnecessary":
                if now is not None and fact.source not in withdrawn:
                    verdict = fact.kind.removeprefix("certified-")
                    done.append(replace(now, closed=fact.at, verdict=verdict, by=fact.by))
                    now = None
    return done if now is None else [*done, now]
