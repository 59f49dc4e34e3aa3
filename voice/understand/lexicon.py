"""The words a driver can say, as data: prompts/commands.yaml.

Everything that is recognized is made from this file and the routes, so that a fleet can change a word without Python.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, get_args

from pydantic import Field, field_validator

from voice.data.fields import Id
from voice.data.folders import prompts_dir
from voice.data.reader import line_of, parse, read_yaml
from voice.data.strict import Strict
from voice.errors import DataError
from voice.measure.book import HeardUnit, Phrases, Said, kept_with_book, unit_book
from voice.understand.meaning import CommandName


def plain_name(name: str) -> str:
    """The name as a recognizer is told it: lower-case words."""
    return " ".join("".join(c if c.isalpha() or c in "'- " else " " for c in name.lower()).replace("-", " ").split())


Some = Annotated[Phrases, Field(min_length=1)]


class Answers(Strict):
    """Phrases for the fixed answers, best first. Those that a file may leave out are then not understood.

    agreed, disagreed: yes and no to "Is that right?".
    did, did_not: yes and no to "Did you say ...?".
    nothing: no, to "Anything else?".
    same: the reading is what another was.
    keep, again, recording, drop: what becomes of a note.
    resumed: goes on after a pause.
    finish_it: yes, to finishing early.
    anew: no, to going on with an open inspection.
    """

    ok: Some
    clear: Some
    defect: Some
    not_applicable: Some = Field(alias="not-applicable")
    yes: Some
    correct: Some
    no: Some
    done: Some
    now: Some
    stop: Some
    signed: Some
    why: Some
    details: Some
    same: Phrases = ()
    agreed: Phrases = ()
    disagreed: Phrases = ()
    did: Phrases = ()
    did_not: Phrases = Field((), alias="did-not")
    nothing: Phrases = ()
    keep: Phrases = ()
    again: Phrases = ()
    recording: Phrases = ()
    drop: Phrases = ()
    resumed: Phrases = ()
    finish_it: Phrases = Field((), alias="finish-it")
    anew: Phrases = ()


class Around(Strict):
    """Words that change nothing around an answer: "it's ..." before, "... please" after."""

    before: Phrases = ()
    after: Phrases = ()


class Lexicon(Strict):
    """All spoken words that are not part of a route.

    units: how units are heard: those of units.yaml, and over them what the file itself says.
    good_words: words of the prompts that say it is good -> the defects that are their opposite.
    around, denials, turning, meant: see voice.understand.gist.
    """

    answers: Answers
    commands: dict[CommandName, Some]
    change_prefix: Phrases = Field(alias="change-prefix")
    approximately: Phrases
    spellings: dict[Said, Said]
    good_words: dict[Said, tuple[Id, ...]] = Field(default_factory=dict, alias="good-words")
    around: Around = Around()
    denials: Phrases = ()
    turning: Phrases = ()
    meant: dict[Said, Phrases] = Field(default_factory=dict)
    units: dict[str, HeardUnit] = Field(default_factory=dict, validate_default=True)

    @field_validator("units")
    @classmethod
    def _over_the_book(cls, own: dict[str, HeardUnit]) -> Mapping[str, HeardUnit]:
        return {**unit_book().heard, **own}


def load(path: Path | None = None) -> Lexicon:
    """Reads the file (the shipped one by default). Raises DataError naming file and line of the first mistake."""
    path = path or prompts_dir() / "commands.yaml"
    lexicon = parse(Lexicon, read_yaml(path), path)
    if missing := sorted(set(get_args(CommandName)) - set(lexicon.commands)):
        raise DataError(
            f'no phrase for the command "{missing[0]}".', "Add it.", file=path, line=line_of(path, ["commands"])
        )
    return lexicon


@kept_with_book
def shipped() -> Lexicon:
    """The lexicon that ships with the program, read once."""
    return load()


def layered(folder: Path | None) -> Lexicon:
    """commands.yaml of the user's own folder of prompts if there is one, else the shipped one."""
    own = folder / "commands.yaml" if folder is not None else None
    return load(own) if own is not None and own.is_file() else shipped()
