"""The review of the last report before driving (49 CFR 396.13): its questions, and what the driver said to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, Literal

from voice.judge.answer import Answer
from voice.measure.cardinal import cardinal
from voice.record.by_unit import REVIEW_STEP, today_key
from voice.record.model import CarriedRecord
from voice.record.open_defects import OpenDefect
from voice.record.wording import words
from voice.route.answer import Choice, Option
from voice.route.called import on_vehicle_words
from voice.route.model import Carried, Item, Place, Plan, Section, Step, Wording
from voice.route.units import axle_of, units_of

SECTION = "review"

Said = Literal["repaired", "still-there", "not-on-this-vehicle", "not-asked"]
_OPTIONS: tuple[Said, ...] = ("repaired", "still-there", "not-on-this-vehicle")


def _step(number: int, defect: OpenDefect, text: Mapping[str, Any]) -> Step:
    fill = {"number": cardinal(number), "title": defect.title, "date": f"{defect.found:%B} {defect.found.day}"}
    say = Wording(**{length: text[length].format(**fill).strip() for length in ("terse", "normal", "full")})
    name = text["call"].format(**fill)
    options = tuple(
        Option(id=option, title=said["title"], say=tuple(said["say"]), reply=said.get("reply"))
        for option, said in ((option, text["options"][option]) for option in _OPTIONS)
    )
    item = Item(
        id="carried",
        title=text["title"].format(**fill),
        call=(name,),
        part="other",
        say=say,
        answer=Choice(options=options),
    )
    return Step(
        id=f"{REVIEW_STEP}{number}", item=item, section=SECTION, place=Place(), spoken_place="", name=name, say=say
    )


def with_review(plan: Plan, defects: Sequence[OpenDefect]) -> Plan:
    """The plan with a first section that asks about each open defect; the plan itself if there are none.

    What a unit brings with it is named as on this walk: with the number that its axle has behind this tractor.
    """
    if not defects or plan.carried:
        return plan
    text = words("review")
    together = len(units_of(plan.vehicle)) > 1
    keys = [today_key(plan.vehicle, defect.unit, defect.key) for defect in defects]
    today = [replace(d, title=_title(plan, d, key)) for d, key in zip(defects, keys, strict=True)]
    steps = tuple(_step(number, defect, text) for number, defect in enumerate(today, start=1))
    carried = tuple(
        Carried(
            step=step.id, key=key, title=d.title, found=d.found.isoformat(), record=d.record,
            unit=d.unit if together else "", own=d.key if together and d.unit else "",
        )
        for step, d, key in zip(steps, today, keys, strict=True)
    )  # fmt: skip
    return plan.model_copy(
        update={
            "sections": (Section(id=SECTION, title=text["section"]), *plan.sections),
            "steps": (*steps, *plan.steps),
            "carried": carried,
        }
    )


def _title(plan: Plan, defect: OpenDefect, key: str) -> str:
    """As the defect is told on this walk. Where the walk has no such step, the number of its axle is put right."""
    if key == defect.key:
        return defect.title
    name = key.partition("#")[0]
    step = next((step for step in plan.steps if step.id == name), None)
    what, colon, found = defect.title.rpartition(": ")
    if step is not None and colon and what.startswith(f"{step.item.title}, "):
        return f"{step.item.title}, {step.spoken_place}: {found}"
    return on_vehicle_words(defect.title, axle_of(defect.key), axle_of(key))


def carried_records(plan: Plan, answers: Mapping[str, Answer]) -> tuple[CarriedRecord, ...]:
    """What the driver said of each open defect; "not-asked" for those that were not answered."""
    records = []
    for carried in plan.carried:
        answer = answers.get(carried.step)
        said: Said = "not-asked"
        if answer is not None and answer.kind == "not-applicable":
            said = "not-on-this-vehicle"
        elif answer is not None and answer.choice in _OPTIONS:
            said = answer.choice
        records.append(
            CarriedRecord(
                unit=carried.unit,
                key=carried.own or carried.key,
                title=carried.title,
                found=datetime.fromisoformat(carried.found),
                record=carried.record,
                answer=said,
            )
        )
    return tuple(records)
