"""The end of a walk: a whole summary, word by word."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.judge.yard import at, axle, found, measure, rig, shipped, steer, stepped
from voice.judge import assess, assess_results, judge_answer, judge_defect, judge_reading, sentence
from voice.judge.answer import Answer, DefectFound, Taken
from voice.measure import Measure
from voice.measure.level import Level
from voice.route import load_library, make_plan
from voice.route.model import Carried, Plan, Step

DECIDES = "This is a list of findings, not a release: a qualified person decides whether the vehicle may go."


@pytest.fixture(scope="module")
def plan() -> Plan:
    pressures: dict[str, Any] = {"cold_psi": Fraction(90), "max_psi": Fraction(110)}
    front, dual = steer(**pressures), axle(dual=True, **pressures)
    trailer = axle("trailer", "trailer", dual=True, **pressures)
    return make_plan(load_library(), rig([front, dual, dual, trailer, trailer], fuses="fuses"))


@pytest.fixture(scope="module")
def steps(plan: Plan) -> dict[str, Step]:
    return {step.id: step for step in plan.steps}


def sound(plan: Plan) -> dict[str, Answer]:
    """Everything answered, nothing found: conditions in order, readings well within."""
    good = {
        "tread-depth": "12/32", "cold-inflation": "100", "belt-play": "5/8", "steering-lash": "1/2",
        "mud-flap-height": "8", "rear-guard-height": "20", "governor-cut-out": "125", "governor-cut-in": "105",
        "low-air-warning": "70", "supply-valve-pop": "35", "parking-valve-pop": "35", "air-build-up": "30",
        "air-leak-static": "1", "air-leak-applied": "2", "pushrod-free-play": "1/2", "lining-thickness": "1/2",
        "pushrod-stroke-applied": "1 1/4",
    }  # fmt: skip
    answers = {}
    for step in plan.steps:
        answer = step.item.answer
        if answer.kind in ("reading", "hold", "climb", "call"):
            quantity = answer.quantity
            unit = {"hold": "psi/min", "climb": "s"}.get(answer.kind, answer.unit)
            answers[step.id] = read(step.id, quantity, good[quantity], unit)
        elif answer.kind == "done":
            answers[step.id] = Answer(step.id, "done", 0, 1)
        else:
            answers[step.id] = Answer(step.id, "ok", 0, 1)
    return answers


def read(step: str, quantity: str, value: str, unit: str) -> Answer:
    return Answer(step, "reading", 0, 1, taken=(Taken(quantity, measure(value, unit)),))


def broken(step: str, *defects: str, **details: str) -> Answer:
    given = tuple(DefectFound(defect, tuple(details.items())) for defect in defects)
    return Answer(step, "defect", 0, 1, defects=given)


def test_nothing_found(plan: Plan) -> None:
    assessment = assess(shipped(), plan, sound(plan))
    assert assessment.against == ()
    assert assessment.watch == ()
    assert assessment.unmeasured == ()
    assert assessment.not_inspected == ()
    assert assessment.level is Level.WITHIN
    assert assessment.counts[Level.WITHIN] == len(plan.steps)
    assert assessment.text == ("Nothing that was inspected stands against leaving.", DECIDES)


def test_ten_planted_faults(plan: Plan, steps: dict[str, Step]) -> None:
    answers = sound(plan)
    planted = [
        read("tire-tread@left-1", "tread-depth", "3/32", "in"),
        broken("dual-tires@left-2", "cut"),
        read("air-leak-applied", "air-leak-applied", "4.5", "psi/min"),
        broken("locking-jaws", "jaws-open"),
        broken("brake-chamber@left-2", "leaking"),
        broken("brake-drum@right-4", "loose"),
        broken("spare-fuses", "missing"),
        read("tire-tread@right-5-inner", "tread-depth", "2/32", "in"),
        broken("triangles", "too-few"),
        broken("headlights", "lamp-out"),
    ]
    for answer in planted:
        assert answer.step in steps
        answers[answer.step] = answer
    del answers["tire-tread@right-3-outer"], answers["windshield"]
    titles = {name: defect.title for name, defect in load_library().defects.items()}
    assessment = assess(shipped(), plan, answers, titles)
    assert [(entry.step, entry.finding.level.word, entry.finding.limit) for entry in assessment.against] == [
        (None, "halt", "defective-brakes"),
        ("locking-jaws", "halt", "jaws-open"),
        ("triangles", "repair", "triangles"),
        ("headlights", "repair", "lamp-out"),
        ("tire-tread@left-1", "repair", "tread-steer"),
        ("brake-chamber@left-2", "repair", "brake-leaking"),
        ("dual-tires@left-2", "repair", "tire-cut"),
        ("brake-drum@right-4", "repair", "brake-loose"),
        ("air-leak-applied", "repair", "leak-applied-combination"),
    ]
    assert [entry.step for entry in assessment.watch] == ["spare-fuses", "tire-tread@right-5-inner"]
    assert assessment.unmeasured == ("tire-tread@right-3-outer",)
    assert assessment.not_inspected == ("windshield",)
    assert (assessment.brakes.total, assessment.brakes.defective) == (10, 2)
    assert assessment.counts == {Level.HALT: 2, Level.REPAIR: 7, Level.WATCH: 2, Level.WITHIN: len(steps) - 12}
    names = {step.id: step.name[:1].upper() + step.name[1:] for step in plan.steps}
    assert assessment.text == (
        "Nine things stand against leaving.",
        "All brakes together: twenty percent, the limit is less than twenty percent. May not be driven, out of service"
        " criteria, brake systems, known second-hand.",
        f"{names['locking-jaws']}: jaws not closed round the kingpin. May not be driven, out of service criteria,"
        " coupling devices, from memory, check locally.",
        f"{names['triangles']}: {titles['too-few'].lower()}, unless there are six fusees. Repair before leaving,"
        " federal rule three ninety three point ninety five, paragraph f, known second-hand.",
        f"{names['headlights']}: lamp out, out of service without any stop lamp or a rear turn signal, at night also"
        " without a low beam or tail lamp. Repair before leaving, federal rule three ninety three point nine, known"
        " second-hand.",
        f"{names['tire-tread@left-1']}: three thirty seconds of an inch, the limit is at least four thirty seconds of"
        " an inch. Repair before leaving, federal rule three ninety three point seventy five, paragraph b.",
        f"{names['brake-chamber@left-2']}: leaking. Repair before leaving, annual inspection standard, one point a,"
        " paragraph four.",
        f"{names['dual-tires@left-2']}: cut or torn, may not be driven if ply or belt shows in the cut. Repair before"
        " leaving, federal rule three ninety three point seventy five, paragraph a four.",
        f"{names['brake-drum@right-4']}: loose. Repair before leaving, annual inspection standard, one point a,"
        " paragraph three.",
        f"{names['air-leak-applied']}: four point five p s i a minute, the limit is at most four p s i a minute. Repair"
        " before leaving, driver license manual, five point three point three.",
        "Of ten brakes two count as defective.",
        "Two things to watch.",
        f"{names['spare-fuses']}: missing.",
        f"{names['tire-tread@right-5-inner']}: two thirty seconds of an inch, the limit is at least two thirty seconds"
        " of an inch.",
        f"One reading that is asked for was not taken: {names['tire-tread@right-3-outer'].lower()}.",
        f"One item was not inspected: {names['windshield'].lower()}.",
        DECIDES,
    )


def test_a_whole_summary_word_by_word() -> None:
    vehicle = rig()
    results = [
        stepped(
            vehicle, 1, "left", found(at(vehicle, 1, "left"), "tread-depth", "1/32", "in").values(),
            name="left steer tread", step="tire-tread@left-1", part="tires", wants="tread-depth", measured=True,
        ),
        stepped(
            vehicle, 3, "left", found(at(vehicle, 3, "left"), "pushrod-stroke-applied", "2 1/8", "in").values(),
            name="left axle three stroke", step="pushrod-stroke@left-3", wants="pushrod-stroke-applied", measured=True,
        ),
        stepped(
            vehicle, None, None, found(at(vehicle), "mud-flap-height", "11", "in").values(),
            name="left mud flap", step="mud-flap-height@left", part="other", wants="mud-flap-height", measured=True,
        ),
        *(
            stepped(
                vehicle, 2, "right", [], name=f"pressure {number}", step=f"p-{number}", outcome="not-inspected",
                wants="cold-inflation",
            )
            for number in range(8)
        ),
        stepped(vehicle, 2, "right", [], name="right spring", step="springs@right-2", outcome="not-inspected"),
        stepped(vehicle, 2, "right", [], name="right lamp", step="lamp@right-2", outcome="not-applicable"),
    ]  # fmt: skip
    assert assess_results(shipped(), vehicle, results).text == (
        "Two things stand against leaving.",
        "Left steer tread: one thirty second of an inch, the limit is at least two thirty seconds of an inch, judged by"
        " two adjacent major grooves. May not be driven, out of service criteria, tires, known second-hand.",
        "Left axle three stroke: two and an eighth inches, the limit is at most two inches. Repair before leaving,"
        " federal rule three ninety three point forty seven, paragraph e.",
        "Of ten brakes one half counts as defective.",
        "One thing to watch.",
        "Left mud flap: eleven inches, the limit is at most ten inches.",
        "Eight readings that are asked for were not taken: pressure 0, pressure 1, pressure 2, pressure 3, pressure 4,"
        " pressure 5, and two more.",
        "One item was not inspected: right spring.",
        DECIDES,
    )


def test_a_reading_without_a_figure_to_hold_it_against_is_told(plan: Plan) -> None:
    """A profile without the maker's pressures: the pressure is kept, but nobody can judge it."""
    bare = make_plan(load_library(), rig())
    assessment = assess(shipped(), bare, sound(bare))
    assert assessment.level is Level.WITHIN
    assert len(assessment.unjudged) == 10
    assert all(step.startswith("tire-pressure@") for step in assessment.unjudged)
    assert assessment.text[1].startswith(
        "Ten readings have no figure to be held against, the vehicle's file lacks it: "
    )
    assert assess(shipped(), plan, sound(plan)).unjudged == ()


