"""When things happened: session seconds to wall time, gaps, and the time each section took."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from voice.journal import Line
from voice.record.model import Interruption
from voice.understand.meaning import Command
from voice.walk.answer import Answer
from voice.walk.event import Heard, Resumed

Span = tuple[float, float]  # from, to, in session seconds


def _commands(line: Line, name: str) -> bool:
    event = line.event
    return isinstance(event, Heard) and isinstance(event.meaning, Command) and event.meaning.name == name


@dataclass(frozen=True)
class Timeline:
    """The journal's lines in order, seen as times."""

    lines: Sequence[Line]
    start: datetime

    def utc(self, at: float) -> datetime:
        """The wall time of a moment of the session: counted from the last event at or before it."""
        index = bisect_right(self.lines, at, key=lambda line: line.event.at) - 1
        if index < 0:
            return self.start
        line = self.lines[index]
        moment = line.utc + timedelta(seconds=at - line.event.at)
        if index + 1 < len(self.lines):
            moment = min(moment, max(self.lines[index + 1].utc, line.utc))
        return moment

    def interruptions(self) -> tuple[Interruption, ...]:
        """Stops of the program and spoken pauses, in order. A stop runs from the last event before it."""
        found: list[Interruption] = []
        paused: datetime | None = None
        for before, line in zip(self.lines, self.lines[1:], strict=False):
            if isinstance(line.event, Resumed):
                if paused is not None:
                    found.append(Interruption(stopped=paused, resumed=before.utc, kind="paused"))
                    paused = None
                found.append(Interruption(stopped=before.utc, resumed=line.utc, torn_bytes=line.event.torn))
            elif _commands(line, "pause") and paused is None:
                paused = line.utc
            elif _commands(line, "resume") and paused is not None:
                found.append(Interruption(stopped=paused, resumed=line.utc, kind="paused"))
                paused = None
        return tuple(found)

    def gaps(self) -> list[Span]:
        """The same in session seconds, without overlap: time in which nobody was inspecting."""
        spans: list[Span] = []
        paused: float | None = None
        for before, line in zip(self.lines, self.lines[1:], strict=False):
            if isinstance(line.event, Resumed):
                spans.append((before.event.at if paused is None else paused, line.event.at))
                paused = None
            elif _commands(line, "pause") and paused is None:
                paused = line.event.at
            elif _commands(line, "resume") and paused is not None:
                spans.append((paused, line.event.at))
                paused = None
        return spans


def worked(start: float, end: float, gaps: Sequence[Span]) -> float:
    """Seconds between two moments, gaps left out."""
    lost = sum(max(0.0, min(end, to) - max(start, since)) for since, to in gaps)
    return max(0.0, end - start - lost)


def section_seconds(answers: Sequence[Answer], sections: Mapping[str, str], gaps: Sequence[Span]) -> dict[str, float]:
    """Seconds spent on each section. sections: step id -> section id.

    The walk is cut at each answer; a piece counts for the section of the answer at its end. So the pieces add up to
    the whole time up to the last answer, whatever order the driver took, gaps left out.
    """
    spent: dict[str, float] = {}
    before = 0.0
    for answer in sorted(answers, key=lambda answer: answer.answered):
        section = sections[answer.step]
        spent[section] = spent.get(section, 0.0) + worked(before, answer.answered, gaps)
        before = max(before, answer.answered)
    return spent
