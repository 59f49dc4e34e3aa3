"""The table of the walk: for each stage what is said, what can be heard, and what each of it does.

Nothing else says what may happen where. `python -m voice.author.chart DEVELOPERS.md` writes it there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from voice.route.answer import Choice, Done, Measurement
from voice.understand.meaning import (
    Chosen,
    Clear,
    Correct,
    Defect,
    Details,
    DoneIt,
    Either,
    Meaning,
    No,
    NotApplicable,
    Now,
    Number,
    Ok,
    Pair,
    Part,
    Same,
    Signed,
    Stop,
    Why,
    Words,
    Yes,
)
from voice.walk import aside, closing, doubt, item, look, prompts, reading, step, timed, unheard
from voice.walk.context import Context
from voice.walk.row import FREE, LONG, PATIENCE, Row
from voice.walk.state import Aside, Stage, State
from voice.walk.turn import Handler

_FAULTY: Mapping[type, Handler] = {Defect: item.defect, NotApplicable: item.not_applicable}


def _yes(handler: Handler) -> Mapping[type, Handler]:
    return {Yes: handler, Correct: handler}


_YES: Mapping[type, Handler] = _yes(item.say_which)  # to what is no yes-or-no question
_HALT: Mapping[type, Handler] = {Stop: aside.pause}
_ASSENT: Mapping[str, Meaning] = {"yes": DoneIt(), "ok": DoneIt()}
_AGREED: Mapping[str, Meaning] = {"agreed": Yes(), "disagreed": No()}

ROWS: Mapping[str, Row] = {
    # A step's own question, by the kind of its answer.
    "ask condition": Row(
        prompts.item, "condition", {Ok: item.ok, **_FAULTY, Correct: item.good_if_sure},
        stands_for={"yes": Ok(), "clear": Ok(), "no": Defect()}, earlier={Yes: item.say_which},
    ),
    "ask reading": Row(
        prompts.item, "reading",
        {Number: reading.number, Either: doubt.either, Pair: reading.pair, Same: reading.same, **_FAULTY, **_YES},
    ),
    "ask choice": Row(prompts.item, "choice", {Chosen: item.chosen, **_FAULTY, **_YES}),
    "ask done": Row(
        prompts.item, "done", {DoneIt: item.done, **_FAULTY, **_HALT, No: item.not_yet, Correct: item.say_which},
        stands_for=_ASSENT, earlier={Yes: item.say_which},
    ),
    # Several parts in one look.
    "look": Row(
        prompts.look, "look",
        {Ok: look.ok, Part: look.part, Defect: look.which, NotApplicable: look.which, Correct: item.good_if_sure},
        stands_for={"yes": Ok(), "clear": Ok(), "no": Defect()},
    ),
    "part": Row(
        prompts.which_part, "part", {Part: look.part, Defect: look.which, NotApplicable: look.which, Ok: look.ok}
    ),
    # A defect.
    "which": Row(
        prompts.which, "defect", {Defect: item.defect, Ok: item.unsaid, NotApplicable: item.not_applicable},
        stands_for={"clear": Ok()},
    ),
    "describe": Row(prompts.describe, "note", {Words: item.described, **_HALT}, FREE),
    "more": Row(
        prompts.more, "yes-no", {**_yes(item.more), No: item.no_more, Defect: item.defect},
        stands_for={"nothing": No()}, earlier={Ok: item.no_more},
    ),
    "take back": Row(
        prompts.take_back, "take-back",
        {
            Clear: step.taken_back, Defect: item.defect, NotApplicable: item.not_applicable,
            **_yes(step.which_of_both), No: step.which_of_both, Ok: step.which_of_both,
        },
    ),
    "take back, not applicable": Row(
        prompts.take_back, "take-back",
        {
            NotApplicable: step.taken_back, Defect: item.defect,
            **_yes(step.which_of_both), No: step.which_of_both, Ok: step.which_of_both,
        },
    ),
    "take back, look": Row(
        prompts.take_back, "take-back",
        {
            Clear: step.taken_back, Part: look.part, Defect: look.which, NotApplicable: look.which,
            **_yes(step.which_of_both), No: step.which_of_both, Ok: step.which_of_both,
        },
    ),
    # An okay after words that were not understood.
    "unheard": Row(
        unheard.prompt, "condition",
        {Ok: step.nothing_wrong, **_FAULTY, No: step.wrong_or_not, Correct: item.good_if_sure},
        stands_for={"yes": Ok(), "clear": Ok()},
    ),
    "unheard, look": Row(
        unheard.prompt, "look",
        {
            Ok: step.nothing_wrong, Part: look.part, Defect: look.which, NotApplicable: look.which,
            No: step.wrong_or_not, Correct: item.good_if_sure,
        },
        stands_for={"yes": Ok(), "clear": Ok()},
    ),
    # Further questions.
    "follow condition": Row(prompts.follow, "condition", {Ok: item.follow_ok, Defect: item.follow_defect}),
    "follow reading": Row(prompts.follow, "reading", {Number: reading.number, Either: doubt.either}),
    "follow choice": Row(prompts.follow, "choice", {Chosen: item.follow_chosen}),
    "confirm": Row(
        prompts.confirm, "yes-no", {**_yes(reading.confirmed), No: reading.not_confirmed}, stands_for=_AGREED
    ),
    "confirm, timed": Row(
        prompts.confirm, "yes-no",
        {**_yes(timed.confirmed), No: timed.not_confirmed, **_FAULTY}, stands_for=_AGREED,
    ),
    "reason": Row(prompts.reason, "reason", {Words: item.reason, **_HALT}, FREE),
    # Timed checks.
    "ready": Row(
        prompts.ready, "done", {DoneIt: timed.ready, **_FAULTY, **_HALT, No: item.not_yet}, 60.0, stands_for=_ASSENT
    ),
    "gauge": Row(prompts.gauge, "reading", {Number: timed.gauge, Either: doubt.either, **_FAULTY}, 20.0),
    "begin": Row(prompts.begin, "done", {DoneIt: timed.begin, **_FAULTY, **_HALT}, 60.0, urgent=True),
    "quiet": Row(prompts.quiet, "quiet", {Stop: timed.stopped, Defect: item.defect}, 60.0, urgent=True),
    "end": Row(prompts.end, "reading", {Number: timed.end_reading, Either: doubt.either, **_FAULTY}, 20.0, urgent=True),
    "first": Row(prompts.mark, "now", {Now: timed.first_mark, Stop: timed.stopped, **_FAULTY}, LONG, urgent=True),
    "second": Row(prompts.mark, "now", {Now: timed.second_mark, Stop: timed.stopped, **_FAULTY}, LONG, urgent=True),
    "watch": Row(
        prompts.watch, "now",
        {Now: timed.called, Number: timed.called_number, Either: doubt.either, Stop: timed.stopped, **_FAULTY},
        LONG, urgent=True,
    ),
    "called": Row(prompts.called, "reading", {Number: timed.called_number, Either: doubt.either, **_FAULTY}, 20.0),
    # The end.
    "name": Row(
        prompts.name, "name",
        {Signed: closing.signed, Why: closing.why, Details: closing.details, Words: closing.name, **_HALT}, FREE,
    ),
    "sign": Row(prompts.sign, "yes-no", {**_yes(closing.sign), No: closing.sign_again}, stands_for=_AGREED),
    # Interruptions.
    # A doubt hears besides what its question hears: see in_doubt.
    "doubt": Row(prompts.doubt, "yes-no", {Yes: doubt.certain, Correct: doubt.correct, No: doubt.denied}),
    "paused": Row(prompts.paused, "paused", {DoneIt: aside.resume}, LONG, stands_for={"resumed": DoneIt()}),
    "note": Row(prompts.note, "note", {Words: aside.note, Stop: aside.no_note}, FREE),
    "noted": Row(
        prompts.noted, "kept-note",
        {**_yes(aside.keep_note), No: aside.note_again, Chosen: aside.amend_note},
        stands_for={**_AGREED, "keep": Yes()},
    ),
    "change": Row(prompts.change, "which", {Chosen: aside.change, Stop: aside.leave}, PATIENCE * 2),
    "finishing": Row(
        prompts.finishing, "yes-no", {**_yes(closing.finish_early), No: closing.go_on},
        stands_for={"finish_it": Yes(), "resumed": No()},
    ),
    "lost": Row(prompts.lost, "paused", {}),  # nothing can be heard
}  # fmt: skip


def name_of(context: Context, state: State) -> str:
    """Which row holds now."""
    if state.aside is not None:
        return state.aside.value
    if state.draft is None:
        return state.stage.value
    answer = context.current(state).item.answer
    match state.stage:
        case Stage.ASK:
            kinds = {Measurement: "reading", Choice: "choice", Done: "done"}
            return f"ask {kinds.get(type(answer), 'condition')}"
        case Stage.FOLLOW:
            kinds = {Measurement: "reading", Choice: "choice"}
            asked = context.follow_ups(context.current(state), state.draft)[state.draft.follow].answer
            return f"follow {kinds.get(type(asked), 'condition')}"
        case Stage.TAKE_BACK if state.draft.group:
            return "take back, look"
        case Stage.TAKE_BACK if state.draft.outcome == "not-applicable":
            return "take back, not applicable"
        case Stage.TAKE_BACK:
            return "take back"
        case Stage.UNHEARD if state.draft.group:
            return "unheard, look"
        case Stage.CONFIRM if timed.is_timed(context, state):
            return "confirm, timed"
    return state.stage.value


def row(context: Context, state: State) -> Row:
    """The row that holds now. A doubt also hears what its question hears."""
    found = ROWS[name_of(context, state)]
    if state.aside is not Aside.DOUBT:
        return found
    return in_doubt(row(context, replace(state, aside=None)))


def in_doubt(inner: Row) -> Row:
    """The row of a doubt about an answer to another row: whatever else is heard is weighed there."""
    found = ROWS["doubt"]
    others = {meaning: doubt.instead for meaning in inner.answers if meaning not in (Yes, Correct, No, Words)}
    words: dict[str, Meaning] = {"did": Yes(), "did_not": No()}
    if Ok in others and Clear not in others:
        words["clear"] = Ok()
    once = {meaning: doubt.instead for meaning in inner.earlier if meaning not in (Yes, Correct, No)}
    return replace(found, answers={**found.answers, **others}, stands_for=words, earlier=once)
