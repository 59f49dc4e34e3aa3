"""One row of the table: a stage, what is said there, what can be heard, and what each of it does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from voice.route.answer import Answer as Asked
from voice.route.answer import Call, Choice, Hold, Measurement
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
from voice.understand.parts import fault_phrases, part_phrases
from voice.understand.question import Asks, Phrase, Question
from voice.walk.context import Context
from voice.walk.prompts import marks
from voice.walk.state import Aside, Stage, State
from voice.walk.turn import Handler

NOTE_ANSWERS = ("again", "recording", "drop")  # what becomes of a note, by their keys in commands.yaml

PATIENCE = 6.0
LONG = 600.0  # waiting to be spoken to
FREE = 8.0

Prompt = Callable[[Context, State, bool], str]

# How each fixed answer is called in commands.yaml.
FIXED_WORDS: Mapping[type, str] = {
    Ok: "ok", Clear: "clear", NotApplicable: "not_applicable", Yes: "yes", Correct: "correct", No: "no",
    DoneIt: "done", Now: "now", Stop: "stop", Why: "why", Details: "details", Same: "same",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One stage, or one kind of question in it. Commands can be heard everywhere and are not listed.

    prompt: what is said.
    asks: the kind of answer that is wanted.
    answers: what can be heard, each with what it does. The phrases are made from the keys, so nothing can be heard
    that is not handled. Words: any speech counts.
    patience: seconds of silence before the question is asked again.
    urgent: a timed moment, the onset of the speech counts.
    stands_for: words of further answers (their keys in commands.yaml), and what they mean here. A yes to "Hoses tight?"
    says that it is good, and is held to the same bar as an okay.
    earlier: what only journals of before hold, with what it did: it means something else now.
    """

    prompt: Prompt
    asks: Asks
    answers: Mapping[type, Handler]
    patience: float = PATIENCE
    urgent: bool = False
    stands_for: Mapping[str, Meaning] = field(default_factory=dict)
    earlier: Mapping[type, Handler] = field(default_factory=dict)

    def handler(self, meaning: Meaning) -> Handler | None:
        return self.answers.get(type(meaning)) or self.earlier.get(type(meaning))

    def question(self, context: Context, state: State) -> Question:
        """Everything that can be heard now."""
        parts = [_phrases(meaning, context, state) for meaning in self.answers]
        parts += [context.book.said(name, meaning) for name, meaning in self.stands_for.items()]
        return Question(
            self.asks,
            context.book.joined(*parts),
            step=None if state.draft is None or state.aside not in (None, Aside.DOUBT) else state.draft.step,
            unit=_unit(context, state) if Number in self.answers else None,
            free=Words in self.answers,
            patience=self._patience(context, state),
            urgent=self.urgent,
        )

    def _patience(self, context: Context, state: State) -> float:
        draft = state.draft
        if state.aside is None and state.stage is Stage.QUIET and draft is not None and draft.stamp is not None:
            hold = context.current(state).item.answer
            if isinstance(hold, Hold):
                return max(draft.stamp + marks(hold)[draft.cues][0] - state.at, 0.0)
        waits = state.aside is None and state.silences >= 3 and Words not in self.answers
        return LONG if waits else self.patience


def _phrases(meaning: type, context: Context, state: State) -> tuple[Phrase, ...]:
    book = context.book
    if meaning in (Yes, Correct, No) and state.aside is None and _says_yes(context, state):
        return ()  # they are among the options then
    if meaning is Same and (state.draft is None or not context.current(state).item.same):
        return ()
    if meaning in FIXED_WORDS:
        own = book.good(context.current(state).item) if meaning is Ok and state.stage is Stage.ASK else ()
        return (*book.said(FIXED_WORDS[meaning], meaning()), *own)
    if meaning is Signed:
        return book.signatures(context.drivers, context.talk.unnamed)
    if meaning is Chosen and state.aside is Aside.CHANGE:
        return book.names([(step, (context.steps[step].name,)) for step in context.order if step in state.answers])
    if meaning is Chosen and state.aside is Aside.NOTED:
        words = book.lexicon.answers
        return book.names([(name, getattr(words, name)) for name in NOTE_ANSWERS])
    if meaning is Words or state.draft is None:
        return ()
    parts = context.parts(state)
    if parts and meaning in (Part, Defect):
        said = {name: context.defects[name].say for part in parts for name in part.item.defects}
        if meaning is Part:
            noted = context.noted_parts(state)
            said |= {name: context.defects[name].say for part in noted for name in part.item.defects}
            return part_phrases(book, (*parts, *noted), said)
        return fault_phrases(book, parts, said, context.looks[parts[0].step].assemblies([part.step for part in parts]))
    step, asked = context.current(state), _asked(context, state)
    if meaning is Defect:
        return book.faults(step.item, {defect.id: defect.say for defect in context.defects_of(step)})
    if meaning is Pair and isinstance(asked, Measurement):
        other = context.open_beside(state)
        if step.item.beside is None or other is None or not isinstance(other.item.answer, Measurement):
            return ()
        return book.pairs(asked, step.item.beside, other.item.answer)
    if meaning in (Number, Either) and isinstance(asked, Measurement | Hold | Call):
        return book.numbers(asked.unit, asked.low, asked.high, asked.step)
    if meaning is Chosen and isinstance(asked, Choice):
        return book.options(asked, replies=state.aside is None)
    raise AssertionError(f"{meaning.__name__} cannot be heard in {state.stage}")


def _asked(context: Context, state: State) -> Asked:
    """The answer that is wanted: of the item, or of its follow-up."""
    step, draft = context.current(state), state.draft
    if state.stage is Stage.FOLLOW and draft is not None:
        return context.follow_ups(step, draft)[draft.follow].answer
    return step.item.answer


def _says_yes(context: Context, state: State) -> bool:
    """Whether an option of the choice is said with yes."""
    if state.draft is None or state.stage not in (Stage.ASK, Stage.FOLLOW):
        return False
    asked = _asked(context, state)
    return isinstance(asked, Choice) and any(option.reply for option in asked.options)


def _unit(context: Context, state: State) -> str | None:
    return getattr(_asked(context, state), "unit", None)
