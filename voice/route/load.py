"""Reads YAML files and says of every mistake in which file and line it is.

The plain reader is used; only when there is something to complain of is the file read again with the slower reader
that knows lines.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.constructor import DuplicateKeyError
from ruamel.yaml.error import MarkedYAMLError, YAMLError

from voice.errors import DataError
from voice.route.complaint import keys_at, plain

M = TypeVar("M", bound=BaseModel)
Loc = tuple[str | int, ...]


def read_yaml(file: Path) -> Any:
    """The file's content as plain Python. Raises DataError with the line for broken YAML or a key given twice."""
    try:
        return YAML(typ="safe").load(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise DataError(f"cannot be read: {error.strerror}.", file=file) from error
    except UnicodeDecodeError as error:
        raise DataError("is not UTF-8 text.", "Save it as UTF-8.", file=file) from error
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = None if mark is None else int(mark.line) + 1
        problem = (error.problem or "is not YAML").splitlines()[0]
        if isinstance(error, DuplicateKeyError):
            problem = problem.split(" with value")[0].replace("found duplicate key", "there are two keys")
        raise DataError(f"{problem}.", "Correct the YAML.", file=file, line=line) from error
    except YAMLError as error:
        raise DataError(f"{error}.", "Correct the YAML.", file=file) from error


def line_of(file: Path, loc: Sequence[str | int]) -> int | None:
    """The line (from 1) of the value at `loc`, a path of keys and indices; parts that do not exist are passed over.

    So a pydantic location with the tags of unions in it can be given as it is; a missing key gives its parent's line.
    """
    try:
        node = YAML(typ="rt").load(file.read_text(encoding="utf-8"))
    except (OSError, YAMLError):
        return None
    line: int | None = 1
    for part in loc:
        if isinstance(node, Mapping) and part in node:
            line = int(node.lc.key(part)[0]) + 1  # type: ignore[attr-defined]
            node = node[part]
        elif isinstance(node, Mapping) and isinstance(part, int) and 0 <= part < len(node):
            key = list(node)[part]  # a short form: a mapping stands for a list
            line = int(node.lc.key(key)[0]) + 1  # type: ignore[attr-defined]
            node = node[key]
        elif (
            isinstance(node, Sequence) and not isinstance(node, str) and isinstance(part, int) and 0 <= part < len(node)
        ):
            line = int(node.lc.item(part)[0]) + 1  # type: ignore[attr-defined]
            node = node[part]
    return line


class MistakesError(DataError):
    """Several mistakes of one thing; counts as the first of them."""

    def __init__(self, each: list[DataError]) -> None:
        first = each[0]
        super().__init__(first.message, first.hint)
        self.each = each
        self.file, self.line = first.file, first.line


def parse(model: type[M], data: object, file: Path, at: Loc = ()) -> M:
    """`data` as a `model`; `at`: where in the file it came from. Raises MistakesError, which is a DataError."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise MistakesError(mistakes(error, file, at, model)) from error


def mistakes(error: ValidationError, file: Path, at: Loc = (), model: type[BaseModel] | None = None) -> list[DataError]:
    """One DataError for each true mistake, in the order of the file. model: what was read, to suggest keys.

    A list that counts as too short because an entry of it is wrong is not told besides: the entry is.
    """
    entries = error.errors(include_url=False)
    wrong = {entry["loc"] for entry in entries}
    found = []
    for entry in entries:
        loc = entry["loc"]
        below = any(len(other) > len(loc) and other[: len(loc)] == loc for other in wrong)
        if entry["type"] == "too_short" and below:
            continue
        where = ".".join(str(part) for part in (*at, *loc))
        message, hint = plain(entry, keys_at(model, loc[:-1]))
        found.append(DataError(f"{where}: {message}", hint, file=file, line=line_of(file, (*at, *loc))))
    return sorted(found, key=lambda each: each.line or 0)
