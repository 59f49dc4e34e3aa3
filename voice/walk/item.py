"""Answers to a step: condition, reading, choice, done; the defect, its details, and the reason."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

from voice.measure import Measure
from voice.route.model import Call, Climb, Hold, Reading, Step
from voice.understand.meaning import Chosen, Defect, Either, Meaning, Number, Words
from voice.walk import closing
from voice.walk.answer import Answer, DefectFound, Taken
from voice.walk.ask import confirmed_quantity, unit_range
from voice.walk.context import Context
from voice.walk.event import Doubted, Heard
from voice.walk.state import Aside, Draft, Stage, State
from voice.walk.turn import Turn, ask, understood

OTHER = "other"  # the defect outside the closed list: described in the driver's words


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
    fresh = replace(state, stage=stage, aside=None, draft=Draft(step_id, asked), told=section.id, silences=0, unclear=0)
    return understood(context, fresh, *parts, whole=whole or state.told != section.id)


def advance(context: Context, state: State, *lead: str, whole: bool = True) -> Turn:
    """Go on to the next open step, or to the end."""
    following = context.next_open(state)
    if following is None:
        return closing.summarise(context, replace(state, draft=None), *lead)
    parts = list(lead)
    if following in state.skipped and not state.second_round:
        count = sum(1 for step in state.skipped if step not in state.answers)
        parts.append(context.talk.skipped_round.format(count=count))
        state = replace(state, second_round=True)
    return enter(context, replace(state, draft=None), following, *parts, whole=whole)


def store(context: Context, state: State, *lead: str) -> Turn:
    """The draft becomes the step's answer."""
    draft = draft_of(state)
    if draft.outcome is None:
        raise AssertionError(f"{draft.step} has no outcome")
    old = state.answers.get(draft.step)
    answer = Answer(
        step=draft.step,
        kind=draft.outcome,
        asked=draft.asked if old is None else old.asked,
        answered=state.at,
        taken=draft.taken,
        defects=draft.defects,
        choice=draft.choice,
        reason=dict(draft.details).get("reason", ""),
        details=tuple((name, text) for name, text in draft.details if name != "reason"),
        asked_again=draft.asked_again,
        corrected=0 if old is None else old.corrected + 1,
        events=draft.events,
    )
    answers = MappingProxyType({**state.answers, draft.step: answer})
    skipped = tuple(step for step in state.skipped if step != draft.step)
    # He stands where the step just answered was: of the next one's place only what is new needs saying.
    return advance(context, replace(state, answers=answers, skipped=skipped, last=draft.step), *lead, whole=False)


# --- the step's own question -------------------------------------------------------------------------------------


def ok(context: Context, state: State, event: Heard) -> Turn:
    return _settle(context, with_draft(state, Stage.ASK, outcome="ok"))


def done(context: Context, state: State, event: Heard) -> Turn:
    return _settle(context, with_draft(state, Stage.ASK, outcome="done"))


def chosen(context: Context, state: State, event: Heard) -> Turn:
    if not isinstance(event.meaning, Chosen):
        raise AssertionError("a choice was made")
    step = context.current(state)
    option = next(o for o in getattr(step.item.answer, "options", ()) if o.id == event.meaning.id)
    state = with_draft(state, Stage.ASK, choice=option.id)
    if option.defect is None:
        return _settle(context, with_draft(state, Stage.ASK, outcome="choice"))
    return _begin_defect(context, state, option.defect)


def _settle(context: Context, state: State, *lead: str) -> Turn:
    """The main answer is known and nothing is wrong: follow-ups if any, then it is stored."""
    if context.follow_ups(context.current(state), draft_of(state)):
        return understood(context, with_draft(state, Stage.FOLLOW, follow=0), *lead)
    return store(context, state, *lead)


def number(context: Context, state: State, event: Heard) -> Turn:
    """A reading: asked again if it cannot be, confirmed if it is beyond its limit or approximate, else read back."""
    if not isinstance(event.meaning, Number):
        raise AssertionError("a number was said")
    measure, step = event.meaning.value, context.current(state)
    answer = step.item.answer
    if state.stage is Stage.FOLLOW:
        follow = context.follow_ups(step, draft_of(state))[draft_of(state).follow].answer
        if not isinstance(follow, Reading):
            raise AssertionError("the follow-up takes a number")
        answer = follow
    if not isinstance(answer, Reading):
        raise AssertionError(f"{step.id} takes no number")
    if refusal := implausible(context, answer, measure):
        return ask(context, again(state), refusal)
    beyond = context.worst(step, answer.quantity, measure)
    if beyond is not None or event.meaning.approximate:
        return understood(context, with_draft(state, Stage.CONFIRM, number=measure, number_at=event.at))
    return _accept(context, state, measure)


