"""The phrases of a reading: every value of a gauge in all its spoken forms."""

from __future__ import annotations

from fractions import Fraction

from voice.errors import DataError
from voice.measure import Measure
from voice.measure.book import number_words
from voice.measure.cardinal import cardinal, ways
from voice.measure.forms import spoken_forms
from voice.route.answer import Measurement
from voice.route.model import Beside
from voice.understand.lexicon import Lexicon
from voice.understand.meaning import Either, Number, Pair
from voice.understand.question import Phrase


def number_phrases(unit: str, low: Fraction, high: Fraction, step: Fraction, lexicon: Lexicon) -> tuple[Phrase, ...]:
    """Every value from low to high by step, in value order. A text that fits two values means Either."""
    said: dict[str, list[Fraction]] = {}
    best: dict[str, Fraction] = {}
    for n in range(int((high - low) / step) + 1):
        value = low + n * step
        forms = spoken_forms(value, unit, step, lexicon.units)
        for form in forms:
            said.setdefault(form, []).append(value)
        best[forms[0]] = value
    phrases = [Phrase(text, _meant(values, unit)) for text, values in said.items()]
    about = [
        Phrase(f"{prefix} {text}", Number(Measure(value, unit), approximate=True))
        for prefix in lexicon.approximately
        for text, value in best.items()
        if len(said[text]) == 1
    ]
    return (*phrases, *about)


def pair_phrases(asked: Measurement, beside: Beside, then: Measurement, lexicon: Lexicon) -> tuple[Phrase, ...]:
    """Two readings in one breath, each as its bare number: "nine and one ten". Raises DataError if one has none."""
    first = _bare(asked, beside.low, beside.high, lexicon)
    second = _bare(then, beside.then_low, beside.then_high, lexicon)
    return tuple(
        Phrase(f"{one} {number_words().and_} {other}", Pair(Measure(value, asked.unit), Measure(reading, then.unit)))
        for value, ones in first
        for reading, others in second
        for one in ones
        for other in others
    )


def _bare(answer: Measurement, low: Fraction, high: Fraction, lexicon: Lexicon) -> list[tuple[Fraction, list[str]]]:
    """Each value of the range with its ways of being said without a unit: a count of divisions, or a whole number."""
    divisions = lexicon.units[answer.unit].bare_divisions if answer.unit in lexicon.units else ()
    counted = answer.step.denominator if answer.step.denominator in divisions else 1
    if answer.step * counted != int(answer.step * counted) or low < answer.low or high > answer.high or low > high:
        raise DataError("its readings cannot be said as bare numbers in this range.", "Keep within the item's own.")
    values = [low + n * answer.step for n in range(int((high - low) / answer.step) + 1)]
    if counted > 1:
        return [(value, [cardinal(int(value * counted))]) for value in values]
    return [(value, list(ways(int(value))[:2])) for value in values]


def _meant(values: list[Fraction], unit: str) -> Number | Either:
    measures = tuple(Measure(value, unit) for value in values)
    return Number(measures[0]) if len(measures) == 1 else Either(measures)
