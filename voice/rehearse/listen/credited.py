"""What was credited in a transcript: the turns it was cut into, and each part's points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Said = Literal["said", "wrong", "missed"]


@dataclass(frozen=True, slots=True)
class Credit:
    """A point and what came of it.

    point: its id.
    said: "wrong" where a number was said, but not the right one.
    heard: the words it rests on.
    score: how surely, 0..1.
    """

    point: str
    said: Said
    heard: str = ""
    score: float = 0.0


@dataclass(frozen=True, slots=True)
class PartCredit:
    """A part and what came of it.

    named: where in the transcript (token) it was first named, None if never.
    strays: checks said in its turns that belong to other parts only.
    """

    key: str
    named: int | None
    credits: tuple[Credit, ...]
    strays: int = 0

    def of(self, point: str) -> Credit:
        return next(credit for credit in self.credits if credit.point == point)

    @property
    def said(self) -> tuple[str, ...]:
        return tuple(credit.point for credit in self.credits if credit.said == "said")


@dataclass(frozen=True, slots=True)
class PartTurn:
    """tokens[start:end] speak of the part; its name ends at body."""

    key: str
    start: int
    body: int
    end: int


@dataclass(frozen=True, slots=True)
class Credited:
    """All that was made of a transcript."""

    parts: tuple[PartCredit, ...]
    turns: tuple[PartTurn, ...]

    @property
    def current(self) -> str | None:
        """The part last spoken of."""
        return self.turns[-1].key if self.turns else None

    def of(self, key: str) -> PartCredit:
        return next(part for part in self.parts if part.key == key)
