"""Random drivers in random doubt: whatever is heard, doubted, cut short or interrupted, no defect ends as good."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.walk.oracle import Oracle
from tests.walk.talkative import Talk, answer_usually, context, replayed
from voice.understand.meaning import Words
from voice.understand.question import Phrase
from voice.walk.event import Doubted, Event, Heard, Listen, Lost, Regained, Resumed, Silence, Unclear
from voice.walk.state import Aside

ABOUT = "defects heard or doubted, in any order of answers, commands, losses and kills: none ends as good untold"
SHARE = 60

ITEMS = ("hoses", "belt-play", "mud-flap-height", "chocks", "air-leak-applied", "air-build-up", "low-air-warning")
# Kinds of answer that put a walk in doubt come up more often than their number would have it.
KEEN = ("ok", "clear", "yes", "no", "defect", "done", "chosen", "not-applicable")


@contextmanager
def prepared(folder: Path) -> Iterator[Callable[[int, random.Random], str | None]]:
    yield case


def case(number: int, rng: random.Random) -> str | None:
    known = context(only=ITEMS)
    talk, oracle = Talk(known), Oracle(known)
    oracle.start(talk)
    for _ in range(rng.randint(20, 120)):
        if talk.closed:
            break
        _one(talk, rng)
        oracle.saw(talk.events[-1], talk)
    while not talk.closed and rng.random() < 0.999:
        if talk.state.aside is Aside.LOST:
            talk.send(Regained(talk.clock))
        else:
            answer_usually(talk)
        oracle.saw(talk.events[-1], talk)
    if replayed(known, talk.events) != talk.state:
        return "the replay gives another state"
    return None


def _one(talk: Talk, rng: random.Random) -> None:
    if not any(isinstance(effect, Listen) for effect in talk.effects):
        talk.send(Regained(talk.clock))
    elif rng.random() < 0.25:
        answer_usually(talk)
    elif rng.random() < 0.1:
        talk.send(_mishap(talk, rng))
    elif rng.random() < 0.05:
        talk.send(Unclear(talk.clock + 1, onset=talk.clock))
    else:
        talk.send(_answer(talk, rng))


def _mishap(talk: Talk, rng: random.Random) -> Event:
    at = talk.clock + 1
    mishaps: list[Event] = [
        Unclear(at, onset=at), Unclear(at, noisy=True), Silence(at), Lost(at), Resumed(at, torn=rng.choice((0, 9)))
    ]  # fmt: skip
    return rng.choice(mishaps)


def _answer(talk: Talk, rng: random.Random) -> Event:
    question = talk.question
    said: dict[str, list[Phrase]] = {}
    for phrase in question.phrases:
        said.setdefault(phrase.meaning.kind, []).append(phrase)
    if question.free:
        said["words"] = [Phrase("gravel", Words("gravel"))]
    kinds = sorted(said)
    keen = [kind for kind in kinds if kind in KEEN]
    phrase = rng.choice(said[rng.choice(keen if keen and rng.random() < 0.7 else kinds)])
    at = talk.clock + rng.choice((1.0, 3.0, 20.0))
    event = Doubted if rng.random() < 0.4 and not question.free else Heard
    return event(at, phrase.meaning, phrase.text, onset=at, early=rng.random() < 0.1)
