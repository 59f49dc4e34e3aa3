"""The words a driver can say, as data: prompts/commands.yaml.

Everything that is recognised is made from this file and the routes, so that a fleet can change a word without Python.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Annotated, get_args

from pydantic import AfterValidator, Field

from voice.data import prompts_dir
from voice.errors import DataError
from voice.route.load import line_of, parse, read_yaml
from voice.route.model import Strict
from voice.understand.meaning import CommandName

_WORDS = re.compile(r"[a-z][a-z']*( [a-z][a-z']*)*")


def spoken(text: str) -> str:
    """The text if it is lower-case words as a recogniser takes them; raises ValueError if not."""
    if not _WORDS.fullmatch(text):
        raise ValueError(f'"{text}" is not lower-case words with single spaces between them')
    return text


def plain_name(name: str) -> str:
    """The name as a recognizer is told it: lower-case words."""
    return " ".join("".join(c if c.isalpha() or c in "'- " else " " for c in name.lower()).replace("-", " ").split())


Said = Annotated[str, AfterValidator(spoken)]
Phrases = tuple[Said, ...]
Some = Annotated[Phrases, Field(min_length=1)]


class Answers(Strict):
    """Phrases for the fixed answers, best first."""

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


class UnitWords(Strict):
    """How a unit is said. See the comments in commands.yaml."""

    one: Phrases
    many: Phrases
    zero: Phrases = ()
    bare_divisions: tuple[int, ...] = Field((), alias="bare-divisions")
    ruler: bool = False
    clock: bool = False


class Lexicon(Strict):
    """All spoken words that are not part of a route."""

    answers: Answers
    commands: dict[CommandName, Some]
    change_prefix: Phrases = Field(alias="change-prefix")
    approximately: Phrases
    spellings: dict[Said, Said]
    units: dict[str, UnitWords]


def load(path: Path | None = None) -> Lexicon:
    """Reads the file (the shipped one by default). Raises DataError naming file and line of the first mistake."""
    path = path or prompts_dir() / "commands.yaml"
    lexicon = parse(Lexicon, read_yaml(path), path)
    if missing := sorted(set(get_args(CommandName)) - set(lexicon.commands)):
        raise DataError(
            f'no phrase for the command "{missing[0]}".', "Add it.", file=path, line=line_of(path, ["commands"])
        )
    return lexicon


@cache
def shipped() -> Lexicon:
    """The lexicon that ships with the program, read once."""
    return load()


def layered(folder: Path | None) -> Lexicon:
    """commands.yaml of the user's own folder of prompts if there is one, else the shipped one."""
    own = folder / "commands.yaml" if folder is not None else None
    return load(own) if own is not None and own.is_file() else shipped()
