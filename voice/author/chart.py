"""The table of the walk as Markdown: `python -m voice.author.chart DEVELOPERS.md` renews it between its two markers."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from voice.understand.lexicon import shipped
from voice.understand.meaning import Chosen, Defect, Either, Number, Pair, Part, Signed, Words
from voice.walk.doubt import instead
from voice.walk.row import FIXED_WORDS
from voice.walk.table import ROWS

BEGIN, END = "<!-- table of the walk: begin -->", "<!-- table of the walk: end -->"

_SAID = {
    Defect: "defect, or one by its name",
    Part: "a part by its name, or with its defect",
    Number: "a number",
    Either: "a number that can be two things",
    Pair: "two numbers in one breath",
    Chosen: "one of the options",
    Words: "any speech",
    Signed: "signed, or a name of the list",
}


def chart() -> str:
    """Every stage with everything that can be heard in it, and what comes of it."""
    lines = ["| stage | what it asks | heard | what comes of it |", "|---|---|---|---|"]
    for name, row in ROWS.items():
        asks = summary(row.prompt)
        answers = {_said(meaning): summary(handler) for meaning, handler in row.answers.items()}
        if name == "doubt":
            answers["anything else that the question hears"] = summary(instead)
        for heard, comes in answers.items() or [("nothing", "")]:
            lines.append(f"| {name} | {asks} | {heard} | {comes} |")
            name = asks = ""
    return "\n".join(lines)


def renewed(text: str) -> str:
    """The text with the table of today between its markers."""
    head, rest = text.split(BEGIN)
    _, tail = rest.split(END)
    return f"{head}{BEGIN}\n{chart()}\n{END}{tail}"


def undescribed() -> Iterator[str]:
    """Prompts and handlers of which nothing would be said."""
    for row in ROWS.values():
        yield from (each.__name__ for each in (row.prompt, *row.answers.values()) if not each.__doc__)


def _said(meaning: type) -> str:
    if meaning in FIXED_WORDS:
        return str(getattr(shipped().answers, FIXED_WORDS[meaning])[0])
    return _SAID[meaning]


def summary(described: Callable[..., object]) -> str:
    """The docstring's first sentences, up to an empty line."""
    return " ".join((described.__doc__ or "").strip().split("\n\n")[0].split())


if __name__ == "__main__":
    for name in sys.argv[1:]:
        path = Path(name)
        path.write_text(renewed(path.read_text(encoding="utf-8")), encoding="utf-8")
