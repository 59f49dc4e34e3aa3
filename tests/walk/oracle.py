"""Whether a walk ever called good what was reported bad, judged from outside: what was heard, what was said aloud, what
was recorded. It knows nothing of how the walk keeps its doubts.
"""

from __future__ import annotations

from tests.walk.talkative import Talk
from voice.judge.answer import Answer
from voice.understand.meaning import Clear, Command, Correct, Defect, Meaning, No, Ok, Yes
from voice.walk.context import Context
from voice.walk.event import Cue, Doubted, Effect, Event, Heard, Listen, Say

GOOD = ("ok", "done", "choice", "reading")


class Oracle:
    """Watches a talk event by event; `saw` asserts.

    standing: for each step the defects that were heard (True) or doubted (False) and not taken back aloud.
    """

    def __init__(self, context: Context) -> None:
        self.context = context
        self.standing: dict[str, dict[Meaning, bool]] = {}
        self.answers: dict[str, Answer] = {}
        self.step = ""  # about which the last question was
        self.said = ""  # the last question
        self.contradicted = False
        self.guess: dict[str, Meaning] = {}  # what a "did you say" in these words is about

    def start(self, talk: Talk) -> None:
        """The walk has begun; nothing was heard yet."""
        self._spoken(talk.effects)
        self.step = talk.current

    def saw(self, event: Event, talk: Talk) -> None:
        before = {step: dict(reports) for step, reports in self.standing.items()}
        taken_back = isinstance(event, Heard | Doubted) and self._hear(event, talk)
        self._recorded(event, talk, before, taken_back)
        self._spoken(talk.effects)
        self.step = talk.current
        self.answers = dict(talk.state.answers)

    def _hear(self, event: Heard | Doubted, talk: Talk) -> bool:
        """Keeps what was reported; whether "nothing wrong" was surely said, to a question that named both."""
        meaning, sure = event.meaning, isinstance(event, Heard)
        self.guess[event.words] = meaning
        reports = self.standing.setdefault(self.step, {})
        asked = (
            self.said.removeprefix("Did you say ").removesuffix("?") if self.said.startswith("Did you say") else None
        )
        doubted = None if asked is None else self.guess.get(asked)
        if event.early and isinstance(meaning, Yes | No | Clear):
            return False
        if sure and doubted is not None and isinstance(meaning, No):
            if reports.get(doubted) is False:
                del reports[doubted]
            return False
        # An okay to "did you say" anything else does not say that the item is okay.
        self.contradicted = doubted is not None and isinstance(meaning, Ok) and doubted != Ok()
        if sure and doubted is not None and (isinstance(meaning, Yes) or (meaning == Correct() and doubted != Ok())):
            meaning = doubted
        if isinstance(meaning, Defect) and self.step:
            reports[meaning] = reports.get(meaning, False) or sure
        clear = sure and isinstance(meaning, Clear)
        if clear and asked is None:
            assert "othing wrong" in self.said, self.said
            named = [self._words(each) for each in reports]
            old = self.answers.get(self.step)
            named += [self.context.defects[found.defect].say[0] for found in old.defects] if old else []
            assert not named or any(word in self.said for word in named), (self.said, named)
        return clear

    def _recorded(self, event: Event, talk: Talk, before: dict[str, dict[Meaning, bool]], taken_back: bool) -> None:
        for step, answer in talk.state.answers.items():
            old = self.answers.get(step)
            if answer is old:
                continue
            if answer.kind in GOOD:
                assert (
                    not getattr(event, "early", False)
                    or isinstance(getattr(event, "meaning", None), Command)
                    or (answer.kind in ("reading", "choice"))
                ), f"{step}: {answer.kind} by {event}"
                assert not self.contradicted, f"{step}: {answer.kind} by an okay to {self.said!r}"
                stood = {**before.get(step, {}), **self.standing.get(step, {})} if not taken_back else {}
                assert not stood, f"{step}: {answer.kind} by {event} with {stood}"
                assert old is None or not old.defects or taken_back, f"{step}: {old.defects} became {answer.kind}"
            if taken_back and answer.kind in GOOD:
                name = self.context.steps[step].name
                assert self.context.talk.taken_back.format(name=name) in talk.heard
            self.standing.pop(step, None)
        if talk.closed:
            left = {step for step, reports in self.standing.items() if reports}
            assert not {step for step in left if talk.state.answers[step].kind in GOOD}

    def _spoken(self, effects: tuple[Effect, ...]) -> None:
        """What can be cut in on is the last sentence before the ear opens: never a caution."""
        if not any(isinstance(effect, Listen) for effect in effects):
            return
        said = [effect for effect in effects if isinstance(effect, Say)]
        talk = self.context.talk
        if said:
            same = (talk.noisy, *talk.can_say.values(), talk.waiting)  # the question is still the one before
            if said[-1].text not in same:
                self.said = said[-1].text
            match effects:
                case (*_, Say(text), Cue("listening"), Listen()):
                    assert not any(caution in text for caution in self.context.cautions.values()), text

    def _words(self, meaning: Meaning) -> str:
        if isinstance(meaning, Defect) and meaning.id is not None:
            return self.context.defects[meaning.id].say[0]
        return self.context.talk.defect_word
