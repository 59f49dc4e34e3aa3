"""A walk driven by meaning, without sound: for tests of the state machine. The phrases are the shipped ones."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache

from voice.data import prompts_dir
from voice.judge import load_limits
from voice.route import load_library, load_vehicle, make_plan
from voice.route.model import Length, Plan
from voice.understand.meaning import Meaning
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question
from voice.walk.context import Context
from voice.walk.event import Close, Cue, Effect, Event, Heard, Listen, Say, Started
from voice.walk.machine import begin, step
from voice.walk.state import State
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
    cautions = {name: caution.say for name, caution in library.cautions.items()}
    return Context(plan, load_limits(), load_talk(), _book(), library.defects, cautions, ("Rosa Quill",))


@cache
def _book() -> Phrasebook:
    return Phrasebook()


def short(plan: Plan, items: Sequence[str]) -> Plan:
    """The plan with only the steps of these items."""
    return plan.model_copy(update={"steps": tuple(s for s in plan.steps if s.item.id in items)})


class Talk:
    """Runs events through the machine and keeps what was said. By words, which must be among the phrases."""

    def __init__(self, context: Context, length: Length = "normal") -> None:
        self.context = context
        self.state: State = begin(length)
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


def replayed(context: Context, events: Iterable[Event], length: Length = "normal") -> State:
    state = begin(length)
    for event in events:
        state, _ = step(context, state, event)
    return state
