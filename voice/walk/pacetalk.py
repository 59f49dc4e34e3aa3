"""The assistant's sentences of the daily walk, from prompts/pace.yaml."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import Field

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict
from voice.walk.talk import Brief


class ClosingTalk(Strict):
    """What was found, in headlines.

    levels: "{level}", how many were found of it ("{count}"), and their "{headlines}"; worst first.
    headline: "{place}" and "{what}".
    most: headlines before the rest is only counted.
    further: how to hear more.
    """

    nothing: str
    levels: dict[Literal["halt", "repair", "watch"], str]
    headline: str
    most: int = Field(ge=1)
    more: str
    unmeasured: str
    not_inspected: str
    unjudged: str
    decides: str
    further: str


class PaceTalk(Strict):
    """Every sentence by its key.

    rest: asks for the other parts of a look, once one of them had something.
    which_part: a defect was reported, but not of which part.
    take_back: an okay after a defect was reported of one of them: both are named, and all parts.
    nothing_wrong: an okay after words that were not understood: all parts are named.
    due, due_one: why something that is not asked every day is asked today.
    not_due: how much is not.
    brought: how much of that is asked after all, with each part.
    one_at_a_time: to several answers in one breath.
    same: a reading that is what another was.
    same_as_nothing: there is none that it could be the same as.
    one_of: a defect of which it was never said which part has it.
    """

    rest: str
    which_part: str
    take_back: str
    nothing_wrong: str
    one_of: str
    due: str
    due_one: str
    not_due: str
    one_at_a_time: str
    same: str
    same_as_nothing: str
    each_part: str
    brought: str
    by_place: str
    closing: ClosingTalk
    help: dict[Literal["look", "part"], str]
    can_say: dict[Literal["look", "part"], Brief]


def load_pace_talk(own: Path | None = None) -> PaceTalk:
    """The shipped sentences, or those of the fleet's own file where there is one. Raises DataError."""
    path = own if own is not None and own.exists() else prompts_dir() / "pace.yaml"
    return parse(PaceTalk, read_yaml(path), path)


@cache
def shipped_pace() -> PaceTalk:
    return load_pace_talk()
