"""Any sequence of events keeps the promises of the walk (a stateful property test, hypothesis).

Promises: items are asked in walking order, no answer is lost, every item that applies ends answered, not applicable or
declared not inspected; what the journal would replay is the live state. No OK is recorded while a defect stands that
was heard or doubted and not taken back aloud (`tests/walk/oracle.py`); none by an answer that began before its question
had been asked to the end; a caution is never in what an answer can cut short.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from tests.walk.oracle import Oracle
from tests.walk.talkative import Talk, answer_usually, context, replayed
from voice.judge.answer import Answer
from voice.route.model import Depth, LastReading, NotDue
from voice.understand.meaning import Words
from voice.understand.question import Phrase
from voice.walk.context import Context
from voice.walk.event import EVENT, Doubted, Event, Heard, Listen, Lost, Regained, Resumed, Silence, Unclear
from voice.walk.state import Aside
from voice.walk.turn import IllegalEvent

ITEMS = ("hoses", "belt-play", "tire-tread", "chocks", "air-leak-applied", "air-build-up", "low-air-warning", "lean")
LOOKS = (
    "hoses", "belts", "wiring", "belt-play", "oil-level", "coolant-level", "shocks", "rim-lugs", "lean", "tire-tread",
)  # fmt: skip


EARLY = st.sampled_from((False, False, False, True))  # as with a headset


class AnyDriver(RuleBasedStateMachine):
    items: tuple[str, ...] = ITEMS
    depth: Depth = "each-part"

    def __init__(self) -> None:
        super().__init__()
        self.context = self.walk()
        self.talk = Talk(self.context, depth=self.depth)
        self.oracle = Oracle(self.context)
        self.oracle.start(self.talk)
        self.known: dict[str, Answer] = {}

    def walk(self) -> Context:
        return context(only=self.items)

    def open(self) -> bool:
        return not self.talk.closed

    def listening(self) -> bool:
        return self.open() and any(isinstance(effect, Listen) for effect in self.talk.effects)

    @precondition(listening)
    @rule(data=st.data(), doubt=st.booleans(), gap=st.floats(0.1, 90), early=EARLY)
    def says_something(self, data: st.DataObject, doubt: bool, gap: float, early: bool) -> None:
        question = self.talk.question
        said: dict[str, list[Phrase]] = {}
        for phrase in question.phrases:
            said.setdefault(phrase.meaning.kind, []).append(phrase)
        if question.free:
            said["words"] = [Phrase(text, Words(text)) for text in [data.draw(st.text(max_size=20))]]
        kind = data.draw(st.sampled_from(sorted(said)))
        phrase = data.draw(st.sampled_from(said[kind]))
        self.talk.clock += gap
        event = Doubted if doubt and not question.free else Heard
        self.send(event(self.talk.clock, phrase.meaning, phrase.text, onset=self.talk.clock, early=early))

    def send(self, event: Event) -> None:
        self.talk.send(event)
        self.oracle.saw(event, self.talk)

    @precondition(listening)
    @rule()
    def gives_the_usual_answer(self) -> None:
        answer_usually(self.talk)
        self.oracle.saw(self.talk.events[-1], self.talk)

    @precondition(listening)
    @rule(noisy=st.booleans(), early=EARLY)
    def mumbles(self, noisy: bool, early: bool) -> None:
        self.talk.clock += 1
        self.send(Unclear(self.talk.clock, noisy, onset=self.talk.clock - 0.5, early=early))

    @precondition(listening)
    @rule()
    def is_silent(self) -> None:
        self.talk.clock += self.talk.question.patience
        self.send(Silence(self.talk.clock))

    @precondition(listening)
    @rule()
    def loses_the_microphone(self) -> None:
        self.send(Lost(self.talk.clock))

    @precondition(lambda self: self.open() and self.talk.state.aside is Aside.LOST)
    @rule()
    def has_it_back(self) -> None:
        self.send(Regained(self.talk.clock))

    @precondition(open)
    @rule(torn=st.integers(0, 300))
    def is_killed_and_resumed(self, torn: int) -> None:
        self.send(Resumed(self.talk.clock, torn))

    @precondition(lambda self: self.talk.closed)
    @rule()
    def after_the_sign_off_nothing_can_happen(self) -> None:
        before = self.talk.state
        with pytest.raises(IllegalEvent):
            self.talk.send(Silence(self.talk.clock))
        assert self.talk.state is before

    @invariant()
    def no_answer_is_lost(self) -> None:
        answers = self.talk.state.answers
        assert set(self.known) <= set(answers)
        for step, answer in answers.items():
            old = self.known.get(step)
            assert old is None or answer.corrected >= old.corrected
        self.known = dict(answers)

    @invariant()
    def it_is_asked_in_walking_order(self) -> None:
        state = self.talk.state
        if state.draft is None or state.draft.step in state.answers or state.draft.step in state.skipped:
            return
        look = self.context.looks.get(state.draft.step)  # its parts can be told in any order
        first = self.context.index(state.draft.step if look is None else look.steps[0])
        before = [step for step in self.context.asked(state) if self.context.index(step) < first]
        assert all(step in state.answers or step in state.skipped for step in before)

    @invariant()
    def replay_gives_the_live_state(self) -> None:
        stored = [EVENT.validate_json(EVENT.dump_json(event)) for event in self.talk.events]
        assert replayed(self.context, stored, depth=self.depth) == self.talk.state

    @invariant()
    def a_signed_walk_has_an_outcome_for_every_item(self) -> None:
        if self.talk.closed:
            assert set(self.talk.state.answers) == set(self.context.asked(self.talk.state))
            for answer in self.talk.state.answers.values():
                if answer.kind == "defect":
                    assert answer.defects
                if answer.kind == "reading":
                    assert answer.taken

    def teardown(self) -> None:
        """From anywhere the walk can be brought to its end."""
        if self.talk.closed:
            return
        if self.talk.state.aside is Aside.LOST:
            self.send(Regained(self.talk.clock))
        if self.talk.state.aside is not None:
            self.send(Resumed(self.talk.clock))
        for _ in range(2000):
            if self.talk.closed:
                break
            answer_usually(self.talk)
            self.oracle.saw(self.talk.events[-1], self.talk)
        assert set(self.talk.state.answers) == set(self.context.asked(self.talk.state))
        assert set(self.context.order) - set(self.talk.state.answers) <= self.context.not_due


class AnyDriverByPlace(AnyDriver):
    """The same, where most parts are asked about together."""

    items = LOOKS
    depth: Depth = "by-place"

    @invariant()
    def what_is_answered_together_is_okay_and_belongs_together(self) -> None:
        for step, answer in self.talk.state.answers.items():
            if answer.together:
                assert answer.kind in ("ok", "not-inspected")
                assert step in answer.together
                assert set(answer.together) <= set(self.context.looks[step].steps)


class AnyDriverWithGauges(AnyDriver):
    """The same, where tread and pressure can be told in one breath, and "same" is understood: what is not due, too."""

    depth: Depth = "by-place"
    not_due = ("tire-tread@left-1", "tire-pressure@left-2-outer", "mud-flap-height@right")

    def walk(self) -> Context:
        base = context(only=("tire-tread", "tire-pressure", "dual-tires", "rim-lugs", "hub-seal", "mud-flap-height"))
        plan = base.plan.only(step for step in base.plan.steps if step.place.axle in (None, 1, 2))
        last = {"mud-flap-height@left": LastReading(at="2026-11-20T07:00:00+00:00", value=Fraction(9), unit="in")}
        left = tuple(NotDue(step=step, title=step, last="2026-11-20T07:00:00+00:00") for step in self.not_due)
        return replace(base, plan=plan.model_copy(update={"last": last, "not_due": left}))


AnyDriver.TestCase.settings = settings(max_examples=40, stateful_step_count=40, deadline=None)
AnyDriverByPlace.TestCase.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)
AnyDriverWithGauges.TestCase.settings = settings(max_examples=40, stateful_step_count=40, deadline=None)
TestAnyDriver = AnyDriver.TestCase
TestAnyDriverByPlace = AnyDriverByPlace.TestCase
TestAnyDriverWithGauges = AnyDriverWithGauges.TestCase
