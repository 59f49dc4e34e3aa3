"""Reads YAML files and says of every mistake in which file and line it is. All YAML comes in here."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from voice.data.complaint import keys_at, plain
from voice.data.compose import ComposeError, Node, compose
from voice.errors import DataError

MAX_BYTES = 4 << 20

M = TypeVar("M", bound=BaseModel)
Loc = tuple[str | int, ...]


def read_yaml(file: Path) -> Any:
    """The file's content as plain Python. Raises DataError, with the line where one is to blame."""
    return _read(file).value


def _read(file: Path) -> Node:
    try:
        with file.open("rb") as opened:
            data = opened.read(MAX_BYTES + 1)
    except OSError as error:
        raise DataError(f"cannot be read: {error.strerror}.", _advice(error), file=file) from error
    if len(data) > MAX_BYTES:
        raise DataError(f"is larger than {MAX_BYTES >> 20} MB.", "Is it the right file?", file=file)
    try:
        return compose(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise DataError("is not UTF-8 text.", "Save it as UTF-8.", file=file) from error
    except ComposeError as error:
        raise DataError(error.message, "Correct the YAML.", file=file, line=error.line) from error


def _advice(error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return "Check the path."
    return "Give the file in it." if isinstance(error, IsADirectoryError) else "Check its permissions."


def line_of(file: Path, loc: Sequence[str | int]) -> int | None:
    """The line (from 1) of the value at `loc`, a path of keys and indices; parts that do not exist are passed over.

    So a pydantic location with the tags of unions in it can be given as it is; a missing key gives its parent's line.
    """
    try:
        return _line(_read(file), loc)
    except DataError:
        return None


def _line(node: Node, loc: Sequence[str | int]) -> int:
    line = 1
    for part in loc:
        key = part
        if part not in node.below and isinstance(node.value, dict) and isinstance(part, int):
            # A short form: a mapping stands for a list.
            key = next(islice(node.below, part, None), part) if part >= 0 else part
        if key in node.below:
            line, node = node.below[key]
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
    """One DataError for each true mistake, in the order of the file.

    model: what was read, to suggest keys.

    A list that counts as too short because an entry of it is wrong is not told besides: the entry is.
    """
    entries = error.errors(include_url=False)
    wrong = {entry["loc"] for entry in entries}
    found = []
    try:
        root: Node | None = _read(file)
    except DataError:  # the data came from elsewhere
        root = None
    for entry in entries:
        loc = entry["loc"]
        below = any(len(other) > len(loc) and other[: len(loc)] == loc for other in wrong)
        if entry["type"] == "too_short" and below:
            continue
        where = ".".join(f"{part!s:.40}" for part in (*at, *loc))
        message, hint = plain(entry, keys_at(model, loc[:-1]))
        found.append(
            DataError(f"{where}: {message}", hint, file=file, line=None if root is None else _line(root, (*at, *loc)))
        )
    return sorted(found, key=lambda each: each.line or 0)
