"""The end of a walk: what stands against leaving, what is to be watched, what nobody looked at.

Never a release of the vehicle: a qualified person decides, and the summary says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from voice.judge.brakes import BrakeCount, count_brakes, judge_brakes, judge_spring_brakes
from voice.judge.cargo import JUDGED_BY
from voice.judge.citation import spoken_support
from voice.judge.defect import judge_defect
from voice.judge.limit import LimitSet
from voice.judge.model import Finding, Result, Subject
from voice.judge.result import judge_answer
from voice.judge.wording import level_words, verdicts
from voice.measure import Measure
from voice.measure.cardinal import cardinal
from voice.measure.level import Level
from voice.measure.telling import System, quantity_name, spoken
from voice.route.model import Place, Plan
from voice.route.vehicle import Vehicle

if TYPE_CHECKING:  # the walk imports this package
    from voice.judge.answer import Answer

# The items under which unequal chambers and slack adjusters of one axle are judged; they are in the profile.
CHAMBERS = "axle-chambers"
SLACKS = "axle-slacks"
SETTLED = ("repaired", "not-on-this-vehicle")  # answers of the review that take an open defect off the list


@dataclass(frozen=True, slots=True)
class Standout:
    """One thing found.

    step: its id, None for the vehicle as a whole.
    name: where, as it is said.

    told: what, as it is said; empty where the finding tells it.
    """

    finding: Finding
    name: str
    step: str | None = None
    told: str = ""


@dataclass(frozen=True, slots=True)
class Assessment:
    """against: REPAIR and HALT, worst first.
    watch: WATCH.
    unmeasured: ids of steps that ask a reading and got none.
    not_inspected: ids of the other steps without an answer.
    unjudged: ids of steps whose reading has no limit here, for want of a figure of the vehicle.
    brakes: the count behind the share of defective brakes.
    text: the spoken summary, sentence by sentence.
    findings: those of its sentences that tell what stands against leaving or is to be watched.
    """

    against: tuple[Standout, ...]
    watch: tuple[Standout, ...]
    unmeasured: tuple[str, ...]
    not_inspected: tuple[str, ...]
    unjudged: tuple[str, ...]
    brakes: BrakeCount
    results: tuple[Result, ...]
    text: tuple[str, ...]
    findings: tuple[str, ...]

    @property
    def level(self) -> Level:
        """The worst level of all findings."""
        entries = (*self.against, *self.watch)
        return max((entry.finding.level for entry in entries), default=Level.WITHIN)

    @property
    def counts(self) -> dict[Level, int]:
        """How many things found have each level; WITHIN: answered steps with nothing to tell."""
        found = dict.fromkeys(Level, 0)
        for entry in (*self.against, *self.watch):
            found[entry.finding.level] += 1
        silent = (*self.unmeasured, *self.not_inspected)
        found[Level.WITHIN] = sum(r.level is Level.WITHIN and r.step not in silent for r in self.results)
        return found


def assess(
    limits: LimitSet, plan: Plan, answers: Mapping[str, Answer], titles: Mapping[str, str] | None = None
) -> Assessment:
    """The whole walk judged.

    titles: names of the defects, for the sentences; by default their ids in words.

    The review of the last report is no part of the inspection: its questions are not counted as items, but an open
    defect stands against leaving unless the driver said that it is repaired or not on this vehicle (49 CFR 396.13).
    """
    review = {carried.step for carried in plan.carried}
    steps = [step for step in plan.steps if step.id not in review]
    results = [judge_answer(limits, plan.vehicle, step, answers.get(step.id)) for step in steps]
    return assess_results(limits, plan.vehicle, results, titles, still_open(limits, plan, answers, results))


def still_open(
    limits: LimitSet, plan: Plan, answers: Mapping[str, Answer], results: Sequence[Result]
) -> tuple[Standout, ...]:
    """Open defects of the last report that nobody said were repaired, but for those this walk has found again."""
    found_again = {result.step for result in results if result.level >= Level.REPAIR}
    steps = {step.id: step for step in plan.steps}
    entries = []
    for carried in plan.carried:
        answer = answers.get(carried.step)
        if answer is not None and answer.choice in SETTLED:
            continue
        name, _, defect = carried.key.partition("#")
        if name in found_again:
            continue
        step = steps.get(name)
        item = step.item.id if step is not None else name.partition("@")[0]
        subject = Subject(plan.vehicle, item, step.place if step is not None else Place())
        finding = judge_defect(limits, subject, defect, part=step.item.part if step is not None else "other")
        entries.append(Standout(finding, verdicts().places.open, carried.step, carried.title))
    return tuple(entries)


def assess_results(
    limits: LimitSet,
    vehicle: Vehicle,
    results: Sequence[Result],
    titles: Mapping[str, str] | None = None,
    before: Sequence[Standout] = (),
) -> Assessment:
    """The same from results that were judged before.

    before: what stands from the last report.
    """
    brakes = count_brakes(limits, vehicle, results)
    entries = [
        *_whole_vehicle(limits, vehicle, results, brakes),
        *(entry for result in results for entry in _worst_of(result, titles or {}, vehicle.display_units)),
        *before,
    ]
    entries.sort(key=lambda entry: -entry.finding.level)
    against = tuple(entry for entry in entries if entry.finding.level >= Level.REPAIR)
    watch = tuple(entry for entry in entries if entry.finding.level is Level.WATCH)
    open_results = [r for r in results if r.outcome != "not-applicable" and not r.measured]
    unmeasured = [r for r in open_results if r.wants is not None]
    missed = [r for r in open_results if r.wants is None and r.outcome == "not-inspected"]
    bare = [r for r in results if r.measured and not _judged(r)]
    words = verdicts().summary
    findings = tuple(_found(against, watch, brakes, titles or {}, vehicle.display_units))
    text = (
        *findings,
        *_listed(words.unmeasured_one, words.unmeasured_many, unmeasured),
        *_listed(words.not_inspected_one, words.not_inspected_many, missed),
        *_listed(words.unjudged_one, words.unjudged_many, bare),
        words.decides,
    )
    return Assessment(
        against=against,
        watch=watch,
        unmeasured=tuple(r.step for r in unmeasured),
        not_inspected=tuple(r.step for r in missed),
        unjudged=tuple(r.step for r in bare),
        brakes=brakes,
        results=tuple(results),
        text=text,
        findings=findings,
    )


def _judged(result: Result) -> bool:
    """Whether a limit was held against its reading. The figures of a load are judged together."""
    wants = result.wants or ""
    return any(finding.quantity == JUDGED_BY.get(wants, wants) for finding in result.findings)


def _worst_of(result: Result, titles: Mapping[str, str], system: System) -> Iterable[Standout]:
    """Of each quantity and each defect of a step the worst finding: one thing is told once.

    A defect and the reading that measures it (a loose wheel nut, and how many) are one thing, too.
    """
    worst: dict[str, Finding] = {}
    for finding in result.findings:
        key = finding.defect or finding.quantity
        if key not in worst or finding.level > worst[key].level:
            worst[key] = finding
    defects = [finding for finding in worst.values() if finding.defect is not None]
    measured = [f for f in worst.values() if f.defect is None and f.level >= Level.REPAIR]
    if len(defects) == 1 and len(measured) == 1:
        defect, reading = defects[0], measured[0]
        told = verdicts().summary.what_measured.format(
            defect=what(replace(defect, condition=""), titles, system), reading=what(reading, titles, system)
        )
        worst = {key: f for key, f in worst.items() if f is not defect and f is not reading}
        decides = reading if reading.level > defect.level else defect
        yield Standout(decides, result.name, result.step, told=told)
    yield from (Standout(finding, result.name, result.step) for finding in worst.values())


def _whole_vehicle(
    limits: LimitSet, vehicle: Vehicle, results: Sequence[Result], brakes: BrakeCount
) -> Iterable[Standout]:
    """What only the vehicle as a whole shows."""
    places = verdicts().places
    for finding in judge_brakes(limits, vehicle, brakes)[:1]:
        yield Standout(finding, places.brakes)
    for finding in judge_spring_brakes(limits, vehicle, results)[:1]:
        yield Standout(finding, places.spring_brakes)
    for number, axle in enumerate(vehicle.axles, start=1):
        brake = axle.brake
        for item, left, right, name in (
            (CHAMBERS, brake.chamber, brake.right_chamber, places.chambers),
            (SLACKS, brake.arm_in, brake.right_arm_in, places.slacks),
        ):
            if left is not None and right is not None and left != right:
                subject = Subject(vehicle, item, Place(axle=number))
                finding = judge_defect(limits, subject, "mismatched", part="service-brakes")
                yield Standout(finding, name.format(axle=cardinal(number)))


def _found(
    against: Sequence[Standout],
    watch: Sequence[Standout],
    brakes: BrakeCount,
    titles: Mapping[str, str],
    system: System,
) -> Iterable[str]:
    words = verdicts().summary
    if not against:
        yield words.nothing_found
    else:
        yield _counted(words.against_one, words.against_many, len(against))
        for entry in against:
            yield words.against_entry.format(
                place=_capital(entry.name),
                what=entry.told or what(entry.finding, titles, system),
                level=level_words(entry.finding.level, capital=True),
                source=spoken_support(entry.finding),
            )
    if brakes.defective:
        defective = spoken(Measure(brakes.defective, "count"), quantity="brakes")
        sentence = words.brakes_one if brakes.defective <= 1 else words.brakes
        yield sentence.format(total=cardinal(brakes.total), defective=defective)
    if watch:
        yield _counted(words.watch_one, words.watch_many, len(watch))
        for entry in watch:
            yield words.watch_entry.format(place=_capital(entry.name), what=what(entry.finding, titles, system))


def what(finding: Finding, titles: Mapping[str, str], system: System = "us") -> str:
    """What was found, in a phrase: the reading and its limit, or the defect."""
    words = verdicts().summary
    if finding.defect is not None:
        title = titles.get(finding.defect, finding.defect.replace("-", " "))
        template = words.what_condition if finding.condition else words.what_defect
        return template.format(defect=title[:1].lower() + title[1:], condition=finding.condition)
    reading = "" if finding.reading is None else spoken(finding.reading, quantity=finding.quantity, system=system)
    return words.what_reading.format(
        quantity=quantity_name(finding.quantity), reading=reading, limit=finding.limit_spoken
    )


def _listed(one: str, many: str, results: Sequence[Result]) -> Iterable[str]:
    """A sentence that lists steps by name, the first few of them."""
    if not results:
        return
    words = verdicts().summary
    shown = [result.name for result in results[: words.listed]]
    if len(results) > words.listed:
        shown.append(words.more.format(count=cardinal(len(results) - words.listed)))
    yield _counted(one, many, len(results)).format(places=", ".join(shown))


def _counted(one: str, many: str, count: int) -> str:
    return one if count == 1 else many.replace("{count}", _capital(cardinal(count)))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
