"""The phrases of a reading: every value of a gauge in all its spoken forms."""

from __future__ import annotations

from fractions import Fraction

from voice.measure import Measure
from voice.measure.forms import spoken_forms
from voice.understand.lexicon import Lexicon
from voice.understand.meaning import Either, Number
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


def _meant(values: list[Fraction], unit: str) -> Number | Either:
    measures = tuple(Measure(value, unit) for value in values)
    return Number(measures[0]) if len(measures) == 1 else Either(measures)