def test_metric_summary() -> None:
    vehicle = rig(display_units="si")
    findings = found(at(vehicle, 1, "left"), "tread-depth", "3/32", "in")
    assert findings["tread-steer"].limit_text == "at least 3.2 mm"
    results = [stepped(vehicle, 1, "left", findings.values(), name="left steer tread", measured=True)]
    assert (
        "Left steer tread: two point four millimeters, the limit is at least three point two millimeters. Repair before"
        " leaving, federal rule three ninety three point seventy five, paragraph b."
        in assess_results(shipped(), vehicle, results).text
    )


def test_a_choice_and_a_follow_up_count_too(steps: dict[str, Step]) -> None:
    step = steps["rim-lugs@left-2"]
    answer = Answer(
        step.id, "defect", 0, 1,
        taken=(Taken("loose-fasteners", measure(3, "count"), "count-loose"),), defects=(DefectFound("loose"),),
    )  # fmt: skip
    result = judge_answer(shipped(), rig(), step, answer)
    assert result.level is Level.HALT
    assert [finding.limit for finding in result.findings][:1] == ["fasteners-ten-halt"]
    assert {finding.limit for finding in result.findings} >= {"fasteners", "wheel-fasteners"}
    assert not result.measured


def test_a_detail_may_be_kept_by_its_title(steps: dict[str, Step]) -> None:
    step = steps["springs@left-1"]
    by_id = judge_answer(shipped(), rig(), step, broken(step.id, "broken", part="hanger"))
    by_title = judge_answer(shipped(), rig(), step, broken(step.id, "broken", part="hanger or bushing"))
    assert by_id == by_title
    assert by_id.level is Level.HALT


