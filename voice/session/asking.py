"""What is asked by voice before a walk begins: resume or new, which vehicle, which route."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz, process, utils

from voice.errors import SetupError
from voice.hear.port import Ear, Hearing
from voice.session.loop import Watcher
from voice.speak.port import Speaker
from voice.understand.meaning import Chosen, Meaning, No, Signed, Stop, Words, Yes
from voice.understand.phrases import Phrasebook
from voice.understand.question import Phrase, Question, join
from voice.walk.talk import SetupTalk

TRIES = 5  # silent or unclear answers before it gives up: nobody is there
MISSED = 2  # answers that were not understood; then the list is gone through one by one
MOST_ONE_BY_ONE = 8  # of a list that is gone through
CLOSE = 68.0  # rapidfuzz's ratio, 0..100, of what was written down with a name; it is always asked back
APART = 5.0  # and so much closer than the next


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
        question = Question("choice", join(self._book.yes_no(), self._names(picks)), step=topic, patience=10.0)
        meaning = self._ask(question, prompt, doubtful, (Yes, No, Chosen))
        return meaning.id if isinstance(meaning, Chosen) else isinstance(meaning, Yes)

    def pick(self, topic: str, prompt: str, picks: Sequence[Pick], doubtful: str) -> str:
        """One of a list, by name."""
        question = Question("choice", self._names(picks), step=topic, patience=10.0)
        meaning = self._ask(question, prompt, doubtful, (Chosen,))
        if not isinstance(meaning, Chosen):
            raise AssertionError("one was picked")
        return meaning.id

    def _names(self, picks: Sequence[Pick]) -> tuple[Phrase, ...]:
        """And stop. No commands: they do nothing here, and "post trip" was heard as "stop" or "finish inspection"."""
        return join(self._book.names([(pick.id, pick.names) for pick in picks]), self._book.said("stop", Stop()))

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
        text, missed = prompt, 0
        denied: set[Meaning] = set()
        for _ in range(TRIES):
            hearing = self._heard(question, text)
            said = _said(question, hearing)
            if said is not None and isinstance(said, wanted) and said not in denied:
                self._speaker.cue("understood")
                return said
            if (near := _nearest(question, hearing, wanted, denied)) is not None:
                if self.yes(f"doubt:{question.step}", self._talk.doubt.format(words=near.text)):
                    return near.meaning
                denied.add(near.meaning)
                text = prompt
                continue
            text = again
            if hearing.outcome != "silence":
                self._speaker.cue("not-understood")
                missed += 1
                if missed == MISSED and (found := self._one_by_one(question, wanted)) is not None:
                    return found
        self.tell(self._talk.nothing)
        raise SetupError(
            "Nobody answered.", "Run it again, or give the answer as an option: --vehicle, --kind, --route, --new."
        )

    def _one_by_one(self, question: Question, wanted: tuple[type, ...]) -> Meaning | None:
        """The names one after another, with yes or no: those words the ear knows best."""
        names: dict[Meaning, str] = {}
        for phrase in _named(question, wanted):
            names.setdefault(phrase.meaning, phrase.text)
        if not 1 < len(names) <= MOST_ONE_BY_ONE:
            return None
        asked = (
            each for each in names if self.yes(f"one:{question.step}", self._talk.vehicle_one.format(name=names[each]))
        )
        return next(asked, None)

    def _heard(self, question: Question, prompt: str) -> Hearing:
        self.tell(prompt)
        self._speaker.cue("listening")
        for watcher in self._watchers:
            watcher.asked(None, question)
        hearing = self._ear.listen(question)
        if isinstance(hearing.meaning, Stop):
            raise SetupError("Stopped before the inspection began.", "Run it again when you are ready.")
        return hearing


def _named(question: Question, wanted: tuple[type, ...]) -> list[Phrase]:
    """What a list has to choose from."""
    return [p for p in question.phrases if isinstance(p.meaning, wanted) and isinstance(p.meaning, Chosen | Signed)]


def _said(question: Question, hearing: Hearing) -> Meaning | None:
    """What was said for sure: heard so, or a name that was written down word for word."""
    if hearing.outcome == "heard":
        return hearing.meaning
    written = question.meanings.get(hearing.words.strip(" .,!?").lower()) if hearing.outcome == "unclear" else None
    return written if isinstance(written, Chosen | Signed) else None


def _nearest(
    question: Question, hearing: Hearing, wanted: tuple[type, ...], denied: Container[Meaning]
) -> Phrase | None:
    """What it may have been, to be asked back: the unsure guess, or the name that is nearest to what was written down.

    The ear was taught the words of the walk, and not the names of vehicles, drivers and kinds of inspection.
    denied: is offered again only if it is heard surely, since the no may have been misheard.
    """
    meaning = hearing.meaning
    if question.asks == "yes-no":
        return None
    if hearing.outcome == "heard" and meaning is not None and meaning in denied:
        return Phrase(hearing.words, meaning)
    if hearing.outcome == "unsure" and meaning is not None:
        guesses = (Phrase(hearing.words, meaning), *hearing.alternatives)
        return next((g for g in guesses if isinstance(g.meaning, wanted) and g.meaning not in denied), None)
    words = meaning.text if isinstance(meaning, Words) else hearing.words if hearing.outcome == "unclear" else ""
    phrases = [phrase for phrase in _named(question, wanted) if phrase.meaning not in denied]
    names = [phrase.text for phrase in phrases]
    found = process.extract(
        words, names, scorer=fuzz.ratio, processor=utils.default_process, score_cutoff=CLOSE, limit=None
    )
    if not found:
        return None
    best = phrases[found[0][2]]
    other = max((score for _, score, at in found if phrases[at].meaning != best.meaning), default=0.0)
    return best if found[0][1] - other >= APART else None
