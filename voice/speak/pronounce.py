"""Text made ready for a synthesizer: abbreviations and fractions written out, as prompts/pronounce.yaml says."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from pathlib import Path

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.measure.book import unit_book
from voice.measure.cardinal import LARGEST
from voice.measure.forms import spoken_forms


class Pronunciation(Strict):
    """words: as written -> as said."""

    words: dict[str, str]


class _File(Strict):
    en: Pronunciation
    es: Pronunciation


@cache
def load(path: Path | None = None) -> dict[str, Pronunciation]:
    """Language -> its words. Raises DataError."""
    path = path or prompts_dir() / "pronounce.yaml"
    found = parse(_File, read_yaml(path), path)
    return {"en": found.en, "es": found.es}


# "4/32", "1 3/4", "4/32nds", with the inch it may be followed by
_FRACTION = re.compile(
    r"(?<![\d/.])(?:(\d{1,4})[ -])?(\d{1,2})/(\d{1,3})(?:nds?|rds?|ths?)?(?![\d/])(?: ?(inch(?:es)?|in\b\.?|\"))?"
)


def readable(text: str, language: str = "en") -> str:
    """The text with abbreviations, and in English fractions, written as they are said."""
    if language == "en":
        text = _FRACTION.sub(_fraction, text)
    for pattern, said in _patterns(language):
        text = pattern.sub(said, text)
    return " ".join(text.split())


@cache
def _patterns(language: str) -> tuple[tuple[re.Pattern[str], str], ...]:
    words = load().get(language, Pronunciation(words={})).words
    return tuple(
        (re.compile(rf"(?<![\w'-]){re.escape(w)}(?![\w'-])" if w.isalpha() else re.escape(w)), said)
        for w, said in words.items()
    )


def _fraction(match: re.Match[str]) -> str:
    whole, top, bottom, inch = match.groups()
    part = Fraction(int(top), int(bottom)) if int(bottom) else Fraction(2)
    value = int(whole or 0) + part
    if int(bottom) not in unit_book().parts or part >= 1 or value > LARGEST:
        return match.group()  # a ratio, a date, an address: left to the synthesizer
    step = Fraction(1, int(bottom))
    forms = spoken_forms(value, "in", step)
    if not inch:
        return forms[0]
    ending = "inches" if value > 1 else ("of an inch", "half an inch")
    return next((form for form in forms if form.endswith(ending)), forms[0])
