"""What the driver answered to a step, as the walk's state keeps it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from voice.measure import Measure

LAST = "last"

Kind = Literal["ok", "defect", "reading", "choice", "done", "not-applicable", "not-inspected"]


@dataclass(frozen=True, slots=True)
class Taken:
    """One measured value. quantity as in the limits; name tells gauges or follow-ups apart; raw: what was read.

    For a timed hold: the judged rate is one Taken (quantity of the item), the gauge readings are others with
    quantity "gauge-start", "gauge-end" and the measured time "hold-time".
    """

    quantity: str
    value: Measure
    name: str = ""


@dataclass(frozen=True, slots=True)
class DefectFound:
    """defect: id.
    details: follow-up id -> option id or measure as text.
    """

    defect: str
    details: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """asked, answered: session seconds.
    events: indices of the journal's events that made it (0 = first line).
    together: the steps that one "okay" answered, this one among them; empty if it was asked by itself.
    same: what the reading was said to be the same as: a step, or LAST for the walk before; empty if it was told.
    beside: the step whose reading was told in the same breath; empty if none was.
    taken_back: what was said of the step, in words, that this answer does not say any more.
    """

    step: str
    kind: Kind
    asked: float
    answered: float
    taken: tuple[Taken, ...] = ()
    defects: tuple[DefectFound, ...] = ()
    choice: str | None = None
    reason: str = ""
    details: tuple[tuple[str, str], ...] = ()  # follow-ups of an item without a defect
    asked_again: int = 0
    corrected: int = 0
    events: tuple[int, ...] = field(default=())
    together: tuple[str, ...] = ()
    same: str = ""
    beside: str = ""
    taken_back: tuple[str, ...] = ()

    def reading(self, quantity: str) -> Measure | None:
        """What was read of the item itself; None if nothing was."""
        return next((each.value for each in self.taken if each.quantity == quantity and not each.name), None)
