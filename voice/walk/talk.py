"""The assistant's own sentences, from prompts/dialogue.yaml."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, get_args

from pydantic import AfterValidator, field_validator

from voice.data.folders import prompts_dir
from voice.data.reader import parse, read_yaml
from voice.data.strict import Strict

MOST_CAN_SAY = 5  # words of what can be said, after something was not understood

Helped = Literal[
    "condition", "defect", "yes-no", "reading", "choice", "done", "now", "quiet", "paused", "idle", "which", "note",
    "kept-note", "name", "reason", "take-back",
]  # fmt: skip


def _brief(text: str) -> str:
    if len(text.split()) > MOST_CAN_SAY:
        raise ValueError(f'"{text}" has more than {MOST_CAN_SAY} words')
    return text


Brief = Annotated[str, AfterValidator(_brief)]


class SetupTalk(Strict):
    """What is asked before a walk."""

    resume: str
    vehicle: str
    vehicle_one: str
    trailer: str
    no_trailer: tuple[str, ...]
    route: str
    again: str
    yes_no: str
    doubt: str
    starting: str
    nothing: str
    no_review: str
    dropped: str


class Talk(Strict):
    """Every sentence by its key. A key that is missing or unknown in the file is refused when it is loaded."""

    intro: str
    resumed: str
    resumed_torn: str
    section: str
    doubt: str
    denied: str
    options: str
    early: str
    noisy: str
    waiting: str
    defect_which: str
    defect_list: str
    defect_describe: str
    defect_read_back: str
    defect_more: str
    defect_word: str
    not_said_which: str
    left_in_doubt: str
    take_back: str
    take_back_had: str
    take_back_na: str
    take_back_say: str
    take_back_na_say: str
    taken_back: str
    nothing_wrong: str
    nothing_wrong_say: str
    described: str
    value: str
    implausible: str
    confirm_about: str
    confirm_limit: str
    reason_not_applicable: str
    reason_not_inspected: str
    no_reason: str
    not_applicable: str
    not_inspected: str
    skipped: str
    skipped_round: str
    nothing_before: str
    nothing_to_change: str
    change_which: str
    changing: str
    step_back: str
    note: str
    note_kept: str
    note_check: str
    note_recording: str
    note_unsure: str
    note_dropped: str
    note_empty: str
    paused: str
    lost: str
    regained: str
    left: str
    where: str
    length: str
    length_terse: str
    length_normal: str
    length_full: str
    hold_read: str
    hold_begin: str
    hold_running: str
    hold_time: str
    hold_stopped: str
    hold_rose: str
    hold_result: str
    climb_first: str
    climb_second: str
    climb_result: str
    call_number: str
    timed_again: str
    finishing: str
    finished_early: str
    sign: str
    sign_name: str
    sign_confirm: str
    sign_spelled: str
    sign_or_unnamed: str
    unnamed: str
    closed: str
    stop_words: str
    sign_words: tuple[str, ...]
    help: dict[Helped, str]
    can_say: dict[Helped, Brief]
    unlisted: str

    @field_validator("help", "can_say")
    @classmethod
    def _all_of_them(cls, said: dict[Helped, str]) -> dict[Helped, str]:
        if missing := sorted(set(get_args(Helped)) - set(said)):
            raise ValueError(f'"{missing[0]}" is missing')
        return said

    setup: SetupTalk


def load_talk(own: Path | None = None) -> Talk:
    """The shipped sentences, or those of the fleet's own file where there is one. Raises DataError."""
    path = own if own is not None and own.exists() else prompts_dir() / "dialogue.yaml"
    return parse(Talk, read_yaml(path), path)
