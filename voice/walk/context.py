"""What a walk knows that never changes while it runs: the plan, the limits, the wording, the phrases.

Pure look-ups only. The state refers to steps and defects by id; this finds them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from voice.judge import LimitSet, assess, judge_reading
from voice.judge.answer import LAST, Answer
from voice.judge.assessment import Assessment
from voice.judge.model import Finding, Subject
from voice.judge.wording import verdicts
from voice.measure import Measure
from voice.measure.level import Level
from voice.measure.telling import printed, spoken
from voice.route.answer import Measurement
from voice.route.files import Caution, DefectKind
from voice.route.model import FollowUp, Look, Place, Plan, Section, Step
from voice.understand.parts import PartOfLook, parts_of
from voice.understand.phrases import Phrasebook
from voice.understand.question import Asks
from voice.walk.pacetalk import PaceTalk, shipped_pace
from voice.walk.state import Draft, State
from voice.walk.talk import Talk


@dataclass(frozen=True)
class Context:
    """See the module.

    drivers: names that may sign, for the phrases of the sign-off.
    cautions: by id.
    separator: between the parts of a spoken place.
    driver: who walks, if that was given at the start; "signed" alone is then enough.
    pace: the sentences of the daily walk.
    """

    plan: Plan
    limits: LimitSet
    talk: Talk
    book: Phrasebook
    defects: Mapping[str, DefectKind]
    cautions: Mapping[str, Caution]
    drivers: tuple[str, ...] = ()
    separator: str = ", "
    driver: str | None = None
    pace: PaceTalk = field(default_factory=shipped_pace)

    @cached_property
    def steps(self) -> Mapping[str, Step]:
        return {step.id: step for step in self.plan.steps}

    @cached_property
    def holds(self) -> tuple[str, ...]:
        """Whose limits hold besides the federal ones, and in which units; said when a walk begins or goes on."""
        words = verdicts().begin
        names = [layer.call for layer in self.limits.layers if layer.call]
        said = [words.limits.format(names=listed(names))] if names else []
        return (*said, *([words.metric] if self.plan.vehicle.display_units == "si" else []))

    @cached_property
    def order(self) -> tuple[str, ...]:
        return tuple(step.id for step in self.plan.steps)

    @cached_property
    def _index(self) -> Mapping[str, int]:
        return {name: index for index, name in enumerate(self.order)}

    @cached_property
    def sections(self) -> Mapping[str, Section]:
        return {section.id: section for section in self.plan.sections}

    @cached_property
    def looks(self) -> Mapping[str, Look]:
        """The look that a step belongs to."""
        return {step: look for look in self.plan.looks for step in look.steps}

    @cached_property
    def _parts(self) -> Mapping[str, PartOfLook]:
        return parts_of(self.plan)

    @cached_property
    def first_cautions(self) -> Mapping[str, tuple[str, ...]]:
        """For each step the cautions that come up with it for the first time in its section. What is not due may be
        left out, so it takes none away from what follows."""
        told: set[tuple[str, str]] = set()
        result: dict[str, tuple[str, ...]] = {}
        for step in self.plan.steps:
            known = self.sections[step.section].cautions
            other = self.beside(step.id)  # it may be answered without being asked
            under = (*step.item.cautions, *(() if other is None else self.steps[other].item.cautions))
            fresh = [c for c in dict.fromkeys(under) if c not in known and (step.section, c) not in told]
            if step.id not in self.not_due:
                told.update((step.section, c) for c in fresh)
            result[step.id] = tuple(fresh)
        return result

    @cached_property
    def _under(self) -> Mapping[str, tuple[Step, ...]]:
        """The steps under each caution, of the item or of its section."""
        found: dict[str, list[Step]] = {}
        for step in self.plan.steps:
            for caution in dict.fromkeys((*self.sections[step.section].cautions, *step.item.cautions)):
                found.setdefault(caution, []).append(step)
        return {caution: tuple(steps) for caution, steps in found.items()}

    def warning(self, state: State, caution: str, section: str) -> str:
        """The caution as it is said: shorter where a step of another section was already answered under it."""
        known = self.cautions[caution]
        if not known.again or state.length == "full":
            return known.say
        before = any(step.section != section and step.id in state.answers for step in self._under[caution])
        return known.again if before else known.say

    @cached_property
    def _readings(self) -> Mapping[tuple[str, Place], str]:
        """The step of an item at a place, where it is a reading."""
        steps = self.plan.steps
        return {(step.item.id, step.place): step.id for step in steps if isinstance(step.item.answer, Measurement)}

    def beside(self, step: str) -> str | None:
        """The step that is measured at the same place and may be told in the same breath."""
        at = self.steps[step]
        return None if at.item.beside is None else self._readings.get((at.item.beside.item, at.place))

    def open_beside(self, state: State) -> Step | None:
        """The same of the present step, if it has no answer yet and is asked today."""
        other = None if state.draft is None else self.beside(state.draft.step)
        wanted = other is not None and other not in state.answers and self.is_asked(state, other)
        return self.steps[other] if wanted and other is not None else None

    def same_as(self, step: Step, answers: Mapping[str, Answer]) -> tuple[str, Measure] | None:
        """What "same" stands for at a step: of which answer, and the reading in the item's unit."""
        asked = step.item.answer
        if not isinstance(asked, Measurement):
            return None
        for kind in step.item.same:
            if kind == "outer":
                name = self.outer(step)
                answer = None if name is None else answers.get(name)
                found = None if answer is None else answer.reading(asked.quantity)
            else:
                name, last = LAST, self.plan.last.get(step.id)
                found = None if last is None else last.measure
            if name is not None and found is not None and found.unit == asked.unit:
                return name, found
        return None

    def outer(self, step: Step) -> str | None:
        """For the inner tire of a pair, the step of the outer one."""
        if step.place.tire != "inner":
            return None
        return self._readings.get((step.item.id, step.place.model_copy(update={"tire": "outer"})))

    def stale(self, state: State, step: str) -> bool:
        """Whether the step was said to be the same as a reading that has been changed since."""
        answer = state.answers.get(step)
        if answer is None or answer.same not in state.answers:
            return False
        quantity = getattr(self.steps[step].item.answer, "quantity", "")
        return state.answers[answer.same].reading(quantity) != answer.reading(quantity)

    @cached_property
    def not_due(self) -> frozenset[str]:
        return frozenset(each.step for each in self.plan.not_due)

    def is_asked(self, state: State, step: str) -> bool:
        """Whether the step is asked on this walk: it is due, or the driver wanted it all the same."""
        present = state.draft is not None and state.draft.step == step
        kept = step in state.brought or step in state.answers or step in state.reported
        return step not in self.not_due or kept or present

    def asked(self, state: State) -> tuple[str, ...]:
        """All that is asked on this walk, in walking order."""
        return tuple(step for step in self.order if self.is_asked(state, step))

    def index(self, step: str) -> int:
        return self._index[step]

    def current(self, state: State) -> Step:
        if state.draft is None:
            raise AssertionError("no step is being asked")
        return self.steps[state.draft.step]

    def parts(self, state: State) -> tuple[PartOfLook, ...]:
        """What the present question asks about together; empty if it is about one step."""
        return () if state.draft is None else tuple(self._parts[step] for step in state.draft.group)

    def noted_parts(self, state: State) -> tuple[PartOfLook, ...]:
        """Other parts of the look that is asked, which have an answer: one of them may be named again."""
        group = () if state.draft is None else state.draft.group
        steps = self.looks[group[0]].steps if group else ()
        return tuple(self._parts[step] for step in steps if step not in group and step in state.answers)

    def part_name(self, step: str) -> str:
        return self._parts[step].names[0]

    def called(self, state: State) -> str:
        """The name of what is asked about, be it one step or several parts."""
        return listed(self.named(state)) or self.current(state).name

    def named(self, state: State) -> tuple[str, ...]:
        """What the present question about several parts names: each, or the assembly that it belongs to."""
        group = () if state.draft is None else state.draft.group
        return self.looks[group[0]].names(group) if group else ()

    def help(self, asks: Asks) -> str:
        """What can be said to a question of this kind."""
        return self.pace.help[asks] if asks == "look" or asks == "part" else self.talk.help[asks]

    def can_say(self, asks: Asks) -> str:
        """The same in at most five words."""
        return self.pace.can_say[asks] if asks == "look" or asks == "part" else self.talk.can_say[asks]

    def open_steps(self, state: State) -> Iterator[str]:
        """Steps without an answer, or with a report that stands against the one they have, or against their look, or
        with words that were not understood, or that were said to be the same as what has been changed since."""
        looks = {step for look in self.plan.looks if look.id in state.reported for step in look.steps}
        return (
            step
            for step in self.asked(state)
            if step not in state.answers
            or step in state.reported
            or step in state.unheard
            or (step in looks and not state.answers[step].defects)
            or self.stale(state, step)
        )

    def next_open(self, state: State) -> str | None:
        """The next step to ask: the first open one in walking order. Those put off come at the end of their section,
        while the driver still stands there; until the third rules, at the end of the walk."""
        late: str | None = None
        for step in self.open_steps(state):
            if late is not None and state.rules > 2 and self.steps[step].section != self.steps[late].section:
                return late
            if step not in state.skipped:
                return step
            late = late or step
        return late

    def follow_ups(self, step: Step, draft: Draft) -> tuple[FollowUp, ...]:
        """Those that fit what the answer has become so far."""
        if draft.outcome == "defect":
            wanted = {"defect", "any", draft.defect or ""}
        elif draft.outcome in ("ok", "reading", "choice", "done"):
            wanted = {"ok", "any"}
        else:
            return ()
        return tuple(follow for follow in step.item.follow_ups if follow.after in wanted)

    def findings(self, step: Step, quantity: str, measure: Measure) -> tuple[Finding, ...]:
        return judge_reading(self.limits, self.subject(step), quantity, measure)

    def subject(self, step: Step) -> Subject:
        return Subject(self.plan.vehicle, step.item.id, step.place)

    def worst(self, step: Step, quantity: str, measure: Measure) -> Finding | None:
        """The finding that must be confirmed aloud: beyond a limit; else None."""
        findings = self.findings(step, quantity, measure)
        return findings[0] if findings and findings[0].level >= Level.REPAIR else None

    def printed(self, measure: Measure, quantity: str) -> str:
        return printed(measure, quantity=quantity, system=self.plan.vehicle.display_units)

    def spoken(self, measure: Measure, quantity: str) -> str:
        return spoken(measure, quantity=quantity, system=self.plan.vehicle.display_units)

    def assessed(self, answers: Mapping[str, Answer]) -> Assessment:
        """The whole walk judged."""
        titles = {name: defect.title for name, defect in self.defects.items()}
        return assess(self.limits, self.plan.walked(answers), answers, titles)

    def defects_of(self, step: Step) -> tuple[DefectKind, ...]:
        return tuple(self.defects[name] for name in step.item.defects)

    def spoken_defects(self, step: Step) -> str:
        return listed(defect.say[0] for defect in self.defects_of(step))


def listed(words: Iterable[str]) -> str:
    """ "a, b, c": a list as it is read aloud."""
    return ", ".join(words)
