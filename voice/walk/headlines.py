"""What was found, in a few words each, for the ear: the closing speech of a walk.

The sentences with limits and sections are those of `voice.judge.assessment`; they stand in the record.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from voice.judge.answer import Answer
from voice.judge.assessment import Standout
from voice.judge.wording import level_words
from voice.measure.cardinal import cardinal
from voice.walk.context import Context, listed


def headlines(context: Context, answers: Mapping[str, Answer]) -> tuple[str, ...]:
    """Counts, each finding in one headline, what nobody looked at, and that a qualified person decides."""
    talk, found = context.pace.closing, context.assessed(answers)
    sentences = [] if found.against else [talk.nothing]
    left = talk.most
    for level, sentence in talk.levels.items():
        standing = [each for each in (*found.against, *found.watch) if each.finding.level.word == level]
        if standing:
            told = listed(_some(context, standing, left))
            text = sentence.format(level=level_words(level), count=cardinal(len(standing)), headlines=told)
            sentences.append(text[:1].upper() + text[1:])
        left = max(left - len(standing), 0)
    for steps, sentence in (
        (found.unmeasured, talk.unmeasured),
        (found.not_inspected, talk.not_inspected),
        (found.unjudged, talk.unjudged),
    ):
        if steps:
            sentences.append(sentence.format(count=cardinal(len(steps)).capitalize()))
    more = len(found.text) > len(sentences) + 1 or found.against or found.watch
    return (*sentences, talk.decides, *([talk.further] if more else []))


def _some(context: Context, standing: Sequence[Standout], most: int) -> Iterator[str]:
    talk = context.pace.closing
    for each in standing[:most]:
        yield talk.headline.format(place=each.name, what=_what(context, each)).strip()
    if rest := len(standing[most:]):
        yield talk.more.format(count=cardinal(rest)) if most else cardinal(rest)


def _what(context: Context, found: Standout) -> str:
    """The defect, without what it is judged by."""
    finding = found.finding
    if found.told:
        return found.told.partition(",")[0]
    if finding.defect is None:
        return ""
    title = context.defects[finding.defect].title if finding.defect in context.defects else finding.defect
    return title[:1].lower() + title[1:]
