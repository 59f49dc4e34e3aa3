"""The words of verdicts: prompts/verdicts.yaml. Which sentence is used where is said there, beside each.

A field in a template that nothing fills in is refused when the file is read, not met when it is spoken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from string import Formatter
from typing import get_args

from pydantic import model_validator

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.judge.limit import Comparison
from voice.judge.model import Known
from voice.measure.level import Level, LevelName


class Templates(Strict):
    """Base of wording: each text may use the fields named for it in FIELDS, others none."""

    @classmethod
    def fields(cls) -> Mapping[str, frozenset[str]]:
        return {}

    @model_validator(mode="after")
    def _only_known_fields(self) -> Templates:
        allowed = self.fields()
        for name, text in self._texts():
            try:
                used = {field for _, field, _, _ in Formatter().parse(text) if field is not None}
            except ValueError as error:
                raise ValueError(f"the braces of '{name}' are wrong: {error}") from None
            for field in sorted(used - allowed.get(name, frozenset())):
                raise ValueError(f"nothing fills in {{{field}}} of '{name}'")
        return self

    @model_validator(mode="after")
    def _complete(self) -> Templates:
        """A table by level or by comparison has a text for each of them."""
        for name, field in type(self).model_fields.items():
            keys = get_args(next(iter(get_args(field.annotation)), None))
            missing = [key for key in keys if key not in getattr(self, name)]
            if missing:
                raise ValueError(f"'{name}' lacks {', '.join(missing)}")
        return self

    def _texts(self) -> Iterator[tuple[str, str]]:
        for name in type(self).model_fields:
            value = getattr(self, name)
            if isinstance(value, str):
                yield name, value
            elif isinstance(value, dict):
                yield from ((name, text) for text in value.values() if isinstance(text, str))


def allow(**fields: str) -> Mapping[str, frozenset[str]]:
    return {name: frozenset(text.split()) for name, text in fields.items()}


class LimitWords(Templates):
    """A limit by its comparison, and with what else its source asks."""

    printed: dict[Comparison, str]
    spoken: dict[Comparison, str]
    condition: str

    @classmethod
    def fields(cls) -> Mapping[str, frozenset[str]]:
        return allow(printed="value low high", spoken="value low high", condition="limit condition")


class FindingWords(Templates):
    """Sentences at the moment of the answer, by level."""

    reading: dict[LevelName, str]
    advisory: str
    at_limit: str
    defect: dict[LevelName, str]

    @classmethod
    def fields(cls) -> Mapping[str, frozenset[str]]:
        reading = "quantity reading limit source"
        return allow(reading=reading, advisory=reading, at_limit=reading, defect="defect source")


class SummaryWords(Templates):
    """The summary.

    listed: how many names a list has before the rest is only counted.
    """

    nothing_found: str
    against_one: str
    against_many: str
    against_entry: str
    what_reading: str
    what_defect: str
    what_condition: str
    what_measured: str
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
    brakes_one: str
    listed: int
    more: str
    decides: str

    @classmethod
    def fields(cls) -> Mapping[str, frozenset[str]]:
        lists = {f"{name}_one": "places" for name in ("unmeasured", "not_inspected", "unjudged")}
        lists |= {f"{name}_many": "count places" for name in ("unmeasured", "not_inspected", "unjudged")}
        return allow(
            against_many="count",
            against_entry="place what level source",
            what_reading="quantity reading limit",
            what_defect="defect",
            what_condition="defect condition",
            what_measured="defect reading",
            watch_many="count",
            watch_entry="place what",
            brakes="total defective",
            brakes_one="total defective",
            more="count",
            **lists,
        )


class PlaceWords(Templates):
    """Names of places that are not a step of the walk."""

    open: str
    brakes: str
    spring_brakes: str
    chambers: str
    slacks: str

    @classmethod
    def fields(cls) -> Mapping[str, frozenset[str]]:
        return allow(chambers="axle", slacks="axle")


class BeginWords(Templates):
    """What holds on this walk."""

    limits: str
    metric: str

    @classmethod
    def fields(cls) -> Mapping[str, frozenset[str]]:
        return allow(limits="names")


class Verdicts(Templates):
    """The whole of prompts/verdicts.yaml.

    levels: the one name of each level, aloud and in print.
    levels_mean: what it means, in a sentence.
    known: how it is known, said after a source; empty for what was read.
    check_locally: said after that where a halt rests on nothing better than memory.
    sections: how a source is said, by the beginning of its section.
    """

    levels: dict[LevelName, str]
    levels_mean: dict[LevelName, str]
    limit: LimitWords
    finding: FindingWords
    summary: SummaryWords
    places: PlaceWords
    begin: BeginWords
    known: dict[Known, str]
    check_locally: str
    sections: dict[str, str]
    paragraph: str
    point: str


@cache
def verdicts(file: Path | None = None) -> Verdicts:
    """The shipped wording, or that of another file. Raises DataError with file and line."""
    path = file or prompts_dir() / "verdicts.yaml"
    return parse(Verdicts, read_yaml(path), path)


def level_words(level: Level | LevelName, *, capital: bool = False) -> str:
    """The name of a level, the same wherever one is said or printed.

    capital: with a capital letter, as in a heading or a table.
    """
    text = verdicts().levels[level.word if isinstance(level, Level) else level]
    return text[:1].upper() + text[1:] if capital else text
