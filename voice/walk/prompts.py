"""What is said to ask each question. The table (`voice.walk.table`) says where."""

from __future__ import annotations

from voice.measure import Measure
from voice.route.answer import Call, Choice, Climb, Hold, Measurement
from voice.route.model import Step
from voice.walk import reports
from voice.walk.context import Context, listed
from voice.walk.state import Draft, Stage, State
from voice.walk.wording import look_wording, step_wording

FEW = 4  # options that are read out at once; more are hard to keep in mind and take long
_CUES = ((30.0, "half"), (10.0, "ten"))


def marks(hold: Hold) -> tuple[tuple[float, str], ...]:
    """Seconds from the start at which a cue sounds in the quiet time, with the cue's name; the last is the end."""
    seconds = float(hold.seconds)
    inner = tuple((seconds - left, name) for left, name in _CUES if left < seconds)
    return (*inner, (seconds, "end"))


def unit_range(answer: Measurement | Hold | Call) -> tuple[str, Measure, Measure, Measure]:
    """The answer's unit, lowest, highest and finest step, as measures."""
    unit = answer.unit
    return unit, Measure(answer.low, unit), Measure(answer.high, unit), Measure(answer.step, unit)


def _now(context: Context, state: State) -> tuple[Step, Draft]:
    if state.draft is None:
        raise AssertionError("no step is being asked")
    return context.current(state), state.draft


# --- a step ------------------------------------------------------------------------------------------------------


def item(context: Context, state: State, whole: bool) -> str:
    """The item's own question.

    whole: with the whole place, not only what is new of it.
    """
    step, _ = _now(context, state)
    return step_wording(context, state, step, None if whole else state.last)


def look(context: Context, state: State, whole: bool) -> str:
    """The parts of a look, by name. After a defect of one of them, the rest."""
    _, draft = _now(context, state)
    kind = context.looks[draft.step]
    parts = listed(context.named(state))
    if any(step in state.answers and step not in draft.group for step in kind.steps):
        return context.pace.rest.format(parts=parts)
    asked = look_wording(context, kind, parts, None if whole else state.last)
    if state.length == "full" and state.silences < 2:
        return " ".join([*(context.steps[name].say.full for name in draft.group), asked])
    return asked


def which_part(context: Context, state: State, whole: bool) -> str:
    """Which of the parts it is. With the list where it is short, or asked again."""
    parts, ask = [part.names[0] for part in context.parts(state)], context.pace.which_part
    told = state.length == "full" or _told(state, len(parts))
    return f"{ask} {context.talk.options.format(options=listed(parts))}" if told else ask


def which(context: Context, state: State, whole: bool) -> str:
    """What is wrong? With the list where it is short, or asked again."""
    talk, step = context.talk, context.current(state)
    if state.length == "full" or _told(state, len(step.item.defects) - 1):
        return f"{talk.defect_which} {talk.defect_list.format(defects=context.spoken_defects(step))}"
    return talk.defect_which


def _told(state: State, count: int) -> bool:
    """Whether a list of so many is read out: at once if it is short, else when the question comes again."""
    return count <= FEW or state.silences > 0 or state.unclear > 0


def describe(context: Context, state: State, whole: bool) -> str:
    """To describe it, in the driver's own words."""
    return context.talk.defect_describe


def more(context: Context, state: State, whole: bool) -> str:
    """Whether there is anything else on it."""
    return context.talk.defect_more


def follow(context: Context, state: State, whole: bool) -> str:
    """The further question: which one, where, how much."""
    step, draft = _now(context, state)
    asked = context.follow_ups(step, draft)[draft.follow]
    if not isinstance(asked.answer, Choice) or not _told(state, len(asked.answer.options)):
        return asked.ask
    names = [option.say[0] for option in asked.answer.options]
    if sum(name in asked.ask.lower() for name in names) * 2 > len(names):  # it has most itself ("Left, right or both?")
        return asked.ask
    return f"{asked.ask} {context.talk.options.format(options=listed(names))}"


def reason(context: Context, state: State, whole: bool) -> str:
    """Why it does not apply, or was not inspected."""
    _, draft = _now(context, state)
    talk = context.talk
    return talk.reason_not_applicable if draft.outcome == "not-applicable" else talk.reason_not_inspected


def take_back(context: Context, state: State, whole: bool) -> str:
    """Whether nothing is wrong, or what was reported; both are named."""
    _, draft = _now(context, state)
    talk, words = context.talk, listed(reports.against(context, state))
    if draft.outcome == "not-applicable":
        return talk.take_back_na.format(words=words)
    if draft.group:
        return context.pace.take_back.format(parts=context.called(state), words=words)
    if reports.had(state):
        return talk.take_back_had.format(name=context.called(state), words=words)
    return talk.take_back.format(words=words)


def confirm(context: Context, state: State, whole: bool) -> str:
    """Whether the reading is right, with the limit that it is beyond."""
    return _confirm_prompt(context, *_now(context, state))


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
        if isinstance(answer, Measurement):
            return answer.quantity
    quantity = getattr(step.item.answer, "quantity", None)
    if not isinstance(quantity, str):
        raise AssertionError(f"{step.id} takes no number")
    return quantity


# --- timed checks ------------------------------------------------------------------------------------------------


