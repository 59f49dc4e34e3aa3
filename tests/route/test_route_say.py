"""gladhand routes say: what a sentence would mean, and which file says so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.route.test_route_cli import run
from voice.data.folders import prompts_dir


def source(output: str) -> str:
    """The line of the shipped file that the first "why" points at."""
    found = re.search(r"why: prompts/(\S+):(\d+)", output)
    assert found is not None
    return (prompts_dir() / found[1]).read_text(encoding="utf-8").splitlines()[int(found[2]) - 1]


@pytest.mark.parametrize(
    ("text", "item", "meaning", "stage", "written"),
    [
        ("leaking", "hoses", 'the defect "leaking"', "ask condition", "leaking"),
        ("Leaking!", "engine hoses", 'the defect "leaking"', "ask condition", "leaking"),
        ("not okay", "hoses", '"defect"', "which", "not okay"),
        ("okay", "hoses", '"ok"', "ask condition", "okay"),
        ("no", "hoses", '"defect"', "ask condition", '"no": ['),
        ("yes", "hoses", '"ok"', "ask condition", '"yes": ['),
        ("nothing wrong", "hoses", '"ok"', "ask condition", "clear: ["),
        ("nothing else", "hoses", '"no"', "more", "nothing: ["),
        ("dry", "hoses", '"ok"', "ask condition", "dry: ["),
        ("not dry", "hoses", 'the defect "leaking"', "ask condition", "dry: ["),
        ("ready", "air-leak-static", '"done"', "ready", "done: ["),
        ("go back", "hoses", 'the command "back"', "ask condition", "go back"),
        ("change left steer tread", "hoses", 'the command "change"', "ask condition", "change"),
    ],
)
def test_it_says_what_it_means_where_and_why(text: str, item: str, meaning: str, stage: str, written: str) -> None:
    result = run("say", text, "--item", item)
    assert result.exit_code == 0
    assert f"means {meaning}" in result.stdout
    assert f"at: {stage}, " in result.stdout
    assert written in source(result.stdout)


def test_a_reading_is_shown_with_its_limits() -> None:
    result = run("say", "three thirty seconds", "--item", "left steer tread")
    assert "means 3/32 in" in result.stdout
    assert "tread-steer: at least 4/32 in (49 CFR 393.75(b)): repair" in result.stdout


@pytest.mark.parametrize(("text", "means"), [("nine and one ten", "9/32 in and 110 psi"), ("same", "same")])
def test_what_only_some_readings_take_is_explained(text: str, means: str) -> None:
    result = run("say", text, "--item", "tire-tread@left-1")
    assert result.exit_code == 0
    assert means in result.stdout


def test_a_timed_check_has_its_own_questions() -> None:
    assert "at: quiet, " in run("say", "stop", "--item", "air-leak-static").stdout


@pytest.mark.parametrize(
    ("text", "meaning", "back"),
    [
        ("a clamp is loose", 'the defect "loose"', "Did you say loose?"),
        ("the latch is missing", '"defect"', "Did you say defect?"),
        ("no leaks", '"ok"', "Did you say nothing wrong?"),
        ("yes it squeaks", '"ok"', "Did you say nothing wrong?"),
        ("okay now it's flat", '"ok"', "Did you say nothing wrong?"),
        ("good and rotten", '"ok"', "Did you say nothing wrong?"),
        ("not rising", '"defect"', "Did you say not rising?"),
    ],
)
def test_free_wording_is_asked_back_as_in_a_walk(text: str, meaning: str, back: str) -> None:
    told = run("say", text, "--item", "hoses")
    assert told.exit_code == 0
    assert f'means {meaning} (not listened for)\n    asked back first: "{back}"' in told.stdout
    known = run("say", "leaking", "--item", "hoses").stdout
    assert "asked back first" not in known
    assert "(listened for)" in known


def test_what_is_not_understood_is_told_with_what_is_near_and_fails() -> None:
    result = run("say", "leeking", "--item", "hoses")
    assert result.exit_code == 1
    assert "is not understood" in result.stdout
    assert 'Nearest: "leaking"' in result.stdout


def test_an_answer_of_another_item_is_not_understood() -> None:
    assert run("say", "nine thirty seconds", "--item", "hoses").exit_code == 1


def test_an_unknown_item_is_refused_with_those_near_it() -> None:
    result = run("say", "okay", "--item", "hosses")
    assert getattr(result.exception, "hint", "").startswith('Did you mean "hoses"')
    unknown = run("say", "okay", "--item", "qqq")
    assert getattr(unknown.exception, "hint", "").startswith("'gladhand routes show --ids --vehicle NAME'")


def test_a_fleets_own_words_count_and_are_named(tmp_path: Path) -> None:
    own = tmp_path / "prompts"
    own.mkdir()
    shipped = (prompts_dir() / "commands.yaml").read_text(encoding="utf-8")
    (own / "commands.yaml").write_text(shipped.replace("ok: [okay,", "ok: [shipshape, okay,"), encoding="utf-8")
    result = run("say", "shipshape", "--item", "hoses", home=tmp_path)
    assert result.exit_code == 0
    assert f"why: {own / 'commands.yaml'}:" in result.stdout
    assert run("say", "shipshape", "--item", "hoses").exit_code == 1