def implausible(context: Context, answer: Reading | Hold | Call, measure: Measure) -> str:
    """The sentence that refuses a number no working gauge can show; empty if it is plausible."""
    _, low, high, _ = unit_range(answer)
    if low.value <= measure.to(answer.unit).value <= high.value:
        return ""
    quantity = "" if isinstance(answer, Hold) else answer.quantity  # a hold's quantity is a rate, its gauge is not
    said = [context.spoken(m, quantity) for m in (measure, low, high)]
    return context.talk.implausible.format(value=said[0], low=said[1], high=said[2])


def again(state: State) -> State:
    """The step has to be asked once more."""
    draft = draft_of(state)
    return replace(state, draft=replace(draft, asked_again=draft.asked_again + 1))


def confirmed(context: Context, state: State, event: Heard) -> Turn:
    draft = draft_of(state)
    if draft.number is None:
        raise AssertionError("a number is confirmed")
    return _accept(context, state, draft.number, read_back=False)


def not_confirmed(context: Context, state: State, event: Heard) -> Turn:
    stage = Stage.ASK if draft_of(state).outcome is None else Stage.FOLLOW
    return understood(context, again(with_draft(state, stage, number=None)))


def _accept(context: Context, state: State, measure: Measure, read_back: bool = True) -> Turn:
    step, draft = context.current(state), draft_of(state)
    quantity = confirmed_quantity(context, step, draft)
    lead = (context.talk.value.format(value=context.spoken(measure, quantity)),) if read_back else ()
    if draft.outcome is None:
        taken = (*draft.taken, Taken(quantity, measure))
        return _settle(context, with_draft(state, Stage.ASK, outcome="reading", taken=taken, number=None), *lead)
    follow = context.follow_ups(step, draft)[draft.follow]
    state = with_draft(state, Stage.FOLLOW, taken=(*draft.taken, Taken(quantity, measure, follow.id)), number=None)
    return _detail(context, state, context.spoken(measure, quantity), *lead)


# --- defects -----------------------------------------------------------------------------------------------------


def defect(context: Context, state: State, event: Heard) -> Turn:
    """Something is wrong: which defect, if it was not named outright."""
    if not isinstance(event.meaning, Defect):
        raise AssertionError("a defect was reported")
    if event.meaning.id is None:
        return understood(context, with_draft(state, Stage.WHICH))
    return _begin_defect(context, state, event.meaning.id)


def unsaid(context: Context, state: State, event: Heard) -> Turn:
    """ "Okay" where a defect was reported. After another defect it ends the list; else it takes the report back, but
    only with a yes, so that a misheard word never undoes a defect."""
    if draft_of(state).defects:
        return no_more(context, state, event)
    return doubt(context, state, event)


def doubt(context: Context, state: State, event: Heard | Doubted, *others: Meaning) -> Turn:
    """Ask whether it was meant. others: what else the words could mean, offered after a no."""
    return ask(
        context,
        replace(
            state,
            aside=Aside.DOUBT,
            doubted=event.meaning,
            doubted_words=event.words,
            doubted_onset=event.onset,
            doubted_others=others,
        ),
    )


def either(context: Context, state: State, event: Heard) -> Turn:
    """A number that can be two things ("one twenty" seconds): each is offered."""
    if not isinstance(event.meaning, Either):
        raise AssertionError("an ambiguous number was said")
    first, *others = (Number(value) for value in event.meaning.values)
    return doubt(context, state, named(context, state, replace(event, meaning=first)), *others)


def named(context: Context, state: State, event: Heard) -> Heard:
    """The event with its number's words made unambiguous."""
    if not isinstance(event.meaning, Number):
        raise AssertionError("a number was said")
    quantity = getattr(context.current(state).item.answer, "quantity", "")
    return replace(event, words=context.spoken(event.meaning.value, quantity))


