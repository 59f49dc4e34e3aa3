"""Invented rehearsals, for the demo and for looking at the plots. The names are plainly invented."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

from voice.rehearse.listen.part import RecitedPart, Syllabus
from voice.rehearse.progress.record import PartRecord, SessionRecord

NAMES = (
    "Invented Student A", "Invented Student B", "Invented Student C", "Invented Student D",
    "Invented Student E", "Invented Student F", "Invented Student G", "Invented Student H",
)  # fmt: skip
BEGIN = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)


def invent(syllabus: Syllabus, count: int = 200, seed: int = 7) -> dict[str, list[SessionRecord]]:
    """Rehearsals of eight students over ten weeks; the same seed gives the same ones.

    Each learns at his own rate, finds some parts hard, and leaves out what has numbers most often.
    """
    chance = random.Random(seed)
    rate = {name: chance.uniform(0.05, 0.16) for name in NAMES}
    start = {name: chance.uniform(0.25, 0.5) for name in NAMES}
    hard = {
        part.key: chance.betavariate(1.3, 3) + 0.15 * any(p.numeric for p in part.points) for part in syllabus.parts
    }
    history: dict[str, list[SessionRecord]] = {name: [] for name in NAMES}
    for number in range(count):
        name = NAMES[number % len(NAMES)]
        turn = number // len(NAMES)
        known = 1 - (1 - start[name]) * (1 - rate[name]) ** turn
        when = BEGIN + timedelta(days=int(turn * 70 / max(1, count // len(NAMES))), minutes=20 * (number % len(NAMES)))
        history[name].append(_session(syllabus, chance, known, hard, number, when))
    return {name: sessions for name, sessions in history.items() if sessions}


def _session(
    syllabus: Syllabus, chance: random.Random, known: float, hard: dict[str, float], number: int, when: datetime
) -> SessionRecord:
    section = None if chance.random() < 0.4 else chance.choice(syllabus.sections).id
    parts = [_part(part, chance, known * (1 - hard[part.key] * (1 - known))) for part in syllabus.of(section)]
    slips = tuple(part.key for part in parts if part.slipped)
    right = sum(part.right for part in parts)
    return SessionRecord(
        id=f"invented-{number:03d}",
        started=when,
        form="coached" if known < 0.6 else "test",
        route=syllabus.route,
        vehicle=syllabus.vehicle,
        section=section,
        points=right,
        of=len(parts),
        seconds=round(sum(chance.uniform(5, 11) for _ in parts) * (1.5 - known / 2), 1),
        slips=slips,
        parts=tuple(parts),
        invented=True,
    )


def _part(part: RecitedPart, chance: random.Random, sure: float) -> PartRecord:
    named = chance.random() < 0.35 + 0.65 * sure
    said, short, wrong = [], [], []
    for point in part.points:
        if named and chance.random() < sure - 0.08 * point.numeric + 0.1:
            said.append(point.id)
        elif named and point.numeric and chance.random() < 0.4:
            wrong.append(point.id)
        else:
            short.append(point.id)
    return PartRecord(
        key=part.key,
        section=part.section,
        title=part.title,
        named=named,
        right=named and not wrong and len(said) >= 0.75 * len(part.points),
        said=tuple(said),
        short=tuple(short),
        wrong=tuple(wrong),
        slipped=named and chance.random() < 0.06 * (1 - sure),
    )