def test_an_unanswered_reading_is_unmeasured_and_a_defect_instead_of_it_too(plan: Plan) -> None:
    answers = sound(plan)
    answers["tire-pressure@left-1"] = broken("tire-pressure@left-1", "flat")
    answers["belt-play"] = Answer("belt-play", "not-applicable", 0, 1, reason="gear driven")
    assessment = assess(shipped(), plan, answers)
    assert assessment.unmeasured == ("tire-pressure@left-1",)
    assert assessment.level is Level.HALT


def test_open_defects_of_the_last_report_stand_until_said_to_be_repaired(plan: Plan) -> None:
    """49 CFR 396.13: the driver reviews the last report; 396.11(a)(3): repaired or certified before the next use."""
    keys = ["brake-chamber@left-2#leaking", "horn-air#weak", "tire-tread@left-1#beyond-tread-depth", "lean#leaning"]
    question = plan.steps[0]
    asked = tuple(question.model_copy(update={"id": f"carried@{number}"}) for number in range(4))
    carried = tuple(
        Carried(step=step.id, key=key, title=f"Thing {key}", found="2026-01-05T06:00:00+00:00", record="r-1")
        for step, key in zip(asked, keys, strict=True)
    )
    reviewed = plan.model_copy(update={"steps": (*asked, *plan.steps), "carried": carried})
    answers = sound(plan)
    said = ["repaired", "still-there", "still-there", None]
    for step, choice in zip(asked, said, strict=True):
        if choice is not None:
            answers[step.id] = Answer(step.id, "choice", 0, 1, choice=choice)
    answers["tire-tread@left-1"] = read("tire-tread@left-1", "tread-depth", "3/32", "in")  # found again by this walk
    assessment = assess(shipped(), reviewed, answers)
    assert [(entry.step, entry.finding.source) for entry in assessment.against] == [
        ("tire-tread@left-1", "49 CFR 393.75(b)"),
        (asked[1].id, "49 CFR 396.11(a)(3)"),
        (asked[3].id, "49 CFR 396.11(a)(2)"),
    ]
    assert assessment.text[2] == (
        "Still open from the last report: Thing horn-air#weak. Repair before leaving, federal rule three ninety six"
        " point eleven, paragraph a three."
    )
    assert assessment.not_inspected == ()
    assert assess(shipped(), plan, answers).against == assessment.against[:1]


