"""What is asked in each state: the spoken prompt, and everything that can be heard in answer."""

from __future__ import annotations

from dataclasses import replace

from voice.measure import Measure
from voice.route.model import Call, Choice, Climb, Condition, Done, Hold, Reading, Step
from voice.understand.meaning import No, Words, Yes
from voice.understand.phrases import join
from voice.understand.question import Asks, Phrase, Question
from voice.walk.context import Context, listed
from voice.walk.state import Aside, Draft, Stage, State

PATIENCE = 6.0
LONG = 600.0  # waiting to be spoken to
FREE = 8.0

_CUES = ((30.0, "half"), (10.0, "ten"))


def marks(hold: Hold) -> tuple[tuple[float, str], ...]:
    """Seconds from the start at which a cue sounds in the quiet time, with the cue's name; the last is the end."""
    seconds = float(hold.seconds)
    inner = tuple((seconds - left, name) for left, name in _CUES if left < seconds)
    return (*inner, (seconds, "end"))


def unit_range(answer: Reading | Hold | Call) -> tuple[str, Measure, Measure, Measure]:
    """The answer's unit, lowest, highest and finest step, as measures."""
    unit = answer.unit
    return unit, Measure(answer.low, unit), Measure(answer.high, unit), Measure(answer.step, unit)


def question(context: Context, state: State) -> Question:
    """Everything that can be heard now."""
    if state.aside is not None:
        return _aside_question(context, state)
    patience = LONG if state.silences >= 3 else PATIENCE
    stage = state.stage
    if stage in (Stage.NAME, Stage.SIGN):
        return _closing_question(context, stage, patience)
    step, draft = context.current(state), state.draft
    if draft is None:
        raise AssertionError("a step's stage has a draft")
    asks, phrases, patience, free, urgent = _step_question(context, state, step, draft, patience)
    return Question(
        asks,
        phrases,
        step=step.id,
        unit=getattr(step.item.answer, "unit", None) if asks in ("reading", "now") else None,
        free=free,
        patience=patience,
        urgent=urgent,
    )


def _step_question(
    context: Context, state: State, step: Step, draft: Draft, patience: float
) -> tuple[Asks, tuple[Phrase, ...], float, bool, bool]:
    book, item, answer = context.book, step.item, step.item.answer
    said = {defect.id: defect.say for defect in context.defects_of(step)}
    match state.stage:
        case Stage.ASK if isinstance(answer, Condition):
            return "condition", book.condition(item, said), patience, False, False
        case Stage.ASK if isinstance(answer, Reading):
            phrases = book.number(answer.unit, answer.low, answer.high, answer.step, item, said)
            return "reading", phrases, patience, False, False
        case Stage.ASK if isinstance(answer, Choice):
            return "choice", book.choice(answer.options, item, said), patience, False, False
        case Stage.ASK if isinstance(answer, Done):
            return "done", book.done(item, said), patience, False, False
        case Stage.WHICH:
            return "defect", book.defect_kinds(item, said), patience, False, False
        case Stage.MORE:
            phrases = join(book.yes_no(), book.defect_kinds(item, said))
            return "yes-no", phrases, patience, False, False
        case Stage.DESCRIBE | Stage.REASON:
            asks: Asks = "reason" if state.stage is Stage.REASON else "note"
            return asks, book.free(), FREE, True, False
        case Stage.CONFIRM:
            return "yes-no", book.yes_no(), patience, False, False
        case Stage.FOLLOW:
            return (*_follow_question(context, step, draft), patience, False, False)
        case Stage.READY | Stage.BEGIN:
            # The spoken start is stamped by its onset.
            return "done", book.done(item, said), max(patience, 60.0), False, state.stage is Stage.BEGIN
        case Stage.GAUGE | Stage.END | Stage.CALLED if isinstance(answer, Hold | Call):
            phrases = book.number(answer.unit, answer.low, answer.high, answer.step)
            return "reading", phrases, max(patience, 20.0), False, state.stage is Stage.END
        case Stage.QUIET if isinstance(answer, Hold) and draft.stamp is not None:
            left = draft.stamp + marks(answer)[draft.cues][0] - state.at
            return "quiet", book.quiet(), max(left, 0.0), False, True
        case Stage.FIRST | Stage.SECOND:
            return "now", book.now(), LONG, False, True
        case Stage.WATCH if isinstance(answer, Call):
            phrases = join(book.now(answer.unit, answer.low, answer.high, answer.step), book.faults(item, said))
            return "now", phrases, LONG, False, True
    raise AssertionError(f"no question for stage {state.stage} of {step.id}")


