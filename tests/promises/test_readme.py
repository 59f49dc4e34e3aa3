"""What README and DEVELOPERS promise word for word: what can be said, what can be typed, what can be heard."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import typer

from tests.walk.talkative import SAMPLES, Talk, answer_usually, context
from voice.cli import app
from voice.speak.cues import CUES, length
from voice.understand.meaning import Defect, Meaning
from voice.walk.state import Aside, Stage
from voice.walk.table import row as row_of

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


# --- what can be said --------------------------------------------------------------------------------------------


def table(header: str) -> list[list[str]]:
    """The cells of every table whose header line begins like this."""
    rows = []
    for part in README.split(f"\n| {header}")[1:]:
        for line in part.split("\n")[2:]:
            if not line.startswith("|"):
                break
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
    return rows


def phrases() -> Iterator[str]:
    """Everything that the README says can be said, but for examples of what is free."""
    free = ('"', "change left steer tread", "a number", "number:")
    for row in table("you say"):
        for text in re.split(r"[,/]", re.sub(r"\(.*?\)|, or the defect by name.*", "", row[0])):
            if text.strip() and not any(part in text for part in free):
                yield text.strip()


@pytest.fixture(scope="module")
def sayable() -> dict[str, set[str]]:
    """Each phrase that can be heard somewhere on the shipped routes, with the kinds of its meanings."""
    found: dict[str, set[str]] = {}

    def note(meanings: dict[str, Meaning]) -> None:
        for text, meaning in meanings.items():
            found.setdefault(text, set()).add(meaning.kind)

    doubtful = Talk(context(only=("wipers",)))
    doubtful.mean(Defect())
    doubtful.say("okay")
    note(dict(doubtful.question.meanings))
    for kind in SAMPLES:
        talk = Talk(context(kind))
        while not talk.closed:
            note(dict(talk.question.meanings))
            if talk.state.stage is Stage.ASK and talk.current == talk.context.order[0]:
                for aside in (Aside.PAUSED, Aside.FINISHING):
                    state = replace(talk.state, aside=aside)
                    note(dict(row_of(talk.context, state).question(talk.context, state).meanings))
            answer_usually(talk)
    return found


@pytest.mark.parametrize("text", sorted(set(phrases())))
def test_what_the_readme_says_can_be_said_is_understood(text: str, sayable: dict[str, set[str]]) -> None:
    assert text.lower() in sayable


@pytest.mark.parametrize(
    ("text", "kind"),
    [("okay", "ok"), ("all good", "ok"), ("not okay", "defect"), ("no good", "defect"), ("bad", "defect"),
     ("not applicable", "not-applicable"), ("ready", "done"), ("now", "now"), ("stop", "stop"), ("nope", "no")],
)  # fmt: skip
def test_it_means_what_the_readme_says(text: str, kind: str, sayable: dict[str, set[str]]) -> None:
    """An okay is also a "done" to "Done?", and a yes to "Is that right?"; a no to a condition is a defect."""
    elsewhere = {"ok": {"done", "yes"}, "no": {"defect"}}
    assert kind in sayable[text]
    assert sayable[text] <= {kind, *elsewhere.get(kind, ())}


def test_the_table_of_tones_is_that_of_the_tones() -> None:
    told = {row[0]: (row[2], row[3]) for row in table("tone")}
    assert set(told) == {name.replace("-", " ") for name in CUES}
    for name in CUES:
        assert told[name.replace("-", " ")][1] == f"{length(name):.2f}"


# --- what can be typed -------------------------------------------------------------------------------------------


def commands(text: str) -> Iterator[str]:
    """Every call of gladhand in code, in the order of the text."""
    code = [*re.findall(r"`([^`]+)`", text.replace("\n", " ")), *re.findall(r"(?m)^ {4}(.+)$", text)]
    for line in code:
        for call in re.findall(r"\bgladhand ([^#;&]+)", line):
            yield " ".join(call.split())


def unknown(call: str) -> str | None:
    """The first word of a call that no command or option answers to."""
    command: Any = typer.main.get_command(app)
    words = call.replace("|", " | ").split()
    group = command
    for word in words:
        if word == "|":  # "routes list | show": another command of the same group
            command = group
        elif word.startswith("-") and len(word) > 1:
            names = {name for option in command.params for name in (*option.opts, *option.secondary_opts)}
            if word.split("=")[0] not in names | {"--help"}:
                return word
        elif hasattr(command, "commands"):
            known = command.commands.get(word.strip("'\","))
            if known is None:
                return word
            if hasattr(known, "commands"):
                group = known
            command = known
    return None


@pytest.mark.parametrize("call", sorted({*commands(README), *commands(DEVELOPERS)}))
def test_every_command_that_is_told_exists_with_its_options(call: str) -> None:
    assert unknown(call) is None


def test_a_command_or_option_that_does_not_exist_would_be_noticed() -> None:
    assert unknown("walk --sideways") == "--sideways"
    assert unknown("dance") == "dance"
    assert unknown("repairs certify 'a#b' --verdict repaired") is None
    assert len(set(commands(README))) > 20


# --- what stands where -------------------------------------------------------------------------------------------


NAMED = re.findall(r"`((?:voice|prompts|tests|demo|models)/[\w./-]+)`", README + DEVELOPERS)


@pytest.mark.parametrize("path", sorted(set(NAMED)))
def test_every_file_that_is_named_is_there(path: str) -> None:
    assert (ROOT / path).exists()


def test_heavy_imports_wait_until_they_are_needed() -> None:
    """DEVELOPERS.md: heavy imports wait inside functions. The start of every command would pay for them."""
    heavy = "numpy onnxruntime sqlalchemy scipy matplotlib weasyprint pocketsphinx sounddevice soundfile pint pyarrow"
    code = f"import sys, voice.cli; print(*[name for name in '{heavy}'.split() if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.split() == []


def test_the_pictures_are_there_have_a_text_and_are_small() -> None:
    pictures = re.findall(r"!\[([^\]]*)\]\(([^)]+)\)", README)
    assert {name for _, name in pictures} == {"demo/report.png", "demo/desk-unit.png"}
    assert all(text for text, _ in pictures)
    assert all(0 < (ROOT / name).stat().st_size < 120_000 for _, name in pictures)
