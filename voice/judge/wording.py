"""The words of verdicts: prompts/verdicts.yaml. Which sentence is used where is said there, beside each."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from voice.data import prompts_dir
from voice.judge.limit import Comparison, LevelName
from voice.route.load import parse, read_yaml
from voice.route.model import Strict


class LimitWords(Strict):
    """Templates of a limit by its comparison; {value}, or {low} and {high}."""

    printed: dict[Comparison, str]
    spoken: dict[Comparison, str]
    condition: str


class FindingWords(Strict):
    """Sentences at the moment of the answer, by level. See the file for the fields of the templates."""

    reading: dict[LevelName, str]
    advisory: str
    at_limit: str
    defect: dict[LevelName, str]


class SummaryWords(Strict):
    nothing_found: str
    against_one: str
    against_many: str
    against_entry: str
    what_reading: str
    what_defect: str
    what_condition: str
    watch_one: str
    watch_many: str
    watch_entry: str
    unmeasured_one: str
    unmeasured_many: str
    not_inspected_one: str
    not_inspected_many: str
    unjudged_one: str
    unjudged_many: str
    brakes: str
    listed: int
    more: str
    decides: str


class Verdicts(Strict):
    """The whole of prompts/verdicts.yaml."""

    levels: dict[LevelName, str]
    levels_printed: dict[LevelName, str]
    limit: LimitWords
    finding: FindingWords
    summary: SummaryWords
    places: dict[str, str]
    sections: dict[str, str]
    paragraph: str
    point: str


@cache
def verdicts(file: Path | None = None) -> Verdicts:
    """The shipped wording, or that of another file. Raises DataError with file and line."""
    path = file or prompts_dir() / "verdicts.yaml"
    return parse(Verdicts, read_yaml(path), path)
