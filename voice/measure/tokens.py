"""Text as tokens: lower-case words, numerals and the few signs that stand in numbers."""

from __future__ import annotations

import re

_TOKEN = re.compile(r"\d+(?:\.\d+)?|\.\d+|[a-z]+(?:'[a-z]+)?|[/%°\":]")
_GROUPED = re.compile(r"(?<=\d),(?=\d{3}\b)")
_VULGAR = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}


def tokenize(text: str) -> tuple[str, ...]:
    """Lower-case tokens: words, numerals, "/", ":". Hyphens split; "32nds" is "32" "nds"; "p.s.i." is "psi"."""
    text = text.lower()
    for sign, plain in _VULGAR.items():
        text = text.replace(sign, plain)
    text = re.sub(r"(?<![\w)])[-−](?=[\d.])", " minus ", text)
    text = re.sub(r"\bp\.? ?s\.? ?i\b\.?", " psi ", text)
    text = re.sub(r"\bk\.? ?p\.? ?a\b\.?", " kpa ", text)
    text = _GROUPED.sub("", text).replace("’", "'")
    return tuple(_TOKEN.findall(text))
