"""How the section of a rule is said aloud: "federal rule three ninety three point seventy five, paragraph b"."""

from __future__ import annotations

import re

from voice.judge.wording import verdicts
from voice.measure.cardinal import cardinal

_PARAGRAPHS = re.compile(r"((?:\([A-Za-z0-9]+\))+)")
_NUMBER = re.compile(r"\d+")


def spoken_source(section: str) -> str:
    """The section with its name and numbers in words. Figures of three digits are said in two parts, as people do."""
    words = verdicts()
    rest = section
    for name, spoken in words.sections.items():
        if section.startswith(name):
            rest = spoken + section[len(name) :]
            break

    def paragraph(match: re.Match[str]) -> str:
        return f", {words.paragraph} " + " ".join(re.findall(r"[A-Za-z0-9]+", match[1])).lower()

    rest = _PARAGRAPHS.sub(paragraph, rest)
    rest = re.sub(r"(?<=\d)\.(?=[\da-z])", f" {words.point} ", rest)
    rest = _NUMBER.sub(lambda match: _number(match[0]), rest)
    return " ".join(rest.split()).replace(" ,", ",")


def _number(text: str) -> str:
    value = int(text)
    if len(text) == 3 and value % 100 >= 10:
        return f"{cardinal(value // 100)} {cardinal(value % 100)}"
    return cardinal(value)
