"""Whether each reading that a walk kept was told for that step, read back, and confirmed where it is beyond its limit.

Judged from outside, as `oracle.py` judges an okay: two readings in one breath, and "same", are told for the steps that
the driver means, and are worth no more than numbers.
"""

from __future__ import annotations

from tests.walk.talkative import Talk
from voice.judge.answer import LAST, Answer
from voice.measure import Measure
from voice.route.answer import Measurement
from voice.understand.meaning import Correct, Either, Meaning, No, Number, Pair, Same, Yes
from voice.walk.context import Context
from voice.walk.event import Doubted, Event, Heard


class Readings:
    """told: for each step the readings that were heard or doubted of it and not denied. confirmed: those of them to
    which a yes was said after the limit was named."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self.told: dict[str, set[Measure]] = {}
        self.confirmed: set[tuple[str, Measure]] = set()

    def hear(self, step: str, event: Event, question: str, answers: dict[str, Answer]) -> None:
        """step: about which the last question was. answers: before the event."""
        if not isinstance(event, Heard | Doubted) or step not in self.context.steps:
            return
        if not isinstance(self.context.steps[step].item.answer, Measurement):
            return  # a gauge before and after a minute is no reading of the item: what is told of it is its rate
        if event.early and isinstance(event.meaning, Yes | Correct | No | Same):
            return  # it was no answer to what had not been asked to its end
        confirming = question.endswith("right?") and "The limit is" in question
        if isinstance(event, Heard) and isinstance(event.meaning, Yes | Correct) and confirming:
            self.confirmed |= {(step, each) for each in self.told.get(step, ()) if self._words(step, each) in question}
        if isinstance(event, Heard) and isinstance(event.meaning, No) and question.endswith("right?"):
            self.told.pop(step, None)
            self.told.pop(self._other(step), None)
        for name, reading in self._meant(step, event.meaning, answers):
            self.told.setdefault(name, set()).add(reading)

    def _meant(self, step: str, meaning: Meaning, answers: dict[str, Answer]) -> list[tuple[str, Measure]]:
        match meaning:
            case Number(value):
                return [(step, value)]
            case Either(values):
                return [(step, value) for value in values]
            case Pair(first, second):
                return [(step, first), (self._other(step), second)]
            case Same():
                return [(step, reading) for reading in self._same(step, answers)]
        return []

    def _other(self, step: str) -> str:
        """The pressure of the tire whose tread was asked."""
        return step.replace("tire-tread@", "tire-pressure@")

    def _same(self, step: str, answers: dict[str, Answer]) -> list[Measure]:
        outer = answers.get(step.replace("-inner", "-outer")) if "-inner" in step else None
        last = self.context.plan.last.get(step)
        found = [] if outer is None else [taken.value for taken in outer.taken]
        return [*found, *([] if last is None else [last.measure])]

    def kept(self, answer: Answer, talk: Talk, question: str, answers: dict[str, Answer]) -> None:
        """A fresh answer: each reading of the item itself."""
        asked = self.context.steps[answer.step].item.answer
        assert not answer.same or answer.kind in ("reading", "defect"), f"{answer.step}: {answer.kind} by the same"
        if not isinstance(asked, Measurement) or not answer.taken:
            return
        reading, step = answer.taken[0].value, answer.step
        assert reading in self.told.get(step, ()), f"{step}: {reading} was not told of it"
        if answer.same:
            assert reading in self._same(step, answers), f"{step}: {reading} is not what {answer.same} was"
            assert answer.same == (LAST if step in self.context.plan.last else step.replace("-inner", "-outer"))
        if answer.kind != "reading":
            return
        assert any(self._words(step, reading) in said for said in (talk.heard, *self.back)), f"{step}: not read back"
        if self.context.worst(self.context.steps[step], asked.quantity, reading) is not None:
            assert (step, reading) in self.confirmed, f"{step}: {reading} is beyond its limit, and was not confirmed"

    back: tuple[str, ...] = ()  # the last sentences that were spoken

    def spoke(self, talk: Talk) -> None:
        self.back = (*self.back, talk.heard)[-60:]

    def closed(self, answers: dict[str, Answer]) -> None:
        """What is "the same" at the end is still the same."""
        for answer in answers.values():
            if answer.same and answer.same != LAST and answer.kind == "reading":
                other = [taken.value for taken in answers[answer.same].taken]
                assert answer.taken[0].value in other, f"{answer.step} was the same as {answer.same}, which changed"

    def _words(self, step: str, reading: Measure) -> str:
        asked = self.context.steps[step].item.answer
        return self.context.spoken(reading, getattr(asked, "quantity", ""))
