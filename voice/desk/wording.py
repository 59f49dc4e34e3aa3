"""Words and templates of the pages: prompts/desk/. Every sentence stands there; the templates only print."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from voice.data.folders import prompts_dir
from voice.data.reader import read_yaml
from voice.errors import DataError
from voice.judge.wording import level_words
from voice.record.report import capital


def desk_dir() -> Path:
    return prompts_dir() / "desk"


@cache
def words(name: str) -> dict[str, Any]:
    """The content of prompts/desk/<name>.yaml. Raises DataError."""
    path = desk_dir() / f"{name}.yaml"
    content = read_yaml(path)
    if not isinstance(content, dict):
        raise DataError("it has no words in it.", "Put the shipped file back.", file=path)
    return content


@cache
def environment() -> Environment:
    """All values are escaped as they are printed, names and notes above all."""
    made = Environment(
        loader=FileSystemLoader(desk_dir()),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(words=words, level_name=level_words)
    made.filters["capital"] = capital
    return made
