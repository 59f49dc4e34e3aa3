"""What the learning commands say and hear, from prompts/learn/. One model for each file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from pydantic import Field

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict

ReciteCommand = Literal["again", "slower", "faster", "back", "next", "stop"]
Language = Literal["en", "es"]


class ReciteTalk(Strict):
    begin: str
    section: str
    slower: str
    faster: str
    end: str
    stopped: str
    part: str
    between_points: str


class ReciteFile(Strict):
    """prompts/learn/recite.yaml.

    gap_share, gap_seconds: gap after a part = share x its length + seconds.
    """

    say: ReciteTalk
    commands: Mapping[ReciteCommand, tuple[str, ...]]
    gap_share: float = Field(ge=0)
    gap_seconds: float = Field(ge=0)
    title_seconds: float = Field(ge=0)
    pace_step: float = Field(gt=1)
    pace_least: float = Field(gt=0)
    pace_most: float = Field(gt=0)


class TestTalk(Strict):
    begin: str
    quiet_ends: float = Field(gt=0)


class CoachTalk(Strict):
    begin: str
    patience: float = Field(gt=0)
    helps_end: int = Field(ge=1)
    start: str
    start_told: str
    more: str
    more_told: str
    number: str
    number_told: str
    next: str
    next_told: str
    complete: str


class ResultTalk(Strict):
    score: str
    slips: str
    unnamed: str
    failed: str
    time: str
    caveat: str
    table: Mapping[str, str]
    right: str
    not_right: str
    not_named: str
    out_of_order: str
    with_help: str
    strays: str


class RehearseFile(Strict):
    """prompts/learn/rehearse.yaml."""

    test: TestTalk
    coached: CoachTalk
    finish: tuple[str, ...] = Field(min_length=1)
    result: ResultTalk
    words_a_minute: float = Field(gt=0)
    seconds_between: float = Field(ge=0)


class Explanation(Strict):
    """An item in another language: its printed name and its full wording."""

    title: str
    full: str


class LanguageFile(Strict):
    """prompts/learn/<language>/items.yaml: wording by item id; names of places by the role of axle or unit, of
    sections by their English title."""

    note: str
    places: Mapping[str, str]
    sections: Mapping[str, str]
    say: ReciteTalk
    items: Mapping[str, Explanation]


class ProgressWords(Strict):
    title: str
    note: str
    invented: str
    table: Mapping[str, str]
    curve: str
    curve_x: str
    curve_y: str
    mean: str
    heat: str
    heat_note: str
    heat_x: str
    heat_bar: str
    worst: str
    worst_table: Mapping[str, str]
    slips: str
    slips_y: str
    slips_part: str
    none: str


class SheetWords(Strict):
    title: str
    vehicle: str
    part: str
    say: str
    figure: str
    explain: str
    note: str


class PagesFile(Strict):
    """prompts/learn/progress.yaml."""

    progress: ProgressWords
    sheet: SheetWords


def recite_file(folder: Path | None = None) -> ReciteFile:
    path = (folder or prompts_dir()) / "learn" / "recite.yaml"
    return parse(ReciteFile, read_yaml(path), path)


def rehearse_file(folder: Path | None = None) -> RehearseFile:
    path = (folder or prompts_dir()) / "learn" / "rehearse.yaml"
    return parse(RehearseFile, read_yaml(path), path)


def language_file(language: str, folder: Path | None = None) -> LanguageFile:
    path = (folder or prompts_dir()) / "learn" / language / "items.yaml"
    return parse(LanguageFile, read_yaml(path), path)


def pages_file(folder: Path | None = None) -> PagesFile:
    path = (folder or prompts_dir()) / "learn" / "progress.yaml"
    return parse(PagesFile, read_yaml(path), path)
