"""The words of prompts/report/: read once, looked up by name."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from voice.data.folders import prompts_dir
from voice.errors import DataError


def report_dir() -> Path:
    return prompts_dir() / "report"


@cache
def words(name: str) -> dict[str, Any]:
    """The content of prompts/report/<name>.yaml. Raises DataError."""
    return _read(report_dir() / f"{name}.yaml")


@cache
def defect_titles() -> dict[str, str]:
    """What the shipped kinds of defects are called, by their id. Raises DataError."""
    return {id: kind["title"] for id, kind in _read(prompts_dir() / "defects.yaml").items()}


def _read(path: Path) -> dict[str, Any]:
    try:
        content = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    except (OSError, YAMLError) as error:
        raise DataError(f"it cannot be read: {error}.", "Put the shipped file back.", file=path) from error
    if not isinstance(content, dict):
        raise DataError("it has no words in it.", "Put the shipped file back.", file=path)
    return content