SENTENCES = [
    ("5/32", "Five thirty seconds of an inch is close to the limit: at least four thirty seconds of an inch."),
    ("4/32", "Four thirty seconds of an inch is exactly at the limit: at least four thirty seconds of an inch."),
    ("8/32", ""),
    (
        "3/32",
        "Three thirty seconds of an inch does not meet the limit: at least four thirty seconds of an inch, federal rule"
        " three ninety three point seventy five, paragraph b. Repair before leaving, or have it certified as not"
        " needing repair.",
    ),
    (
        "0",
        "Zero inches does not meet at least two thirty seconds of an inch, judged by two adjacent major grooves, out of"
        " service criteria, tires, known second-hand. Under that criterion it may not be driven.",
    ),
]


@pytest.mark.parametrize(("depth", "said"), SENTENCES)
def test_a_sentence_at_the_moment_of_the_reading(depth: str, said: str) -> None:
    worst_first = judge_reading(shipped(), at(rig(), 1, "left"), "tread-depth", measure(depth, "in"))
    assert sentence(worst_first[0]) == said


def test_a_sentence_of_an_advisory_and_of_defects() -> None:
    from voice.judge import judge_defect

    [flap] = judge_reading(shipped(), at(rig()), "mud-flap-height", Measure(Fraction(12), "in"))
    assert sentence(flap) == "Twelve inches does not meet at most ten inches, common practice. Noted, to be watched."
    flat = judge_defect(shipped(), at(rig(), 2), "flat", part="tires")
    assert (
        sentence(flat)
        == "Flat: may not be driven under federal rule three ninety three point seventy five, paragraph a three."
    )
    horn = judge_defect(shipped(), at(rig(), item="horn-air"), "weak", part="horn")
    assert sentence(horn, defect="too weak") == (
        "Too weak: repair before leaving, or have it certified as not needing repair, federal rule three ninety six"
        " point eleven, paragraph a three."
    )


def test_a_defect_and_the_reading_that_measures_it_are_one_thing() -> None:
    """Three loose fasteners on ten studs: out of service by their number (public criteria); told and counted once."""
    vehicle = rig()
    subject = at(vehicle, 2, "right", item="rim-lugs")
    measured = judge_reading(shipped(), subject, "loose-fasteners", Measure(Fraction(3), "count"))
    loose = judge_defect(shipped(), subject, "loose", part="wheels")
    result = stepped(
        vehicle, 2, "right", [*measured, loose], name="right axle two rim", step="rim-lugs@right-2", part="wheels",
        outcome="defect",
    )  # fmt: skip
    assessment = assess_results(shipped(), vehicle, [result])
    assert len(assessment.against) == 1
    assert assessment.against[0].finding.level is Level.HALT
    assert assessment.text[:2] == (
        "One thing stands against leaving.",
        "Right axle two rim: loose, three, the limit is less than three. May not be driven, out of service criteria,"
        " wheels, known second-hand.",
    )
