"""A free transcript as an answer to a question: for typed answers, tests, and a free recognizer's second opinion."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise

from voice.measure import Measure
from voice.measure.reading import Doubt, Numbers
from voice.understand.lexicon import Lexicon, shipped
from voice.understand.meaning import Either, Meaning, Number
from voice.understand.question import Question


def interpret(text: str, question: Question, lexicon: Lexicon | None = None) -> Meaning | None:
    """What the text means as an answer; None if it is none. Whole answers only: words are never picked out of more.

    So "not okay" can never count as "okay". A reading may be written any way that voice/measure/reading.py
    knows, and may lie outside the range asked for; the walk asks again then.
    """
    lexicon = lexicon or shipped()
    words = plain(text, lexicon)
    if words in question.meanings:
        return question.meanings[words]
    scale = _scale(question)
    if question.unit is None or scale is None:
        return None
    match Numbers(lexicon.units, lexicon.approximately).parse(text, question.unit, *scale):
        case None:
            return None
        case Doubt(values):
            return Either(tuple(Measure(value, question.unit) for value in values))
        case reading:
            return Number(Measure(reading.value, question.unit), reading.approximate)


def plain(text: str, lexicon: Lexicon | None = None) -> str:
    """Lower-case words without punctuation, spelled as in the lexicon."""
    spellings = (lexicon or shipped()).spellings
    words = re.findall(r"[^\W_]+(?:'[^\W_]+)?", text.lower().replace("’", "'"))
    return " ".join(spellings.get(word, word) for word in words)


def _scale(question: Question) -> tuple[Fraction, Fraction, Fraction] | None:
    """Lowest and highest value and step of the numbers that the question's phrases hold."""
    values = sorted({p.meaning.value.value for p in question.phrases if isinstance(p.meaning, Number)})
    if not values:
        return None
    steps = [after - before for before, after in pairwise(values)]
    return values[0], values[-1], min(steps, default=Fraction(1))
