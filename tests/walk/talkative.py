"""A walk driven by meaning, without sound: for tests of the state machine. The phrases are the shipped ones."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache

from voice.data.folders import prompts_dir
from voice.judge import load_limits
from voice.route import load_library, load_vehicle, make_plan
from voice.route.model import Depth, Length, Plan
from voice.understand.meaning import Chosen, DoneIt, Meaning, Number, Ok, Part, Words
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import Close, Cue, Effect, Event, Heard, Listen, Say, Silence, Started
from voice.walk.machine import begin, step
from voice.walk.state import Aside, Stage, State
from voice.walk.talk import load_talk

SAMPLES = {
    "tractor-semitrailer": "tractor-trailer-five-axle",
    "straight-truck": "straight-truck-two-axle",
    "bus": "school-bus",
}


@cache
def context(kind: str = "tractor-semitrailer", only: tuple[str, ...] = ()) -> Context:
    """The shipped route of that kind; only: item ids to keep, in the route's order."""
    library = load_library()
    plan = make_plan(library, load_vehicle(prompts_dir() / "vehicles" / f"{SAMPLES[kind]}.yaml"))
    if only:
        plan = short(plan, only)
    return Context(plan, load_limits(), load_talk(), _book(), library.defects, library.cautions, ("Rosa Quill",))


@cache
def _book() -> Phrasebook:
    return Phrasebook()


def short(plan: Plan, items: Sequence[str]) -> Plan:
    """The plan with only the steps of these items."""
    return plan.only(step for step in plan.steps if step.item.id in items)


class Talk:
    """Runs events through the machine and keeps what was said. By words, which must be among the phrases."""

    def __init__(self, context: Context, length: Length = "normal", depth: Depth = "each-part") -> None:
        self.context = context
        self.state: State = begin(length, depth)
        self.events: list[Event] = []
        self.effects: tuple[Effect, ...] = ()
        self.clock = 0.0
        self.send(Started(0.0))

    def send(self, event: Event) -> None:
        self.state, self.effects = step(self.context, self.state, event)
        self.events.append(event)
        self.clock = event.at

    def say(self, *texts: str, seconds: float = 2.0) -> str:
        """Says each text in turn; gives what the assistant says last."""
        for text in texts:
            self.clock += seconds
            self.send(Heard(self.clock, self.meaning(text), text, onset=self.clock))
        return self.heard

    def meaning(self, text: str) -> Meaning:
        meanings = self.question.meanings
        assert text in meanings, f'"{text}" cannot be said now: {sorted(meanings)[:20]} ...'
        return meanings[text]

    def mean(self, meaning: Meaning, seconds: float = 2.0) -> str:
        self.clock += seconds
        self.send(Heard(self.clock, meaning, "", onset=self.clock))
        return self.heard

    @property
    def heard(self) -> str:
        return " ".join(effect.text for effect in self.effects if isinstance(effect, Say))

    @property
    def cues(self) -> list[str]:
        return [effect.name for effect in self.effects if isinstance(effect, Cue)]

    @property
    def question(self) -> Question:
        (listen,) = [effect for effect in self.effects if isinstance(effect, Listen)]
        return listen.question

    @property
    def closed(self) -> bool:
        return any(isinstance(effect, Close) for effect in self.effects)

    @property
    def current(self) -> str:
        return self.state.draft.step if self.state.draft else ""


def replayed(context: Context, events: Iterable[Event], length: Length = "normal", depth: Depth = "each-part") -> State:
    state = begin(length, depth)
    for event in events:
        state, _ = step(context, state, event)
    return state


def answer_usually(talk: Talk) -> None:
    """One answer that moves on: okay, done, a middling number, a minute's silence."""
    question = talk.question
    if talk.state.aside is not None:
        asides = {Aside.DOUBT: "yes", Aside.PAUSED: "resume", Aside.CHANGE: "stop", Aside.FINISHING: "no"}
        if talk.state.aside is Aside.NOTE:
            talk.mean(Words("a note"))
        elif talk.state.aside is Aside.NOTED:
            talk.say("yes")
        else:
            talk.say(asides[talk.state.aside])
        return
    match talk.state.stage:
        case Stage.QUIET:
            talk.clock += question.patience
            talk.send(Silence(talk.clock))
        case Stage.FIRST | Stage.SECOND:
            talk.say("now", seconds=10.0)
        case Stage.MORE:
            talk.say("no")
        case Stage.CONFIRM | Stage.SIGN:
            talk.say("yes")
        case Stage.TAKE_BACK:
            talk.say("nothing wrong" if "nothing wrong" in talk.question.meanings else "not applicable")
        case Stage.DESCRIBE | Stage.REASON:
            talk.mean(Words("because"))
        case Stage.NAME:
            talk.mean(Words("signed Rosa Quill"))
        case Stage.PART:
            talk.mean(Part(talk.current))
        case _:
            talk.mean(_usual(talk))


def _usual(talk: Talk) -> Meaning:
    meanings = list(talk.question.meanings.values())
    numbers = sorted({m.value.value for m in meanings if isinstance(m, Number) and not m.approximate})
    if numbers and not any(isinstance(m, Ok) for m in meanings):
        middle = numbers[len(numbers) // 2]
        return next(m for m in meanings if isinstance(m, Number) and m.value.value == middle)
    for wanted in (Ok, DoneIt, Chosen):
        for meaning in meanings:
            if isinstance(meaning, wanted):
                return meaning
    raise AssertionError(f"nothing to say in {talk.state.stage}")


def finish(talk: Talk, most: int = 2000) -> Talk:
    """Answers usually until the walk is closed."""
    for _ in range(most):
        if talk.closed:
            return talk
        answer_usually(talk)
    raise AssertionError(f"not closed after {most} answers; at {talk.current}, {talk.state.stage}")
