"""A step from its first question to its answer: entering it, leaving it, and the gate that its answer passes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType

from voice.judge.answer import Answer
from voice.measure import Measure
from voice.route.answer import Call, Climb, Hold
from voice.route.model import Step
from voice.understand.meaning import Number
from voice.walk import closing, reports, unheard
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


def _goes_on(context: Context, state: State, step: Step) -> bool:
    """Whether a timed check goes on from the reading just taken, so that its ready lines hold already."""
    before = None if state.last is None else state.answers.get(state.last)
    if before is None or before.kind != "reading" or step.id in state.answers:
        return False
    return context.steps[before.step].item.id in getattr(step.item.answer, "goes_on", ())


def after_ready(step: Step) -> Stage:
    """Where a timed check goes on once its ready lines are said."""
    match step.item.answer:
        case Hold():
            return Stage.GAUGE
        case Climb():
            return Stage.FIRST
    return Stage.WATCH


def enter(context: Context, state: State, step_id: str, *lead: str, whole: bool = True) -> Turn:
    """Begin a step: on entering a section its title and cautions, then the question.

    whole: False right after an answer.
    """
    step = context.steps[step_id]
    section = context.sections[step.section]
    parts = list(lead)
    if state.told != section.id:
        parts.append(context.talk.section.format(title=section.title))
        parts += [context.warning(state, caution, section.id) for caution in section.cautions]
    if step_id not in state.answers:
        parts += [context.warning(state, caution, section.id) for caution in context.first_cautions[step_id]]
        parts.append(context.plan.reasons.get(step_id, ""))
    stage = after_ready(step) if not whole and _goes_on(context, state, step) else first_stage(step)
    if stage is not Stage.ASK:
        parts.append(getattr(step.say, state.length))
    asked = state.at
    if state.draft is not None and state.draft.step == step_id:
        asked = state.draft.asked
    fresh = replace(settled(state), stage=stage, aside=None, draft=Draft(step_id, asked), told=section.id)
    return understood(fresh, *parts, whole=whole or state.told != section.id)


def enter_look(context: Context, state: State, group: tuple[str, ...], *lead: str, whole: bool = True) -> Turn:
    """Begin a look: section and cautions as for each of its steps, then the one question about all of them."""
    turn = enter(context, state, group[0], *lead, whole=whole)
    fresh = dict.fromkeys(
        context.warning(state, caution, context.steps[step].section)
        for step in group[1:]
        if step not in state.answers
        for caution in context.first_cautions[step]
    )
    draft = replace(draft_of(turn.state), look=context.looks[group[0]].id, group=group)
    looking = replace(turn.state, stage=Stage.LOOK, draft=draft)
    return replace(turn, state=looking, lead=(*turn.lead, *(each for each in fresh if each not in turn.lead)))


def group_of(context: Context, state: State, step: str) -> tuple[str, ...]:
    """What is asked together with the step; empty if it is asked by itself.

    A look of which something was reported, but not of which part, is asked as a whole at any depth.
    """
    look = context.looks.get(step)
    if look is None:
        return ()
    if look.id in state.reported:
        group = tuple(each for each in look.steps if not reports.known_bad(state, each))
    elif state.depth == "by-place" and step not in state.reported:
        late = step in state.skipped
        group = tuple(
            each
            for each in look.steps
            if each not in state.answers and each not in state.reported and (each in state.skipped) is late
        )
    else:
        return ()
    return group if len(group) > 1 else ()


def revisit(context: Context, state: State, step: str, *lead: str) -> Turn:
    """A step again; with it what was answered by the same okay."""
    group = tuple(each for each in _together(state, step) if _together(state, each) == _together(state, step))
    if len(group) > 1 and not any(reports.known_bad(state, each) for each in group):
        return enter_look(context, state, group, *lead)
    return enter(context, state, step, *lead)


def _together(state: State, step: str) -> tuple[str, ...]:
    answer = state.answers.get(step)
    return () if answer is None else answer.together


def reenter(context: Context, state: State, *lead: str) -> Turn:
    """The present step or look from its first question."""
    draft = draft_of(state)
    if draft.group:
        return enter_look(context, state, draft.group, *lead)
    return enter(context, state, draft.step, *lead)


def begun(context: Context, state: State) -> bool:
    """Whether more than its first question was asked."""
    first = Stage.LOOK if draft_of(state).group else first_stage(context.current(state))
    return state.stage is not first


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
    state = replace(state, draft=None)
    if group := group_of(context, state, following):
        return enter_look(context, state, group, *parts, whole=whole)
    return enter(context, state, following, *parts, whole=whole)


def store(context: Context, state: State, *lead: str) -> Turn:
    """The draft becomes the step's answer. While a defect stands against it, nothing but a defect does: it is asked
    whether that is taken back."""
    draft = draft_of(state)
    if draft.outcome is None:
        raise AssertionError(f"{draft.step} has no outcome")
    steps = reports.asked_about(draft)
    if draft.outcome == "not-inspected" and state.rules > 1:
        reason = dict(draft.details).get("reason", "")
        if draft.group:
            state = reports.placed(context, state, context.looks[draft.step])
        if any(step in state.reported for step in steps):
            left = [reports.left_open(context, state, step, reason) for step in steps]
            return _keep(context, state, left, *lead)
    if draft.outcome != "defect" and reports.against(context, state):
        told = () if draft.outcome == "not-applicable" else lead  # whether it is not, is what is asked
        return understood(with_draft(state, Stage.TAKE_BACK), *told)
    if unheard.stands(state):
        return understood(with_draft(state, Stage.UNHEARD), *lead)
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
        together=draft.group,
        same=draft.same,
        beside=draft.beside or (context.beside(draft.step) or "" if draft.second is not None else ""),
    )
    return _keep(context, state, [replace(answer, step=step) for step in steps], *lead)


def _keep(context: Context, state: State, answers: Sequence[Answer], *lead: str) -> Turn:
    """The step, or each of a look, has its answer; the walk goes on."""
    for answer in answers:
        if (old := state.answers.get(answer.step)) is not None:
            answer = replace(answer, asked=old.asked, corrected=old.corrected + 1)
        answer = replace(answer, taken_back=reports.taken_back(context, state, answer))
        kept = MappingProxyType({**state.answers, answer.step: answer})
        skipped = tuple(step for step in state.skipped if step != answer.step)
        look = context.looks.get(answer.step)
        # What was said of the look is answered by the look as a whole, or by a defect of one of its parts.
        whole = look is not None and (len(answers) > 1 or answer.kind == "defect")
        over = (answer.step, *((look.id,) if look is not None and whole else ()))
        state = replace(reports.cleared(state, *over), answers=kept, skipped=skipped, last=answer.step)
    # Where the driver stands: of a wheel end with its mud flap, at the wheel.
    at = [answer.step for answer in answers if context.steps[answer.step].place.axle is not None]
    state = replace(state, last=at[-1] if at else state.last)
    if (second := draft_of(state).second) is not None and (other := context.open_beside(state)) is not None:
        return _told_beside(context, state, other.id, second, *lead)
    # The driver stands where the step just answered was: of the next one's place only what is new needs saying.
    return advance(context, state, *lead, whole=False)


def _told_beside(context: Context, state: State, other: str, reading: Measure, *lead: str) -> Turn:
    """The reading that was told in the same breath is taken as if it had been asked for now."""
    before = draft_of(state)
    turn = enter(context, replace(state, draft=None), other, *lead, whole=False)
    draft = Draft(other, before.asked, before.events, beside=before.step)
    said = Heard(state.at, Number(reading), "")
    return replace(turn, state=replace(turn.state, draft=draft), redo=said)


def taken_back(context: Context, state: State, event: Heard) -> Turn:
    """What stood against the answer is taken back, and that is read back."""
    draft = draft_of(state)
    name = context.called(state)
    sentence = context.talk.not_applicable if draft.outcome == "not-applicable" else context.talk.taken_back
    over = reports.subjects(context, draft) if draft.group else (draft.step,)
    told = [(subject, each.words) for subject in over for each in state.reported.get(subject, ())]
    told += [(draft.step, each.words) for each in draft.against]
    kept = (*draft.taken_back, *told)
    state = with_draft(reports.cleared(state, *over), state.stage, cleared=True, against=(), taken_back=kept)
    return store(context, state, sentence.format(name=name))


def nothing_wrong(context: Context, state: State, event: Heard) -> Turn:
    """What was not understood was no defect: the okay before it counts."""
    told = state.unheard.difference(reports.asked_about(draft_of(state)))
    return store(context, replace(state, unheard=told))


def wrong_or_not(context: Context, state: State, event: Heard) -> Turn:
    """A no to "Nothing wrong?" can mean either: asked again, which."""
    return ask(again(unheard.wrong_perhaps(context, state)), wording=context.talk.nothing_wrong_say)


def which_of_both(context: Context, state: State, event: Heard) -> Turn:
    """It can mean either: asked again, which."""
    words = ", ".join(reports.against(context, state))
    na = draft_of(state).outcome == "not-applicable"
    wording = context.talk.take_back_na_say if na else context.talk.take_back_say
    return ask(again(state), wording=wording.format(words=words))
