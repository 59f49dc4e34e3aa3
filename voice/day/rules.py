"""The rules of the day: prompts/day.yaml, read and checked."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import Field

from voice.data.fields import Id
from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.judge.source import Source
from voice.judge.wording import Templates, allow

Role = Literal["begins", "looks", "ends", "nothing"]
Status = Literal["driving", "on-duty", "off-duty", "sleeper"]


class First(Strict):
    """miles: within which the first look on the road is due."""

    miles: float = Field(gt=0)
    source: Source


class Later(Strict):
    """miles, hours: after which the next look is due, whichever come first."""

    miles: float = Field(gt=0)
    hours: float = Field(gt=0)
    source: Source


class Named(Strict):
    source: Source


class Report(Strict):
    """kinds: of inspection, that are the report at the end of the day."""

    kinds: tuple[Id, ...]
    source: Source


class BehindDoors(Strict):
    """item: that asks for what is behind doors.
    sealed, empty: its answers with which the load is sealed, and with which there is none.
    """

    item: Id
    sealed: Id
    empty: Id


class Told(Templates):
    """The sentences."""

    due: str
    soon: str
    by_time: str
    by_mile: str
    by_miles: str
    or_: str = Field(alias="or")
    change: str
    hours: str
    miles: str
    odometer: str
    exempt: str
    report: str
    none: str

    @classmethod
    def fields(cls) -> Mapping[str, frozenset[str]]:
        return allow(
            soon="when",
            by_time="time",
            by_mile="mile",
            by_miles="miles",
            change="status source",
            hours="hours source",
            miles="miles source",
            odometer="miles source",
            exempt="source",
            report="units source",
        )


class DayRules(Strict):
    """The whole of prompts/day.yaml.

    fastest: miles an hour.
    kinds: what an inspection of each kind does.
    unknown: what one does that names no kind.
    cargo: items that are a look at the cargo.
    duty: how each status is called.
    """

    first: First
    later: Later
    change: Named
    exempt: Named
    report: Report
    fastest: float = Field(gt=0)
    kinds: dict[Id, Role]
    unknown: Role
    cargo: tuple[Id, ...]
    behind_doors: BehindDoors
    duty: dict[Status, str] = Field(min_length=4)
    told: Told

    def role(self, kind: str | None) -> Role:
        """What an inspection of a kind does; one of a kind that is not named does nothing here."""
        return self.unknown if kind is None else self.kinds.get(kind, "nothing")


@cache
def day_rules(file: Path | None = None) -> DayRules:
    """The shipped rules, or those of another file. Raises DataError with file and line."""
    path = file or prompts_dir() / "day.yaml"
    return parse(DayRules, read_yaml(path), path)