def _begin_defect(context: Context, state: State, name: str) -> Turn:
    # Readings taken before the defect was named stay; the outcome is what decides which follow-ups come.
    state = with_draft(state, Stage.FOLLOW, outcome="defect", defect=name, details=(), follow=0)
    if name == OTHER:
        return understood(context, replace(state, stage=Stage.DESCRIBE))
    return _next_detail(context, state)


def described(context: Context, state: State, event: Heard) -> Turn:
    if not isinstance(event.meaning, Words):
        raise AssertionError("words were spoken")
    return _next_detail(context, with_draft(state, Stage.FOLLOW, details=(("described", event.meaning.text),)))


def not_described(context: Context, state: State) -> Turn:
    return _next_detail(context, replace(state, stage=Stage.FOLLOW))


def _next_detail(context: Context, state: State, *lead: str) -> Turn:
    draft, step = draft_of(state), context.current(state)
    if draft.follow < len(context.follow_ups(step, draft)):
        return understood(context, replace(state, stage=Stage.FOLLOW), *lead)
    if draft.outcome != "defect":
        return store(context, state, *lead)
    return _finish_defect(context, state)


def _finish_defect(context: Context, state: State) -> Turn:
    """Read the defect back, and ask whether there is another."""
    draft, step = draft_of(state), context.current(state)
    if draft.defect is None:
        raise AssertionError("a defect was named")
    details = "".join(f", {value}" for _, value in draft.details)
    read_back = context.talk.defect_read_back.format(
        name=step.name, defect=context.defects[draft.defect].title.lower(), details=details
    )
    defects = (*draft.defects, DefectFound(draft.defect, draft.details))
    state = with_draft(state, Stage.MORE, defects=defects, defect=None, details=(), follow=0)
    return understood(context, state, read_back)


def no_more(context: Context, state: State, event: Heard) -> Turn:
    return store(context, with_draft(state, Stage.MORE, outcome="defect"))


def more(context: Context, state: State, event: Heard) -> Turn:
    return understood(context, replace(state, stage=Stage.WHICH))


# --- follow-ups --------------------------------------------------------------------------------------------------


def follow_ok(context: Context, state: State, event: Heard) -> Turn:
    return _detail(context, state, "ok")


def follow_defect(context: Context, state: State, event: Heard) -> Turn:
    return _detail(context, state, "defect")


def follow_chosen(context: Context, state: State, event: Heard) -> Turn:
    if not isinstance(event.meaning, Chosen):
        raise AssertionError("a choice was made")
    follow = context.follow_ups(context.current(state), draft_of(state))[draft_of(state).follow]
    option = next(o for o in getattr(follow.answer, "options", ()) if o.id == event.meaning.id)
    return _detail(context, state, option.title.lower())


def _detail(context: Context, state: State, text: str, *lead: str) -> Turn:
    draft = draft_of(state)
    follow = context.follow_ups(context.current(state), draft)[draft.follow]
    details = (*draft.details, (follow.id, text))
    return _next_detail(context, with_draft(state, Stage.FOLLOW, details=details, follow=draft.follow + 1), *lead)


def no_detail(context: Context, state: State) -> Turn:
    """A follow-up was skipped."""
    return _next_detail(context, with_draft(state, Stage.FOLLOW, follow=draft_of(state).follow + 1))


# --- not applicable, not inspected -------------------------------------------------------------------------------


def not_applicable(context: Context, state: State, event: Heard) -> Turn:
    return understood(context, with_draft(state, Stage.REASON, outcome="not-applicable", defects=(), taken=()))


def not_inspected(context: Context, state: State) -> Turn:
    return understood(context, with_draft(state, Stage.REASON, outcome="not-inspected", defects=(), taken=()))


def reason(context: Context, state: State, event: Heard) -> Turn:
    if not isinstance(event.meaning, Words):
        raise AssertionError("words were spoken")
    return with_reason(context, state, event.meaning.text)


def with_reason(context: Context, state: State, text: str) -> Turn:
    draft, step = draft_of(state), context.current(state)
    sentence = context.talk.not_applicable if draft.outcome == "not-applicable" else context.talk.not_inspected
    return store(context, with_draft(state, Stage.REASON, details=(("reason", text),)), sentence.format(name=step.name))