def _gauge(context: Context, state: State) -> str:
    step, draft = _now(context, state)
    answer = step.item.answer
    if not isinstance(answer, Hold):
        raise AssertionError("a gauge is read")
    return answer.gauges[draft.gauge]


def ready(context: Context, state: State, whole: bool) -> str:
    """The next ready line: engine and key state, chocks."""
    step, draft = _now(context, state)
    answer = step.item.answer
    if not isinstance(answer, Hold | Climb | Call):
        raise AssertionError("a timed check has ready lines")
    return answer.ready[draft.line]


def gauge(context: Context, state: State, whole: bool) -> str:
    """The start reading of a gauge."""
    step, draft = _now(context, state)
    # What to do comes before the first reading: with the pedal held, the needle must have settled.
    lead = f"{getattr(step.item.answer, 'begin', '')} " if draft.gauge == 0 else ""
    return lead + context.talk.hold_read.format(gauge=_gauge(context, state))


def begin(context: Context, state: State, whole: bool) -> str:
    """To say start."""
    return context.talk.hold_begin


def quiet(context: Context, state: State, whole: bool) -> str:
    """Nothing; that the time runs."""
    return context.talk.hold_running.format(seconds=getattr(context.current(state).item.answer, "seconds", 0))


def end(context: Context, state: State, whole: bool) -> str:
    """The end reading of a gauge."""
    return context.talk.hold_time.format(gauge=_gauge(context, state))


def mark(context: Context, state: State, whole: bool) -> str:
    """The first or the second mark of a climb."""
    answer, talk = context.current(state).item.answer, context.talk
    if not isinstance(answer, Climb):
        raise AssertionError("a climb is marked")
    if state.stage is Stage.FIRST:
        start = context.spoken(Measure(answer.start, answer.unit), "")
        return talk.climb_first.format(begin=answer.begin, start=start)
    return talk.climb_second.format(stop=context.spoken(Measure(answer.stop, answer.unit), ""))


def watch(context: Context, state: State, whole: bool) -> str:
    """To call it out when it happens."""
    return str(getattr(context.current(state).item.answer, "begin", ""))


def called(context: Context, state: State, whole: bool) -> str:
    """What the gauge read then."""
    return context.talk.call_number


# --- interruptions and the end -----------------------------------------------------------------------------------


def doubt(context: Context, state: State, whole: bool) -> str:
    """Did you say ...?"""
    return context.talk.doubt.format(words=state.doubted_words)


def paused(context: Context, state: State, whole: bool) -> str:
    """To say resume."""
    return context.talk.paused


def lost(context: Context, state: State, whole: bool) -> str:
    """Nothing; the microphone is gone."""
    return context.talk.lost


def note(context: Context, state: State, whole: bool) -> str:
    """For a note."""
    return context.talk.note


def noted(context: Context, state: State, whole: bool) -> str:
    """The note, and whether it is right; the second time also what else can become of it."""
    asked = context.talk.note_check.format(text=state.notes[-1].text.rstrip("."))
    return f"{asked} {context.talk.can_say['kept-note']}" if state.silences or state.unclear else asked


def change(context: Context, state: State, whole: bool) -> str:
    """Which answer to change."""
    return context.talk.change_which


def finishing(context: Context, state: State, whole: bool) -> str:
    """Whether to finish, with so many still open."""
    count = sum(1 for _ in context.open_steps(state))
    return context.talk.finishing.format(count=count)


def name(context: Context, state: State, whole: bool) -> str:
    """To sign."""
    return context.talk.sign_name if state.signing else context.talk.sign


def sign(context: Context, state: State, whole: bool) -> str:
    """The name read back; one outside the list letter by letter."""
    said = state.name or ""
    if not state.spelled:
        return context.talk.sign_confirm.format(name=said)
    letters = ". ".join(", ".join(word.upper()) for word in said.split())
    return context.talk.sign_spelled.format(name=said, letters=letters)


# --- on request --------------------------------------------------------------------------------------------------


def explanation(context: Context, state: State, wording: str) -> str:
    """The full wording, and the closed list the answer comes from.

    wording: what would be said otherwise.
    """
    if state.draft is None or state.aside is not None or state.stage in (Stage.TAKE_BACK, Stage.UNHEARD):
        return wording
    step, draft = _now(context, state)
    talk, answer = context.talk, step.item.answer
    match state.stage:
        case Stage.WHICH | Stage.MORE:
            return talk.defect_list.format(defects=context.spoken_defects(step))
        case Stage.LOOK:
            return " ".join([*(context.steps[name].say.full for name in draft.group), wording])
        case Stage.PART:
            return talk.defect_list.format(defects=listed(part.names[0] for part in context.parts(state)))
        case Stage.ASK:
            parts = [step.say.full]
            if isinstance(answer, Choice):
                parts.append(talk.defect_list.format(defects=listed(option.say[0] for option in answer.options)))
            elif step.item.defects:
                parts.append(talk.defect_list.format(defects=context.spoken_defects(step)))
            return " ".join(parts)
        case Stage.FOLLOW:
            asked = context.follow_ups(step, draft)[draft.follow]
            if isinstance(asked.answer, Choice):
                options = listed(option.say[0] for option in asked.answer.options)
                return f"{asked.ask} {talk.defect_list.format(defects=options)}"
    return f"{step.say.full} {wording}"
