"""Whether a walk ever called good what was reported bad, judged from outside: what was heard, what was said aloud, what
was recorded. It knows nothing of how the walk keeps its doubts.
"""

from __future__ import annotations

from tests.walk.readings import Readings
from tests.walk.talkative import Talk
from voice.judge.answer import Answer
from voice.understand.meaning import Clear, Command, Correct, Defect, Meaning, No, NotApplicable, Ok, Part, Yes
from voice.walk.context import Context
from voice.walk.event import Cue, Doubted, Effect, Event, Heard, Listen, Say, Unclear
from voice.walk.state import Aside

GOOD = ("ok", "done", "choice", "reading")


class Oracle:
    """Watches a talk event by event; `saw` asserts.

    standing: for each step, and for each look where no part was named, the defects that were heard (True) or doubted
    (False) and not taken back aloud.
    group: the parts that the last question is about; empty if it is about one step. named: those of them whose names
    were spoken to the end. cut: the last question was not.
    """

    def __init__(self, context: Context) -> None:
        self.context = context
        self.standing: dict[str, dict[Meaning, bool]] = {}
        self.answers: dict[str, Answer] = {}
        self.step = ""  # about which the last question was, or the look
        self.group: tuple[str, ...] = ()
        self.named: set[str] = set()
        self.cut = False
        self.said = ""  # the last question
        self.contradicted = False
        self.pending: Meaning | None = None  # said of a look, before it is said of which part
        self.guess: dict[str, Meaning] = {}  # what a "did you say" in these words is about
        self.readings = Readings(context)
        self.unheard: set[str] = set()  # steps at whose question words were not understood, and nothing was asked since
        self.attends = True  # what is said now is to the question

    def start(self, talk: Talk) -> None:
        """The walk has begun; nothing was heard yet."""
        self._spoken(talk.effects)
        self._about(talk)

    def saw(self, event: Event, talk: Talk) -> None:
        self.cut = self.cut or getattr(event, "early", False)
        if not self.cut:
            self.named |= {step for step in self.group if self._named(step) in self.said.lower()}
        about = {self.step, *self.group}
        if isinstance(event, Unclear) and event.spoken and self.attends:
            self.unheard |= about
        if isinstance(event, Heard | Doubted) and not self.cut and "othing wrong" in self.said:
            self.unheard -= about
        before = {step: dict(reports) for step, reports in self.standing.items()}
        self.readings.hear(self.step, event, self.said, self.answers)
        taken_back = isinstance(event, Heard | Doubted) and self._hear(event, talk)
        self._recorded(event, talk, before, taken_back)
        self._spoken(talk.effects)
        self.readings.spoke(talk)
        self._about(talk)
        self.attends = talk.state.aside in (None, Aside.DOUBT)
        self.answers = dict(talk.state.answers)

    def _named(self, step: str) -> str:
        return self._called(step, self.group)

    def _called(self, step: str, group: tuple[str, ...]) -> str:
        """The part, or the assembly that is asked by its name because all of it is asked about."""
        whole = self.context.looks[step].as_one.items()
        return next((name for name, each in whole if step in each and set(each) <= set(group)), None) or (
            self.context.part_name(step)
        )

    def _about(self, talk: Talk) -> None:
        draft = talk.state.draft
        group = () if draft is None else draft.group
        if group != self.group:
            self.named, self.pending = set(), None
        self.group = group
        self.step = self.context.looks[group[0]].id if group else talk.current

    def _hear(self, event: Heard | Doubted, talk: Talk) -> bool:
        """Keeps what was reported; whether "nothing wrong" was surely said, to a question that named both."""
        meaning, sure = event.meaning, isinstance(event, Heard)
        self.guess[event.words] = meaning
        if meaning == Defect():
            self.guess[self.context.talk.defect_word] = meaning  # how a no that says so is asked back
        asked = (
            self.said.removeprefix("Did you say ").removesuffix("?") if self.said.startswith("Did you say") else None
        )
        doubted = None if asked is None else self.guess.get(asked)
        if event.early and isinstance(meaning, Yes | No | Clear):
            return False
        if sure and doubted is not None and isinstance(meaning, No):
            step, denied = self._of(doubted)
            if self.standing.get(step, {}).get(denied) is False:
                del self.standing[step][denied]
            return False
        # An okay to "did you say" anything else does not say that the item is okay.
        self.contradicted = doubted is not None and isinstance(meaning, Ok) and doubted != Ok()
        if sure and doubted is not None and (isinstance(meaning, Yes) or (meaning == Correct() and doubted != Ok())):
            meaning = doubted
        self._report(meaning, sure)
        clear = sure and isinstance(meaning, Clear)
        if clear and asked is None:
            assert "othing wrong" in self.said, self.said
            named = [self._words(each) for step in (*self.group, self.step) for each in self.standing.get(step, {})]
            old = self.answers.get(self.step)
            named += [self.context.defects[found.defect].say[0] for found in old.defects] if old else []
            assert not named or any(word in self.said for word in named), (self.said, named)
        return clear

    def _report(self, meaning: Meaning, sure: bool) -> None:
        if not self.step:
            return
        if isinstance(meaning, Part) and meaning.defect is None and isinstance(self.pending, NotApplicable):
            return
        step, report = self._of(meaning)
        if isinstance(report, Defect):
            reports = self.standing.setdefault(step, {})
            reports[report] = reports.get(report, False) or sure
        if sure and isinstance(meaning, Part) and self.pending is not None:
            self.standing.get(self.step, {}).pop(self.pending, None)  # now it is said of which part
        if sure and self.group and isinstance(meaning, Defect | NotApplicable):
            self.pending = meaning

    def _of(self, meaning: Meaning) -> tuple[str, Meaning]:
        if not isinstance(meaning, Part):
            return self.step, meaning
        pending = self.pending.id if isinstance(self.pending, Defect) else None
        return meaning.step, Defect(meaning.defect or pending)

    def _recorded(self, event: Event, talk: Talk, before: dict[str, dict[Meaning, bool]], taken_back: bool) -> None:
        fresh = [answer for step, answer in talk.state.answers.items() if answer is not self.answers.get(step)]
        for answer in fresh:
            self._kept(answer, event, before, taken_back)
            self.readings.kept(answer, talk, self.said, {**self.answers, **dict(talk.state.answers)})
            if taken_back and answer.kind in GOOD:
                names = dict.fromkeys(self._called(step, answer.together) for step in answer.together)
                name = ", ".join(names) or self.context.steps[answer.step].name
                assert self.context.talk.taken_back.format(name=name) in talk.heard
        for answer in fresh:
            self.unheard.discard(answer.step)
            self.standing.pop(answer.step, None)
            look = self.context.looks.get(answer.step)
            if look is not None and (answer.kind == "defect" or len(fresh) > 1):
                self.standing.pop(look.id, None)
        if talk.closed:
            self.readings.closed(dict(talk.state.answers))
            for name, reports in self.standing.items():
                looks = [look for look in self.context.plan.looks if look.id == name]
                steps = looks[0].steps if looks else (name,)
                assert not reports or any(talk.state.answers[step].kind not in GOOD for step in steps), (name, reports)

    def _kept(self, answer: Answer, event: Event, before: dict[str, dict[Meaning, bool]], taken_back: bool) -> None:
        step, old = answer.step, self.answers.get(answer.step)
        if answer.kind not in GOOD:
            return
        assert (
            not self.cut
            or isinstance(getattr(event, "meaning", None), Command)
            or (answer.kind in ("reading", "choice"))
        ), f"{step}: {answer.kind} by {event}"
        if answer.kind in ("ok", "done", "choice"):
            assert taken_back or step not in self.unheard, f"{step}: {answer.kind} after words not understood"
        assert not self.contradicted, f"{step}: {answer.kind} by an okay to {self.said!r}"
        look = self.context.looks.get(step)
        stood: dict[Meaning, bool] = {}
        for name in (step, *(() if look is None else (look.id,))):
            stood.update({**before.get(name, {}), **self.standing.get(name, {})})
        assert taken_back or not stood, f"{step}: {answer.kind} by {event} with {stood}"
        assert old is None or not old.defects or taken_back, f"{step}: {old.defects} became {answer.kind}"
        about = (step, *([look.id] if look is not None and answer.together else []))
        gone = [*(each for name in about for each in before.get(name, {})), *self._had(old)]
        for words in map(self._words, gone):
            assert any(words in told for told in answer.taken_back), f"{step}: {words} was taken back, and is not told"
        assert set(answer.together) <= self.named, f"{step}: okay, but only {self.named} were named"

    def _had(self, old: Answer | None) -> list[Meaning]:
        return [] if old is None else [Defect(found.defect) for found in old.defects]

    def _spoken(self, effects: tuple[Effect, ...]) -> None:
        """What can be cut in on is the last sentence before the ear opens: never a caution."""
        if not any(isinstance(effect, Listen) for effect in effects):
            return
        said = [effect for effect in effects if isinstance(effect, Say)]
        talk = self.context.talk
        if said:
            same = (talk.noisy, *talk.can_say.values(), *self.context.pace.can_say.values(), talk.waiting)
            if said[-1].text not in same:  # the question is still the one before
                self.said, self.cut = said[-1].text, False
            match effects:
                case (*_, Say(text), Cue("listening"), Listen()):
                    cautions = self.context.cautions.values()
                    assert not any(said in text for each in cautions for said in (each.say, each.again) if said), text

    def _words(self, meaning: Meaning) -> str:
        if isinstance(meaning, Defect) and meaning.id is not None:
            return self.context.defects[meaning.id].say[0]
        return self.context.talk.defect_word
