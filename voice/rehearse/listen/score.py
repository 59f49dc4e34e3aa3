"""From credits to a score, by the scheme of prompts/learn/scoring.yaml. Pure."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import Field

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.rehearse.listen.credited import Credited, PartCredit
from voice.rehearse.listen.part import RecitedPart


class Whole(Strict):
    """Parts that must all be right, or the test is failed. By section, by items, or both."""

    id: str
    title: str
    section: str | None = None
    items: tuple[str, ...] = ()
    source: str

    def covers(self, part: RecitedPart) -> bool:
        return part.section == self.section or part.item in self.items


class Scheme(Strict):
    """The scoring scheme; see the comments in the file."""

    source: str
    caveat: str
    part_points: float = Field(1, gt=0)
    needed_share: float = Field(gt=0, le=1)
    strays_let_pass: int = Field(ge=0)
    order_slip_points: float = Field(0, ge=0)
    whole: tuple[Whole, ...] = ()

    @classmethod
    def shipped(cls, folder: Path | None = None) -> Scheme:
        path = (folder or prompts_dir()) / "learn" / "scoring.yaml"
        return parse(cls, read_yaml(path), path)


@dataclass(frozen=True, slots=True)
class PartScore:
    """What came of one part.

    right: worth its point.
    short: checks not said.
    wrong: checks with a wrong number.
    slipped: out of order.
    prompted: the coach named this part or one of its checks first; shown, and counted as not known by heart.
    """

    key: str
    named: bool
    right: bool
    said: tuple[str, ...]
    short: tuple[str, ...]
    wrong: tuple[str, ...]
    strays: int
    slipped: bool
    prompted: bool = False


@dataclass(frozen=True, slots=True)
class Score:
    """The score of a rehearsal: `points` of `of`.

    seconds: from the first word to the last.
    failed: titles of the wholes not right.
    """

    points: float
    of: float
    parts: tuple[PartScore, ...]
    failed: tuple[str, ...]
    seconds: float

    @property
    def slips(self) -> tuple[str, ...]:
        return tuple(part.key for part in self.parts if part.slipped)

    @property
    def unnamed(self) -> tuple[str, ...]:
        return tuple(part.key for part in self.parts if not part.named)


def score(
    parts: Sequence[RecitedPart],
    reading: Credited,
    scheme: Scheme,
    *,
    seconds: float = 0.0,
    prompted: frozenset[str] = frozenset(),
) -> Score:
    """parts: those that were to be recited, in walking order."""
    slipped = _slips(parts, reading)
    results = tuple(
        _part(part, reading.of(part.key), scheme, part.key in slipped, part.key in prompted) for part in parts
    )
    failed = tuple(
        whole.title
        for whole in scheme.whole
        if any(
            whole.covers(part) and (not result.right or result.short)
            for part, result in zip(parts, results, strict=True)
        )
    )
    points = scheme.part_points * sum(result.right for result in results)
    points = max(0.0, points - scheme.order_slip_points * sum(result.slipped for result in results))
    return Score(points, scheme.part_points * len(parts), results, failed, seconds)


def _part(part: RecitedPart, credit: PartCredit, scheme: Scheme, slipped: bool, prompted: bool) -> PartScore:
    said = credit.said
    wrong = tuple(c.point for c in credit.credits if c.said == "wrong")
    short = tuple(c.point for c in credit.credits if c.said == "missed")
    # a part without key points cannot be explained, so nothing can be earned with it
    needed = max(1, math.ceil(scheme.needed_share * len(part.points)))
    stray = credit.strays > len(said) + scheme.strays_let_pass
    right = credit.named is not None and len(said) >= needed and not wrong and not stray
    return PartScore(part.key, credit.named is not None, right, said, short, wrong, credit.strays, slipped, prompted)


def _slips(parts: Sequence[RecitedPart], reading: Credited) -> frozenset[str]:
    """The fewest parts that would have to be moved for the rest to be in order: those outside a longest increasing
    subsequence (Schensted 1961; patience sorting) of walking places, taken in the order in which they were named."""
    place = {part.key: index for index, part in enumerate(parts)}
    named = sorted((c for c in reading.parts if c.named is not None and c.key in place), key=lambda c: c.named or 0)
    order = [place[credit.key] for credit in named]
    kept = _longest_rise(order)
    return frozenset(parts[index].key for index in order if index not in kept)


def _longest_rise(numbers: Sequence[int]) -> frozenset[int]:
    """The members of one longest increasing subsequence of distinct numbers."""
    ends: list[int] = []  # least last number of a rise of each length
    ends_at: list[int] = []
    before: list[int | None] = [None] * len(numbers)
    for at, number in enumerate(numbers):
        length = bisect_left(ends, number)
        before[at] = ends_at[length - 1] if length else None
        if length == len(ends):
            ends.append(number)
            ends_at.append(at)
        else:
            ends[length], ends_at[length] = number, at
    kept: set[int] = set()
    walk = ends_at[-1] if ends_at else None
    while walk is not None:
        kept.add(numbers[walk])
        walk = before[walk]
    return frozenset(kept)
