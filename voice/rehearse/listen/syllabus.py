"""Makes a recital of a plan: each item once for every kind of axle it is on, with the numbers that must be right.

A walk asks for the tread of every tire; a recital names it once for the steer axle, once for the drives, once for
the trailer. So items at several places are put together by the role of their axle, at their first place.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

from pydantic import Field

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.errors import DataError
from voice.judge import Limit, LimitSet, Subject
from voice.judge.facts import figures
from voice.judge.reading import bounds_of, limit_text
from voice.rehearse.listen.part import PartPoint, Range, RecitedPart, Syllabus
from voice.route.model import KeyPoint, Plan, Step, Wording


class Kind(Strict):
    """How an axle's role or a unit is called, and heard."""

    title: str
    heard: tuple[str, ...] = Field(min_length=1)


class LimitNumber(Strict):
    """Further limits a point's number is held against;

    also: figures that are as good, "10 deg".
    text: the limit in print, if not as the limit itself says.
    """

    limits: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    text: str = ""


class PointsFile(Strict):
    """prompts/learn/points.yaml; see the comments there."""

    roles: Mapping[str, Kind]
    units: Mapping[str, Kind]
    names: Mapping[str, tuple[str, ...]] = Field(default_factory=dict)
    limits: Mapping[str, Mapping[str, LimitNumber]] = Field(default_factory=dict)

    @classmethod
    def shipped(cls, folder: Path | None = None) -> PointsFile:
        path = (folder or prompts_dir()) / "learn" / "points.yaml"
        return parse(cls, read_yaml(path), path)


def make_syllabus(plan: Plan, limits: LimitSet, file: PointsFile | None = None) -> Syllabus:
    """The recital of this plan. Items without key points are left out. Raises DataError for an unknown limit."""
    file = file or PointsFile.shipped()
    wanted = [step for step in plan.steps if step.item.points]
    roles: dict[str, set[str]] = defaultdict(set)
    for step in wanted:
        roles[step.item.id].add(_role(plan, step))
    parts: list[RecitedPart] = []
    seen: set[tuple[str, str]] = set()
    for step in wanted:
        role = _role(plan, step)
        if (step.item.id, role) in seen:
            continue
        seen.add((step.item.id, role))
        # the role is told where it tells parts apart, and always at an axle, where limits depend on it
        told = role if step.place.axle is not None or len(roles[step.item.id]) > 1 else ""
        made = _part(plan, step, told, limits, file)
        if made.points:
            parts.append(made)
    used = {part.section for part in parts}
    sections = tuple(section for section in plan.sections if section.id in used)
    return Syllabus(plan.route, plan.title, plan.vehicle.id, sections, tuple(parts))


def _role(plan: Plan, step: Step) -> str:
    if step.place.axle is not None:
        return plan.vehicle.axles[step.place.axle - 1].role
    return step.place.unit or ""


def _part(plan: Plan, step: Step, role: str, limits: LimitSet, file: PointsFile) -> RecitedPart:
    item = step.item
    kind = (file.roles if step.place.axle is not None else file.units).get(role)
    base = tuple(dict.fromkeys((*item.call, item.title.lower(), *file.names.get(item.id, ()))))
    names = base if kind is None else (*base, *(f"{word} {name}" for name in base for word in kind.heard))
    place = kind.title if kind is not None else ""
    return RecitedPart(
        key=f"{item.id}/{role}" if role else item.id,
        item=item.id,
        title=f"{item.title}, {place}" if place else item.title,
        names=names,
        section=step.section,
        role=role,
        say=Wording(
            terse=_filled(item.say.terse, place),
            normal=_filled(item.say.normal, place),
            full=_filled(item.say.full, place),
        ),
        points=tuple(
            point
            for key_point in item.points
            if (point := _point(plan, step, key_point, limits, file.limits.get(item.id, {}))) is not None
        ),
    )


def _filled(text: str, place: str) -> str:
    """The wording with the place put in; without one, the words are joined up again."""
    filled = text.replace("{place}", place).strip(" ,:?") if not place else text.replace("{place}", place)
    filled = " ".join(filled.split())
    if not place and text.rstrip().endswith("?") and not filled.endswith("?"):
        filled += "?"
    return filled[:1].upper() + filled[1:]


def _point(
    plan: Plan, step: Step, key_point: KeyPoint, limits: LimitSet, numbers: Mapping[str, LimitNumber]
) -> PartPoint | None:
    """The point with its numbers; None if it is a number that is none here (the single vehicle's limit on a
    combination)."""
    number = numbers.get(key_point.id)
    if key_point.limit is not None:
        number = LimitNumber(
            limits=tuple(dict.fromkeys((key_point.limit, *(number.limits if number else ())))),
            also=number.also if number else (),
            text=number.text if number else "",
        )
    if number is None or not number.limits:
        return PartPoint(key_point.id, key_point.say)
    subject = Subject(plan.vehicle, step.item.id, step.place)
    ranges: list[Range] = []
    text = ""
    for name in number.limits:
        limit = limits.rule(name)
        if not isinstance(limit, Limit):
            raise DataError(
                f'the point "{key_point.id}" of "{step.item.id}" names the limit "{name}", which is not there.',
                "Correct prompts/learn/points.yaml or the item.",
            )
        bounds = bounds_of(limits, limit, subject)
        if bounds is None:
            continue
        low = bounds.low if bounds.low is not None else bounds.high
        high = bounds.high if bounds.high is not None else bounds.low
        if low is None or high is None:
            continue
        ranges.append(_spoken_as(low, high, bounds.unit))
        ranges += [_spoken_as(value, value, limit.unit) for value in _taught(limit, subject)]
        text = text or limit_text(limit, bounds)
    if not ranges:
        return None
    for figure in number.also:
        value, unit = figure.split()
        ranges.append(_spoken_as(Fraction(value), Fraction(value), unit))
    return PartPoint(key_point.id, key_point.say, tuple(dict.fromkeys(ranges)), number.text or text)


def _taught(limit: Limit, subject: Subject) -> list[Fraction]:
    """The rule's own figure and the maker's, without the tolerance of a gauge: as good to say as the bound."""
    own: Fraction | None = None
    if limit.figure is not None and limit.figure.share == 1 and limit.figure.degrees is None:
        measure = figures(subject).get(limit.figure.name)
        own = None if measure is None else measure.value
    return [value for value in (limit.value, limit.low, limit.high, own) if value is not None]


def _spoken_as(low: Fraction, high: Fraction, unit: str) -> Range:
    """A loss in psi/min is spoken of as psi "in one minute"; times are compared in seconds."""
    if unit == "psi/min":
        return Range(low, high, "psi")
    if unit == "min":
        return Range(low * 60, high * 60, "s")
    return Range(low, high, unit)