def _follow_question(context: Context, step: Step, draft: Draft) -> tuple[Asks, tuple[Phrase, ...]]:
    answer = context.follow_ups(step, draft)[draft.follow].answer
    match answer:
        case Condition():
            return "condition", context.book.condition()
        case Reading():
            return "reading", context.book.number(answer.unit, answer.low, answer.high, answer.step)
        case Choice():
            return "choice", context.book.choice(answer.options)


def _closing_question(context: Context, stage: Stage, patience: float) -> Question:
    if stage is Stage.SIGN:
        return Question("yes-no", context.book.yes_no(), patience=patience)
    names = tuple(Phrase(f"signed {name.lower()}", Words(name)) for name in context.drivers)
    return Question("name", join(names, context.book.free()), free=True, patience=max(patience, FREE))


def _aside_question(context: Context, state: State) -> Question:
    book = context.book
    match state.aside:
        case Aside.PAUSED | Aside.LOST:
            return Question("paused", book.paused(), patience=LONG)
        case Aside.NOTE:
            return Question("note", book.free(), free=True, patience=FREE)
        case Aside.CHANGE:
            names = [(step, context.steps[step].name) for step in context.order if step in state.answers]
            return Question("which", book.which([(step, (name,)) for step, name in names]), patience=PATIENCE * 2)
        case Aside.FINISHING:
            return Question("yes-no", book.yes_no(), patience=PATIENCE)
        case _:
            return _doubt_question(context, state)


def _doubt_question(context: Context, state: State) -> Question:
    """Yes or no; the answer itself, said again, counts too, unless its words would mean something else here."""
    inner = question(context, replace(state, aside=None))
    taken = {phrase.text for phrase in context.book.yes_no()}
    again = (p for p in inner.phrases if p.text not in taken and not isinstance(p.meaning, Yes | No))
    return Question("yes-no", join(context.book.yes_no(), again), step=inner.step, unit=inner.unit, patience=PATIENCE)


def prompt(context: Context, state: State, *, whole: bool = True) -> str:
    """What is said to ask the present question. whole: with the whole place, not only what is new of it."""
    talk = context.talk
    match state.aside:
        case Aside.DOUBT:
            return talk.doubt.format(words=state.doubted_words)
        case Aside.PAUSED:
            return talk.paused
        case Aside.LOST:
            return talk.lost
        case Aside.NOTE:
            return talk.note
        case Aside.CHANGE:
            return talk.change_which
        case Aside.FINISHING:
            count = sum(1 for _ in context.open_steps(state.answers))
            return talk.finishing.format(count=count)
    match state.stage:
        case Stage.NAME:
            return talk.sign
        case Stage.SIGN:
            return talk.sign_confirm.format(name=state.name)
    step, draft = context.current(state), state.draft
    if draft is None:
        raise AssertionError("a step's stage has a draft")
    return _step_prompt(context, state, step, draft, None if whole else state.last)


def _step_prompt(context: Context, state: State, step: Step, draft: Draft, before: str | None = None) -> str:
    talk, answer = context.talk, step.item.answer
    # After two silences the shortest form, so that a waiting driver is not talked at.
    wording = step.say.terse if state.silences >= 2 else context.wording(step, state.length, before)
    match state.stage:
        case Stage.ASK:
            return wording
        case Stage.WHICH:
            if state.length == "full":
                return f"{talk.defect_which} {talk.defect_list.format(defects=context.spoken_defects(step))}"
            return talk.defect_which
        case Stage.DESCRIBE:
            return talk.defect_describe
        case Stage.MORE:
            return talk.defect_more
        case Stage.FOLLOW:
            return context.follow_ups(step, draft)[draft.follow].ask
        case Stage.REASON:
            return talk.reason_not_applicable if draft.outcome == "not-applicable" else talk.reason_not_inspected
        case Stage.CONFIRM:
            return _confirm_prompt(context, step, draft)
    if isinstance(answer, Hold | Climb | Call):
        return _timed_prompt(context, state, step, draft, answer)
    raise AssertionError(f"no prompt for stage {state.stage} of {step.id}")


