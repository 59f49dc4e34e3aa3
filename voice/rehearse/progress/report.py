"""The result of a rehearsal, spoken in a few sentences and told in rows of a table."""

from __future__ import annotations

from collections.abc import Sequence

from voice.rehearse.listen.part import RecitedPart
from voice.rehearse.listen.score import PartScore, Score
from voice.rehearse.wording import ResultTalk


def percent(share: float) -> str:
    """A share as it is printed everywhere: whole percent."""
    return f"{share:.0%}"


def points(number: float) -> str:
    """Points as they are printed and said everywhere: halves where there are any."""
    return f"{number:g}"


def spoken(result: Score, talk: ResultTalk) -> list[str]:
    """What is said at the end. Never that a test was passed: the state's examiner decides."""
    lines = [talk.score.format(points=points(result.points), of=points(result.of))]
    if result.unnamed:
        lines.append(talk.unnamed.format(count=len(result.unnamed)))
    if result.slips:
        lines.append(talk.slips.format(count=len(result.slips)))
    lines += [talk.failed.format(title=title) for title in result.failed]
    minutes, seconds = divmod(round(result.seconds), 60)
    lines.append(talk.time.format(minutes=minutes, seconds=seconds))
    return [*lines, talk.caveat]


def rows(result: Score, parts: Sequence[RecitedPart], talk: ResultTalk) -> list[tuple[str, str, str, str]]:
    """Part, result, what was left out, wrong figures: a row for each part."""
    return [
        (part.title, remark(each, talk), _phrases(part, each.short), _figures(part, each.wrong))
        for part, each in zip(parts, result.parts, strict=True)
    ]


def remark(each: PartScore, talk: ResultTalk) -> str:
    """The part's result in words."""
    words = [talk.right if each.right else talk.not_right if each.named else talk.not_named]
    if each.slipped:
        words.append(talk.out_of_order)
    if each.prompted:
        words.append(talk.with_help)
    if each.strays and each.named and not each.right:
        words.append(f"{each.strays} {talk.strays}")
    return ", ".join(words)


def _phrases(part: RecitedPart, ids: Sequence[str]) -> str:
    return "; ".join(part.point(id).limit_text or part.point(id).say[0] for id in ids)


def _figures(part: RecitedPart, ids: Sequence[str]) -> str:
    return "; ".join(part.point(id).limit_text for id in ids)
