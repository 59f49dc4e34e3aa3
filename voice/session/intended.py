"""What a scripted driver means at each step of a walk, and whether a stored answer says the same."""

from __future__ import annotations

from voice.errors import DataError
from voice.judge.answer import Answer, Kind
from voice.route.answer import Call, Choice, Climb, Done, Hold, Measurement
from voice.route.model import Step
from voice.session.script import Script, ScriptLine
from voice.understand.meaning import Chosen, Defect, Meaning, NotApplicable, Number
from voice.walk.context import Context
from voice.walk.reports import asked_about
from voice.walk.state import Stage, State


class Intended:
    """A script on one walk. Raises DataError if the script names a step that this walk has not or a follow-up that its
    step has not, or answers a step in words that are not listened for there: what was meant could not be told.

    passed_over: what it names and is not due today.
    """

    def __init__(self, script: Script, context: Context) -> None:
        self.script, self._context = script, context
        self._lines = {line.step: line for line in script.steps}
        self.passed_over = tuple(name for name in self._lines if name in context.not_due)
        for name in self._lines:
            if name not in context.steps:
                raise DataError(f'the script names "{name}", which is not on this walk.', "Correct the script.")
            self._check(context.steps[name])

    def _check(self, step: Step) -> None:
        """Raises DataError. Readings are left out: they can be said in more ways than are listed."""
        known = [follow.id for follow in step.item.follow_ups]
        for name in self.line(step).follow:
            if name not in known:
                hint = f"It has: {', '.join(known)}." if known else "It has none."
                raise DataError(f'the script answers the follow-up "{name}" of "{step.id}", which is not there.', hint)
        which = self.line(step).which
        if which is not None and which not in [say for defect in self._context.defects_of(step) for say in defect.say]:
            raise DataError(
                f'the script says "{which}" is wrong at "{step.id}", which is not listened for there.',
                f"It has: {self._context.spoken_defects(step)}.",
            )
        words = self.line(step).ask
        if words is None or isinstance(step.item.answer, Measurement | Hold | Climb | Call):
            return
        if words not in self._phrases(step):
            raise DataError(
                f'the script answers "{words}" at "{step.id}", which is not listened for there.',
                "Give it as first, to be said before the answer, and as ask what is meant.",
            )

    def line(self, step: Step) -> ScriptLine:
        """What the script says of a step; an empty line if nothing."""
        return self._lines.get(step.id) or ScriptLine(step=step.id)

    def answer(self, step: Step) -> str:
        """The words of the answer, before anything goes wrong."""
        line = self.line(step)
        if line.ask is not None:
            return line.ask
        match step.item.answer:
            case Measurement() as reading:
                if reading.quantity not in self.script.readings:
                    raise DataError(f'the script has no reading of "{reading.quantity}".', "Add one under readings.")
                return self.script.readings[reading.quantity]
            case Choice() as choice:
                usual = self.script.choices.get(step.item.id)
                return usual or next(o.say[0] for o in choice.options if o.defect is None)
            case Done():
                return self.script.usual["done"]
        return self.script.usual["condition"]

    def asked(self, state: State) -> tuple[Step, ...]:
        """The step that is asked, or those of a look."""
        if state.draft is None:
            return ()
        return tuple(self._context.steps[name] for name in asked_about(state.draft))

    def look(self, state: State) -> str:
        """The words for a look: the first part that is not okay, with its defect in the same breath if it is named."""
        usual = self.script.usual["condition"]
        for step, part in zip(self.asked(state), self._context.parts(state), strict=True):
            kind, _ = self.meant(step)
            if kind == "not-applicable" and state.stage is not Stage.PART:
                return self.answer(step)
            if kind != "ok":
                named = isinstance(self._phrases(step).get(self.answer(step)), Defect) and self.line(step).which is None
                return f"{part.names[0]} {self.answer(step)}" if named else part.names[0]
        return usual

    def _phrases(self, step: Step) -> dict[str, Meaning]:
        """What could be said to the step's own question."""
        book, item, answer = self._context.book, step.item, step.item.answer
        said = {defect.id: defect.say for defect in self._context.defects_of(step)}
        match answer:
            case Measurement():
                phrases = book.number(answer.unit, answer.low, answer.high, answer.step, item, said)
            case Choice():
                phrases = book.choice(answer.options, item, said)
            case Done():
                phrases = book.done(item, said)
            case Call():
                phrases = book.number(answer.unit, answer.low, answer.high, answer.step, item, said)
            case _:
                phrases = book.condition(item, said)
        return {phrase.text: phrase.meaning for phrase in phrases}

    def is_defect(self, step: Step) -> bool:
        """Whether a defect is meant, named in the answer or when asked which."""
        line = self.line(step)
        return line.which is not None or isinstance(self._phrases(step).get(line.ask or ""), Defect)

    def fine(self, state: State) -> bool:
        """Whether nothing is wrong with what is asked."""
        return all(self.meant(step)[0] in ("ok", "done", "choice") for step in self.asked(state))

    def number(self, state: State, step: Step) -> object:
        """The number meant for the question or the follow-up that is asked; None if none is."""
        if state.draft is None:
            raise AssertionError("a step is asked")
        phrases, text = self._phrases(step), self.answer(step)
        if state.draft.outcome is not None:
            follow = self._context.follow_ups(step, state.draft)[state.draft.follow]
            text = self.line(step).follow.get(follow.id, "")
            if isinstance(follow.answer, Measurement):
                wanted = follow.answer
                numbers = self._context.book.number(wanted.unit, wanted.low, wanted.high, wanted.step)
                phrases = {phrase.text: phrase.meaning for phrase in numbers}
        meaning = phrases.get(text)
        return meaning.value if isinstance(meaning, Number) else None

    def meant(self, step: Step) -> tuple[Kind, str]:
        """The outcome intended for a step, with the value, option or defect as text ("" where there is none)."""
        line = self.line(step)
        if isinstance(step.item.answer, Hold | Climb | Call):
            return "reading", line.ask or ""
        meaning = self._phrases(step).get(self.answer(step))
        match meaning:
            case Number(value):
                return "reading", str(value.value)
            case Chosen(option):
                chosen = next(o for o in getattr(step.item.answer, "options", ()) if o.id == option)
                return ("choice", option) if chosen.defect is None else ("defect", chosen.defect)
            case NotApplicable():
                return "not-applicable", ""
            case Defect(None):
                named = self._phrases(step).get(line.which or "")
                return "defect", (named.id or "") if isinstance(named, Defect) else ""
            case Defect(name):
                return "defect", name or ""
        return ("done" if isinstance(step.item.answer, Done) else "ok"), ""

    def differs(self, answer: Answer) -> str:
        """What the stored answer says where it is not what was meant; empty if it is."""
        step = self._context.steps[answer.step]
        kind, value = self.meant(step)
        got = [defect.defect for defect in answer.defects]
        if answer.kind != kind:
            return f"{answer.kind} {' '.join(got)}".strip()
        if kind == "defect" and got != [value]:
            return " ".join(got)
        if kind == "choice" and answer.choice != value:
            return answer.choice or ""
        if kind == "reading" and isinstance(step.item.answer, Measurement):
            found = str(answer.taken[0].value.value)
            return found if found != value else ""
        if isinstance(step.item.answer, Climb):
            line, seconds = self.line(step), float(answer.taken[-1].value.value)
            # From the first word to the second: the wait, and the prompt and the reaction in between.
            return "" if line.wait <= seconds <= line.wait + 10 else f"{seconds:.0f} s"
        if isinstance(step.item.answer, Call) and value:
            meaning = self._phrases(step).get(value)
            if isinstance(meaning, Number) and answer.taken[-1].value != meaning.value:
                return str(answer.taken[-1].value.value)
        return ""
