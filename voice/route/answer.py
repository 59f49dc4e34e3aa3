"""The kinds of answers that an item takes: what is asked for, and within which range."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Field

from voice.data.fields import Id, Name
from voice.data.strict import Strict
from voice.route.vehicle import Number


class Condition(Strict):
    """Answered "ok", or with a defect from the item's closed list."""

    kind: Literal["condition"] = "condition"


class Measurement(Strict):
    """A number with a unit. plausible: what a working gauge can show; outside it the driver is asked again.

    quantity names what is measured (the limits are found by it); step is the finest division of the gauge.
    """

    kind: Literal["reading"] = "reading"
    quantity: str
    unit: str
    low: Number
    high: Number
    step: Number = Fraction(1)


class Option(Strict):
    """One answer of a choice.

    say: phrases that mean it.
    defect: the defect it reports, if any.
    reply: the words of a yes or a no mean it too.
    """

    id: Name
    title: Name
    say: tuple[str, ...] = Field(min_length=1)
    defect: str | None = None
    reply: Literal["yes", "no"] | None = None


class Choice(Strict):
    kind: Literal["choice"] = "choice"
    options: tuple[Option, ...] = Field(min_length=2)


class Done(Strict):
    """Something the driver does and confirms: "done"."""

    kind: Literal["done"] = "done"


class Hold(Strict):
    """A timed hold: start reading, spoken start, quiet time, end reading. Judged: the drop per minute.

    ready: told first, line by line, each acknowledged by the driver (engine and key state, chocks).
    goes_on: items after whose reading engine, key and chocks stand as they have to: then the ready lines are left out.
        They come when that was not so, and when the check is begun again.
    begin: what to do at the spoken start.
    gauges: names of the gauges read, one after the other.
    quantity: the rate judged, in unit/min.
    low, high, step: of the gauge readings.
    """

    kind: Literal["hold"] = "hold"
    quantity: str
    unit: str
    low: Number
    high: Number
    step: Number = Fraction(1)
    seconds: int = Field(60, ge=5, le=600)
    gauges: tuple[str, ...] = ("air pressure",)
    ready: tuple[str, ...] = ()
    goes_on: tuple[Id, ...] = ()
    begin: str


class Climb(Strict):
    """A timed climb between two marks that the driver calls ("now", or the number). Judged: the seconds."""

    kind: Literal["climb"] = "climb"
    quantity: str
    unit: str
    start: Number
    stop: Number
    ready: tuple[str, ...] = ()
    goes_on: tuple[Id, ...] = ()
    begin: str


class Call(Strict):
    """The driver watches for an event and calls it out as it happens, by the number or "now" and then the number."""

    kind: Literal["call"] = "call"
    quantity: str
    unit: str
    low: Number
    high: Number
    step: Number = Fraction(1)
    ready: tuple[str, ...] = ()
    goes_on: tuple[Id, ...] = ()
    begin: str


Answer = Annotated[Condition | Measurement | Choice | Done | Hold | Climb | Call, Field(discriminator="kind")]
