"""How the source of a finding is said: "federal rule three ninety three point seventy five, paragraph b".

After it comes how it is known, unless its text was read; and "check locally" where a halt rests on nothing better than
memory or practice.
"""

from __future__ import annotations

import re

from voice.judge.model import UNSURE, Finding
from voice.judge.wording import verdicts
from voice.measure.cardinal import cardinal
from voice.measure.level import Level

_PARAGRAPHS = re.compile(r"((?:\([A-Za-z0-9]+\))+)")
_NUMBER = re.compile(r"\d+")


def spoken_support(finding: Finding) -> str:
    """The source of a finding aloud, how it is known, and whether to check locally."""
    words = verdicts()
    parts = [spoken_source(finding.source), words.known[finding.known]]
    if finding.level is Level.HALT and finding.known in UNSURE:
        parts.append(words.check_locally)
    return ", ".join(part for part in parts if part)


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
