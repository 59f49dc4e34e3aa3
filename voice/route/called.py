"""How a trailer's axles are called. They have two numbers: in the combination, and in the trailer itself.

A walk counts through: axle four. What is kept of the trailer says "trailer axle one", whatever drew it. What is printed
of a walk says both: "axle four (trailer axle one)". So each page has words that another has, too.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache

from voice.data.folders import prompts_dir
from voice.data.reader import read_yaml
from voice.measure.cardinal import cardinal
from voice.route.units import trailer_of
from voice.route.vehicle import Vehicle


@cache
def _template(name: str) -> str:
    return str(read_yaml(prompts_dir() / "places.yaml")[name])


def _axle(number: int) -> str:
    return _template("axle").format(number=cardinal(number))


def _trailers_axle(number: int) -> str:
    return _template("trailer_axle").format(number=cardinal(number))


@lru_cache(maxsize=4096)
def in_unit_words(text: str, axle: int | None, own: int | None) -> str:
    """A position in a combination, as its unit has it: "left side, axle four" as "left side, trailer axle one".

    axle: its number in the combination.
    own: its number in the unit. Where they are the same it is the unit at the head.
    """
    if axle is None or own is None or axle == own:
        return text
    return _put(text, _axle(axle), _trailers_axle(own), axle, own)


@lru_cache(maxsize=4096)
def on_vehicle_words(text: str, own: int | None, axle: int | None) -> str:
    """The inverse. What an earlier version kept of the trailer says "axle one"."""
    if axle is None or own is None or axle == own:
        return text
    known = _trailers_axle(own) if _trailers_axle(own) in text else _axle(own)
    return _put(text, known, _axle(axle), own, axle)


def _put(text: str, old: str, new: str, number: int, to: int) -> str:
    """Where words of the user's own call an axle otherwise, its number alone is another."""
    for before, after in ((old, new), (cardinal(number), cardinal(to))):
        changed, count = re.subn(rf"\b{re.escape(before)}\b", after, text)
        if count:
            return changed if count == 1 else text
    return text


def both_words(text: str, vehicle: Vehicle) -> str:
    """What a walk of this vehicle says, in print: "axle four" as "axle four (trailer axle one)"."""
    names = _both(*_numbers(vehicle))
    if not names:
        return text
    said = "|".join(map(re.escape, names))
    return re.sub(rf"(?<!\w)(?:{said})(?!\w)", lambda found: names[found[0]], text)


def _numbers(vehicle: Vehicle) -> tuple[int, int]:
    """How many axles stand ahead of the trailer's, and how many it has; zeros where there is no trailer."""
    trailer = trailer_of(vehicle)
    return (0, 0) if trailer is None else (trailer.first_axle - 1, trailer.axles)


@cache
def _both(ahead: int, axles: int) -> dict[str, str]:
    """What is put for what, the longest first, so that what has both names already stays."""
    names: dict[str, str] = {}
    for own in range(1, axles + 1 if ahead else 1):
        axle, alone = _axle(ahead + own), _trailers_axle(own)
        both = _template("both_axles").format(axle=axle, own=alone)
        names |= {axle: both, alone: alone, both: both}
    return dict(sorted(names.items(), key=lambda pair: -len(pair[0])))
