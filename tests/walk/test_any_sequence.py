"""Any sequence of events keeps the promises of the walk (a stateful property test, hypothesis).

Promises: items are asked in walking order, no answer is lost, every item that applies ends answered, not applicable or
declared not inspected; what the journal would replay is the live state.
"""

from __future__ import annotations

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from tests.walk.talkative import Talk, answer_usually, context, finish, replayed
from voice.understand.meaning import Words
from voice.walk.answer import Answer
from voice.walk.event import EVENT, Doubted, Heard, Listen, Lost, Regained, Resumed, Silence, Unclear
from voice.walk.machine import IllegalEvent
from voice.walk.state import Aside

ITEMS = ("hoses", "belt-play", "tire-tread", "chocks", "air-leak-applied", "air-build-up", "low-air-warning", "lean")


class AnyDriver(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.context = context(only=ITEMS)
        self.talk = Talk(self.context)
        self.known: dict[str, Answer] = {}

    def open(self) -> bool:
        return not self.talk.closed

    def listening(self) -> bool:
        return self.open() and any(isinstance(effect, Listen) for effect in self.talk.effects)

    @precondition(listening)
    @rule(data=st.data(), doubt=st.booleans(), gap=st.floats(0.1, 90))
    def says_something(self, data: st.DataObject, doubt: bool, gap: float) -> None:
        question = self.talk.question
        meanings = list(dict.fromkeys(question.meanings.values()))
        if question.free:
            meanings.append(Words(data.draw(st.text(max_size=20))))
        meaning = data.draw(st.sampled_from(meanings))
        self.talk.clock += gap
        kind = Doubted if doubt and not question.free else Heard
        self.talk.send(kind(self.talk.clock, meaning, "words", onset=self.talk.clock))

    @precondition(listening)
    @rule()
    def gives_the_usual_answer(self) -> None:
        answer_usually(self.talk)

    @precondition(listening)
    @rule(noisy=st.booleans())
    def mumbles(self, noisy: bool) -> None:
        self.talk.clock += 1
        self.talk.send(Unclear(self.talk.clock, noisy, onset=self.talk.clock - 0.5))

    @precondition(listening)
    @rule()
    def is_silent(self) -> None:
        self.talk.clock += self.talk.question.patience
        self.talk.send(Silence(self.talk.clock))

    @precondition(listening)
    @rule()
    def loses_the_microphone(self) -> None:
        self.talk.send(Lost(self.talk.clock))

    @precondition(lambda self: self.open() and self.talk.state.aside is Aside.LOST)
    @rule()
    def has_it_back(self) -> None:
        self.talk.send(Regained(self.talk.clock))

    @precondition(open)
    @rule(torn=st.integers(0, 300))
    def is_killed_and_resumed(self, torn: int) -> None:
        self.talk.send(Resumed(self.talk.clock, torn))

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
        before = self.context.order[: self.context.index(state.draft.step)]
        assert all(step in state.answers or step in state.skipped for step in before)

    @invariant()
    def replay_gives_the_live_state(self) -> None:
        stored = [EVENT.validate_json(EVENT.dump_json(event)) for event in self.talk.events]
        assert replayed(self.context, stored) == self.talk.state

    @invariant()
    def a_signed_walk_has_an_outcome_for_every_item(self) -> None:
        if self.talk.closed:
            assert set(self.talk.state.answers) == set(self.context.order)
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
            self.talk.send(Regained(self.talk.clock))
        if self.talk.state.aside is not None:
            self.talk.send(Resumed(self.talk.clock))
        finish(self.talk)
        assert set(self.talk.state.answers) == set(self.context.order)


AnyDriver.TestCase.settings = settings(max_examples=40, stateful_step_count=40, deadline=None)
TestAnyDriver = AnyDriver.TestCase
