"""The words a driver can say, as data: prompts/commands.yaml.

Everything that is recognised is made from this file and the routes, so that a fleet can change a word without Python.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Annotated, cast, get_args

from pydantic import AfterValidator, Field, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError

from voice.data import prompts_dir
from voice.errors import DataError
from voice.route.model import Strict
from voice.understand.meaning import CommandName

_WORDS = re.compile(r"[a-z][a-z']*( [a-z][a-z']*)*")


def spoken(text: str) -> str:
    """The text if it is lower-case words as a recogniser takes them; raises ValueError if not."""
    if not _WORDS.fullmatch(text):
        raise ValueError(f'"{text}" is not lower-case words with single spaces between them')
    return text


Said = Annotated[str, AfterValidator(spoken)]
Phrases = tuple[Said, ...]
Some = Annotated[Phrases, Field(min_length=1)]


class Answers(Strict):
    """Phrases for the fixed answers, best first."""

    ok: Some
    defect: Some
    not_applicable: Some = Field(alias="not-applicable")
    yes: Some
    no: Some
    done: Some
    now: Some
    stop: Some


class UnitWords(Strict):
    """How a unit is said. See the comments in commands.yaml."""

    one: Phrases
    many: Phrases
    bare_divisions: tuple[int, ...] = Field((), alias="bare-divisions")
    clock: bool = False


class Lexicon(Strict):
    """All spoken words that are not part of a route."""

    answers: Answers
    commands: dict[CommandName, Some]
    change_prefix: Phrases = Field(alias="change-prefix")
    approximately: Phrases
    units: dict[str, UnitWords]


def load(path: Path | None = None) -> Lexicon:
    """Reads the file (the shipped one by default). Raises DataError naming file and line of the first mistake."""
    path = path or prompts_dir() / "commands.yaml"
    try:
        text = path.read_text(encoding="utf-8")
        data = YAML(typ="safe", pure=True).load(text)
    except OSError as error:
        raise DataError(
            f"cannot be read: {error.strerror}.", "Reinstall gladhand or give another file.", file=path
        ) from error
    except MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else None
        raise DataError(f"not YAML: {error.problem}.", "Correct the file.", file=path, line=line) from error
    try:
        lexicon = Lexicon.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise DataError(
            f"{where}: {first['msg']}.", "Correct the file.", file=path, line=_line(text, first["loc"])
        ) from error
    if missing := sorted(set(get_args(CommandName)) - set(lexicon.commands)):
        raise DataError(f"no phrase for the command {missing[0]}.", "Add it under commands.", file=path)
    return lexicon


def _line(text: str, location: tuple[int | str, ...]) -> int | None:
    """The line (from 1) of the deepest part of a pydantic error's location that the file has."""
    node = YAML(typ="rt", pure=True).load(text)
    line: int | None = None
    for part in location:
        try:
            place = node.lc.data[part]
            node = node[part]
        except (AttributeError, KeyError, IndexError, TypeError):
            break
        line = cast(int, place[0]) + 1
    return line


@cache
def shipped() -> Lexicon:
    """The lexicon that ships with the program, read once."""
    return load()
