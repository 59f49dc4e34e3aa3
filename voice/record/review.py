"""The review of the last report before driving (49 CFR 396.13): its questions, and what the driver said to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Literal

from voice.judge.answer import Answer
from voice.measure.cardinal import cardinal
from voice.record.model import CarriedRecord
from voice.record.open_defects import OpenDefect
from voice.record.wording import words
from voice.route.answer import Choice, Option
from voice.route.model import Carried, Item, Place, Plan, Section, Step, Wording

SECTION = "review"
_STEP = "carried@"

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
    return Step(id=f"{_STEP}{number}", item=item, section=SECTION, place=Place(), spoken_place="", name=name, say=say)


def with_review(plan: Plan, defects: Sequence[OpenDefect]) -> Plan:
    """The plan with a first section that asks about each open defect; the plan itself if there are none."""
    if not defects or plan.carried:
        return plan
    text = words("review")
    steps = tuple(_step(number, defect, text) for number, defect in enumerate(defects, start=1))
    carried = tuple(
        Carried(step=step.id, key=d.key, title=d.title, found=d.found.isoformat(), record=d.record)
        for step, d in zip(steps, defects, strict=True)
    )
    return plan.model_copy(
        update={
            "sections": (Section(id=SECTION, title=text["section"]), *plan.sections),
            "steps": (*steps, *plan.steps),
            "carried": carried,
        }
    )


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
                key=carried.key,
                title=carried.title,
                found=datetime.fromisoformat(carried.found),
                record=carried.record,
                answer=said,
            )
        )
    return tuple(records)
