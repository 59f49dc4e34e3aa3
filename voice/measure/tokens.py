"""Text as tokens: lower-case words, numerals and the few signs that stand in numbers."""

from __future__ import annotations

import re

_TOKEN = re.compile(r"\d+(?:\.\d+)?|\.\d+|[a-z]+(?:'[a-z]+)?|[/%°\":]")
_GROUPED = re.compile(r"(?<=\d),(?=\d{3}\b)")
_VULGAR = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}


def plain(text: str) -> str:
    """Lower case, plain apostrophes, fractions written with a stroke, no commas between thousands."""
    text = text.lower().replace("’", "'")
    for sign, written in _VULGAR.items():
        text = text.replace(sign, written)
    return _GROUPED.sub("", text)


def tokenize(text: str) -> tuple[str, ...]:
    """Lower-case tokens: words, numerals, "/", ":". Hyphens split; "32nds" is "32" "nds"; "p.s.i." is "psi"."""
    text = re.sub(r"(?<![\w)])[-−](?=[\d.])", " minus ", plain(text))
    text = re.sub(r"\bp\.? ?s\.? ?i\b\.?", " psi ", text)
    text = re.sub(r"\bk\.? ?p\.? ?a\b\.?", " kpa ", text)
    return tuple(_TOKEN.findall(text))
