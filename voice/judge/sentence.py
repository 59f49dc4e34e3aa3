"""One finding as a sentence, said at the moment of the answer."""

from __future__ import annotations

from voice.judge.citation import spoken_support
from voice.judge.model import Finding
from voice.judge.wording import verdicts
from voice.measure.level import Level
from voice.measure.telling import System, quantity_name, spoken


def sentence(finding: Finding, *, defect: str = "", system: System = "us") -> str:
    """What to say of it: nothing within the limit, else the limit, its source, how that is known, and what follows.

    defect: the name of the defect as it is to be said; by default its id in words.
    """
    words = verdicts().finding
    source = spoken_support(finding)
    if finding.defect is not None:
        name = defect or finding.defect.replace("-", " ")
        return words.defect[finding.level.word].format(defect=_capital(name), source=source)
    if finding.reading is None:
        return ""
    template = words.reading[finding.level.word]
    if finding.level is Level.WATCH and finding.margin is not None:
        if finding.margin.value < 0:
            template = words.advisory
        elif finding.margin.value == 0:
            template = words.at_limit
    text = template.format(
        quantity=quantity_name(finding.quantity),
        reading=spoken(finding.reading, quantity=finding.quantity, system=system),
        limit=finding.limit_spoken,
        source=source,
    )
    return _capital(text)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
