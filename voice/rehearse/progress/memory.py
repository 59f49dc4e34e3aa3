"""How well a student knows each part, by FSRS, and what is to be rehearsed next. Pure: the time is an argument.

FSRS (Free Spaced Repetition Scheduler): J. Ye, J. Su, Y. Cao, "A Stochastic Shortest Path Algorithm for Optimizing
Spaced Repetition Scheduling", KDD 2022; the scheduler is the package `fsrs` from PyPI (MIT) with its own default
parameters. Its random spread of intervals is switched off, so that the same history gives the same choice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from voice.rehearse.listen.part import RecitedPart
from voice.rehearse.progress.record import SessionRecord

if TYPE_CHECKING:
    from fsrs import Card, Rating


@dataclass(frozen=True, slots=True)
class Strength:
    """How well a student knows a part.

    recall: probability of still knowing the part a day from now; 0 if it was never rehearsed.
    stability: days until recall is down to 90 %.
    due: when it should be rehearsed again.
    reviews: how often it was.

    A day from now, not now: by FSRS everything is known on the day it was rehearsed, also what was just got wrong.
    """

    recall: float
    stability: float
    due: datetime | None
    reviews: int


AHEAD = timedelta(days=1)
UNKNOWN = Strength(0.0, 0.0, None, 0)


def rating(right: bool, named: bool, prompted: bool, slipped: bool) -> Rating:
    """Right by heart and in order is good; right with help or out of order is hard; else it must be learnt again."""
    from fsrs import Rating

    if not right or not named:
        return Rating.Again
    return Rating.Hard if prompted or slipped else Rating.Good


def strengths(sessions: Sequence[SessionRecord], now: datetime) -> dict[str, Strength]:
    """Part key -> strength, from all sessions of one student (any order; each counts once at its start).

    Raises ValueError if a time is without a zone.
    """
    from fsrs import Card, Scheduler

    scheduler = Scheduler(enable_fuzzing=False)
    cards: dict[str, Card] = {}
    counts: dict[str, int] = {}
    for session in sorted(sessions, key=lambda each: each.started):
        for part in session.parts:
            card = cards.get(part.key) or Card(card_id=1, due=session.started)
            grade = rating(part.right, part.named, part.prompted, part.slipped)
            cards[part.key], _ = scheduler.review_card(card, grade, review_datetime=session.started)
            counts[part.key] = counts.get(part.key, 0) + 1
    return {
        key: Strength(
            scheduler.get_card_retrievability(card, current_datetime=now + AHEAD),
            card.stability or 0.0,
            card.due,
            counts[key],
        )
        for key, card in cards.items()
    }


def weakest(
    parts: Sequence[RecitedPart], known: Mapping[str, Strength], seconds: float, cost: Mapping[str, float]
) -> tuple[RecitedPart, ...]:
    """The parts most likely forgotten that fit into so many seconds, in walking order. At least one.

    cost: seconds that each part takes to say.
    """
    ranked = sorted(enumerate(parts), key=lambda pair: (known.get(pair[1].key, UNKNOWN).recall, pair[0]))
    chosen: set[int] = set()
    left = seconds
    for at, part in ranked:
        if chosen and cost[part.key] > left:
            continue
        chosen.add(at)
        left -= cost[part.key]
    return tuple(part for at, part in enumerate(parts) if at in chosen)


def costs(parts: Sequence[RecitedPart], words_a_minute: float, seconds_between: float) -> dict[str, float]:
    """About how long each part takes to say: its explanation at a calm pace, and a moment to think."""
    return {part.key: len(part.say.full.split()) * 60 / words_a_minute + seconds_between for part in parts}
