"""What is asked by voice before a walk begins: resume or new, which vehicle, which route."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass

from voice.errors import SetupError
from voice.hear.port import Ear, Hearing
from voice.session.loop import Watcher
from voice.speak.port import Speaker
from voice.understand.meaning import Chosen, Meaning, No, Stop, Yes
from voice.understand.phrases import Phrasebook
from voice.understand.question import Phrase, Question, join
from voice.walk.talk import SetupTalk

TRIES = 5  # silent or unclear answers before it gives up: nobody is there


@dataclass(frozen=True, slots=True)
class Pick:
    """One of a list.

    names: how it can be called, best first.
    """

    id: str
    names: tuple[str, ...]


class Asker:
    """Asks a question until it is answered. Raises SetupError when nobody answers or the driver says stop.

    topics: of a scripted driver, what can be asked; of a person, None.
    """

    def __init__(
        self,
        ear: Ear,
        speaker: Speaker,
        book: Phrasebook,
        talk: SetupTalk,
        watchers: Sequence[Watcher] = (),
        topics: Container[str] | None = None,
    ) -> None:
        self._ear, self._speaker, self._book, self._talk = ear, speaker, book, talk
        self._watchers, self._topics = watchers, topics

    def can_ask(self, topic: str) -> bool:
        """Whether there is someone who can answer: a script may leave out what it has no answer for."""
        return self._topics is None or topic in self._topics

    def yes(self, topic: str, prompt: str) -> bool:
        """A yes or no.

        topic: names the question for a script ("resume").
        """
        question = Question("yes-no", self._book.go_on(), step=topic)
        return isinstance(self._ask(question, prompt, self._talk.yes_no, (Yes, No)), Yes)

    def pick_or(self, topic: str, prompt: str, picks: Sequence[Pick], doubtful: str) -> str | bool:
        """Yes or no to the one that the prompt names; or another of the list, by name."""
        names = self._book.which([(pick.id, pick.names) for pick in picks])
        question = Question("choice", join(self._book.yes_no(), names), step=topic, patience=10.0)
        meaning = self._ask(question, prompt, doubtful, (Yes, No, Chosen))
        return meaning.id if isinstance(meaning, Chosen) else isinstance(meaning, Yes)

    def pick(self, topic: str, prompt: str, picks: Sequence[Pick], doubtful: str) -> str:
        """One of a list, by name."""
        phrases = self._book.which([(pick.id, pick.names) for pick in picks])
        meaning = self._ask(Question("choice", phrases, step=topic, patience=10.0), prompt, doubtful, (Chosen,))
        if not isinstance(meaning, Chosen):
            raise AssertionError("one was picked")
        return meaning.id

    def ask(self, topic: str, prompt: str, phrases: Sequence[Phrase], again: str) -> Meaning:
        """What one of the phrases means."""
        wanted = tuple({type(phrase.meaning) for phrase in phrases})
        return self._ask(self._question(topic, phrases), prompt, again, wanted)

    def once(self, topic: str, prompt: str, phrases: Sequence[Phrase]) -> Hearing:
        """Whatever was heard, asked once. Raises SetupError for a stop."""
        return self._heard(self._question(topic, phrases), prompt)

    def _question(self, topic: str, phrases: Sequence[Phrase]) -> Question:
        stop = self._book.said("stop", Stop())
        return Question("choice", join(phrases, stop, self._book.commands), step=topic, patience=10.0)

    def tell(self, text: str) -> None:
        for watcher in self._watchers:
            watcher.said(text)
        self._speaker.say(text)

    def _ask(self, question: Question, prompt: str, again: str, wanted: tuple[type, ...]) -> Meaning:
        text = prompt
        for _ in range(TRIES):
            hearing = self._heard(question, text)
            if hearing.meaning is not None and isinstance(hearing.meaning, wanted):
                if hearing.outcome == "heard":
                    self._speaker.cue("understood")
                    return hearing.meaning
                if hearing.outcome == "unsure" and question.asks != "yes-no":
                    if self.yes(f"doubt:{question.step}", self._talk.doubt.format(words=hearing.words)):
                        return hearing.meaning
                    text = prompt
                    continue
            if hearing.outcome != "silence":
                self._speaker.cue("not-understood")
            text = again
        self.tell(self._talk.nothing)
        raise SetupError(
            "Nobody answered.", "Run it again, or give the answer as an option: --vehicle, --kind, --route, --new."
        )

    def _heard(self, question: Question, prompt: str) -> Hearing:
        self.tell(prompt)
        self._speaker.cue("listening")
        for watcher in self._watchers:
            watcher.asked(None, question)
        hearing = self._ear.listen(question)
        if isinstance(hearing.meaning, Stop):
            raise SetupError("Stopped before the inspection began.", "Run it again when you are ready.")
        return hearing
