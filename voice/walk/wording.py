"""How long and with how much of its place a step or a look is asked."""

from __future__ import annotations

from itertools import takewhile

from voice.route.expand import fill
from voice.route.model import Length, Look, Step
from voice.walk.context import Context
from voice.walk.state import State


def step_wording(context: Context, state: State, step: Step, before: str | None) -> str:
    """How the step is asked.

    before: the step asked just before, if the driver still has its place in their ear; then only what is new of the
        place is said.
    """
    if state.silences >= 2:
        return step.say.terse  # the shortest form, so that a waiting driver is not talked at
    length = _length(context, state, step)
    whole: str = getattr(step.say, length)
    if before is None or length == "full" or context.steps[before].section != step.section:
        return whole
    parts, old = (place.split(context.separator) for place in (step.spoken_place, context.steps[before].spoken_place))
    same = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(parts, old, strict=False)))
    if not step.spoken_place or same == 0:
        return whole
    return fill(getattr(step.item.say, length), context.separator.join(parts[same:]))


def look_wording(context: Context, look: Look, parts: str, before: str | None) -> str:
    """How a look is asked; without its place where the section's title, or the step asked just before, has said it."""
    steps = [context.steps[step] for step in look.steps]
    at = next((step for step in steps if step.place.axle is not None), steps[0])
    last = None if before is None else context.steps[before]
    near = last is not None and (last.section, last.place.axle) == (at.section, at.place.axle)
    place = "" if near and at.place.axle else _beyond(context.sections[at.section].title, look.place)
    return fill(look.ask.replace("{parts}", parts), place)


def _length(context: Context, state: State, step: Step) -> Length:
    """By place in short, where the same was asked of another place already."""
    if state.depth == "each-part" or state.length != "normal":
        return state.length
    told = any(context.steps[other].item.id == step.item.id for other in state.answers if other != step.id)
    return "terse" if told else "normal"


def _beyond(title: str, place: str) -> str:
    """What the place says beyond the section's title: "axle two" of "left axle two", on the left side."""
    told, words = set(title.lower().split()), place.split()
    return " ".join(words[1:] if words and words[0].lower() in told else words)
