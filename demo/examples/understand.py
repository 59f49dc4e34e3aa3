"""What a sentence means as an answer to an item's question, without audio.

    python demo/examples/understand.py                      # "leaking", "okay" and others, said to the hoses
    python demo/examples/understand.py hoses "not okay"     # an item and what is said to it

`gladhand routes say` tells the same for every question that the item can lead to, and which file says so.
"""

from __future__ import annotations

import sys

from voice.route import load_library
from voice.understand.interpret import interpret
from voice.understand.meaning import describe
from voice.understand.phrases import Phrasebook
from voice.understand.question import Question


def main(item: str = "hoses", *texts: str) -> None:
    library = load_library()
    asked = library.items[item]
    names = {defect: library.defects[defect].say for defect in asked.defects}
    # A question carries all that can be heard, each phrase with its meaning: the recognizers get exactly these.
    question = Question(
        "condition", Phrasebook().answers(asked, asked.answer, names), unit=getattr(asked.answer, "unit", None)
    )
    print(f"{asked.title}: {len(question.phrases)} phrases can be heard.")
    for text in texts or ("leaking", "Okay!", "not okay", "go back", "the weather is fine"):
        meaning = interpret(text, question)
        print(f'  "{text}": {"not understood" if meaning is None else describe(meaning)}')


if __name__ == "__main__":
    main(*sys.argv[1:])