def _confirm_prompt(context: Context, step: Step, draft: Draft) -> str:
    if draft.number is None:
        raise AssertionError("a number is confirmed")
    quantity = confirmed_quantity(context, step, draft)
    value = context.spoken(draft.number, quantity)
    finding = context.worst(step, quantity, draft.number)
    if finding is None:
        return context.talk.confirm_about.format(value=value)
    return context.talk.confirm_limit.format(value=value, limit=finding.limit_spoken)


def confirmed_quantity(context: Context, step: Step, draft: Draft) -> str:
    """The quantity of the number being confirmed: the follow-up's when one is asked, else the item's own."""
    if draft.outcome is not None:
        answer = context.follow_ups(step, draft)[draft.follow].answer
        if isinstance(answer, Reading):
            return answer.quantity
    quantity = getattr(step.item.answer, "quantity", None)
    if not isinstance(quantity, str):
        raise AssertionError(f"{step.id} takes no number")
    return quantity


def _timed_prompt(context: Context, state: State, step: Step, draft: Draft, answer: Hold | Climb | Call) -> str:
    talk = context.talk
    match state.stage, answer:
        case Stage.READY, _:
            return answer.ready[draft.line]
        case Stage.GAUGE, Hold():
            # What to do comes before the first reading: with the pedal held, the needle must have settled.
            lead = f"{answer.begin} " if draft.gauge == 0 else ""
            return lead + talk.hold_read.format(gauge=answer.gauges[draft.gauge])
        case Stage.BEGIN, Hold():
            return talk.hold_begin
        case Stage.QUIET, Hold():
            return talk.hold_running.format(seconds=answer.seconds)
        case Stage.END, Hold():
            return talk.hold_time.format(gauge=answer.gauges[draft.gauge])
        case Stage.FIRST, Climb():
            start = context.spoken(Measure(answer.start, answer.unit), "")
            return talk.climb_first.format(begin=answer.begin, start=start)
        case Stage.SECOND, Climb():
            return talk.climb_second.format(stop=context.spoken(Measure(answer.stop, answer.unit), ""))
        case Stage.WATCH, Call():
            return answer.begin
        case Stage.CALLED, Call():
            return talk.call_number
    raise AssertionError(f"no prompt for stage {state.stage} of {step.id}")


def help_text(context: Context, state: State) -> str:
    """What can be said now."""
    asks = question(context, state).asks
    return context.talk.help[asks]


def explanation(context: Context, state: State) -> str:
    """The full wording, and the closed list the answer comes from."""
    if state.draft is None or state.aside is not None:
        return prompt(context, state)
    step, draft, talk = context.current(state), state.draft, context.talk
    answer = step.item.answer
    match state.stage:
        case Stage.WHICH | Stage.MORE:
            return talk.defect_list.format(defects=context.spoken_defects(step))
        case Stage.ASK:
            parts = [step.say.full]
            if isinstance(answer, Choice):
                parts.append(talk.defect_list.format(defects=listed(option.say[0] for option in answer.options)))
            elif step.item.defects:
                parts.append(talk.defect_list.format(defects=context.spoken_defects(step)))
            return " ".join(parts)
        case Stage.FOLLOW:
            follow = context.follow_ups(step, draft)[draft.follow]
            if isinstance(follow.answer, Choice):
                options = listed(option.say[0] for option in follow.answer.options)
                return f"{follow.ask} {talk.defect_list.format(defects=options)}"
    return f"{step.say.full} {_step_prompt(context, state, step, draft)}"
