"""What is asked around a walk, which kind it is, who drives, the odometers, from prompts/driving.yaml."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from pydantic import Field

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.measure.book import Phrases


class DefectsTalk(Strict):
    """How many defects a report has."""

    none: str
    one: str
    many: str


class OdometerTalk(Strict):
    """What is said of one odometer.

    back, jump: it reads less than last time, or more than can be driven since.
    """

    ask: str
    again: str
    right: str
    back: str
    jump: str
    left_out: str


class DrivingTalk(Strict):
    """Every sentence by its key.

    somebody_else, unknown: what can be said for a driver who is not on the list, an odometer that is not known.
    units: what is said behind the odometer.
    before: words before the odometer that are no part of it.
    sounds: a word that a transcriber may write -> the digit that it sounds like.
    listened_for: miles past the last reading whose numbers are listened for, each by itself.
    most_miles_a_day: what can be driven since the last inspection, in miles.
    """

    kind: str
    kind_which: str
    nothing_repaired: str
    dropped_twice: str
    driver: str
    driver_again: str
    driver_is: str
    somebody_else: Phrases = Field(min_length=1)
    driver_later: str
    odometer: OdometerTalk
    hubodometer: OdometerTalk
    unknown: Phrases
    units: dict[Literal["mi", "km"], Phrases]
    before: Phrases
    sounds: dict[str, str]
    listened_for: int = Field(ge=0, le=2000)
    most_miles_a_day: int = Field(ge=1)
    co_sign: str
    co_sign_defects: DefectsTalk
    co_signed: str
    co_sign_not: str


def load_driving_talk(own: Path | None = None) -> DrivingTalk:
    """The shipped sentences, or those of the fleet's own file where there is one. Raises DataError."""
    path = own if own is not None and own.exists() else prompts_dir() / "driving.yaml"
    return parse(DrivingTalk, read_yaml(path), path)
