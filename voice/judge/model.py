"""Findings, and what they are found about."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

from voice.measure import Measure
from voice.measure.level import Level
from voice.route.model import Part, Place
from voice.route.vehicle import Axle, Vehicle

# How a figure is known: its text was seen; seen only as a reprint, a maker's manual or a training text repeats it;
# recalled; common practice without a source. From the best to the least.
Known = Literal["read", "second-hand", "memory", "practice"]
KNOWN: tuple[Known, ...] = get_args(Known)
UNSURE: frozenset[Known] = frozenset({"memory", "practice"})  # "check locally" is said where a halt rests on these


@dataclass(frozen=True, slots=True)
class Subject:
    """What was measured or found defective, and where."""

    vehicle: Vehicle
    item: str
    place: Place = field(default_factory=Place)

    @property
    def axle(self) -> Axle | None:
        return None if self.place.axle is None else self.vehicle.axles[self.place.axle - 1]


@dataclass(frozen=True, slots=True)
class Finding:
    """One result against one limit.

    limit_text: the limit in words and figures ("at least 4/32 in").
    source: section of a published rule, or "common practice, no source".
    known: how that is known.
    layer: the file that decided.
    margin: distance to the limit in its unit, negative beyond it; None for a condition.
    condition: what else the criterion asks that was not measured ("judged by two adjacent grooves"); a person decides.
    limit_spoken: the limit as it is said aloud.
    """

    level: Level
    quantity: str
    limit: str
    limit_text: str
    source: str
    known: Known
    layer: str
    reading: Measure | None = None
    margin: Measure | None = None
    defect: str | None = None
    condition: str = ""
    limit_spoken: str = ""


Outcome = Literal["ok", "defect", "reading", "choice", "done", "not-applicable", "not-inspected"]


@dataclass(frozen=True, slots=True)
class Result:
    """One step of the walk with its findings, worst first.

    step: its id.
    name: its short spoken name.
    wants: the quantity the step asks a reading of, if any.
    measured: a reading of it was taken.
    """

    step: str
    name: str
    subject: Subject
    part: Part
    outcome: Outcome
    findings: tuple[Finding, ...] = ()
    wants: str | None = None
    measured: bool = False

    @property
    def level(self) -> Level:
        return max((finding.level for finding in self.findings), default=Level.WITHIN)
