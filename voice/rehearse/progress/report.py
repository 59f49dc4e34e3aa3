"""The result of a rehearsal, spoken in a few sentences and printed as a table."""

from __future__ import annotations

from collections.abc import Sequence

from voice.rehearse.listen.part import Part
from voice.rehearse.listen.score import PartScore, Scheme, Score
from voice.rehearse.wording import ResultTalk


def spoken(result: Score, talk: ResultTalk) -> list[str]:
    """What is said at the end. Never that a test was passed: the state's examiner decides."""
    lines = [talk.score.format(points=f"{result.points:g}", of=f"{result.of:g}")]
    if result.unnamed:
        lines.append(talk.unnamed.format(count=len(result.unnamed)))
    if result.slips:
        lines.append(talk.slips.format(count=len(result.slips)))
    lines += [talk.failed.format(title=title) for title in result.failed]
    minutes, seconds = divmod(round(result.seconds), 60)
    lines.append(talk.time.format(minutes=minutes, seconds=seconds))
    return [*lines, talk.caveat]


def printed(result: Score, parts: Sequence[Part], talk: ResultTalk, scheme: Scheme) -> None:
    """Prints the table and the sentences to the terminal."""
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    for key in ("part", "result", "missing", "wrong"):
        table.add_column(talk.table[key])
    for part, each in zip(parts, result.parts, strict=True):
        table.add_row(part.title, remark(each, talk), _phrases(part, each.short), _figures(part, each.wrong))
    console = Console()
    console.print(table)
    for line in spoken(result, talk)[:-1]:
        console.print(line, highlight=False)
    console.print(f"{scheme.caveat.strip()} ({scheme.source.strip()})", style="dim", highlight=False)


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


def _phrases(part: Part, ids: Sequence[str]) -> str:
    return "; ".join(part.point(id).limit_text or part.point(id).say[0] for id in ids)


def _figures(part: Part, ids: Sequence[str]) -> str:
    return "; ".join(part.point(id).limit_text for id in ids)
