"""A step from its first question to its answer: entering it, leaving it, and the gate that its answer passes."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

from voice.judge.answer import Answer
from voice.route.answer import Call, Climb, Hold
from voice.route.model import Step
from voice.walk import closing, reports
from voice.walk.context import Context
from voice.walk.event import Heard
from voice.walk.state import Draft, Stage, State
from voice.walk.turn import Turn, ask, settled, understood


def again(state: State) -> State:
    """The step has to be asked once more."""
    draft = draft_of(state)
    return replace(state, draft=replace(draft, asked_again=draft.asked_again + 1))


def draft_of(state: State) -> Draft:
    if state.draft is None:
        raise AssertionError("no step is being asked")
    return state.draft


def with_draft(state: State, stage: Stage, **changes: object) -> State:
    return replace(state, stage=stage, draft=replace(draft_of(state), **changes))  # type: ignore[arg-type]


# --- entering and leaving a step ---------------------------------------------------------------------------------


def first_stage(step: Step) -> Stage:
    """Where a step begins, and where a timed check that was broken off begins again."""
    match step.item.answer:
        case Hold() | Climb() | Call() as answer if answer.ready:
            return Stage.READY
        case Hold():
            return Stage.GAUGE
        case Climb():
            return Stage.FIRST
        case Call():
            return Stage.WATCH
    return Stage.ASK


def enter(context: Context, state: State, step_id: str, *lead: str, whole: bool = True) -> Turn:
    """Begin a step: on entering a section its title and cautions, then the question."""
    step = context.steps[step_id]
    section = context.sections[step.section]
    parts = list(lead)
    if state.told != section.id:
        parts.append(context.talk.section.format(title=section.title))
        parts += [context.cautions[caution] for caution in section.cautions]
    if step_id not in state.answers:
        parts += [context.cautions[caution] for caution in context.first_cautions[step_id]]
    stage = first_stage(step)
    if stage is not Stage.ASK:
        parts.append(getattr(step.say, state.length))
    asked = state.at
    if state.draft is not None and state.draft.step == step_id:
        asked = state.draft.asked
    fresh = replace(settled(state), stage=stage, aside=None, draft=Draft(step_id, asked), told=section.id)
    return understood(fresh, *parts, whole=whole or state.told != section.id)


def advance(context: Context, state: State, *lead: str, whole: bool = True) -> Turn:
    """Go on to the next open step, or to the end."""
    following = context.next_open(state)
    if following is None:
        return closing.summarise(context, replace(state, draft=None), *lead)
    parts = list(lead)
    if following not in state.skipped and state.rules > 2:
        state = replace(state, second_round=False)
    if following in state.skipped and not state.second_round:
        place = context.steps[following].section
        late = [step for step in state.skipped if step not in state.answers]
        here = [step for step in late if state.rules < 3 or context.steps[step].section == place]
        parts.append(context.talk.skipped_round.format(count=len(here)))
        state = replace(state, second_round=True)
    return enter(context, replace(state, draft=None), following, *parts, whole=whole)


def store(context: Context, state: State, *lead: str) -> Turn:
    """The draft becomes the step's answer. While a defect stands against it, nothing but a defect does: it is asked
    whether that is taken back."""
    draft = draft_of(state)
    if draft.outcome is None:
        raise AssertionError(f"{draft.step} has no outcome")
    if draft.outcome == "not-inspected" and state.rules > 1 and state.reported.get(draft.step):
        reason = dict(draft.details).get("reason", "")
        return _keep(context, state, reports.left_open(context, state, draft.step, reason), *lead)
    if draft.outcome != "defect" and reports.against(context, state):
        return understood(with_draft(state, Stage.TAKE_BACK), *lead)
    answer = Answer(
        step=draft.step,
        kind=draft.outcome,
        asked=draft.asked,
        answered=state.at,
        taken=draft.taken,
        defects=draft.defects,
        choice=draft.choice,
        reason=dict(draft.details).get("reason", ""),
        details=tuple((name, text) for name, text in draft.details if name != "reason"),
        asked_again=draft.asked_again,
        events=draft.events,
    )
    return _keep(context, state, answer, *lead)


def _keep(context: Context, state: State, answer: Answer, *lead: str) -> Turn:
    """The step has its answer; the walk goes on."""
    if (old := state.answers.get(answer.step)) is not None:
        answer = replace(answer, asked=old.asked, corrected=old.corrected + 1)
    answers = MappingProxyType({**state.answers, answer.step: answer})
    skipped = tuple(step for step in state.skipped if step != answer.step)
    state = replace(reports.cleared(state, answer.step), answers=answers, skipped=skipped, last=answer.step)
    # The driver stands where the step just answered was: of the next one's place only what is new needs saying.
    return advance(context, state, *lead, whole=False)


def taken_back(context: Context, state: State, event: Heard) -> Turn:
    """What stood against the answer is taken back, and that is read back."""
    draft = draft_of(state)
    name = context.current(state).name
    sentence = context.talk.not_applicable if draft.outcome == "not-applicable" else context.talk.taken_back
    state = with_draft(reports.cleared(state, draft.step), state.stage, cleared=True, against=())
    return store(context, state, sentence.format(name=name))


def which_of_both(context: Context, state: State, event: Heard) -> Turn:
    """It can mean either: asked again, which."""
    words = ", ".join(reports.against(context, state))
    na = draft_of(state).outcome == "not-applicable"
    wording = context.talk.take_back_na_say if na else context.talk.take_back_say
    return ask(again(state), wording=wording.format(words=words))
