"""An item in the units the driver reads: inches and psi, or SI for a vehicle whose gauges and rulers are metric.

Readings are asked, heard and stored in that unit; limits are compared in their own, exactly. Which unit stands for
which is data (prompts/units.yaml: `si`, and `si_step` for the finest division asked for).
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor
from typing import Literal

from voice.measure import Measure
from voice.measure.book import unit_book
from voice.route.answer import Answer, Call, Hold, Measurement
from voice.route.model import Item, Wording

UNITS = "{units}"  # in wording: the name of the answer's unit, "inches" or "millimeters"


def in_units(item: Item, system: Literal["us", "si"]) -> Item:
    """The item with its answers in the system's units, and their names in its wording."""
    answer = _answer(item.answer, system)
    follow_ups = []
    for follow in item.follow_ups:
        asked = follow.answer if not isinstance(follow.answer, Measurement) else _converted(follow.answer, system)
        follow_ups.append(follow.model_copy(update={"answer": asked, "ask": _named(follow.ask, asked)}))
    say = Wording(
        terse=_named(item.say.terse, answer), normal=_named(item.say.normal, answer), full=_named(item.say.full, answer)
    )
    # The ranges of a pair are in the item's own unit, and fine metric divisions would make too many of them.
    beside = item.beside if answer == item.answer else None
    return item.model_copy(update={"answer": answer, "follow_ups": tuple(follow_ups), "say": say, "beside": beside})


def _answer(answer: Answer, system: Literal["us", "si"]) -> Answer:
    # A climb's two marks are converted where they are said: they are the rule's, nobody reads them off in steps.
    return _converted(answer, system) if isinstance(answer, Measurement | Hold | Call) else answer


def _converted(answer: Measurement | Hold | Call, system: Literal["us", "si"]) -> Measurement | Hold | Call:
    words = unit_book().units.get(answer.unit)  # a unit without words is the check's business, not ours
    if system == "us" or words is None or words.si is None:
        return answer
    si = words.si
    step = _step(answer, si)
    low, high = (Measure(value, answer.unit).to(si).value for value in (answer.low, answer.high))
    return answer.model_copy(
        update={"unit": si, "low": floor(low / step) * step, "high": ceil(high / step) * step, "step": step}
    )


def _step(answer: Measurement | Hold | Call, unit: str) -> Fraction:
    """The finest division asked for: the quantity's own if it has one, else the unit's."""
    book = unit_book()
    quantity = None if isinstance(answer, Hold) else book.quantities.get(answer.quantity)
    own = None if quantity is None else quantity.si_step
    return own or book.units[unit].si_step or Fraction(1)


def _named(text: str, answer: Answer) -> str:
    unit = getattr(answer, "unit", None)
    if UNITS not in text or not isinstance(unit, str):
        return text
    words = unit_book().units.get(unit)
    return text if words is None else text.replace(UNITS, words.many)
