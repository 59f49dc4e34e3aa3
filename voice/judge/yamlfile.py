"""Reading a YAML file into a pydantic model, so that every mistake is one sentence with file and line."""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from voice.errors import DataError

M = TypeVar("M", bound=BaseModel)


def read_yaml(file: Path) -> Any:
    """The file's content, its mappings and lists knowing their lines. Raises DataError."""
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    try:
        text = file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise DataError(f"cannot be read ({reason}).", "Check the file's name and rights.", file=file) from error
    try:
        return YAML(typ="rt").load(text)
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else None
        problem = " ".join(str(error.problem or error.context).split())
        raise DataError(f"is not valid YAML: {problem}.", "Correct the line.", file=file, line=line) from error
    except YAMLError as error:
        raise DataError("is not valid YAML.", "Correct the file.", file=file) from error


def line_of(data: Any, path: tuple[Any, ...] = ()) -> int | None:
    """The 1-based line of the deepest part of `path` that exists in data read by read_yaml."""
    line: int | None = data.lc.line + 1 if hasattr(data, "lc") and data.lc.line is not None else None
    for step in path:
        try:
            place = data.lc.value(step) if isinstance(data, list) else data.lc.key(step)
            line = place[0] + 1
            data = data[step]
        except (AttributeError, KeyError, IndexError, TypeError):
            break
    return line


def plain(data: Any) -> Any:
    """The same data as plain dicts, lists and scalars."""
    if isinstance(data, dict):
        return {key: plain(value) for key, value in data.items()}
    if isinstance(data, list):
        return [plain(value) for value in data]
    return data


def build(model: type[M], data: Any, file: Path, root: Any = None, at: tuple[Any, ...] = ()) -> M:
    """`data` as a model. root, at: the whole file's data and the path in it, for the line of a mistake."""
    root = data if root is None else root
    try:
        return model.model_validate(plain(data))
    except ValidationError as error:
        first = error.errors()[0]
        path = at + tuple(first["loc"])
        where = ".".join(str(part) for part in first["loc"]) or "it"
        reason = first["msg"].removeprefix("Value error, ")
        if first["type"] == "extra_forbidden":
            raise DataError(
                f"the key '{first['loc'][-1]}' is not known here.", "Correct the spelling or remove it.",
                file=file, line=line_of(root, path),
            ) from error  # fmt: skip
        if first["type"] == "missing":
            reason = "it is missing"
        raise DataError(
            f"'{where}' is wrong: {reason}.", "Correct the entry.", file=file, line=line_of(root, path)
        ) from error


def read_model(file: Path, model: type[M]) -> M:
    """A whole file as one model. Raises DataError with file and line."""
    data = read_yaml(file)
    if not isinstance(data, dict):
        raise DataError("must be a mapping of keys.", "Compare it with the shipped file.", file=file, line=1)
    return build(model, data, file)
