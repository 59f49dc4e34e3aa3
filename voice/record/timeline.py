"""When things happened: session seconds to wall time, gaps, and the time each section took."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal

from voice.journal.line import Line
from voice.judge.answer import Answer
from voice.record.model import Interruption
from voice.understand.meaning import Command
from voice.walk.event import Heard, Lost, Regained, Resumed

Break = Literal["stopped", "paused", "microphone-lost"]
_SET_BACK = timedelta(seconds=1)  # less is the network time's usual correction
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
        """Stops of the program, pauses, losses of the microphone, and where the clock was set back, in order.

        Durations come from the session's own seconds, so that a wrong clock does not change them; but the times of
        day before and after do not fit together, and the end may lie before the start.
        """
        found = [
            (since.n, Interruption(stopped=since.utc, resumed=to.utc, torn_bytes=torn, kind=kind))
            for since, to, kind, torn in self._breaks()
        ]
        found += [
            (before.n, Interruption(stopped=before.utc, resumed=line.utc, kind="clock-set-back"))
            for before, line in pairwise(self.lines)
            if before.utc - line.utc > _SET_BACK
        ]
        return tuple(each for _, each in sorted(found, key=lambda pair: pair[0]))

    def gaps(self) -> list[Span]:
        """The same in session seconds, without overlap: time in which nobody was inspecting."""
        return [(since.event.at, to.event.at) for since, to, _, _ in self._breaks()]

    def _breaks(self) -> Iterator[tuple[Line, Line, Break, int]]:
        """Each break's first and last line, its kind, and the torn bytes of a stop.

        A stop of the program runs from the last event before it, and ends whatever other break was going on.
        """
        since: Line | None = None
        kind: Break = "paused"
        for before, line in pairwise(self.lines):
            event = line.event
            if isinstance(event, Resumed):
                if since is not None and since is not before:
                    yield since, before, kind, 0
                yield before, line, "stopped", event.torn
                since = None
            elif since is None and (isinstance(event, Lost) or _commands(line, "pause")):
                since, kind = line, "microphone-lost" if isinstance(event, Lost) else "paused"
            elif since is not None and (isinstance(event, Regained) if kind != "paused" else _commands(line, "resume")):
                yield since, line, kind, 0
                since = None


def worked(start: float, end: float, gaps: Sequence[Span]) -> float:
    """Seconds between two moments, gaps left out."""
    lost = sum(max(0.0, min(end, to) - max(start, since)) for since, to in gaps)
    return max(0.0, end - start - lost)


def section_seconds(answers: Sequence[Answer], sections: Mapping[str, str], gaps: Sequence[Span]) -> dict[str, float]:
    """Seconds spent on each section.

    sections: step id -> section id.

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
