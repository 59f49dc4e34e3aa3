"""A rehearsal as it runs: what was said is collected, and in the coached form help is given after a silence. Pure.

No clock, no audio: `step(state, event)` gives the next state and what to do. The test form never says a word between
its beginning and its end.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from voice.rehearse.listen.credit import Examiner
from voice.rehearse.listen.credited import Credited
from voice.rehearse.listen.part import RecitedPart
from voice.rehearse.wording import RehearseFile

Form = Literal["test", "coached"]


@dataclass(frozen=True, slots=True)
class Utterance:
    """What the student said in one go.

    text: as transcribed.
    started, ended: seconds on the session's clock.
    """

    text: str
    started: float
    ended: float


@dataclass(frozen=True, slots=True)
class Quiet:
    """Nothing was said for so many seconds."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """Where a rehearsal stands.

    said: everything so far.
    helps: in a row since the last word.
    asked: what was hinted at last, to be told next.
    helped: keys of parts that the coach named, or named a check of.
    quiet: seconds of silence in a row.
    """

    said: tuple[Utterance, ...] = ()
    helps: int = 0
    asked: tuple[str, str] | None = None
    helped: frozenset[str] = frozenset()
    quiet: float = 0.0
    over: bool = False


class Coach:
    """Runs rehearsals of these parts in one form."""

    def __init__(self, parts: Sequence[RecitedPart], examiner: Examiner, file: RehearseFile, form: Form) -> None:
        self.form = form
        self._parts = tuple(parts)
        self._examiner = examiner
        self._file = file
        self.finish = file.finish
        self._finish = {_plain(text) for text in file.finish}

    @property
    def patience(self) -> float:
        """Seconds of silence after which Quiet is to be reported."""
        return self._file.test.quiet_ends if self.form == "test" else self._file.coached.patience

    def begin(self, title: str) -> str:
        """What is said first."""
        talk = self._file.test if self.form == "test" else self._file.coached
        return talk.begin.format(title=title)

    def reading(self, state: Rehearsal) -> Credited:
        return self._examiner.read([utterance.text for utterance in state.said])

    def step(self, state: Rehearsal, event: Utterance | Quiet) -> tuple[Rehearsal, str]:
        """The next state, and what to say to the student ("" for nothing). Raises ValueError once it is over."""
        if state.over:
            raise ValueError("the rehearsal is over")
        if isinstance(event, Utterance):
            if _plain(event.text) in self._finish:
                return replace(state, over=True), ""
            return replace(state, said=(*state.said, event), helps=0, quiet=0.0), ""
        waited = replace(state, quiet=state.quiet + event.seconds)
        if self.form == "test":
            return replace(waited, over=waited.quiet >= self._file.test.quiet_ends), ""
        return self._help(waited)

    def _help(self, state: Rehearsal) -> tuple[Rehearsal, str]:
        """First a question; if it brings nothing, the answer."""
        talk = self._file.coached
        if state.helps >= talk.helps_end:
            return replace(state, over=True), ""
        reading = self.reading(state)
        topic = self._topic(reading, state.helped)
        if topic is None:
            return replace(state, over=True), talk.complete
        key, point = topic
        part = next(part for part in self._parts if part.key == key)
        told = state.asked == topic
        name = part.title
        wrong = bool(point) and reading.of(key).of(point).said == "wrong"
        if not point:
            first = reading.current is None
            ask, tell = (talk.start, talk.start_told) if first else (talk.next, talk.next_told)
            text = tell.format(name=name) if told else ask
        elif wrong:
            text = (talk.number_told if told else talk.number).format(name=name, limit=part.point(point).limit_text)
        else:
            text = (talk.more_told if told else talk.more).format(name=name, point=part.point(point).say[0])
        return (
            replace(
                state,
                helps=state.helps + 1,
                asked=None if told else topic,
                helped=state.helped | {f"{key}#{point}"} if told else state.helped,
                quiet=0.0,
            ),
            text,
        )

    def _topic(self, reading: Credited, helped: frozenset[str]) -> tuple[str, str] | None:
        """The part (and its check) to help with: what is still open on the part spoken of, else the next part.

        What was told once is not told again."""
        at = next((i for i, part in enumerate(self._parts) if part.key == reading.current), -1)
        if at >= 0:
            part = self._parts[at]
            for credit in reading.of(part.key).credits:
                if credit.said != "said" and f"{part.key}#{credit.point}" not in helped:
                    return part.key, credit.point
        order = (*self._parts[at + 1 :], *self._parts[: max(at, 0)])
        for part in order:
            if reading.of(part.key).named is None and f"{part.key}#" not in helped:
                return part.key, ""
        return None


def prompted(state: Rehearsal) -> frozenset[str]:
    """Keys of the parts that were told, in whole or in part."""
    return frozenset(each.partition("#")[0] for each in state.helped)


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[a-z']+", text.lower().replace("’", "'")))
